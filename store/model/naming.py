"""Ids as people read them: in natural order, and many of them in few words. Pure."""

import re
from collections.abc import Iterable
from functools import lru_cache

_NUMBER = re.compile(r"[0-9]+")
_LAST = re.compile(r"^(.*?)([0-9]+)$")
DIGITS = 12
"""Numbers in ids are compared as if they were so long; none is longer."""
KEPT = 1 << 18
"""Keys that are kept: a long register is sorted again for each of its pages."""
LEAST = 3
"""So many names in a row are said as `from to`."""


@lru_cache(maxsize=KEPT)
def natural(text: str) -> str:
    """Give the key by which ids stand in the order of the numbers in them.

    >>> sorted(["V-10", "V-2", "V-1", "v-3"], key=natural)
    ['V-1', 'V-2', 'v-3', 'V-10']
    >>> sorted(["S-7F3A-0001.10-1", "S-7F3A-0001.2-2", "S-7F3A-0001.2"], key=natural)
    ['S-7F3A-0001.2', 'S-7F3A-0001.2-2', 'S-7F3A-0001.10-1']
    """
    return _NUMBER.sub(lambda found: found[0].lstrip("0").zfill(DIGITS), text.casefold())


def spans(names: Iterable[str]) -> str:
    """Say names in few words; three or more that follow each other by their numbers as `from to`.

    >>> spans(["V-1", "V-2", "V-3", "V-7"]), spans(["V-1", "V-2"]), spans(["W-1", "V-2", "V-3", "V-4"])
    ('V-1 to V-3, V-7', 'V-1, V-2', 'W-1, V-2 to V-4')
    """
    runs: list[list[str]] = []
    for name in names:
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    return ", ".join(f"{r[0]} to {r[-1]}" if len(r) >= LEAST else ", ".join(r) for r in runs)


def _follows(one: str, other: str) -> bool:
    before, after = _LAST.match(one), _LAST.match(other)
    if before is None or after is None or before[1] != after[1]:
        return False
    return int(after[2]) == int(before[2]) + 1
