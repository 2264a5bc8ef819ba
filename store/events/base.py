"""The form of every event: frozen, plain data out and in, nothing checked."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from typing import Any, ClassVar, Self, TypeVar, dataclass_transform

Body = Mapping[str, Any]
_C = TypeVar("_C")


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(field,))
def fact(cls: type[_C]) -> type[_C]:
    """Make a kind of event: frozen, its fields by name.

    Equality, hash and text stand once, in `Event`: written anew for forty kinds they would take a tenth of
    the time of a question from the shell.
    """
    return dataclass(frozen=True, kw_only=True, eq=False, repr=False)(cls)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Event:
    """One fact. Subclasses name their kind."""

    kind: ClassVar[str]
    version: ClassVar[int] = 1

    def __eq__(self, other: object) -> bool:
        """Say whether both are of one kind and say the same."""
        if type(other) is not type(self):
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name, _ in _fields(type(self)))

    def __hash__(self) -> int:
        """Hash what is compared."""
        return hash((type(self), *(getattr(self, name) for name, _ in _fields(type(self)))))

    def __repr__(self) -> str:
        """Write it as it is made."""
        said = ", ".join(f"{name}={getattr(self, name)!r}" for name, _ in _fields(type(self)))
        return f"{type(self).__qualname__}({said})"

    def to_body(self) -> dict[str, Any]:
        """Give the plain data that the journal stores."""
        return {name: _plain(getattr(self, name)) for name, _ in _fields(type(self))}

    @classmethod
    def from_body(cls, body: Body) -> Self:
        """Read a body of the present version; unknown keys of a later minor change are dropped."""
        known = {}
        for name, needed in _fields(cls):
            if name in body:
                value = body[name]
                known[name] = tuple(value) if isinstance(value, list) else value
            elif needed:
                known[name] = ""
        return cls(**known)


_FIELDS: dict[type[Event], tuple[tuple[str, bool], ...]] = {}


def _fields(cls: type[Event]) -> tuple[tuple[str, bool], ...]:
    """Give the names of the fields, and whether each must be given; looked up once."""
    if (known := _FIELDS.get(cls)) is None:
        known = _FIELDS[cls] = tuple(
            (f.name, f.default is MISSING and f.default_factory is MISSING) for f in fields(cls)
        )
    return known


_PLAIN = (str, bool, int, float, type(None))


def _plain(value: Any) -> Any:
    if type(value) in _PLAIN:
        return value
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(v) for v in value]
    return value
