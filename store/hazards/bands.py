"""The group of a published banding scheme, always with the scheme's name: two schemes share letters only."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from store.hazards.classification import Classification
from store.hazards.data import table


@dataclass(frozen=True, slots=True)
class Band:
    """A hazard group of one scheme."""

    scheme: str
    group: str
    """`A` to `E`; empty where there is no data."""
    because: tuple[str, ...]
    """Statements that put it there."""
    not_in_scheme: tuple[str, ...]
    """Health statements that the scheme's lists do not have: judge them apart."""
    source: str

    @property
    def text(self) -> str:
        """Scheme and group for a person."""
        if not self.group:
            return f"{self.scheme}: no group, there is no data; treat as the worst"
        also = f"; not in the scheme: {', '.join(self.not_in_scheme)}" if self.not_in_scheme else ""
        advice = ", seek specialist advice" if self.group == "E" else ""
        return f"{self.scheme} hazard group {self.group}{advice}{also}"


def band(classifications: Sequence[Classification], *, no_data: bool = False) -> Band:
    """Give the COSHH Essentials hazard group: the highest of A to E that a statement calls for.

    Parameters
    ----------
    classifications
        All that it is classified as.
    no_data
        Nothing is known of it or of a part of it: no group is given.

    Examples
    --------
    >>> from store.hazards.classification import classifications
    >>> band(classifications(["Acute Tox. 3 H301", "Resp. Sens. 1 H334"])).text
    'COSHH Essentials hazard group E, seek specialist advice'
    """
    data = table("bands.toml")
    if no_data:
        return Band(data["scheme"], "", (), (), data["source"])
    codes = [code for one in classifications for code in one.codes]
    held: dict[str, list[str]] = {}
    for code in codes:
        plain = re.sub(r"[a-zA-Z]+$", "", code) if code.startswith("H") else code
        for group, listed in data["groups"].items():
            if plain in listed:
                held.setdefault(group, []).append(code)
    health = [code for code in codes if code.startswith(("H3", "EUH07", "EUH38"))]
    listed_codes = {code for group in held.values() for code in group}
    group = max(held, default=data["last"])
    return Band(
        data["scheme"],
        group,
        tuple(dict.fromkeys(held.get(group, ()))),
        tuple(dict.fromkeys(code for code in health if code not in listed_codes)),
        data["source"],
    )
