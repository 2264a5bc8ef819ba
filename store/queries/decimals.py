"""The decimal sign in text that people read; the record, and every file for a program, keep the point.

Text is made with a point everywhere, and turned here, at the edge: on a screen, in the plain prep, on paper.
"""

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from store.record.record import Record

POINT, COMMA = "point", "comma"

_NUMBER = re.compile(
    r"(?P<before>[A-Za-z§]+\.? )?"
    r"(?<![\w.,:/=#@\\-])(?P<whole>[-+\u2212]?[0-9]+)\.(?P<rest>[0-9]+)"
    r"(?=(?:[numk]?(?:g|mol)|[um]?L|[hk]?Pa|mm|cm|min|s|h)(?!\w)|(?!\w|[./:,-]\w))"
)
"""A number that stands by itself: no id, date, address, formula, edition or numbered section."""
_NO_QUANTITY = frozenset(
    ("§", "art", "article", "cfr", "chapter", "coolprop", "edition", "eq", "equation", "no", "number", "part",
     "python", "section", "sections", "table", "version")
)  # fmt: skip
"""After one of these words, a number with a point is the name of a place or of an edition."""


def turned(text: str, keep: frozenset[str] = frozenset()) -> str:
    """Give a text with a comma before the decimals of its numbers.

    Parameters
    ----------
    keep
        What looks like a number and is the name of a row.

    Examples
    --------
    >>> turned("12.50 mg (± 0.30 %), k = 1.96; inside from 11.40 to 12.60 mg, below -0.5 Pa.")
    '12,50 mg (± 0,30 %), k = 1,96; inside from 11,40 to 12,60 mg, below -0,5 Pa.'
    >>> turned("V-1.2, CuSO4.5H2O, CdCl2.2.5H2O, Ph. Eur. 2.9.5, 10.0.0.7:4001, section 9.1, a-1.5.csv")
    'V-1.2, CuSO4.5H2O, CdCl2.2.5H2O, Ph. Eur. 2.9.5, 10.0.0.7:4001, section 9.1, a-1.5.csv'
    >>> turned("2.5mg/g in 0.5 L, 1.5h")
    '2,5mg/g in 0,5 L, 1,5h'
    >>> turned("lot 2026.15: 0.5 g", frozenset({"2026.15"}))
    'lot 2026.15: 0,5 g'
    """

    def one(found: re.Match[str]) -> str:
        before = found["before"] or ""
        names = before.strip(" .").casefold() in _NO_QUANTITY
        if names or f"{found['whole']}.{found['rest']}" in keep:
            return found[0]
        return f"{before}{found['whole']},{found['rest']}"

    return _NUMBER.sub(one, text)


class _Shown:
    """What this process shows; one terminal stands at one record."""

    comma = False
    keep: frozenset[str] = frozenset()


def follow(record: "Record") -> None:
    """Show numbers from here on with the sign that the site has set."""
    found = record.query("SELECT row ->> '$.value' AS value FROM register_row "
                         "WHERE register = 'setting' AND id = 'decimal_sign' AND NOT retired")  # fmt: skip
    _Shown.comma = bool(found) and found[0]["value"] == COMMA
    if _Shown.comma:
        like = record.query("SELECT DISTINCT id FROM register_row "
                            "WHERE id GLOB '[0-9]*.*[0-9]' AND id NOT GLOB '*[^0-9.]*'")  # fmt: skip
        _Shown.keep = frozenset(str(row["id"]) for row in like)


def forget() -> None:
    """Show numbers with a point again."""
    _Shown.comma = False


def shown(text: str) -> str:
    """Give a text as this terminal shows it."""
    return turned(text, _Shown.keep) if _Shown.comma and "." in text else text


def pointed(text: str) -> str:
    """Give words to be looked for as the record has them, where a number was typed as it is shown.

    >>> pointed("12,50 mg, C-1")
    '12.50 mg, C-1'
    """
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
