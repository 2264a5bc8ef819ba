import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from store import events as ev
from store.errors import BadDate, BadInput, NotFound, StoreError, UnknownCode
from store.exchange import exports
from store.exchange.cells import guarded
from store.exchange.exports import Wanted
from store.queries import duty, exposures, periods, registers
from store.queries.asked import asked
from tests.store.asked_story import Story, begin


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


def written(told: Story, kind: str, form: Any, **wanted: str) -> tuple[int, str]:
    out = io.StringIO(newline="")
    count = exports.write(told.record, kind, out, form=form, made_by="so-1", wanted=Wanted(**wanted))
    return count, out.getvalue()


@pytest.mark.parametrize("kind", list(exports.KINDS))
@pytest.mark.parametrize("form", ["csv", "json", "text", "html"])
def test_every_export_says_what_it_is_and_is_not_who_made_it_and_from_what(
    told: Story, kind: str, form: str
) -> None:
    told.whole()
    count, text = written(told, kind, form, since="2026-03")
    flat = " ".join(text.split())
    assert count > 0
    for said in (
        "what it is", "no", "so-1", "2026-03-01 to the last entry", "29 CFR 1910.1020", "2004/37/EC",
        "Local law decides", "PINs guard screens",
    ):  # fmt: skip
        assert said.replace(" ", "") in flat.replace("_", "").replace(" ", ""), said
    assert str(told.record.head()).replace(" ", "") in flat.replace(" ", "")


def test_csv_json_and_the_query_hold_the_same_rows(told: Story) -> None:
    for by in ("op-1", "op-2"):
        told.whole(by=by)
    count, text = written(told, "exposures", "json", person="op-1")
    rows = json.loads(text)["rows"]
    body = [
        line for line in text_lines(written(told, "exposures", "csv", person="op-1")[1]) if line[0][:1] != "#"
    ]
    assert count == len(rows) == len(body) - 1 == 3
    assert [r["entry"] for r in rows] == [int(line[body[0].index("entry")]) for line in body[1:]]
    assert all("op-1" in r["present"] for r in rows)


def text_lines(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline="")))


def test_a_note_that_a_spreadsheet_would_run_is_made_harmless(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.note(prep, opening, unusual='=HYPERLINK("x")')
    lines = [line for line in text_lines(written(told, "exposures", "csv")[1]) if line[0][:1] != "#"]
    assert lines[1][lines[0].index("note")] == '\'=HYPERLINK("x")'
    assert json.loads(written(told, "exposures", "json")[1])["rows"][0]["note"] == '=HYPERLINK("x")'


@pytest.mark.parametrize("cell", ["=1", "+1+1", "@x", "-x", "\t=1", "\r=1", "\n=1", "  =1", "＝1", "-1\n"])
def test_cells_that_would_run_are_guarded(cell: str) -> None:
    assert guarded(cell) == "'" + cell


@pytest.mark.parametrize("cell", ["-5.2", "+1e-3", "a=1", "", "1,2-dichloroethane", -3, None])
def test_numbers_and_names_are_left_as_they_are(cell: object) -> None:
    assert guarded(cell) is cell


def test_an_export_of_a_long_record_is_read_in_chunks(told: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(4):
        told.whole()
    whole = written(told, "exposures", "json")
    each = exposures.each
    monkeypatch.setattr(exposures, "each", lambda record, which: each(record, which, chunk=5))
    again = written(told, "exposures", "json")
    assert json.loads(again[1])["rows"] == json.loads(whole[1])["rows"]
    assert again[0] == whole[0] == 12


def test_an_export_without_rows_still_has_its_head(told: Story) -> None:
    for form in ("csv", "json", "text", "html"):
        count, text = written(told, "exposures", form, person="so-1")
        assert count == 0
        assert "person so-1" in text
    assert json.loads(written(told, "exposures", "json", person="so-1")[1])["rows"] == []


@pytest.mark.parametrize("kind", list(exports.KINDS))
def test_a_csv_without_rows_names_its_columns_as_one_with_rows_does(told: Story, kind: str) -> None:
    told.whole(by="op-1", present=("op-2", "so-1"))
    empty, none = written(told, kind, "csv", since="2030")
    full, some = written(told, kind, "csv")
    names = [next(line for line in text_lines(text) if line[0][:1] != "#") for text in (none, some)]
    assert (empty, full > 0) == (0, True)
    assert names[0] == names[1]
    assert len([line for line in text_lines(none) if line[0][:1] != "#"]) == 1


@pytest.mark.parametrize("typed", ["K2CR2O7", "k2cr2o7", "7778-50-9", "potassium dichromate"])
def test_an_export_finds_a_substance_by_whatever_it_is_called(told: Story, typed: str) -> None:
    told.whole()
    count, text = written(told, "exposures", "csv", substance=typed)
    assert count == len(tuple(exposures.each(told.record, asked(told.record, substance="K2CR2O7")))) > 0
    assert "# asked: substance K2CR2O7\r\n" in text


@pytest.mark.parametrize(
    ("kind", "wanted", "refusal"),
    [
        ("exposures", {"substance": "dichromat"}, NotFound),
        ("exposures", {"lot": "KD-9"}, NotFound),
        ("exposures", {"person": "op-9"}, NotFound),
        ("exposures", {"family": "CRM"}, UnknownCode),
        ("cmr-register", {"person": "op-9"}, NotFound),
        ("preps", {"substance": "dichromat"}, NotFound),
        ("preps", {"status": "weighed"}, BadInput),
        ("exposures", {"since": "2026-04", "until": "2026-03"}, BadDate),
    ],
)
def test_an_export_of_what_is_not_there_is_refused_and_writes_nothing(
    told: Story, kind: str, wanted: dict[str, str], refusal: type[StoreError]
) -> None:
    told.whole()
    out = io.StringIO(newline="")
    with pytest.raises(refusal):
        exports.write(told.record, kind, out, made_by="so-1", wanted=Wanted(**wanted))
    assert out.getvalue() == "", "a head alone would read as if nothing had been handled"


def test_a_text_export_shows_control_signs_and_runs_none(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.note(prep, opening, unusual="red \x1b[31m and\nnext line")
    text = written(told, "exposures", "text")[1]
    assert "\x1b" not in text
    assert r"red \x1b[31m and\nnext line" in text


def test_what_a_kind_does_not_know_is_refused(told: Story) -> None:
    with pytest.raises(BadInput, match="cmr-register"):
        written(told, "all", "csv")
    with pytest.raises(BadInput, match="csv, json, text or html"):
        written(told, "preps", "xlsx")
    with pytest.raises(BadInput, match="not narrowed by lot"):
        written(told, "cmr-register", "csv", lot="KD-2")
    with pytest.raises(BadDate):
        written(told, "preps", "csv", since="March")


def test_the_register_counts_each_person_year_and_substance_of_category_1(told: Story) -> None:
    told.clock.set("2025-12-30")
    told.whole(by="op-1", present=("op-2",), mg="10.00", open_s="60")
    told.clock.set("2026-01-02")
    told.whole(by="op-1", mg="5.00", open_s="120", estimated=True)
    azide = told.plan(lot="NA-1", substance="NAN3")
    told.weigh(azide, container="NA-1-1", substances=("NAN3",))

    rows = duty.cmr_register(told.record)
    assert [
        (r.person, r.year, r.substance, r.handlings, r.net_mg, r.open_s, r.estimated_s) for r in rows
    ] == [
        ("op-1", "2025", "K2CR2O7", 3, 10.0, 90.0, 0.0),
        ("op-1", "2026", "K2CR2O7", 3, 5.0, 30.0, 120.0),
        ("op-2", "2025", "K2CR2O7", 3, 10.0, 90.0, 0.0),
    ]
    first = rows[0]
    assert (first.name, first.employer, first.cas) == ("OP-1", "River Laboratory", "7778-50-9")
    assert (first.statements, first.edition, first.enclosures) == (
        ("H350", "H334"),
        ("CLP 2025-09-01",),
        ("E-1",),
    )
    assert (first.form, first.tasks, first.entered_by) == (
        "powder",
        ("add_solvent", "waste", "weigh_solid"),
        ("op-1",),
    )
    assert (first.places, first.enclosure_tests) == (("isolator",), ("E-1: no test in the register",))
    assert (first.equipment, first.measured) == (("neoprene",), ("not measured",))
    assert (first.first_day, first.last_day, first.longest_s) == ("2025-12-30", "2025-12-30", 60.0)
    assert [r.person for r in duty.cmr_register(told.record, person="op-2")] == ["op-2"]
    assert [r.year for r in duty.cmr_register(told.record, since="2026")] == ["2026"]


def test_the_register_says_what_was_measured_and_until_when_the_enclosure_was_tested(told: Story) -> None:
    def result(what: str, value: str, **more: str) -> None:
        told.put(
            ev.Monitored(what=what, day="2026-03-02", substance="K2CR2O7", value=value, **more),
            by="so-1",
        )

    told.whole(by="op-1")
    result("personal air", "0.12 ug/m3", who="op-1")
    result("personal air", "0.50 ug/m3", who="op-2")
    result("air", "< 0.05 ug/m3", enclosure="E-1")
    result("wipe", "3 ng/cm2", enclosure="E-2")
    row = {**registers.row(told.record, "enclosure", "E-1").row, "test_due": "2026-09-30"}
    told.put(ev.Registered(register="enclosure", id="E-1", row=row))
    (of,) = duty.cmr_register(told.record)
    assert of.measured == ("2026-03-02 personal air 0.12 ug/m3", "2026-03-02 air at E-1 < 0.05 ug/m3")
    assert of.enclosure_tests == ("E-1: held until 2026-06-01, 2026-09-30",)


def test_the_register_counts_incidents_for_everybody_present(told: Story) -> None:
    prep, _ = told.whole(present=("op-2",))
    told.put(
        ev.IncidentNoted(
            prep=prep, what="spill", note="a grain", substances=("K2CR2O7",), present=("op-1", "op-2")
        )
    )
    assert [(r.person, r.incidents) for r in duty.cmr_register(told.record)] == [("op-1", 1), ("op-2", 1)]


def test_what_never_happened_is_in_no_register(told: Story) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    assert len(duty.cmr_register(told.record)) == 1
    told.put(ev.NeverHappened(prep=prep, entry=opening, second="op-2", reason="other prep"))
    assert duty.cmr_register(told.record) == ()


def test_totals_without_names_withhold_what_fewer_than_three_people_did(told: Story) -> None:
    told.whole(by="op-1", present=("op-2",))
    assert {t.key: (t.people, t.total) for t in duty.without_names(told.record)} == {
        "CMR_1": ("fewer than 3", None),
        "RESP_SENS": ("fewer than 3", None),
    }
    told.whole(by="so-1")
    (first, _) = duty.without_names(told.record)
    assert first.people == "3"
    assert first.total is not None
    assert first.total.handlings == 6
    for kind in ("totals-by-family", "totals-by-substance"):
        text = written(told, kind, "text")[1].partition("\n\n")[2]
        assert not any(person in text for person in ("op-1", "op-2", "OP-1", "so-1"))


def test_the_log_for_print_has_the_time_of_day_families_in_words_and_sums(told: Story) -> None:
    told.whole(by="op-1", present=("op-2",), mg="10.00", open_s="60")
    page = written(told, "exposures", "html")[1]
    row = exposures.rows(told.record, asked(told.record), limit=1)[0]
    assert f"<td>{periods.local(row.at):%Y-%m-%d %H:%M}</td>" in page
    assert "cancer, genes, fertility" in page
    assert "CMR_1" not in page
    assert "Added up by substance" in page
    assert page.index("Added up by person") < page.index("<td>op-2</td>", page.index("Added up by person"))
    assert "<td>1:00</td>" in page


def test_a_mass_in_an_export_has_no_digits_that_no_balance_gave(told: Story) -> None:
    told.whole(by="op-1", mg="145.99")
    for row in json.loads(written(told, "exposures", "json")[1])["rows"]:
        assert row["net_mg"] == round(row["net_mg"], 4)


def test_the_log_is_narrowed_by_place_kind_and_incidents_as_the_question_is(told: Story) -> None:
    for by in ("op-1", "op-2"):
        told.whole(by=by)
    of = exposures.rows(told.record, asked(told.record), limit=-1)
    for name, filters in (("enclosure", {of[0].enclosure}), ("what", {h.what for h in of})):
        for value in filters:
            given = {name: value}
            rows = json.loads(written(told, "exposures", "json", **given)[1])["rows"]
            held = [h.entry for h in of if getattr(h, name) == value]
            assert sorted(r["entry"] for r in rows) == sorted(held) != []
    wrong = [h.entry for h in of if h.incidents or h.unusual]
    rows = json.loads(written(told, "exposures", "json", incidents="yes")[1])["rows"]
    assert sorted(r["entry"] for r in rows) == sorted(wrong)
    assert len(rows) < len(of)
    with pytest.raises(BadInput):
        written(told, "preps", "json", incidents="yes")
    text = written(told, "exposures", "csv", family="CMR_1", now="yes")[1]
    assert "now yes" in text
