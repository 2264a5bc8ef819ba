"""Sealed containers on the balance: what each lost, and what that makes of what is in it."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from store.calc.storage import concentrated
from store.queries import registers
from store.record.record import Record
from store.units import quantity

AT_CLOSING, BEFORE_USE, AFTER_USE = "at closing", "before use", "after use"
MOMENTS = (AT_CLOSING, BEFORE_USE, AFTER_USE)


@dataclass(frozen=True, slots=True)
class Sealed:
    """One weighing of a sealed container; `computed` as it was written then."""

    entry: int
    at: str
    person: str
    moment: str
    balance: str
    shown: str
    mass_mg: float
    computed: Mapping[str, str]
    leaks: bool


@dataclass(frozen=True, slots=True)
class Storage:
    """All weighings of a sealed container, and what they come to."""

    container: str
    lot: str
    weighings: tuple[Sealed, ...]
    lost_mg: float
    """Over all spans between uses, each loss once."""
    value: float | None
    """Concentration after the last loss, where only solvent escaped; None where nothing is known."""
    u: float | None
    unit: str
    leaks: bool
    """In a span between uses it leaked; what was weighed anew before the same use stands instead."""
    doubt: str
    """Why no concentration can be told though its lot has one; empty where it can."""


def of(record: Record, container: str) -> Storage:
    """Give what is known of a sealed container.

    Raises
    ------
    NotFound
        There is no such container.
    """
    lot = str(registers.row(record, "container", container).row.get("lot", ""))
    found = weighings(record, container)
    ended = _ends(found)
    doubt = next((said for w in ended if (said := _doubt(w))), "")
    standing = None if doubt else _concentrated(record, container, ended)
    value, u, unit = standing if standing is not None else (None, None, "")
    return Storage(
        container=container,
        lot=lot,
        weighings=found,
        lost_mg=sum(float(w.computed.get("loss_mg", 0.0)) for w in ended),
        value=value,
        u=u,
        unit=unit,
        leaks=any(w.leaks for w in ended),
        doubt=doubt,
    )


def _doubt(w: Sealed) -> str:
    """Say why nothing is known of the concentration from this weighing on; empty where it is known."""
    if w.leaks:
        return f"it leaked by the weighing of {w.at[:10]}, entry {w.entry}"
    return f"{w.computed['note']} (entry {w.entry})" if w.computed.get("note") else ""


def _ends(found: tuple[Sealed, ...]) -> list[Sealed]:
    """Of several weighings before one use only the last counts: they share where they began."""
    last: dict[str, Sealed] = {}
    for one in found:
        if one.computed.get("loss_mg"):
            last[one.computed["since"]] = one
    return list(last.values())


def weighings(record: Record, container: str) -> tuple[Sealed, ...]:
    """Give the weighings, the oldest first; that of the prep which made it stands at their head."""
    made_by = record.query(
        """
        SELECT lot.row ->> '$.made_by' AS prep FROM register_row AS c
        JOIN register_row AS lot ON lot.register = 'lot' AND lot.id = c.row ->> '$.lot'
        WHERE c.register = 'container' AND c.id = :container
        """,
        container=container,
    )
    found = record.query(
        """
        SELECT entry, at, person, :closing AS moment, balance, shown, mass_mg, '{}' AS computed, 0 AS leaks
        FROM reading WHERE prep = :prep AND prep <> '' AND what = 'sealed'
        UNION ALL
        SELECT entry, at, person, moment, balance, shown, mass_mg, computed, leaks
        FROM sealed WHERE container = :container
        ORDER BY entry
        """,
        container=container,
        closing=AT_CLOSING,
        prep=made_by[0]["prep"] or "" if made_by else "",
    )
    return tuple(
        Sealed(**{**r, "computed": json.loads(r["computed"]), "leaks": bool(r["leaks"])}) for r in found
    )


def reference(record: Record, container: str) -> Sealed | None:
    """Give the weighing that a loss counts from: at closing, or after the last use; None if none."""
    return next((w for w in reversed(weighings(record, container)) if w.moment != BEFORE_USE), None)


def dosed_since(record: Record, container: str, entry: int) -> bool:
    """Say whether something was taken from it after an entry."""
    return bool(
        record.query(
            "SELECT 1 FROM dose WHERE container = :container AND entry > :entry "
            "AND state <> 'never happened' LIMIT 1",
            container=container,
            entry=entry,
        )
    )


def concentration(record: Record, container: str) -> tuple[float, float, str] | None:
    """Give concentration, standard uncertainty and unit of what is in it, past losses included.

    None where the lot has none, and after a leak or a gain: no later weighing says what it left. A loss
    stays in what is left: each span begins where the one before ended. The losses are taken from the
    concentration that the lot has now, so that a revised certificate is in it.
    """
    found = weighings(record, container)
    last = next((w for w in reversed(found) if w.moment != BEFORE_USE), None)
    ended = [w for w in _ends(found) if last is not None and w.entry < last.entry]
    return None if any(map(_doubt, ended)) else _concentrated(record, container, ended)


def _concentrated(record: Record, container: str, ended: Sequence[Sealed]) -> tuple[float, float, str] | None:
    lot = registers.row(record, "lot", str(registers.row(record, "container", container).row["lot"])).row
    if not lot.get("concentration") or not lot.get("concentration_u"):
        return None
    own = quantity(str(lot["concentration"]), *KINDS)
    value, u = float(own.number), float(quantity(str(lot["concentration_u"]), *KINDS).number)
    for w in ended:
        value, u = concentrated(
            value=value,
            u=u,
            content_mg=float(w.computed["content_mg"]),
            loss_mg=max(float(w.computed["loss_mg"]), 0.0),
            u_loss_mg=float(w.computed["u_loss_mg"]),
        )
    return value, u, own.unit


KINDS = ("mass_fraction", "molality", "mass_concentration", "amount_concentration")
