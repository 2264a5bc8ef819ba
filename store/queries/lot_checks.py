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
