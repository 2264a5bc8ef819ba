"""How a lot was held against the one before, or against something independent of it."""

from dataclasses import dataclass

from store.record.record import Record
from store.units import figure


@dataclass(frozen=True, slots=True)
class LotCheck:
    """One comparison; `limit_ratio` is how far the ratio may be from 1."""

    entry: int
    at: str
    day: str
    person: str
    lot: str
    how: str
    against: str
    method: str
    ratio: float
    u: float | None
    limit_ratio: float | None
    within: bool
    note: str

    @property
    def said(self) -> str:
        """Say how it stands to its limit; empty where it has none."""
        if self.limit_ratio is None:
            return ""
        return f"{'within' if self.within else 'OUT OF LIMIT'} ± {figure(100 * self.limit_ratio, 3)} %"


def of(record: Record, lot: str) -> tuple[LotCheck, ...]:
    """Give the comparisons of a lot, the newest first."""
    found = record.query("SELECT * FROM verification WHERE lot = :lot ORDER BY entry DESC", lot=lot)
    return tuple(LotCheck(**{**r, "within": bool(r["within"])}) for r in found)


_UNDECIDED = """
    SELECT v.*, l.row ->> '$.substance' AS substance FROM verification AS v
    CROSS JOIN register_row AS l ON l.register = 'lot' AND l.id = v.lot
    WHERE v.limit_ratio IS NOT NULL AND NOT v.within AND NOT l.retired AND {which}
      AND NOT EXISTS (
        SELECT 1 FROM verification AS n
        WHERE n.lot = v.lot AND n.entry > v.entry AND n.limit_ratio IS NOT NULL
      )
      AND coalesce(l.row ->> '$.status', '') NOT IN ('blocked', 'recalled')
      AND NOT EXISTS (
        SELECT 1 FROM register_history AS h JOIN register_history AS b ON b.entry = (
            SELECT max(o.entry) FROM register_history AS o
            WHERE o.register = 'lot' AND o.id = v.lot AND o.entry < h.entry
        )
        WHERE h.register = 'lot' AND h.id = v.lot AND h.entry > v.entry
          AND (coalesce(h.row ->> '$.status', '') <> coalesce(b.row ->> '$.status', '')
               OR coalesce(h.row ->> '$.status_reason', '') <> coalesce(b.row ->> '$.status_reason', ''))
      )
    ORDER BY v.entry
"""
"""The last comparison that had a limit was out of it, and nobody decided on the status of the lot since.

One without a limit judges nothing, so it settles nothing. A lot that is stopped already needs no decision.
"""


@dataclass(frozen=True, slots=True)
class Undecided:
    """A lot that is used on though its last verification was out of its limit."""

    lot: str
    substance: str
    day: str
    person: str
    said: str

    @property
    def line(self) -> str:
        """Say it at a plan and on the page of the lot."""
        return f"lot {self.lot}: {OUT}; {self.said}"


OUT = "verification out of limit: decide"


def undecided(record: Record, lot: str = "") -> tuple[Undecided, ...]:
    """Give the lots whose status is to be decided after a verification, the longest waiting first.

    Parameters
    ----------
    lot
        Only this one; empty for all.
    """
    which = _UNDECIDED.format(which="v.lot = :lot" if lot else "TRUE")
    found = record.query(which, **({"lot": lot} if lot else {}))
    return tuple(
        Undecided(
            lot=r["lot"],
            substance=str(r["substance"] or ""),
            day=r["day"],
            person=r["person"],
            said=f"ratio {figure(r['ratio'])} against {r['against']} on {r['day']}, "
            f"limit ± {figure(100 * r['limit_ratio'], 3)} %",
        )
        for r in found
    )
