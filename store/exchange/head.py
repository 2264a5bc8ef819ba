"""What stands at the head of every export: what it is and is not, what was asked, who made it, from what."""

from dataclasses import dataclass

from store.exchange.said import RETENTION
from store.queries import registers
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Head:
    """The head of an export."""

    title: str
    what_it_is: str
    what_it_is_not: str
    site: str
    asked: str
    period: str
    made_by: str
    made_at: str
    record: str
    """entry:digest of the last entry that it rests on."""
    keep: str


def made(
    record: Record, *, title: str, what_it_is: str, what_it_is_not: str, asked: str, period: str, made_by: str
) -> Head:
    """Give the head of an export made now."""
    return Head(
        title=title,
        what_it_is=what_it_is,
        what_it_is_not=what_it_is_not,
        site=site(record),
        asked=asked,
        period=period,
        made_by=made_by,
        made_at=record.now().isoformat(timespec="seconds"),
        record=str(record.head()),
        keep=RETENTION,
    )


def site(record: Record) -> str:
    """Give the name of the site: its setting, or the one that the record was begun with."""
    return registers.settings(record)["site"] or str(getattr(record.entry(1).event, "site", ""))
