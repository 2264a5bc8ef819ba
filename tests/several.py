"""A stock solution, more vessels, and plans that dilute, for tests beside the small site."""

from typing import Any

from store.model.prep import Part, Plan
from store.record.record import Record
from tests import site

ROWS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("lot", {"id": "KS-1", "substance": "K2CR2O7", "concentration": "1.0003 mg/g",
             "concentration_u": "0.0010 mg/g", "solvent": "WATER", "expiry": "2026-03-20"}),
    ("container", {"id": "CS-1", "lot": "KS-1", "content": "100 g"}),
    *(("vessel", {"id": f"V-{n}", "name": f"vial {n}", "capacity": "25 mL", "mass": "14.2 g"})
      for n in range(1, 9)),
)  # fmt: skip

SHARED = {
    "container": "CS-1", "solvent_container": "WB-1", "balance": "B-1", "enclosure": "E-1",
    "tolerance_percent": "5",
}  # fmt: skip


def begin(record: Record) -> None:
    """Enter the stock and the vessels."""
    for register, row in ROWS:
        site.put(record, register, row)


def part(key: str, target: str, **more: Any) -> Part:
    """Give one part in the vessel of its number."""
    given = {"container": "" if more.get("source") else "CS-1", "solvent_container": "WB-1", "amount": "20 g",
             "content": "aliquot", "vessel": f"V-{key}"}  # fmt: skip
    return Part(key=key, target=target, **(given | more))


def dilution(**more: Any) -> Plan:
    """Give a dilution to a ten-thousandth in two steps."""
    parts = (part("1", "10.00 ug/g"), part("2", "0.1000 ug/g", source="1"))
    return _plan("dilution, aliquot first", parts, **more)


def series(*targets: str, blank: bool = False, **more: Any) -> Plan:
    """Give a series from the one stock."""
    parts = [part(str(n), text) for n, text in enumerate(targets, 1)]
    if blank:
        parts.append(part(str(len(parts) + 1), targets[0], container="", name="blank"))
    return _plan("series, aliquot first", tuple(parts), **more)


def _plan(recipe: str, parts: tuple[Part, ...], **more: Any) -> Plan:
    last = next(p for p in reversed(parts) if not p.is_blank)
    given = {"target": last.target, "amount": last.amount, "vessel": last.vessel}
    return Plan(recipe=recipe, parts=parts, **(SHARED | given | more))
