"""Caution pages: every rule on the texts, on every page that can be composed."""

import copy
import hashlib
import itertools
from collections.abc import Callable, Iterator
from importlib.resources import files
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.errors import UnknownCode
from store.hazards import cautions
from store.hazards.data import table
from store.hazards.news import PageRead, against
from tests.store.caution_pages import Pages
from tests.store.caution_rules import faults, texts
from tests.store.caution_words import DICHROMATE, FAMILIES, STEPS

DATA: dict[str, Any] = dict(table("cautions.toml"))
RULES = (("7 (since 2026-03-02)", "two pairs of gloves."), ("12 (since 2026-04-01)", "a second person."))
VERSIONS = Path(__file__).with_name("caution_versions.txt")


def page_faults(data: dict[str, Any], sizes: tuple[int, ...] = (0, 1, 2)) -> Iterator[str]:
    """Faults of every page with so many families, and of the named stacks."""
    pages, order = Pages(data), list(data["families"])
    for step in STEPS:
        for size in sizes:
            for families in itertools.combinations(order, size):
                yield from pages.faults(step, families, whole=size < 3)
        for stack in data["stacks"]:
            yield from pages.faults(step, tuple(stack["families"]), whole=False)


def test_every_text_keeps_the_rules() -> None:
    assert list(faults(DATA)) == []


def test_every_page_of_one_or_two_families_and_every_stack_keeps_the_rules() -> None:
    assert list(page_faults(DATA)) == []


@pytest.mark.long
def test_every_page_of_three_families_keeps_the_rules() -> None:
    assert list(page_faults(DATA, (3,))) == []


def test_the_worst_dichromate_stack_is_among_those_measured() -> None:
    assert any(set(stack["families"]) >= DICHROMATE for stack in DATA["stacks"])


def test_every_cell_of_steps_and_families_has_a_text_or_a_reason() -> None:
    cells = [DATA["steps"][s]["overlays"][f] for s in STEPS for f in FAMILIES]
    assert len(cells) == 12 * 23
    assert sum("sentences" in c for c in cells) == 225
    assert all(("sentences" in c) != ("none" in c) for c in cells)


@given(st.sampled_from(STEPS), st.sets(st.sampled_from(sorted(FAMILIES))))
@settings(max_examples=300, deadline=None, derandomize=True)
def test_every_family_present_has_a_block_or_is_named_or_has_a_reason(step: str, families: set[str]) -> None:
    page = cautions.compose(step, families)
    shown = {block.family for block in page.blocks} | set(page.folded) | set(page.covered)
    silent = {f for f in families if "none" in DATA["steps"][step]["overlays"][f]}
    assert shown - {""} == families - silent
    assert list(Pages(DATA).contradictions(page)) == []
    assert not any(DATA["steps"][step]["overlays"][f]["core"] for f in page.folded)


@given(
    st.sampled_from(STEPS),
    st.sets(st.sampled_from(sorted(FAMILIES))),
    st.integers(40, 120),
    st.integers(10, 40),
)
@settings(max_examples=100, deadline=None, derandomize=True)
def test_a_screen_of_any_size_shows_every_word_and_the_note(
    step: str, families: set[str], width: int, height: int
) -> None:
    page = cautions.compose(step, families, [("7 (since 2026-03-02)", "a second person for Cr(VI) solids.")])
    screens = page.screens(width, height)
    assert all(len(line) <= width for screen in screens for line in screen)
    assert all(len(screen) == height for screen in screens)
    foot = len(page.note.split())
    assert all(" ".join(screen).split()[-foot:] == page.note.split() for screen in screens)
    shown = " ".join(" ".join(line for line in screen) for screen in screens).split()
    for block in page.blocks:
        for word in " ".join(block.sentences).split():
            assert word in shown


def test_a_block_is_not_split_between_screens() -> None:
    page = cautions.compose("waste", DICHROMATE)
    lines = [[line for line in screen if line.strip()] for screen in page.screens()]
    assert len(lines) == 2
    assert lines[1][0][:5].strip().isdigit()


def test_local_rules_stand_after_the_overlays_and_before_the_note() -> None:
    page = cautions.compose("weigh_solid", ["CMR_1"], [("7 (since 2026-03-02)", "two pairs of gloves.")])
    (screen,) = page.screens()
    rule = screen.index("Local rule 7 (since 2026-03-02): two pairs of gloves.")
    assert any("Cancer" in line for line in screen[:rule])
    assert screen[rule + 1 :][-3:] == tuple(screen[-3:])
    assert page.text.splitlines()[-2] == "Local rule 7 (since 2026-03-02): two pairs of gloves."


def test_a_local_rule_changes_the_text_that_is_acknowledged() -> None:
    plain = cautions.compose("tare", ["CMR_1"])
    ruled = cautions.compose("tare", ["CMR_1"], [("1", "x")])
    assert plain.text != ruled.text


def test_local_rules_never_take_a_caution_off_the_page() -> None:
    plain = cautions.compose("waste", DICHROMATE)
    ruled = cautions.compose("waste", DICHROMATE, [(str(n), "word " * 30) for n in range(9)])
    assert plain.blocks == ruled.blocks
    assert len(ruled.screens()) > len(plain.screens())


def test_the_order_in_which_families_are_given_does_not_matter() -> None:
    assert (
        cautions.compose("tare", ["OXIDISER", "CMR_1"]).text
        == cautions.compose("tare", ["CMR_1", "OXIDISER", "CMR_1"]).text
    )


@given(
    st.sampled_from(STEPS[:-1]),
    st.sampled_from(STEPS[:-1]),
    st.sets(st.sampled_from(sorted(FAMILIES))),
    st.sets(st.sampled_from(sorted(FAMILIES))),
)
@settings(max_examples=150, deadline=None, derandomize=True)
def test_what_is_new_stands_first_behind_its_mark_and_the_most_severe_leads_each_group(
    step: str, last_step: str, families: set[str], last_families: set[str]
) -> None:
    last = cautions.compose(last_step, last_families, RULES[:1])
    page = cautions.compose(step, families, RULES)
    found = against(page, [PageRead(last_step, last.families, last.text)])
    screens = page.screens(news=found)
    assert len(screens) <= max(len(page.screens()), 2 + len(RULES))
    shown = " ".join(" ".join(line for screen in screens for line in screen[:-4]).split())
    places = {}
    for block in page.blocks:
        mark = found.blocks.get(block.key, "")
        text = " ".join(block.sentences)
        assert (f"{mark}: {text}" if mark else text) in shown
        places[shown.index(text)] = bool(mark)
    for name, line in zip((name for name, _ in RULES), page.rule_lines, strict=True):
        mark = found.rules.get(name, "")
        assert (f"{mark}: {line}" if mark else line) in shown
        places[shown.index(line)] = bool(mark)
    order = [places[at] for at in sorted(places)]
    assert order == sorted(order, reverse=True)
    for group in (True, False):
        blocks = [b for b in page.blocks if (b.key in found.blocks) is group]
        at = [shown.index(" ".join(block.sentences)) for block in blocks]
        assert at == sorted(at)


def test_a_new_hazard_stands_before_a_more_severe_one_that_was_read() -> None:
    last = cautions.compose("tare", ["CMR_1"])
    page = cautions.compose("waste", ["CMR_1", "FLAMMABLE"])
    read = PageRead("waste", ("CMR_1",), cautions.compose("waste", ["CMR_1"]).text)
    (screen,) = page.screens(news=against(page, [read]))
    lines = [line for line in screen if line[:5].strip().isdigit()]
    assert screen[0] == lines[0]
    assert screen[0].startswith("  1  NEW: ")
    assert any("Cancer" in line for line in lines[1:])
    assert sum("NEW: " in line for line in screen) == 1
    assert screen.index("Unchanged since you read it:") < screen.index(lines[1])
    assert against(page, [PageRead("tare", last.families, last.text)]).words == "the step, 1 hazard"


def test_a_page_read_before_has_nothing_new_and_stands_in_its_own_order() -> None:
    page = cautions.compose("waste", DICHROMATE, RULES)
    found = against(page, [PageRead("waste", page.families, page.text)])
    assert not found
    assert page.screens(news=found) == page.screens()


def test_a_local_rule_in_other_words_is_marked_as_changed_and_a_further_one_as_new() -> None:
    before = cautions.compose("waste", ["CMR_1"], [("7 (since 2025-01-01)", "one pair of gloves.")])
    page = cautions.compose("waste", ["CMR_1"], RULES)
    found = against(page, [PageRead("waste", before.families, before.text)])
    assert dict(found.rules) == {"7 (since 2026-03-02)": "CHANGED", "12 (since 2026-04-01)": "NEW"}
    (screen,) = page.screens(news=found)
    assert screen[0] == "CHANGED: Local rule 7 (since 2026-03-02): two pairs of gloves."
    assert screen[1] == "NEW: Local rule 12 (since 2026-04-01): a second person."


def test_what_is_marked_makes_no_page_longer_than_it_was() -> None:
    for step in STEPS[:-1]:
        for stack in DATA["stacks"]:
            page = cautions.compose(step, stack["families"])
            for read in ((), stack["families"][::2], stack["families"]):
                found = against(page, [PageRead("spill", tuple(read), "")])
                assert len(page.screens(news=found)) == len(page.screens()), (step, stack["name"])


def test_a_covered_family_is_named_beside_the_one_that_covers_it() -> None:
    page = cautions.compose("weigh_solid", ["CMR_1", "CMR_2"])
    assert page.covered == ("CMR_2",)
    assert "suspected: cancer" in page.text


def test_without_hazard_the_base_text_and_the_note_remain() -> None:
    page = cautions.compose("weigh_solid", [])
    assert [block.kind for block in page.blocks] == ["base"]
    assert page.note in page.text


def test_an_unknown_step_or_family_is_refused() -> None:
    with pytest.raises(UnknownCode, match="weigh_solid"):
        cautions.compose("weigh_liquid", [])
    with pytest.raises(UnknownCode, match="CMR_1"):
        cautions.compose("tare", ["CMR1"])


@given(st.sampled_from(STEPS), st.sets(st.sampled_from(sorted(FAMILIES))))
@settings(max_examples=200, deadline=None, derandomize=True)
def test_the_short_form_fits_its_lines_and_ends_with_the_note(step: str, families: set[str]) -> None:
    lines = cautions.short_form(step, families)
    assert all(len(line) <= 76 for line in lines)
    assert lines[-1] == "Site rules and safety data sheet first."
    assert len(lines) == (3 if families else 2)


def digest_of(text: Any) -> str:
    said = "\n".join(s["text"] for s in text["sentences"])
    return hashlib.sha256(said.encode()).hexdigest()[:12]


def test_a_changed_word_raises_the_version_of_its_text() -> None:
    held = dict(line.split(": ") for line in VERSIONS.read_text(encoding="utf-8").splitlines())
    now = {
        text["id"]: f"{text['version']} {digest_of(text)}"
        for step in STEPS
        for _, _, text in texts(DATA, step)
    }
    changed = {id for id in held.keys() & now.keys() if held[id] != now[id]}
    same_version = {id for id in changed if held[id].split()[0] == now[id].split()[0]}
    assert same_version == set(), "raise the version of these texts"
    assert held == now, "write the new versions to caution_versions.txt"


def _sentence(data: dict[str, Any], step: str, family: str, number: int = 0) -> dict[str, Any]:
    cell = data["steps"][step]["overlays"][family]
    return cell["sentences"][number]


BREAKS: dict[str, Callable[[dict[str, Any]], object]] = {
    "cell removed": lambda d: d["steps"]["waste"]["overlays"].pop("CMR_2"),
    "none where a text is due": lambda d: d["steps"]["dissolve"]["overlays"].update(
        STOT_1={"none": "not thought to matter here"}
    ),
    "none without a reason": lambda d: d["steps"]["tare"]["overlays"].update(CMR_2={"none": "n/a"}),
    "text too long": lambda d: d["steps"]["tare"]["base"]["sentences"][0].update(
        text="Use the vessel " * 20 + "now."
    ),
    "says safe": lambda d: _sentence(d, "waste", "ACUTE_4").update(text="It is safe to touch."),
    "abbreviation": lambda d: _sentence(d, "waste", "ACUTE_4").update(text="Wear PPE."),
    "second person elsewhere": lambda d: _sentence(d, "waste", "CMR_1").update(text="Fetch a colleague."),
    "no act": lambda d: d["steps"]["waste"]["overlays"]["CMR_1"]["sentences"].pop(0),
    "no stop": lambda d: d["steps"]["waste"]["overlays"]["CMR_1"]["sentences"].pop(1),
    "words without their tag": lambda d: _sentence(d, "decontaminate", "CMR_1").update(
        text="Take a damp wipe to it."
    ),
    "unknown tag": lambda d: _sentence(d, "waste", "CMR_1")["orders"].append("dance"),
    "damp wipe comes back": lambda d: _sentence(d, "decontaminate", "WATER_REACTIVE").pop("replaces"),
    "damp wipe ordered": lambda d: _sentence(d, "decontaminate", "CMR_1")["orders"].append("damp_wipe"),
    "need behind a tag": lambda d: _sentence(d, "add_solvent", "FLAMMABLE").update(
        orders=["acid_into_water"]
    ),
    "clash of two orders": lambda d: _sentence(d, "dissolve", "CMR_1")["orders"].append("cap_tight"),
    "replaces and not core": lambda d: d["steps"]["spill"]["overlays"]["OXIDISER"].update(core=False),
    "replaces nothing": lambda d: _sentence(d, "spill", "OXIDISER").update(replaces="spill.base.gone"),
    "sentence twice": lambda d: _sentence(d, "waste", "CMR_2", 1).update(
        text=_sentence(d, "waste", "SKIN_SENS", 1)["text"]
    ),
    "same rank": lambda d: d["steps"]["waste"]["overlays"]["CMR_2"].update(
        rank=d["steps"]["waste"]["overlays"]["CMR_1"]["rank"]
    ),
    "no version": lambda d: d["steps"]["waste"]["overlays"]["CMR_2"].update(version=0),
    "no source": lambda d: d["steps"]["waste"]["overlays"]["CMR_2"].pop("idea_from"),
    "short form too long": lambda d: d["families"]["CMR_1"].update(short="x" * 41),
    "everything core": lambda d: [
        c.update(core=True) for c in d["steps"]["waste"]["overlays"].values() if "core" in c
    ],
    "note gone": lambda d: d.update(note="Read this."),
}


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_rule_is_found(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    broken = copy.deepcopy(DATA)
    BREAKS[name](broken)
    monkeypatch.setattr(cautions, "_data", lambda: broken)
    assert next(chain(faults(broken), page_faults(broken)), "")


def test_the_texts_are_read_from_their_file_once() -> None:
    assert (files("store.hazards") / "cautions.toml").is_file()
    assert table("cautions.toml") is table("cautions.toml")
