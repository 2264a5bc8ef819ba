"""Signing in and out, and PINs."""

from store.actions.acting import Acting
from store.errors import NotAllowed, NotFound, PinRefused
from store.model.words import Role
from store.queries import registers
from store.record import people
from store.record.record import Record


def sign_in(record: Record, id: str, pin: str, *, how: str = "sign in") -> Acting:
    """Check the PIN and write who signed in.

    Raises
    ------
    PinRefused
        The id or the PIN does not fit (the text does not say which), or it must wait.
    """
    try:
        who = registers.person(record, id)
    except NotFound:
        # An unknown id is not written down: it may be a PIN typed into the wrong field.
        raise PinRefused("This id and PIN do not fit: type the id again.") from None
    from store.events import SignedIn

    people.check_pin(record, id, pin, purpose=how)
    record.append(SignedIn(who=id, how=how), person=id, subject=f"person:{id}")
    return Acting(record, id, who.roles)


def sign_out(acting: Acting, *, how: str = "sign out") -> None:
    """Write who signed out."""
    from store.events import SignedOut

    acting.record.append(
        SignedOut(who=acting.person, how=how), person=acting.person, subject=f"person:{acting.person}"
    )


def set_pin(acting: Acting, id: str, pin: str) -> None:
    """Set one's own PIN, or as a keeper another person's.

    Raises
    ------
    NotAllowed
        Another person's PIN, and no keeper.
    """
    if id != acting.person and Role.KEEPER not in acting.roles:
        raise NotAllowed("Only a keeper sets another person's PIN.")
    registers.person(acting.record, id)
    people.set_pin(acting.record, id, pin, by=acting.person)


def first_keeper(record: Record, *, id: str, name: str, pin: str) -> Acting:
    """Enter the first person of a new record, who is its keeper.

    Raises
    ------
    NotAllowed
        The record has people already.
    """
    if registers.rows(record, "person", retired=True):
        raise NotAllowed("This record has people already: a keeper enters further ones.")
    from store.events import Registered
    from store.model.registers import Person

    row = Person(id=id, name=name, roles=(Role.KEEPER,))
    with record.immediate():
        record.append(
            Registered(register="person", id=id, row=row.to_body(), reason="first keeper"),
            person=id,
            subject=f"person:{id}",
        )
        people.set_pin(record, id, pin, by=id)
    return Acting(record, id, row.roles)
