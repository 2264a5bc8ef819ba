"""The lines of one field of a form: what stands in it, and what is said below it."""

from rich.text import Text

from store.errors import StoreError
from store.queries import decimals
from tui.widgets.field import Field, suggested
from tui.widgets.lines import clip, pad, visible, wrap

LABEL = 22
_WIDE, _NEAR = 60, 6
"""In a form narrower than the first, what stands below a field begins at the second, under its label."""


def itself(label: str, shown: str, width: int, *, here: bool, typing: bool, whole: bool) -> list[Text]:
    """Give the label and what stands in the field; a long value goes on below, or is cut to a line.

    Parameters
    ----------
    here
        The keys go to it.
    typing
        What is shown is being typed.
    whole
        Every line of it, not the first alone.
    """
    lead = f"{'▸' if here else ' '} {pad(label, LABEL)} "
    room = width - len(lead)
    out = []
    for n, part in enumerate(wrap(shown, room) if whole else (clip(shown, room),)):
        line = Text(lead if not n else " " * len(lead), style="bold" if here else "")
        out.append(line.append(part, style="bold reverse" if typing else ""))
    return out


def shown_in(of: Field, line: str, *, here: bool, long: bool) -> str:
    """Give what stands in a field, or what is being typed there; of a PIN only how long it is.

    Parameters
    ----------
    here
        The keys go to it.
    long
        It is one of many: where it is needed and empty, it says so.
    """
    cursor = "▏" if here else ""
    if of.kind == "pin":
        return "•" * len(line or of.value) + cursor
    shown = visible(line) if line else decimals.shown(visible(of.value))
    if long and of.required and not shown and not here:
        return "(needed)"
    return shown + cursor


def below(of: Field, line: str, width: int, *, here: bool, long: bool, picked: int) -> list[Text]:
    """Give what is said below a field: what is wrong, what may be chosen or meant, what it is for.

    Parameters
    ----------
    here, long
        As of `shown_in`.
    picked
        Which suggestion stands out; below 0 none.
    """
    lead = " " * (LABEL + 3 if width >= _WIDE else _NEAR)
    room = width - len(lead)
    said: list[tuple[str, str]] = []
    if of.error and not (line and of.watch):
        again = " → edits it." if here and of.refused and of.kind != "pin" else ""
        said += [(part, "bold") for part in _wrong(of.error + again, room)]
    if here:
        helps = [(part, "") for part in wrap(of.help, room)] if of.help and not of.error else []
        if long and of.choices and not line:
            said += helps
        said += [(f"{n}  {visible(choice)}", "") for n, choice in enumerate(of.choices[:9], 1) if not line]
        for n, choice in enumerate(suggested(of, line)):
            style = "bold" if n == picked else ""
            said.append((f"{'▸' if n == picked else ' '} {visible(choice)}", style))
        said += _watched(of, line, room)
        said = said or helps
    return [Text(f"{lead}{clip(decimals.shown(part), room)}", style=style) for part, style in said]


def _watched(of: Field, line: str, width: int) -> list[tuple[str, str]]:
    """Give what the typed text means, or what is wrong with it so far, each line with its style."""
    if of.watch is None or not line.strip():
        return []
    try:
        return [(part, "") for part in wrap(visible(of.watch(line)), width)]
    except StoreError as refusal:
        return [(part, "bold") for part in _wrong(str(refusal), width)]


def _wrong(sentence: str, width: int) -> tuple[str, ...]:
    """Give the lines of what is wrong."""
    return wrap(f"✗ {visible(sentence)}", width, indent="  ")
