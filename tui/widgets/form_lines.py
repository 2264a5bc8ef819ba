"""The lines of one field of a form: what stands in it, and what is said below it."""

from rich.text import Text

from store.errors import StoreError
from tui.widgets.field import Field
from tui.widgets.lines import clip, pad, visible, wrap

LABEL = 22
_WIDE, _NEAR = 60, 6
"""In a form narrower than the first, what stands below a field begins at the second, under its label."""


def below_field(width: int) -> str:
    """Give the blanks before what stands below a field."""
    return " " * (LABEL + 3 if width >= _WIDE else _NEAR)


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


def watched(of: Field, line: str, width: int) -> list[tuple[str, str]]:
    """Give what the typed text means, or what is wrong with it so far, each line with its style."""
    if of.watch is None or not line.strip():
        return []
    try:
        return [(part, "") for part in wrap(visible(of.watch(line)), width)]
    except StoreError as refusal:
        return [(part, "bold") for part in wrong(str(refusal), width)]


def wrong(sentence: str, width: int) -> tuple[str, ...]:
    """Give the lines of what is wrong."""
    return wrap(f"✗ {visible(sentence)}", width, indent="  ")
