"""Tables in a text that is read: whole cells, the last column broken where the width ends."""

from collections.abc import Sequence

from rich.cells import cell_len

from tui.widgets.lines import pad, visible, wrap

LEAST = 18
"""A last column narrower than this, and than what is in it, stands on a line of its own."""
MOST = 26
"""No other column is wider; what is longer is cut, and says so."""


def tabled(names: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> tuple[str, ...]:
    """Draw rows under their names; columns that are empty throughout are left out.

    >>> tabled(("entry", "note"), [("12", "a long note here")], 20)
    ('entry', '12', '    a long note here')
    >>> tabled(("who", "", "what"), [("op-1", "", "powder on the pan, wiped at once")], 30)
    ('who   what', 'op-1  powder on the pan, wiped', '      at once')
    >>> tabled(("ratio", "is"), [("1.00448", "closed")], 16)
    ('ratio    is', '1.00448  closed')
    """
    used = [n for n in range(len(names)) if any(row[n] for row in rows)]
    if not used:
        return ()
    *front, last = used
    shown = [[visible(c) for c in row] for row in rows]
    widths = {n: min(MOST, max(cell_len(names[n]), *(cell_len(r[n]) for r in shown))) for n in front}
    lead = sum(w + 2 for w in widths.values())
    longest = max(cell_len(text) for text in (names[last], *(r[last] for r in shown)))
    apart = width - lead < min(LEAST, longest)
    out: list[str] = []
    for at, row in enumerate((list(names), *shown)):
        begin = "".join(pad(row[n], w) + "  " for n, w in widths.items())
        if not apart:
            first, *rest = wrap(row[last], width - lead)
            out += [f"{begin}{first}".rstrip(), *(" " * lead + part for part in rest)]
            continue
        out.append(begin.rstrip())
        if at and row[last]:
            out += [f"    {part}" for part in wrap(row[last], width - 4)]
    return tuple(out)
