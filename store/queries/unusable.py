"""What stands against a container as of a day, in few words: said where it is chosen.

What a plan refuses is decided by `store.procedure.checks`; this only says it earlier, in the room of a line.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

from store.errors import NotFound
from store.model.words import LotStatus
from store.queries import lots, registers
from store.record.record import Record


def against(lot: Mapping[str, Any], *, in_use_until: str = "", today: date) -> tuple[str, ...]:
    """Give what stands against a lot, and against a container of it that may be used until a day.

    Examples
    --------
    >>> against({"status": "blocked", "expiry": "2026-01-31"}, today=date(2026, 2, 1))
    ('BLOCKED', 'EXPIRED on 2026-01-31')
    >>> against({"expiry": "2026-01-31"}, in_use_until="2026-01-31", today=date(2026, 1, 31))
    ()
    """
    day = today.isoformat()
    status = str(lot.get("status", "") or LotStatus.RELEASED)
    dated = (
        ("EXPIRED on", lot.get("expiry")),
        ("RETEST WAS DUE on", lot.get("retest")),
        ("PAST ITS DAYS OF USE since", in_use_until),
    )
    return (
        *((status.upper(),) if status != LotStatus.RELEASED else ()),
        *(f"{words} {until}" for words, until in dated if until and str(until) < day),
    )


def of(record: Record, container: str) -> tuple[str, ...]:
    """Give what stands against a container today, judged as what is due is; empty where nothing does."""
    try:
        row = registers.row(record, "container", container).row
        lot = registers.row(record, "lot", str(row.get("lot", ""))).row
    except NotFound:
        return ()
    return of_row(record, container, row, lot)


def of_row(record: Record, container: str, row: Mapping[str, Any], lot: Mapping[str, Any]) -> tuple[str, ...]:
    """Give what stands against a container whose rows are at hand."""
    until = ""
    if days := str(row.get("in_use_days", "")):
        opened = str(row.get("opened_on", "")) or lots.first_opened(record, container)
        until = lots.last_day_of_use(opened, days)
    return against(lot, in_use_until=until, today=record.due_now().date())
