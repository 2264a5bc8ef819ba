"""The status of a lot: whoever sees that something is wrong may stop it at once, with a reason."""

from store import events as ev
from store.actions.acting import Acting
from store.actions.registers import check_row
from store.errors import BadInput, MovedOn, Refused
from store.events import Entry
from store.model.words import LotStatus, Role
from store.queries import lot_checks, registers

STOPS = (Role.KEEPER, Role.REVIEWER, Role.SAFETY_OFFICER)
RELEASES = (Role.KEEPER, Role.REVIEWER)


def set_status(acting: Acting, lot: str, status: str, reason: str, *, seen: int | None = None) -> Entry:
    """Write the status of a lot; to release one takes a keeper or a reviewer.

    Raises
    ------
    NotAllowed
        Another role.
    BadInput
        No such status, or no reason.
    BadField
        It does not fit the row: what a prep made is released by its review.
    Refused
        It has that status already and no verification asks for a decision, or it is retired.
    MovedOn
        The row was changed meanwhile.
    """
    if status not in tuple(LotStatus):
        raise BadInput(f"There is no status {status!r}: write one of {', '.join(LotStatus)}.")
    acting.must(*(RELEASES if status == LotStatus.RELEASED else STOPS))
    if not reason.strip():
        raise BadInput("Write why: it stands in the record beside your name.")
    record = acting.record
    with record.immediate():
        found = registers.row(record, "lot", lot)
        if found.retired:
            raise Refused(f"lot {lot} is retired: it has no status any more.")
        if seen is not None and found.entry != seen:
            raise MovedOn(f"lot {lot} has moved on since you saw it: look again, then decide.")
        # A lot that stays as it is after a verification out of its limit stays so by decision.
        same = found.row.get("status", LotStatus.RELEASED) == status
        if same and not lot_checks.undecided(record, lot):
            raise Refused(f"lot {lot} is {status} already.")
        cells = {k: registers.text_of(v) for k, v in found.row.items()}
        row = check_row(record, "lot", {**cells, "status": status, "status_reason": reason.strip()})
        event = ev.Registered(register="lot", id=lot, row=row.to_body(), reason=f"{status}: {reason.strip()}")
        return record.append(event, person=acting.person, subject=f"lot:{lot}")
