"""Labels: what stands on a vessel, as text and as a page of label stock.

A pre-label goes on before anything hazardous is in the vessel; the final one says what came out. The text
label holds everything. On stock, what is always there: identity, strength, solvent, signal word, pictograms,
codes of the statements, dates, record number with entry and digest; wording and the rest as the size carries
them. On stock too small for that, a vessel of up to 10 mL has a reduced label, which names the outer package
as the place of the whole one; any other is refused.
"""

import textwrap
from dataclasses import dataclass
from typing import Literal

from tui.paper.pictograms import name as pictogram_name

POWDER = "as powder"
"""Stands in the place of a solvent where there is none."""
NOT_STATED = "not stated"
DIGITS = 16
"""Digits of the digest on a label: as many as a check of the record takes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelData:
    """What a label says. Empty text means not stated, and the label says so."""

    kind: Literal["pre-label", "final"]
    name: str
    cas: str
    strength: str
    """Such as `1.0003 mg/g`; the wanted one on a pre-label."""
    uncertainty: str = ""
    """Such as `0.0031 mg/g (k = 2)`, without the sign."""
    solvent: str
    amount: str
    made: str
    expires: str
    expiry_rests_on: str
    storage: str
    preparer: str
    prep: str
    vessel: str = ""
    lot: str = ""
    container: str = ""
    """Numbers by which the register knows what came out; empty on a pre-label."""
    entry: int
    digest: str
    signal_word: str | None
    pictograms: tuple[str, ...]
    statements: tuple[tuple[str, str], ...]
    """Code and wording."""
    contains: tuple[str, ...] = ()
    """Names of the substances that the classification rests on."""
    waste_stream: str = ""
    edition: str
    capacity_ml: float | None = None
    """What the vessel takes [mL]; None where it is not known."""
    no_data: bool = False
    """Nothing is known of a part of it: the label says so in words."""

    @property
    def carried(self) -> str:
        """What it is in: a solvent, or nothing."""
        return POWDER if self.solvent == POWDER else f"in {self.solvent or NOT_STATED}"

    @property
    def anchor(self) -> str:
        """Entry and short digest, as a check of the record takes them."""
        return f"{self.entry}:{self.digest[:DIGITS]}"

    @property
    def code(self) -> str:
        """What the square code carries."""
        return f"{self.prep}, {self.anchor}"

    @property
    def banner(self) -> str:
        """What kind of label it is, in words."""
        if self.kind == "pre-label":
            return "BEING PREPARED, NOT FOR USE"
        return "PORTION" if self.solvent == POWDER else "PREPARED SOLUTION"

    @property
    def number(self) -> str:
        """What it is found by: a portion of powder by its container, any other by its prep."""
        return self.container if self.solvent == POWDER and self.container else self.prep

    @property
    def strength_line(self) -> str:
        """Strength with its uncertainty; on a pre-label only what is wanted."""
        if self.kind == "pre-label":
            return f"wanted {self.strength or NOT_STATED}, not yet known"
        spread = f"± {self.uncertainty}" if self.uncertainty else "uncertainty not stated"
        return f"{self.strength or NOT_STATED} {spread}"

    @property
    def identity(self) -> str:
        """Name and CAS number."""
        return f"{self.name}, CAS {self.cas or NOT_STATED}"

    @property
    def signal_line(self) -> str:
        """The signal word in capitals; without one it says so, without data what that means."""
        if self.no_data:
            return f"{(self.signal_word or 'HAZARDS').upper()}: NOT ALL HAZARDS ARE KNOWN, TREAT AS THE WORST"
        return self.signal_word.upper() if self.signal_word else "no signal word"

    @property
    def codes(self) -> str:
        """The codes of the statements in a row."""
        return " ".join(code for code, _ in self.statements) or "no hazard statement"

    @property
    def contains_line(self) -> str:
        """What the hazards rest on."""
        return f"Contains: {', '.join(self.contains)}" if self.contains else ""

    @property
    def dates(self) -> str:
        """Made and expiring."""
        if self.kind == "pre-label":
            return f"begun {self.made or NOT_STATED}"
        return f"made {self.made or NOT_STATED}, expires {self.expires or NOT_STATED}"


def label_text(data: LabelData, width: int = 76) -> str:
    """Give the label as lines of text, everything on it.

    Parameters
    ----------
    data
        What the label says.
    width
        Characters of a line, 40 at least.
    """
    width = max(width, 40)
    rule = "-" * width
    lines = [rule, data.banner, data.identity, f"{data.strength_line}  {data.carried}"]
    lines += [rule, data.signal_line]
    symbols = [f"{code} {pictogram_name(code)}" for code in data.pictograms]
    lines += ["; ".join(symbols) if symbols else "no pictogram"]
    lines += [f"{code} {text}" for code, text in data.statements] or [data.codes]
    lines += [data.contains_line, f"Classified by {data.edition}", rule]
    lines += [f"{key:<10}{value}" for key, value in _rows(data)]
    lines += [rule]
    return "\n".join(piece for line in lines if line for piece in _wrapped(line, width)) + "\n"


def _rows(data: LabelData) -> list[tuple[str, str]]:
    rows = [
        ("amount", data.amount or NOT_STATED),
        ("vessel", data.vessel),
        ("begun" if data.kind == "pre-label" else "made", f"{data.made or NOT_STATED} by {data.preparer}"),
    ]
    if data.kind == "final":
        rests = data.expiry_rests_on or f"what it rests on is {NOT_STATED}"
        rows.append(("expires", f"{data.expires or NOT_STATED} ({rests})"))
        if data.container:
            rows.append(("lot", f"{data.lot}, container {data.container}"))
    rows += [
        ("store", data.storage or NOT_STATED),
        ("waste", data.waste_stream or NOT_STATED),
        ("record", f"{data.prep}, entry {data.anchor}"),
    ]
    return [row for row in rows if row[1]]


def _wrapped(line: str, width: int) -> list[str]:
    """Wrap, with what follows indented under it; a line of the rule stays."""
    return textwrap.wrap(line, width, subsequent_indent="          ", break_long_words=True) or [line]


def label_html(data: LabelData, size_mm: tuple[float, float] = (70.0, 37.0)) -> str:
    """Give the label as a page of its own, of the size of the label stock.

    Parameters
    ----------
    data
        What the label says.
    size_mm
        Width and height of the stock [mm].

    Raises
    ------
    OutOfRange
        The stock is too small for what a label must say.
    """
    from tui.paper.stock import page

    return page(data, size_mm).html
