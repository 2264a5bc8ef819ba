"""How long the liquids of a step have been at the gloves, against the breakthrough times of the register."""

from dataclasses import dataclass

from store.model.site_rows import minutes_through
from store.model.words import GLOVE_CHANGE, GLOVES_CHANGED, WORN
from store.procedure.state import PrepState
from store.record.record import Record

EARLY = 0.2
"""The last fifth of the time is said and rung; our own choice, with a minute at the least."""
LEAST_EARLY_S = 60.0


@dataclass(frozen=True, slots=True)
class GloveClock:
    """One glove and one liquid of the open step."""

    glove: str
    solvent: str
    minutes: float
    """Until it is through, as the register says."""
    used_s: float
    """Since the gloves were changed; what is open now is not in it."""

    @property
    def left_s(self) -> float:
        """What is left of the time."""
        return 60.0 * self.minutes - self.used_s

    @property
    def early_s(self) -> float:
        """So much before the end it rings."""
        return max(LEAST_EARLY_S, EARLY * 60.0 * self.minutes)


def clocks(record: Record, state: PrepState) -> tuple[GloveClock, ...]:
    """Give a clock for each glove of the plan's enclosure and liquid of the open step; the shortest first."""
    step = state.current
    if step is None:
        return ()
    found = []
    for row in state.basis.get("gloves", ()):
        for text in row.get("breakthrough", ()):
            solvent, minutes = minutes_through(text)
            if solvent in step.substances:
                used_s = _used_s(record, state.plan.enclosure, solvent, row)
                found.append(GloveClock(row["id"], solvent, minutes, used_s))
    return tuple(sorted(found, key=lambda c: c.left_s))


def _used_s(record: Record, enclosure: str, solvent: str, row: dict[str, str]) -> float:
    """Time open with a liquid since the gloves were changed, by anybody; those put on are new each day."""
    fixed = row.get("worn", WORN[0]) == WORN[1]
    since = row.get("fitted_on", "") if fixed else record.now().date().isoformat()
    found = record.query(
        """
        SELECT coalesce(sum(h.open_s), 0.0) AS open_s FROM handling AS h
        WHERE h.enclosure = :enclosure AND h.day >= :since AND h.state <> 'never happened'
          AND EXISTS (SELECT 1 FROM json_each(h.substances) AS s WHERE s.value = :solvent)
          AND h.entry > coalesce((SELECT max(c.entry) FROM handling AS c WHERE c.what = :change
                                  AND c.enclosure = :enclosure AND c.state <> 'never happened'), 0)
          AND h.entry > coalesce((SELECT max(n.entry) FROM exposure_note AS n WHERE n.note = :changed
                                  AND n.enclosure = :enclosure), 0)
        """,
        enclosure=enclosure,
        since=since,
        solvent=solvent,
        change=GLOVE_CHANGE,
        changed=GLOVES_CHANGED,
    )
    return float(found[0]["open_s"])
