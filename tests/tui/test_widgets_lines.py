"""Outside text stays text, big digits stay digits, footers stay on the screen."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.app import App, ComposeResult

from tests.tui import snap
from tui import commands
from tui.widgets import big_digits, footer
from tui.widgets.big_digits import BigDigits
from tui.widgets.footer import KeyFooter
from tui.widgets.halvings import Halvings
from tui.widgets.lines import Lines, clip, pad, visible, wrap

NASTY = (
    "A[/x][bold]B",
    "[red]$warning[/]",
    "nul\x00esc\x1b[31mred",
    "abc\u202egnp.exe\u202c",
    "isolate\u2066x\u2069",
    "zero\u200bwidth\ufeff",
    "line\nend\rtab\t",
    "c1\x9b31m",
    "sep\u2028para\u2029",
    "日本語 עברית",
)
LAW = settings(derandomize=True, deadline=None, max_examples=200)


@given(st.text())
@LAW
def test_what_is_made_visible_hides_nothing_more(text: str) -> None:
    shown = visible(text)
    assert visible(shown) == shown
    assert not any(ord(c) < 32 or 0x7F <= ord(c) < 0xA0 or 0x202A <= ord(c) <= 0x202E for c in shown)


@given(st.text(), st.integers(1, 40))
@LAW
def test_a_line_that_is_cut_or_filled_has_its_columns(text: str, width: int) -> None:
    assert cell_len(clip(visible(text), width)) <= width
    assert cell_len(pad(visible(text), width)) == width


@given(st.text(alphabet="ab 日-"), st.integers(6, 40))
@LAW
def test_wrapping_loses_no_word_and_keeps_its_columns(text: str, width: int) -> None:
    lines = wrap(text, width, indent="  ")
    assert all(cell_len(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


class Shown(App[None]):
    def compose(self) -> ComposeResult:
        yield Lines(NASTY)
        yield BigDigits(id="digits")
        yield Halvings(id="halvings")
        yield KeyFooter(footer.pairs(commands.of("keypad")))


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_outside_text_and_digits_stand_as_they_are(size: tuple[int, int]) -> None:
    app = Shown()
    async with app.run_test(size=size) as pilot:
        app.query_one("#digits", BigDigits).show("-12.34", "mg", "STEADY")
        app.query_one("#halvings", Halvings).show(5.0, 0.5)
        await pilot.pause()
        snap.check(app, "widgets")
        found = snap.text_of(app)
    assert "A[/x][bold]B" in found
    assert "nul␀esc␛[31mred" in found
    assert "abc‹202E›gnp.exe‹202C›" in found
    assert "4 halvings under" in found


@given(
    st.from_regex(r"[+-]?[0-9]{1,7}([.,][0-9]{0,4})?", fullmatch=True),
    st.integers(60, 200),
    st.integers(5, 30),
)
@LAW
def test_digits_fit_their_room_and_are_at_least_five_rows(shown: str, width: int, height: int) -> None:
    drawn = big_digits.rows(shown, width, height)
    assert len(drawn) >= 5
    assert len(drawn) <= height
    assert max(map(len, drawn)) <= width


def test_every_digit_looks_different_from_every_other() -> None:
    pictures = {big_digits.rows(c, 80, 5) for c in "0123456789-+"}
    assert len(pictures) == 12


def test_more_room_gives_larger_digits() -> None:
    heights = [
        len(big_digits.rows("-12.345", width, height)) for width, height in ((60, 5), (100, 12), (200, 20))
    ]
    assert heights == [5, 10, 15]


def test_a_text_that_is_no_number_stands_as_it_is() -> None:
    assert big_digits.rows("OVER\x1bLOAD", 80, 5) == ("OVER␛LOAD",)


@given(
    st.lists(st.tuples(st.sampled_from("abc"), st.text("xyz ", max_size=20)), max_size=12),
    st.integers(30, 80),
)
@LAW
def test_the_footer_shows_every_key_in_its_width(keys: list[tuple[str, str]], width: int) -> None:
    lines = footer.layout(keys, width)
    assert [pair for line in lines for pair in line] == keys
    for line in lines:
        assert sum(len(k) + 1 + len(label) for k, label in line) + 4 * (len(line) - 1) <= width
