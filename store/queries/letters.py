"""Any part of a text, however short, as what an index of three letters in a row can look up."""

from itertools import product

from store.record.found_shape import PREP_LETTERS
from store.record.record import Record

MOST = 60
"""So many threes of a long text are looked up; what they find is held against the whole text anyway."""

_NO_CHARACTER = "\N{REPLACEMENT CHARACTER}"
"""What SQLite keeps in the place of a sign that is no character."""


def of(record: Record, text: str) -> str:
    """Give what to match so that no prep whose text holds a text is left out; empty where none holds it.

    Found is more than what holds it, since the index knows no capitals and no order of the threes: each text
    found is still to be read. One letter or two are looked up as all threes that begin with them.
    """
    if "\0" in text:
        return ""
    if len(text) < 3:
        return " OR ".join(_quoted(three) for begin in _folded(text) for three in _begun(record, begin))
    threes = dict.fromkeys(text[n : n + 3] for n in range(len(text) - 2))
    return " AND ".join(map(_quoted, [*threes][:MOST]))


def _quoted(three: str) -> str:
    return '"' + three.replace('"', '""') + '"'


def _folded(text: str) -> list[str]:
    """Give a text as it may stand in the index, where SQLite folds capitals by a table of its own.

    >>> _folded("Zq"), len(_folded("°C"))
    (['zq'], 2)
    """
    return ["".join(signs) for signs in product(*(sorted(_folds(sign)) for sign in text))]


def _folds(sign: str) -> set[str]:
    if sign.isascii():
        return {sign.lower()}
    return {f for f in (sign, sign.lower(), sign.casefold(), _NO_CHARACTER) if len(f) == 1}


_BEGUN = f"""
    WITH RECURSIVE begun(term) AS (
        SELECT (SELECT term FROM {PREP_LETTERS} WHERE term >= :begin LIMIT 1)
        UNION ALL
        SELECT (SELECT term FROM {PREP_LETTERS} WHERE term >= begun.term || char(1) LIMIT 1)
        FROM begun WHERE substr(begun.term, 1, :signs) = :begin
    )
    SELECT term FROM begun WHERE substr(term, 1, :signs) = :begin
"""
"""From one three to the next: the preps that have it are never walked."""


def _begun(record: Record, begin: str) -> list[str]:
    found = record.query(_BEGUN, begin=begin, signs=len(begin))
    return [str(r["term"]) for r in found]
