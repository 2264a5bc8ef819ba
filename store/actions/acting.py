"""Who acts: every verb takes one of these first."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from store.errors import BadInput, NotAllowed
from store.model.words import Role
from store.queries import registers
from store.record import people
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Acting:
    """A signed-in person at a record."""

    record: Record
    person: str
    roles: tuple[str, ...] = ()

    def must(self, *roles: Role) -> None:
        """Refuse unless the person holds one of the roles.

        Raises
        ------
        NotAllowed
            Naming the roles that may.
        """
        if not set(roles) & set(self.roles):
            raise NotAllowed(f"{self.person} may not do this: it takes the role of {' or '.join(roles)}.")


@dataclass(frozen=True, slots=True)
class LetThrough:
    """A named second person's decision that a refused act may go on, with the reason."""

    second: str
    reason: str
    what: tuple[str, ...] = ()

    def to_body(self) -> Mapping[str, Any]:
        """Give it as it stands in a journal body."""
        return {"second": self.second, "reason": self.reason, "what": list(self.what)}


def second_person(
    acting: Acting, *, second: str, pin: str, reason: str, what: tuple[str, ...] = ()
) -> LetThrough:
    """Check a second person's PIN and reason, and give the decision to hand to the act.

    Raises
    ------
    NotAllowed
        The second person is the first, or has left.
    PinRefused
        The PIN does not fit.
    BadInput
        No reason was given.
    """
    if second == acting.person:
        raise NotAllowed("A second person must be somebody else.")
    if not reason.strip():
        raise BadInput("Write the reason: it stands in the record beside the second person's name.")
    registers.person(acting.record, second)
    people.check_pin(acting.record, second, pin, purpose="let through")
    return LetThrough(second=second, reason=reason.strip(), what=what)
