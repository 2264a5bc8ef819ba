"""Routes asked for by what the site has: the source is named by its container, or by a concentration."""

from pathlib import Path

import pytest

from store.errors import BadField
from store.queries import routes
from tests import site
from tests.tui import desks
from tui.screens.desk import Desk

ASKED = routes.Asked(source="", target="1 ug/g", amount="8 g", vessels="3 x 20 mL", balance="B-1")


def asked(source: str) -> routes.Asked:
    """Give the question with a source."""
    return routes.Asked(
        source=source, target=ASKED.target, amount=ASKED.amount, vessels=ASKED.vessels, balance=ASKED.balance
    )


def stocked(folder: Path) -> Desk:
    """Give a desk whose site has one prepared solution."""
    desk = desks.desk(folder)
    lot = {"id": "S-1", "substance": "K2CR2O7", "concentration": "1.003 mg/g", "solvent": "WATER"}
    site.put(desk.record, "lot", lot)
    site.put(desk.record, "container", {"id": "S-1-1", "lot": "S-1", "content": "20 g"})
    return desk


def test_a_container_of_a_solution_is_a_source(tmp_path: Path) -> None:
    found = routes.designed(stocked(tmp_path).record, asked(" S-1-1 "))
    assert found.design.routes


@pytest.mark.parametrize(("typed", "says"), [("S-1", "write S-1-1"), ("C-1", "such as 1 mg/g")])
def test_what_holds_no_solution_is_refused_with_what_to_type(tmp_path: Path, typed: str, says: str) -> None:
    with pytest.raises(BadField, match=says) as refused:
        routes.designed(stocked(tmp_path).record, asked(typed))
    assert refused.value.field == "source"
