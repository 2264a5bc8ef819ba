"""The form of every event: frozen, plain data out and in, nothing checked."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from typing import Any, ClassVar, Self

Body = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Event:
    """One fact. Subclasses name their kind."""

    kind: ClassVar[str]
    version: ClassVar[int] = 1

    def to_body(self) -> dict[str, Any]:
        """Give the plain data that the journal stores."""
        return {f.name: _plain(getattr(self, f.name)) for f in fields(self)}

    @classmethod
    def from_body(cls, body: Body) -> Self:
        """Read a body of the present version; unknown keys of a later minor change are dropped."""
        known = {}
        for f in fields(cls):
            if f.name in body:
                value = body[f.name]
                known[f.name] = tuple(value) if isinstance(value, list) else value
            elif f.default is MISSING and f.default_factory is MISSING:
                known[f.name] = ""
        return cls(**known)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value
