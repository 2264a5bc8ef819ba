"""Contrast, commands and terminals."""

import pytest
from textual.color import Color

from tui import commands, theme


def test_contrast_agrees_with_known_pairs() -> None:
    # WCAG 2.2: black on white is 21:1 by its formula. #767676 and #595959 on white are the greys that the
    # trade names as the lightest that still pass 4.5:1 and 7:1 (common practice, from memory).
    assert theme.contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert theme.contrast("#767676", "#ffffff") >= 4.5 > theme.contrast("#777777", "#ffffff")
    assert theme.contrast("#595959", "#ffffff") >= 7.0 > theme.contrast("#5a5a5a", "#ffffff")


@pytest.mark.parametrize("name", [t.name for t in theme.THEMES])
def test_every_text_on_every_background_has_seven_to_one(name: str) -> None:
    found = next(t for t in theme.THEMES if t.name == name).to_color_system().generate()
    grounds = [Color.parse(found[b]).hex for b in theme.BACKGROUNDS]
    for text in theme.TEXTS:
        colour = Color.parse(found[text])
        assert colour.a == 1.0
        for ground in grounds:
            assert theme.contrast(colour.hex, ground) >= theme.LEAST_CONTRAST, (text, ground)
    for pair in ("block-cursor", "block-cursor-blurred", "input-cursor", "input-selection"):
        front, back = found[f"{pair}-foreground"], found[f"{pair}-background"]
        assert theme.contrast(Color.parse(front).hex, Color.parse(back).hex) >= theme.LEAST_CONTRAST, pair


def test_the_theme_without_colour_has_none() -> None:
    mono = next(t for t in theme.THEMES if t.name == "mono")
    for name in ("primary", "accent", "warning", "error", "success", "foreground", "background"):
        r, g, b = Color.parse(getattr(mono, name)).rgb
        assert r == g == b


@pytest.mark.parametrize("term", ["", "dumb", "unknown"])
def test_a_terminal_that_cannot_place_text_is_told_what_to_do(term: str) -> None:
    assert "--plain" in theme.dumb_terminal_sentence({"TERM": term})
    assert theme.dumb_terminal_sentence({"TERM": "linux"}) == ""
    assert "--plain" in theme.dumb_terminal_sentence({"TERM": "linux"}, is_terminal=False)


def test_no_two_commands_of_one_place_share_a_key_or_an_id() -> None:
    for where in commands.PLACES:
        keys = [c.key for c in commands.of(where)]
        assert len(keys) == len(set(keys))
    ids = [c.id for c in commands.ALL]
    assert len(ids) == len(set(ids))


def test_the_list_of_all_is_every_command_declared() -> None:
    declared = [c for c in vars(commands).values() if isinstance(c, commands.Command)]
    assert sorted(c.id for c in declared) == sorted(c.id for c in commands.ALL)
    assert sum(len(commands.of(w)) for w in commands.PLACES) == len(commands.ALL)


def test_the_readme_table_names_every_command_once() -> None:
    table = commands.readme_table()
    for command in commands.ALL:
        assert table.count(f"| `{command.key}` | **{command.label}**: {command.help} |") == 1


def test_a_command_gives_a_binding_of_its_own_id() -> None:
    binding = commands.NEW.binding()
    assert (binding.key, binding.action, binding.id) == ("n", "new", "new")
