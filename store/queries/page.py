"""One prep, whole: everything that its page, its print and its export show, read from its own entries.

Nothing is hidden: a withdrawn dose stands with what became of it, a result that was computed anew stands
beside the one before, and each caution is the very text that was acknowledged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from store import events as ev
from store.errors import NotFound
from store.model.prep import Part
from store.procedure.progress import fold
from store.procedure.state import PrepState
from store.queries import log, page_rows, results, revised_since, stale
from store.queries.log import LogLine
from store.queries.page_rows import CautionShown, Change, IncidentShown, NoteShown, ReviewShown
from store.queries.results import ResultShown, result
from store.record.record import Record

if TYPE_CHECKING:
    from store.procedure.portions import Equal, Place


@dataclass(frozen=True, slots=True)
class PrepPage:
    """One prep: its state, what was shown and acknowledged, what came out, who wrote what and when."""

    state: PrepState
    cautions: tuple[CautionShown, ...]
    changes: tuple[Change, ...]
    notes: tuple[NoteShown, ...]
    incidents: tuple[IncidentShown, ...]
    results: tuple[ResultShown, ...]
    vessels: tuple[ResultShown, ...]
    """Of a prep of several vessels the result of each as it stands; empty where there is one vessel."""
    earlier: tuple[ResultShown, ...]
    """What was written before and computed anew since, the oldest first; of several vessels, each."""
    reviews: tuple[ReviewShown, ...]
    log: tuple[LogLine, ...]
    stale: str
    """Why the result rests on something withdrawn, here or in what it was made of; empty if it does not."""
    revised: tuple[str, ...]
    """What was revised since in a lot that the result rests on; until it is written anew, the old stands."""
    planned_basis: Mapping[str, Any]
    """What the plan rested on; in the basis of the state a certificate revised since stands instead."""

    @property
    def substance(self) -> str:
        """The id of the solute."""
        return str(self.state.basis["lot"]["substance"])

    @property
    def solvent(self) -> str:
        """The id of the solvent; empty where there is none."""
        return str(self.state.basis.get("solvent_lot", {}).get("substance", ""))

    @property
    def title(self) -> str:
        """What is made, in words: `potassium dichromate 1.000 mg/g in water`."""
        named = f"{self.name(self.substance)} {self.state.target}"
        dry = self.solvent in ("", self.substance)
        return named if dry else f"{named} in {self.name(self.solvent)}"

    @property
    def result(self) -> ResultShown | None:
        """The result that stands, or None while the prep is not closed."""
        return self.results[-1] if self.results else None

    @property
    def portions(self) -> tuple[Place, ...]:
        """Every place of a rack; empty for any other prep."""
        why = {c.of: c.reason for c in self.changes if c.how == "discarded"}
        if not self.state.plan.is_rack:
            return ()
        from store.procedure.portions import places

        return places(self.state, why)

    @property
    def equal(self) -> Equal | None:
        """How equal the portions of a rack are; None for any other prep, and while nothing is dosed."""
        if not self.state.plan.is_rack:
            return None
        from store.procedure.portions import equal

        return equal(self.state)

    @property
    def limits(self) -> tuple[str, ...]:
        """Generic concentration limits beside the masses in the vessels: information, nothing is lowered.

        Empty while nothing came out.
        """
        from store.procedure import limits_told, strength

        strongest: dict[str, float] = {}
        for part in self.state.each:
            solute_mg, solvent_mg = part.total_mg(part.solute), part.total_mg("solvent")
            if part.result and solute_mg > 0 and solvent_mg > 0:
                for id, fraction in strength.fractions(part.basis, solute_mg, solvent_mg).items():
                    strongest[id] = max(fraction, strongest.get(id, 0.0))
        return limits_told.told(self.state.basis, strongest)

    @property
    def head(self) -> str:
        """Last entry of the prep and its digest, as labels and exports carry them."""
        return f"{self.log[-1].entry}:{self.log[-1].digest}"

    def vessel_of(self, result: ResultShown) -> str:
        """Say which vessel a result is of, with its part; empty for a prep of one vessel."""
        if not result.part:
            return ""
        part = self.state.plan.part(result.part)
        named = f", {part.name}" if part.name else ""
        return f"vessel {part.vessel}, part {part.key}{named}, target {part.target}"

    def before(self, old: ResultShown) -> str:
        """Say a result that was computed anew since, with its uncertainty."""
        of = f"vessel {self.state.plan.part(old.part).vessel}: " if old.part else ""
        if not old.value:
            return f"{of}no value was written"
        if not old.u:
            return f"{of}{old.value} {old.unit}, without an uncertainty"
        return f"{of}{old.stated}"

    def part_words(self, part: Part) -> str:
        """Say what one of several vessels is to hold, and of what."""
        source = f"vessel {self.state.plan.part(part.source).vessel}" if part.source else part.container
        of = "a blank" if part.is_blank else f"{part.target} from {source}"
        kept = "" if part.keep else "; its rest to waste"
        return f"{part.vessel}, part {part.key}: {of}, {part.amount}{kept}"

    def name(self, substance: str) -> str:
        """Give the name of a substance as it stood when the prep was planned."""
        row = self.state.basis.get("substances", {}).get(substance, {})
        return str(row.get("name", substance))


def page(record: Record, prep: str) -> PrepPage:
    """Give one prep, whole.

    Raises
    ------
    NotFound
        There is no such prep.
    """
    entries = tuple(record.entries(subject=f"prep:{prep}"))
    state: PrepState | None = None
    for entry in entries:
        state = fold(state, entry)
    if state is None:
        raise NotFound(f"There is no prep {prep!r} in this record.")
    events = [(e, e.event) for e in entries]
    return PrepPage(
        state=state,
        cautions=page_rows.cautions(record, state, entries),
        changes=page_rows.changes(entries),
        notes=tuple(page_rows.note(e, v) for e, v in events if isinstance(v, ev.ExposureNoted)),
        incidents=tuple(page_rows.incident(e, v) for e, v in events if isinstance(v, ev.IncidentNoted)),
        results=tuple(result(e, v) for e, v in events if isinstance(v, ev.PrepClosed)),
        vessels=next((results.each(e, v) for e, v in reversed(events) if isinstance(v, ev.PrepClosed)), ()),
        earlier=tuple(
            one
            for e, v in [(e, v) for e, v in events if isinstance(v, ev.PrepClosed)][:-1]
            for one in results.each(e, v) or (result(e, v),)
        ),
        reviews=tuple(page_rows.review(e, v) for e, v in events if isinstance(v, ev.Reviewed)),
        log=tuple(log.line(e) for e in entries),
        stale=_stale(record, state),
        revised=revised_since.of(record, state),
        planned_basis=next((v.basis for _, v in events if isinstance(v, ev.Planned)), {}),
    )


def _stale(record: Record, state: PrepState) -> str:
    if state.stale:
        return state.stale
    rows = (state.basis, *state.basis.get("parts", {}).values())
    used = [own.get(key, {}) for own in rows for key in ("lot", "solvent_lot")]
    for lot in dict.fromkeys(str(row["id"]) for row in used if row.get("id")):
        if why := stale.stale_above(record, lot):
            return f"lot {lot} is stale: {why}"
    return ""
