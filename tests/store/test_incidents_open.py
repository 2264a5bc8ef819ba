"""The list of incidents says which are open."""

from click.testing import CliRunner

from store.actions import incidents as verbs
from store.actions import notes
from store.queries import asked, incidents
from store.record.record import Record
from tests import site
from tui.__main__ import main


def test_the_list_says_which_incidents_are_open(record: Record) -> None:
    first = notes.note_incident(site.acting(record), "", what="spill", note="a drop")
    notes.note_incident(site.acting(record), "", what="near miss", note="a cap")
    verbs.close(site.acting(record, "so-1"), first.entry, seen=0, reason="wiped up")
    rows = incidents.of(record, asked.asked(record))
    assert [i.said for i in rows] == ["OPEN; a cap", "a drop"]
    text = CliRunner().invoke(main, ["--record", str(record.path), "exposures", "--incidents"]).stdout
    assert "OPEN; a cap" in text
    assert "OPEN; a drop" not in text
