"""What a revised certificate changes: every prep that rests on the lot, with its old and its new value.

What was written is never changed: the new value is computed beside it, from the same readings and the row of
the lot as it stands now. Further on it is carried by proportion.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from store.calc.budget import SolutionResult
from store.errors import StoreError
from store.procedure import outcome, powder
from store.procedure.state import PrepState
from store.queries import recalled, registers, spread, taken, trace
from store.queries.revised_lots import certificate
from store.record.record import Record

CONTENT = "g/g"
"""Unit of what is said of a portion of powder: its content, which stands on no label."""
SAME = 1e-9
"""Two values closer than this are the same number."""
COMPUTED = "computed"
PROPORTION = "in proportion"
ABOVE = "in proportion; first write anew "
"""What it was made of rests on a revised lot itself, and the prep that made that is named."""


@dataclass(frozen=True, slots=True)
class Revised:
    """One lot that rests on the lot asked for, and the prep that made it.

    Values are numbers in its unit, None where none was written.
    """

    depth: int
    prep: str
    by: str
    status: str
    made_lot: str
    unit: str
    was: float | None
    was_u: float | None
    now: float | None
    now_u: float | None
    how: str
    """computed, in proportion, unchanged; what is to be written anew first; or why nothing can be said."""
    holders: tuple[recalled.Holder, ...]
    used_by: tuple[str, ...]
    """People who took from what it made."""

    @property
    def changed(self) -> bool:
        """Whether the value is another one now."""
        return (
            self.was is not None and self.now is not None and abs(self.now - self.was) > SAME * abs(self.was)
        )

    @property
    def print_again(self) -> bool:
        """Whether a label with the old value stands on something that is still there."""
        return self.changed and bool(self.holders) and self.unit != CONTENT


def as_now(record: Record, state: PrepState) -> PrepState:
    """Give a prep as if its lots had been then what their rows say now."""
    basis = dict(state.basis)
    for key in ("lot", "solvent_lot"):
        id = str(basis[key]["id"])
        basis[key] = {**basis[key], **certificate(registers.row(record, "lot", id).row)}
    if "parts" in basis:
        basis["parts"] = {key: _part_as_now(record, state.prep, rows) for key, rows in basis["parts"].items()}
    return replace(state, basis=basis)


def _part_as_now(record: Record, prep: str, rows: Mapping[str, Any]) -> dict[str, Any]:
    """The rows of one part; what the prep itself made follows from its own doses, not from a row."""
    now = dict(rows)
    for key in ("lot", "solvent_lot"):
        if key in now and now[key].get("made_by") != prep:
            row = registers.row(record, "lot", str(now[key]["id"])).row
            now[key] = {**now[key], **certificate(row)}
    return now


def of(record: Record, lot: str) -> tuple[Revised, ...]:
    """Give every prep that rests on a lot, the nearest first.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    return tuple(each(record, lot))


def each(record: Record, lot: str) -> Iterator[Revised]:
    """Give what `of` gives as it is asked for; of a lot in nearly every prep, with only a part in memory.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    if spread.few(record, lot):
        found = _once((link.prep, link.child, link.depth) for link in trace.trace(record, lot).down)
        yield from _vessels(record, lot, found)
    else:
        rows = spread.vessels(record, lot)
        yield from _vessels(record, lot, ((r["prep"], r["child"], r["depth"]) for r in rows))


def newest(record: Record, lot: str, limit: int) -> tuple[Revised, ...]:
    """Give what a screen shows: all that `of` gives where so few preps rest on the lot, else the newest.

    Raises
    ------
    NotFound
        Nobody knows the lot.
    """
    if spread.few(record, lot, most=limit):
        return of(record, lot)
    rows = spread.newest(record, lot, limit=limit)
    return tuple(_vessels(record, lot, _once((r["prep"], r["child"], r["depth"]) for r in rows)))


_Vessel = tuple[str, str, int]
"""Prep, the lot that it made in a vessel, and how many generations from the lot asked for."""


def _once(found: Iterable[_Vessel]) -> Iterator[_Vessel]:
    """Give each vessel where it comes first, which is the nearest."""
    given: set[tuple[str, str]] = set()
    for prep, made, depth in found:
        if (prep, made) not in given:
            given.add((prep, made))
            yield prep, made, depth


def _vessels(record: Record, lot: str, found: Iterable[_Vessel]) -> Iterator[Revised]:
    """Compute vessels anew one by one, in whatever order they come."""
    ratios = _Ratios(record, lot)
    whole: PrepState | None = None
    for prep, made, depth in found:
        if whole is None or whole.prep != prep:
            whole = record.prep_state(prep)
        yield _of_vessel(record, _that_made(whole, made), depth, ratios)


def _that_made(whole: PrepState, lot: str) -> PrepState:
    """Give the vessel of a prep that a lot was made in; where there is none, the prep with what it says.

    What the last of several vessels made says nothing of one that made no lot, such as a rejected place.
    """
    if (found := next((p for p in whole.each if lot and p.lot.get("id") == lot), None)) is not None:
        return found
    return replace(whole, result={}, lot={}) if whole.plan.parts else whole


class _Ratios:
    """What each lot holds now over what was written, computed when it is asked for; only so many are kept.

    The nearest come first, and yet one of them may rest on one further on: what is thinned once more with
    the lot that was revised. What was revised above the lot asked for, or beside it, reaches it as well.
    """

    MOST = 10_000

    def __init__(self, record: Record, lot: str) -> None:
        self._record, self._lot = record, lot
        self._known: dict[str, tuple[float, str]] = {}
        self._under_way: set[str] = set()

    def of(self, lot: str) -> tuple[float, str]:
        """Compute what made the lot anew, and say how what is made of it has to follow.

        In proportion where its maker rests on ours too, and is written anew with it; else its maker is named.
        """
        if lot not in self._known and lot not in self._under_way:
            maker = self._record.query("SELECT prep FROM made WHERE lot = :lot LIMIT 1", lot=lot)
            if maker:
                # A record that contradicts itself may ask for it again on the way.
                self._under_way.add(lot)
                made_by = str(maker[0]["prep"])
                row = _of_vessel(self._record, _that_made(self._record.prep_state(made_by), lot), 0, self)
                self._under_way.discard(lot)
                if row.changed and row.how == COMPUTED and not self._below(lot):
                    self._known[lot] = (self._known[lot][0], f"{ABOVE}{made_by} of lot {lot}")
        return self._known.get(lot, (1.0, PROPORTION))

    def _below(self, lot: str) -> bool:
        return lot != self._lot and spread.depth(self._record, lot, self._lot) is not None

    def put(self, lot: str, ratio: float, how: str) -> None:
        """Keep the ratio of a lot, as long as they are few."""
        if len(self._known) >= self.MOST:
            self._known.clear()
        self._known[lot] = (ratio, how if how.startswith(ABOVE) else PROPORTION)


def _of_vessel(record: Record, state: PrepState, depth: int, ratios: _Ratios) -> Revised:
    """Compute one vessel of a prep anew, and carry how much what it made changes."""
    was, was_u, unit = _says(state)
    now, now_u, how = was, was_u, "unchanged"
    own = state.basis.get("lot", {})
    if was is None:
        how = "no value was written"
    else:
        # What it was made of may have been written anew already: its row counts first, then what is to come.
        now, now_u, how = _anew(record, state, was, was_u)
        ratio, follows = ratios.of(str(own.get("id")))
        if now is not None and abs(ratio - 1.0) > SAME:
            now, now_u, how = now * ratio, None if now_u is None else now_u * ratio, follows
    made = str(state.lot.get("id", ""))
    if made:
        ratios.put(made, now / was if now is not None and was else 1.0, how)
    return Revised(
        depth=depth,
        prep=state.prep,
        by=state.planned_by,
        status=state.status,
        made_lot=made,
        unit=unit,
        was=was,
        was_u=was_u,
        now=now,
        now_u=now_u,
        how=how,
        holders=recalled.holders(record, made),
        used_by=taken.people(record, made),
    )


def _anew(
    record: Record, state: PrepState, was: float, was_u: float | None
) -> tuple[float | None, float | None, str]:
    try:
        now = as_now(record, state.whole or state)
        with_now = now.part(state.key) if state.whole is not None else now
        if all(certificate(with_now.basis[k]) == certificate(state.basis[k]) for k in ("lot", "solvent_lot")):
            return was, was_u, "unchanged"
        found = outcome.result(with_now)
    except StoreError as error:
        return None, None, f"cannot be computed: {error}"
    except KeyError as missing:
        return None, None, f"cannot be computed: its plan says nothing of {missing}"
    if isinstance(found, SolutionResult) and powder.stays(state):
        return found.content, None, COMPUTED
    return found.value, found.u, COMPUTED


def _says(state: PrepState) -> tuple[float | None, float | None, str]:
    """Give what was written of one vessel; of a portion of powder its content, since no mass changes."""
    result = state.result
    if result and powder.stays(state):
        return _number(result, "content"), None, CONTENT
    return _number(result, "value"), _number(result, "u"), str(result.get("unit", ""))


def _number(result: Mapping[str, Any], name: str) -> float | None:
    return float(result[name]) if result.get(name) not in (None, "") else None
