"""What a laboratory found in portions of a rack, entered after the rack was closed."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace

from store import events as ev
from store.actions.acting import Acting
from store.calc.uniformity import MOST_PERCENT
from store.errors import BadField, BadInput, MovedOn, Refused
from store.events import Entry
from store.model.prep import Plan
from store.model.words import Role
from store.procedure import portions
from store.procedure.state import PrepState
from store.units import number


def places(plan: Plan, text: str) -> tuple[str, ...]:
    """Read places of a rack, by their numbers or by their vessels: `1 to 10`, `R-03, R-07`.

    Raises
    ------
    BadField
        There is no such place, or it stands twice.
    """
    order = [p.key for p in plan.parts]
    known = {key: key for key in order} | {p.vessel.casefold(): p.key for p in plan.parts}

    def key_of(one: str) -> str:
        if one.casefold() not in known:
            raise BadField(
                "places", f"there is no place {one}: write {order[0]} to {order[-1]}, or a vessel."
            )
        return known[one.casefold()]

    found: list[str] = []
    for piece in (p.strip() for p in text.replace(";", ",").split(",") if p.strip()):
        first, to, last = (x.strip() for x in piece.partition(" to "))
        if not to:
            found += [key_of(one) for one in piece.split()]
            continue
        low, high = order.index(key_of(first)), order.index(key_of(last))
        if low > high:
            raise BadField("places", f"{piece} runs backwards.")
        found += order[low : high + 1]
    if twice := next((one for one in found if found.count(one) > 1), ""):
        raise BadField("places", f"place {twice} stands there twice.")
    return tuple(found)


def units(plan: Plan, places_text: str, contents: str) -> dict[str, str]:
    """Read places and their contents in the same order; a content `-` takes back what stood.

    The contents are parted by blanks or semicolons, so that a comma stays a decimal sign.

    Raises
    ------
    BadField
        A place or a content that cannot be read, or not as many of one as of the other.
    """
    keys = places(plan, places_text)
    values = [v.rstrip(",") for v in contents.replace(";", " ").split()]
    if len(keys) != len(values):
        raise BadField("contents", f"{len(values)} contents for {len(keys)} places: write one for each.")
    return {
        key: "" if value == portions.TAKEN_BACK else _percent(value, "contents")
        for key, value in zip(keys, values, strict=True)
    }


def _percent(text: str, field: str) -> str:
    try:
        found = number(text)
    except BadInput as error:
        raise BadField(field, str(error)) from error
    if not 0 <= float(found) <= MOST_PERCENT:
        raise BadField(field, f"{text}: write it in % of the label, from 0 to {MOST_PERCENT:g}.")
    return str(found)


def enter(
    acting: Acting,
    prep: str,
    *,
    seen: int,
    units: Mapping[str, str],
    mean: str = "",
    target: str = "100",
    method: str,
    laboratory: str = "",
    report: str = "",
    note: str = "",
) -> Entry:
    """Write what was found in portions, and the acceptance value that follows from it.

    Parameters
    ----------
    units
        Place -> content of that portion in % of what was aimed at (the label); empty takes it back.
    mean
        Mean content of a portion by an assay of the lot, in % of the label: for weight variation.
    target
        Target T of the label in %, where its limits do not lie around 100 %.
    note
        Needed where something that was reported before is replaced or taken back.

    Raises
    ------
    BadField
        A field that cannot be used, or a change without a reason.
    Refused
        It is no rack, it is not closed, or there is nothing in a place.
    MovedOn
        The prep has moved on since it was seen.
    """
    acting.must(Role.OPERATOR, Role.REVIEWER)
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        if state.last_entry != seen:
            raise MovedOn(f"{prep} has moved on since you saw it: look again.")
        _may_be_assayed(state, units)
        if not units and not mean.strip():
            raise BadField(
                "contents", "write the content of each portion, or the mean of an assay of the lot."
            )
        if not method.strip():
            raise BadField("method", "is needed: a content without it says nothing.")
        mean = mean.strip()
        if mean and mean != portions.TAKEN_BACK:
            mean = _percent(mean, "mean")
            if float(mean) == 0:
                raise BadField("mean", "a mean content of 0 % judges nothing: write what was found.")
        aim = _percent(target.strip() or "100", "target")
        if not 0 < float(aim) <= 200:
            raise BadField("target", "write the target of the label in percent, such as 100.")
        before = portions.assayed(state)
        changed = [p for p in units if p in before.units] + (["the mean"] if mean and before.mean else [])
        if changed and not note.strip():
            raise BadField("note", f"this replaces what stands of {', '.join(changed)}: write why.")
        event = ev.Assayed(
            prep=prep,
            units=dict(units),
            mean=mean,
            target=aim,
            method=method.strip(),
            laboratory=laboratory.strip(),
            report=report.strip(),
            note=note.strip(),
        )
        event = replace(event, computed=_computed(state, event))
        return record.append(event, person=acting.person, subject=f"prep:{prep}")


def _may_be_assayed(state: PrepState, units: Mapping[str, str]) -> None:
    if not state.plan.is_rack:
        raise Refused(f"{state.prep} is no rack of portions: enter a check of its lot instead.")
    if not state.status.done:
        raise Refused(f"{state.prep} is {state.status}: contents are entered once it is closed.")
    there = {p.key for p in portions.places(state) if p.word == portions.FILLED}
    if gone := [p for p in units if p not in there]:
        raise Refused(f"There is no portion in place {', '.join(gone)}: it was rejected, or never filled.")


def _computed(state: PrepState, event: ev.Assayed) -> dict[str, str]:
    """Give how equal the portions are with this report, numbers as text."""
    report = {"units": event.units, "mean": event.mean, "target": event.target}
    found = portions.equal(replace(state, assays=(*state.assays, report)))
    if found is None or found.acceptance is None:
        return {"why_not": found.why_not if found is not None else "no portion stands"}
    figures = {key: _text(value) for key, value in asdict(found.acceptance).items()}
    return {**figures, "by": found.by}


def _text(value: object) -> str:
    return ("yes" if value else "no") if isinstance(value, bool) else repr(value)


def said(state: PrepState) -> Sequence[str]:
    """Say how equal the portions are by what stands now."""
    found = portions.equal(state)
    return found.lines() if found is not None else ()
