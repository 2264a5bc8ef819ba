"""A revised certificate: the new purity of a lot, and results written anew beside the old ones."""

from collections.abc import Callable, Mapping
from dataclasses import replace

from store.actions import closing, registers
from store.actions.acting import Acting
from store.actions.steps import append
from store.errors import BadField, MovedOn, Refused
from store.events import Entry
from store.model.words import Role
from store.procedure.state import PrepState
from store.queries import registers as rows
from store.queries import revised, revised_lots


def certificate(acting: Acting, lot: str, fields: Mapping[str, str], *, reason: str, seen: int) -> Entry:
    """Enter what a revised certificate says of a lot; nothing that was made of it is changed by this.

    Parameters
    ----------
    fields
        Only what the certificate says otherwise: assay, assay_u, basis, water ...
    seen
        Entry of the lot's row as the person saw it.

    Raises
    ------
    BadField
        A field that is not of a certificate, or cannot be used.
    MovedOn
        The row was changed meanwhile.
    """
    for name in fields:
        if name not in revised_lots.CERTIFICATE:
            raise BadField(name, f"a certificate gives {', '.join(revised_lots.CERTIFICATE)}.")
    record = acting.record
    with record.immediate():
        row = rows.in_use(record, "lot", lot)
        cells = {name: rows.text_of(value) for name, value in row.items()} | dict(fields)
        return registers.register(acting, "lot", cells, reason, seen=seen)


def write_anew(
    acting: Acting, prep: str, *, seen: int, label: Callable[[PrepState], str]
) -> tuple[float, float]:
    """Write the result of a prep with its lots as their rows stand now, and give old and new value.

    Of several vessels all are written anew, and the values are those of the last.

    The old result stays on the page of the prep; an accepted prep waits for a reviewer again.

    Parameters
    ----------
    label
        Gives the text label of the prep as it stands then.

    Raises
    ------
    Refused
        The prep is not closed, is a rehearsal, or nothing that it rests on was revised.
    MovedOn
        It has moved on since it was seen.
    """
    acting.must(Role.REVIEWER, Role.KEEPER)
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        if state.last_entry != seen:
            raise MovedOn(f"{prep} has moved on since you saw it: look again.")
        if not state.status.done or state.plan.rehearsal or not state.result.get("value"):
            raise Refused(f"{prep} has no result to write anew: it is {state.status}.")
        now = revised.as_now(record, state)
        had, says = revised_lots.certificates(state), revised_lots.certificates(now)
        differ = [lot for lot in says if says[lot] != had[lot]]
        if not differ:
            raise Refused(f"Nothing that {prep} rests on was revised: its result stands.")
        certificates = {key: revised_lots.certificate(now.basis[key]) for key in ("lot", "solvent_lot")}
        named = {str(now.basis[key]["id"]) for key in certificates}
        of_parts = {lot: says[lot] for lot in differ if lot not in named}
        made = closing.made_anew(now, label)
        was = str(state.result["value"])
        event = closing.closed_event(now, made)
        event = replace(event, result={**event.result, "certificates": certificates, "was": was})
        if of_parts:
            event = replace(event, result={**event.result, "certificates_of_parts": of_parts})
        append(acting, state, event)
        closing.enter_lots(acting, made, f"computed anew: certificate of {' and '.join(differ)} revised")
        return float(was), float(made[-1].result["value"])
