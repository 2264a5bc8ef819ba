"""A prep walked to the act that a test is about, and a register row changed meanwhile."""

from random import Random
from typing import Any

from store.queries import registers
from store.record.record import Record
from tests import site
from tui.guide.guide import Guide
from tui.guide.player import Player


def walk(guide: Guide, clock: site.TestClock, act: str, step: str = "") -> None:
    def there(g: Guide) -> bool:
        now, open_ = g.state.act, g.state.current
        fits = now is not None and now.key == act and open_ is not None and (not step or open_.name == step)
        return not g.on_page and fits

    Player(guide, time=clock.time, chance=Random(3), show=lambda view: None).play(until=there)


def at_compare(record: Record, clock: site.TestClock) -> Guide:
    guide = site.guide(record, site.planned(record), clock)
    walk(guide, clock, "compare")
    return guide


def change(record: Record, kind: str, id: str, **fields: Any) -> None:
    site.put(record, kind, dict(registers.row(record, kind, id).row) | fields)
