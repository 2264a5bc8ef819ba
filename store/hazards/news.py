"""What of a caution page is new to the person who reads it, against the pages that they have read.

Every step has its own words, so a page of another step is compared by what it is about: the step itself, its
hazards, its local rules. Against a page of the same kind of step the words themselves are compared.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from store.hazards.cautions import CautionPage, spoken_of

NEW, CHANGED = "NEW", "CHANGED"


@dataclass(frozen=True, slots=True)
class PageRead:
    """A page that a person has read: its step, its families, its words as they were kept."""

    step: str
    families: tuple[str, ...]
    text: str


@dataclass(frozen=True, slots=True)
class News:
    """Which parts of a page stand first, and the word that marks each; empty where nothing is new."""

    blocks: Mapping[str, str] = field(default_factory=dict)
    """By kind and family as in `base` and `overlay CMR_1`: NEW or CHANGED."""
    rules: Mapping[str, str] = field(default_factory=dict)
    """By the name of a local rule as it stands on the page."""
    fold: str = ""
    """The mark of the line that names what is folded."""
    rest: str = ""
    """The line that stands before what is not new."""

    def __bool__(self) -> bool:
        """Say whether anything is marked."""
        return bool(self.blocks or self.rules or self.fold)

    @property
    def words(self) -> str:
        """Count what is new, such as `the step, 2 hazards, 1 local rule`."""
        hazards = sum(key.startswith("overlay") for key in self.blocks)
        parts = [_BASE[self.blocks["base"]]] if "base" in self.blocks else []
        parts += [f"{hazards} hazard{'s' * (hazards > 1)}"] if hazards else []
        parts += ["more in short"] if self.fold else []
        parts += [f"{len(self.rules)} local rule{'s' * (len(self.rules) > 1)}"] if self.rules else []
        return ", ".join(parts)


_BASE: Mapping[str, str] = {NEW: "the step", CHANGED: "words of the step"}
NOTHING = News()


def against(page: CautionPage, read: Sequence[PageRead]) -> News:
    """Say what of a page is new against those that were read, in their order.

    The last page of the same kind of step counts alone; with none, all pages do.

    Examples
    --------
    >>> from store.hazards import cautions
    >>> first = cautions.compose("waste", ["CMR_1"])
    >>> read = [PageRead("waste", first.families, first.text)]
    >>> then = cautions.compose("waste", ["CMR_1", "FLAMMABLE"], [("7 (since 2026-03-02)", "gloves first.")])
    >>> against(then, read).words
    '1 hazard, 1 local rule'
    >>> against(cautions.compose("weigh_solid", ["CMR_1", "FLAMMABLE"]), read).blocks
    {'base': 'NEW', 'overlay FLAMMABLE': 'NEW'}
    """
    same = [one for one in read if one.step == page.step][-1:]
    lines = {line for one in same or read for line in one.text.splitlines()}
    named = {family for one in same or read for family in spoken_of(one.step, one.families)}
    said = {line.lstrip("0123456789").strip() for line in lines}
    blocks = {}
    for block in page.blocks:
        if same:
            if " ".join(block.sentences) not in said:
                known = block.kind != "overlay" or block.family in named
                blocks[block.key] = CHANGED if known else NEW
        elif block.kind != "overlay" or block.family not in named:
            blocks[block.key] = NEW
    rules = {}
    for (name, _), line in zip(page.local_rules, page.rule_lines, strict=True):
        if line not in lines:
            of = f"Local rule {name.split(' ', maxsplit=1)[0]} "
            rules[name] = CHANGED if any(one.startswith(of) for one in lines) else NEW
    fold = NEW if {*page.folded, *page.covered} - named else ""
    rest = "Unchanged since you read it:" if same else "For this step, of what your earlier pages named too:"
    return News(blocks, rules, fold, rest)
