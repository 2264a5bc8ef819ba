"""The site's registers: enter, change, retire; a whole file comes in by `imports`."""

from collections.abc import Collection, Mapping
from typing import Any

from store import events as ev
from store.actions import field_checks, row_checks
from store.actions.acting import Acting
from store.actions.field_checks import Cell
from store.actions.known import Known
from store.errors import BadField, BadInput, MovedOn, Refused, UnknownCode
from store.events import Entry
from store.exchange.raw import unknown_column
from store.model.registers import LIST_KINDS, REGISTERS, Row, columns
from store.model.words import Role
from store.queries import register_ids, registers
from store.record.record import Record


def check_row(
    record: Record,
    register: str,
    cells: Mapping[str, Cell],
    *,
    beside: Mapping[str, Collection[str]] | None = None,
) -> Row:
    """Give the row that the cells make, every field checked by its kind and against the others.

    Parameters
    ----------
    cells
        Text by column, as typed or read; lists as a tuple, or as text parted by semicolons.
    beside
        Ids by register that come in together with this row.

    Raises
    ------
    BadField
        The first thing that is wrong, with its field.
    UnknownCode
        There is no such register.
    """
    row, faults = looked_at(Known(record, beside), register, cells)
    if faults:
        raise faults[0]
    return row


def faults_of(record: Record, register: str, cells: Mapping[str, Cell]) -> tuple[BadField, ...]:
    """Give everything that is wrong with a row, for a form that shows it beside its fields."""
    return tuple(looked_at(Known(record), register, cells)[1])


def check_field(known: Known, register: str, name: str, cell: Cell) -> str:
    """Give the text of one field as it will stand, read by the kind of its column alone.

    Raises
    ------
    BadField
        With what to write instead.
    """
    column = next(c for c in columns(register) if c.name == name)
    return registers.text_of(field_checks.value(column, cell, known))


def looked_at(known: Known, register: str, cells: Mapping[str, Cell]) -> tuple[Row, list[BadField]]:
    """Give the row that cells make, and everything that is wrong with it."""
    if register not in REGISTERS:
        raise UnknownCode(f"There is no register {register!r}: write one of {', '.join(REGISTERS)}.")
    kind = REGISTERS[register]
    standing = _standing(known, register, cells)
    if standing is not None:
        return standing, []
    faults: list[BadField] = []
    values: dict[str, Any] = {}
    names = {f.name for f in columns(register)}
    for name in cells:
        if name not in names:
            faults.append(BadField(name, unknown_column(register, name)))
    for column in columns(register):
        try:
            values[column.name] = field_checks.value(column, cells.get(column.name, ""), known)
        except BadField as error:
            faults.append(error)
            values[column.name] = ""
    row = kind(**values)
    if not faults:
        if other := known.alike(register, row.id):
            faults.append(
                BadField("id", f"{other} is there already: capitals alone do not tell two rows apart.")
            )
        faults += row_checks.of_row(row, known)
    return row, faults


def _standing(known: Known, register: str, cells: Mapping[str, Cell]) -> Row | None:
    """Give the row as it stands where the cells say the same: what is unchanged needs no new leave."""
    id = cells.get("id", "")
    found = known.row(register, id.strip()) if isinstance(id, str) else None
    if found is None or found.retired or set(cells) - {f.name for f in columns(register)}:
        return None
    row = REGISTERS[register].from_body(found.row)
    for column in columns(register):
        cell, own = cells.get(column.name, ""), getattr(row, column.name)
        if column.metadata["kind"] in LIST_KINDS:
            parts = cell.split(";") if isinstance(cell, str) else cell
            same = tuple(p.strip() for p in parts if p.strip()) == own
        elif isinstance(own, bool):
            same = isinstance(cell, str) and cell.strip().casefold() == ("yes" if own else "no")
            same = same or (not cell and not own)
        else:
            same = isinstance(cell, str) and cell.strip() == own
        if not same and not (not cell and own == column.default):
            return None
    return row


def register(
    acting: Acting, register: str, cells: Mapping[str, Cell], reason: str = "", *, seen: int | None = None
) -> Entry:
    """Enter a row, or change it; an unchanged row makes no entry, and the one it stands by is given.

    Parameters
    ----------
    reason
        Why; needed where the row is there already and differs.
    seen
        The row's last entry as the person saw it; 0 where it was not there.

    Raises
    ------
    MovedOn
        It was changed meanwhile.
    NotAllowed
        No keeper.
    BadField
        A field cannot be used.
    BadInput
        A change without a reason.
    Refused
        Nobody would be keeper any more.
    """
    acting.must(Role.KEEPER)
    record = acting.record
    with record.immediate():
        known = Known(record)
        row, faults = looked_at(known, register, cells)
        if faults:
            raise faults[0]
        old = known.row(register, row.id)
        # A person's subject carries sign-ins as well: the row's own entry is compared.
        if seen is not None and seen != (old.entry if old is not None else 0):
            raise MovedOn(f"{register} {row.id} has moved on since you saw it: look again, then decide.")
        if old is not None and same(old, row):
            return record.entry(old.entry)
        if old is not None and not reason.strip():
            raise BadInput(f"{register} {row.id} is there already and differs: write why it changes.")
        keep_a_keeper(known, register, {row.id: row})
        return enter_row(acting, register, row, reason.strip())


def remarks(record: Record, register: str, id: str) -> tuple[str, ...]:
    """Give what does not fit together in a row as it stands; it can be used all the same."""
    return row_checks.remarks(REGISTERS[register].from_body(registers.row(record, register, id).row))


def same(old: registers.RegisterRow, row: Row) -> bool:
    """Say whether a row says what stands in the register."""
    return not old.retired and type(row).from_body(old.row) == row


def enter_row(acting: Acting, register: str, row: Row, reason: str) -> Entry:
    """Append a checked row."""
    event = ev.Registered(register=register, id=row.id, row=row.to_body(), reason=reason)
    return acting.record.append(event, person=acting.person, subject=f"{register}:{row.id}")


def keep_a_keeper(known: Known, register: str, rows: Mapping[str, Row | None]) -> None:
    """Refuse what would leave the record without anybody who may write its registers."""
    if register != "person":
        return
    before = {r.id: r.row.get("roles", ()) for r in known.rows("person") if not r.retired}
    after = before | {id: getattr(row, "roles", ()) for id, row in rows.items()}
    if any(Role.KEEPER in roles for roles in before.values()) and not any(
        Role.KEEPER in roles for roles in after.values()
    ):
        raise Refused("Nobody would be keeper any more: make somebody else keeper first.")


def retire(acting: Acting, register: str, id: str, reason: str) -> Entry:
    """Take a row out of use; what used it keeps it.

    Raises
    ------
    NotAllowed
        No keeper.
    NotFound
        There is no such row.
    BadInput
        No reason.
    Refused
        It is retired already, rows in use rest on it, or nobody would be keeper any more.
    """
    acting.must(Role.KEEPER)
    if not reason.strip():
        raise BadInput("Write why: it stands in the record for good.")
    record = acting.record
    with record.immediate():
        if registers.row(record, register, id).retired:
            raise Refused(f"{register} {id} is retired already.")
        known = Known(record)
        resting = resting_on(known, register, id, most=3)
        if resting.ids:
            named = ", ".join(resting.ids) + resting.said
            raise Refused(f"{named} still stand on {register} {id}: see to these first.")
        keep_a_keeper(known, register, {id: None})
        return record.append(
            ev.Retired(register=register, id=id, reason=reason.strip()),
            person=acting.person,
            subject=f"{register}:{id}",
        )


def resting_on(known: Known, register: str, id: str, *, most: int = 20) -> register_ids.Referring:
    """Give the rows in use that refer to a row, as `register id`: the first so many, and how many more."""
    named: list[str] = []
    more = 0
    for other in REGISTERS:
        names = [f.name for f in columns(other) if f.metadata["kind"] == f"ref:{register}"]
        if names:
            found = register_ids.referring(known.record, other, names, id, most=most)
            named += [f"{other} {row}" for row in found.ids]
            more += found.more
    return register_ids.Referring(tuple(named[:most]), more + len(named[most:]))
