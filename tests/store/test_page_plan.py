"""What a prep's page says it was planned from: powder is no solvent, and a revised certificate is marked."""

import pytest

from store.actions import revise
from store.queries import page_plan, registers
from store.queries.page import page
from store.record.record import Record
from tests import racks, site
from tui.cli import prep_page


def _revised(record: Record, prep: str) -> None:
    site.put(record, "lot", {**registers.body(record, "lot", "KD-2"), "assay": "98.9"})
    keeper, seen = site.acting(record, "ke-1"), record.prep_state(prep).last_entry
    revise.write_anew(keeper, prep, seen=seen, label=lambda part: "NEW")


def _plan_lines(record: Record, prep: str) -> str:
    shown = prep_page.lines(page(record, prep), budget=False, cautions=False, journal=False)
    return "\n".join(shown).partition("\ndoses,")[0]


def test_a_rack_of_powder_names_its_powder_once_and_no_solvent(record: Record) -> None:
    dry = racks.planned(record, 3)
    (only,) = page_plan.sources(page(record, dry))
    assert (only.what, only.lot) == ("powder", "KD-2")
    assert "solvent" not in _plan_lines(record, dry)


def test_a_rack_of_solutions_names_its_solvent(record: Record) -> None:
    wet = page(record, racks.planned(record, 3, wet=True))
    assert [s.what for s in page_plan.sources(wet)] == ["solute", "solvent"]


def test_a_content_that_nobody_revised_carries_no_mark(record: Record, clock: site.TestClock) -> None:
    prep = racks.planned(record, 3, wet=True)
    racks.player(record, prep, clock).play()
    assert len(page_plan.content(page(record, prep))) == 1
    assert "REVISED" not in _plan_lines(record, prep)


@pytest.mark.parametrize("wet", [False, True])
def test_after_a_revised_certificate_both_certificates_stand_each_marked(
    record: Record, clock: site.TestClock, wet: bool
) -> None:
    prep = racks.planned(record, 3, wet=wet)
    racks.player(record, prep, clock).play()
    _revised(record, prep)
    assert "as planned: assay 99.9 %, " in _plan_lines(record, prep)
    assert "REVISED since: assay 98.9 %" in _plan_lines(record, prep)


def test_after_a_revised_certificate_both_contents_stand_each_marked(
    record: Record, clock: site.TestClock
) -> None:
    prep = racks.planned(record, 3, wet=True)
    racks.player(record, prep, clock).play()
    _revised(record, prep)
    planned, now = page_plan.content(page(record, prep))
    assert planned.startswith("as planned: 0.9990000")
    assert now.startswith("REVISED, as the result stands: 0.9890000")
