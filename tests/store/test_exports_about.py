"""A person's own page, the pages for print, and what the JSON of an export holds."""

import io
import json
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from store.errors import BadInput, NotFound
from store.exchange import about, exports, json_schema
from store.exchange.about import About
from store.exchange.exports import KINDS
from tests.store.asked_story import Story, begin


@pytest.fixture
def told(tmp_path: Path) -> Iterator[Story]:
    story = begin(tmp_path)
    yield story
    story.record.close()


class Cells(HTMLParser):
    """Text of every cell, and that every element is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.texts: list[str] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag != "meta":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.append(data)


def page(told: Story, form: str, **which: str) -> str:
    out = io.StringIO()
    about.write(told.record, About(**which), out, form=form, made_by="so-1")
    return out.getvalue()


@pytest.mark.parametrize("form", ["html", "text", "json"])
def test_a_persons_page_holds_the_row_sums_handlings_and_how_long_it_is_kept(told: Story, form: str) -> None:
    told.whole(by="op-1", present=("op-2",))
    text = page(told, form, person="op-1")
    family = "CMR_1" if form == "json" else "cancer, genes, fertility, birth"
    for said in ("OP-1", "River Laboratory", family, "not measured", "did it", "29 CFR 1910.1020", "so-1"):
        assert said in text, said
    assert str(told.record.head()) in text
    assert "op-2" not in text
    assert "was present" in page(told, form, person="op-2")


def test_a_persons_page_is_narrowed_by_period(told: Story) -> None:
    told.clock.set("2025-12-30")
    told.whole(by="op-1")
    told.clock.set("2026-02-02")
    told.whole(by="op-1")
    days = {r["day"] for r in _rows(told, person="op-1", since="2026")}
    assert days == {"2026-02-02"}
    assert {r["day"] for r in _rows(told, person="op-1")} == {"2025-12-30", "2026-02-02"}


def _rows(told: Story, **which: str) -> list[Any]:
    parts = json.loads(page(told, "json", **which))["sections"]
    return next(p["rows"] for p in parts if p["title"].startswith("Handlings"))


def test_nobody_and_a_single_table_are_refused(told: Story) -> None:
    with pytest.raises(BadInput, match="--person"):
        page(told, "html", person="")
    with pytest.raises(NotFound):
        page(told, "html", person="op-9")
    with pytest.raises(BadInput, match="several tables"):
        page(told, "csv", person="op-1")


@pytest.mark.parametrize("kind", list(KINDS))
def test_a_page_for_print_is_closed_html_and_runs_nothing_of_what_was_typed(told: Story, kind: str) -> None:
    prep = told.plan()
    opening, _ = told.weigh(prep)
    told.note(prep, opening, unusual="<script>alert(1)</script>")
    out = io.StringIO()
    count = exports.write(told.record, kind, out, form="html", made_by="<b>so-1</b>")
    assert count > 0
    cells = Cells(out.getvalue())
    assert cells.open == []
    assert "<script" not in out.getvalue()
    assert "<b>so-1</b>" in cells.texts
    if kind == "exposures":
        assert "<script>alert(1)</script>" in cells.texts


def fits(schema: dict[str, Any], value: Any) -> bool:
    """The part of JSON Schema that is used: type, items, required, properties, additionalProperties."""
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    tests = {
        "object": isinstance(value, dict),
        "array": isinstance(value, list),
        "string": isinstance(value, str),
        "integer": isinstance(value, int) and not isinstance(value, bool),
        "number": isinstance(value, int | float) and not isinstance(value, bool),
        "boolean": isinstance(value, bool),
        "null": value is None,
    }
    if not any(tests[kind] for kind in kinds):
        return False
    if isinstance(value, list):
        return all(fits(schema["items"], one) for one in value)
    if isinstance(value, dict):
        known = schema["properties"]
        more = schema.get("additionalProperties", True)
        closed = more or set(value) <= set(known)
        if isinstance(more, dict) and not all(fits(more, v) for n, v in value.items() if n not in known):
            return False
        there = set(schema["required"]) <= set(value)
        return closed and there and all(fits(known[n], v) for n, v in value.items() if n in known)
    return True


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_json_of_every_export_fits_its_schema(told: Story, kind: str) -> None:
    told.whole(by="op-1", present=("op-2", "so-1"))
    told.plan()
    out = io.StringIO()
    assert exports.write(told.record, kind, out, form="json", made_by="so-1")
    schema = json_schema.of(kind)
    found = json.loads(out.getvalue())
    assert fits(schema, found)
    assert set(found["rows"][0]) == set(schema["properties"]["rows"]["items"]["properties"])
    found["rows"][0]["more"] = 1
    assert not fits(schema, found)


def test_the_schema_says_what_stands_beside_the_field_in_the_source() -> None:
    of = json_schema.of("exposures")["properties"]["rows"]["items"]["properties"]
    assert of["at"]["description"] == "UTC."
    assert of["present"] == {"type": "array", "items": {"type": "string"}}
    with pytest.raises(BadInput):
        json_schema.of("person")


def test_the_json_of_a_persons_page_fits_its_schema(told: Story) -> None:
    told.whole(by="op-1", present=("op-2", "so-1"))
    out = io.StringIO()
    assert about.write(told.record, about.About("op-1"), out, form="json", made_by="so-1")
    schema, found = json_schema.of(about.KIND), json.loads(out.getvalue())
    assert fits(schema, found)
    assert {s["title"] for s in found["sections"]} >= {"In the register", "Handlings, the newest first"}
    found["sections"][0]["rows"][0]["says"] = {"more": 1}
    assert not fits(schema, found)
