"""Caution pages: base text of the step, overlays by hazard family, local rules, the note.

What is cut from a page is decided at one measure, that of `cautions.toml`, so that a page is the same text
on every screen and its digest proves what was shown; a smaller screen only makes more screens of it.
"""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any

from store.errors import UnknownCode
from store.hazards.data import table
from store.hazards.families import family, name, ranked, short

if TYPE_CHECKING:
    from store.hazards.news import News

WIDTH, HEIGHT = 76, 14
"""The caution area of an 80 x 24 screen."""
INDENT = 5
"""Number and blanks before a text."""


@dataclass(frozen=True, slots=True)
class Block:
    """One numbered block of a page: the base text, the first-aid lines, or what a family adds."""

    kind: str
    """`base`, `first_aid` or `overlay`."""
    family: str
    """The family of an overlay; else empty."""
    sentences: tuple[str, ...]
    versions: tuple[str, ...]
    """Id and version of each text that a sentence of this block comes from."""

    @property
    def key(self) -> str:
        """What the block is on its page, such as `base` or `overlay CMR_1`."""
        return f"{self.kind} {self.family}".rstrip()


@dataclass(frozen=True, slots=True)
class CautionPage:
    """What is shown before a step, in full."""

    step: str
    families: tuple[str, ...]
    blocks: tuple[Block, ...]
    folded: tuple[str, ...]
    """Families whose text was cut for length; the page names them."""
    covered: tuple[str, ...]
    """Families that a more severe one of the same kind speaks for; the page names them."""
    local_rules: tuple[tuple[str, str], ...]
    note: str

    @property
    def version(self) -> str:
        """Ids and versions of all texts on the page."""
        return "; ".join(dict.fromkeys(version for block in self.blocks for version in block.versions))

    @property
    def fold_line(self) -> str:
        """The line that names what is folded or covered; empty where nothing is."""
        ids = ranked((*self.folded, *self.covered))
        return str(table("cautions.toml")["fold"]).format(names="; ".join(map(name, ids))) if ids else ""

    @property
    def rule_lines(self) -> tuple[str, ...]:
        """The local rules as they stand on the page."""
        return tuple(f"Local rule {id}: {text}" for id, text in self.local_rules)

    @property
    def text(self) -> str:
        """The whole page without regard to a screen: this is what a digest proves."""
        parts = [f"Cautions before: {self.step}"]
        for number, block in enumerate(self.blocks, 1):
            joint = "\n" if block.kind == "first_aid" else " "
            parts.append(f"{number}  {joint.join(block.sentences)}")
        parts += [line for line in (self.fold_line, *self.rule_lines) if line]
        return "\n".join((*parts, self.note)) + "\n"

    def screens(
        self, width: int = WIDTH, height: int = HEIGHT, news: "News | None" = None
    ) -> tuple[tuple[str, ...], ...]:
        """Lay the page out: blocks numbered and unsplit, the note at the foot of each screen.

        Parameters
        ----------
        width
            Characters of a line.
        height
            Lines of the caution area.
        news
            What stands first, each part behind its mark; the most severe is first among the marked and
            among the rest. The text that a digest proves is the same in either order.
        """
        out = _lay_out(self._pieces(width, news, joined=True), self.note, width, height)
        if not news:
            return out
        # The line between the two groups gives way where it alone would make a further screen.
        short = _lay_out(self._pieces(width, news, joined=False), self.note, width, height)
        return out if len(out) == len(short) else short

    def _pieces(self, width: int, news: "News | None" = None, *, joined: bool = False) -> list[list[str]]:
        parts = self._parts(news)
        marked = [part for part in parts if part[0]]
        rest = [part for part in parts if not part[0]]
        pieces: list[list[str]] = []
        number = 0
        for group in (marked, rest):
            between = news is not None and joined and marked and group is rest
            joint = textwrap.wrap(news.rest, width) if news is not None and between else []
            for place, (mark, kind, texts) in enumerate(group):
                first, *more = texts
                lines = f"{mark}: {first}" if mark else first, *more
                if kind == "rule":
                    apart = [""] if not place or group[place - 1][1] != "rule" else []
                    piece = [*apart, *textwrap.wrap(lines[0], width)]
                else:
                    number += kind != "fold"
                    piece = _hung("" if kind == "fold" else f" {number:>2}", lines, width)
                pieces.append([*joint, *piece])
                joint = []
        return pieces

    def _parts(self, news: "News | None") -> list[tuple[str, str, tuple[str, ...]]]:
        """Mark, kind and texts of each part, in the order of the page; texts begin a line each."""
        blocks, rules = (news.blocks, news.rules) if news is not None else ({}, {})
        parts = [
            (
                blocks.get(block.key, ""),
                block.kind,
                block.sentences if block.kind == "first_aid" else (" ".join(block.sentences),),
            )
            for block in self.blocks
        ]
        if self.fold_line:
            parts.append((news.fold if news is not None else "", "fold", (self.fold_line,)))
        for (rule, _), line in zip(self.local_rules, self.rule_lines, strict=True):
            parts.append((rules.get(rule, ""), "rule", (line,)))
        return parts


@cache
def _data() -> Mapping[str, Any]:
    return table("cautions.toml")


def note() -> str:
    """Give the note that stands at the foot of every page."""
    return str(_data()["note"])


def steps() -> tuple[str, ...]:
    """Give the names of the steps that have cautions, and `spill`."""
    return tuple(_data()["steps"])


def compose(step: str, families: Iterable[str], local_rules: Sequence[tuple[str, str]] = ()) -> CautionPage:
    """Compose the page that stands before a step.

    Parameters
    ----------
    step
        Name of the step, or `spill`.
    families
        Ids of the hazard families present, in any order.
    local_rules
        Name and text of each local rule, such as `("7 (since 2026-03-02)", "a second person in the room")`.

    Raises
    ------
    UnknownCode
        No such step or family.
    """
    present = ranked(families)
    cells = _cells(step, present)
    covered = tuple(f for f in cells if f in {c for other in cells for c in family(other).covers})
    texts = _data()["steps"][step]
    holder: dict[str, tuple[str, Mapping[str, Any]]] = {}
    for cell in cells.values():
        for sentence in cell["sentences"]:
            if "replaces" in sentence:
                holder.setdefault(sentence["replaces"], (_version(cell), sentence))
    blocks = [_block(kind, texts[kind], holder) for kind in ("base", "first_aid") if kind in texts]
    overlays = [
        Block(
            "overlay",
            id,
            tuple(s["text"] for s in cell["sentences"] if "replaces" not in s),
            (_version(cell),),
        )
        for id, cell in cells.items()
        if id not in covered
    ]
    folded: list[str] = []
    while True:
        page = CautionPage(
            step, present, (*blocks, *overlays), ranked(folded), covered, tuple(local_rules), note()
        )
        loose = [block for block in overlays if not cells[block.family]["core"]]
        if not loose or len(_measured(page)) <= int(_data()["layout"]["screens"]):
            return page
        cut = max(loose, key=lambda block: family(block.family).rank)
        overlays.remove(cut)
        folded.append(cut.family)


def short_form(step: str, families: Iterable[str]) -> tuple[str, ...]:
    """Give the short form that stands while the act is done: hazards, first act, the note in short.

    Each part fits 76 characters; hazards that do not fit are counted.

    Raises
    ------
    UnknownCode
        No such step or family.
    """
    present = ranked(families)
    _cells(step, present)
    hazards = _fit([short(id) for id in present])
    return tuple(
        part for part in (hazards, str(_data()["steps"][step]["short"]), str(_data()["note_short"])) if part
    )


def spoken_of(step: str, families: Iterable[str]) -> tuple[str, ...]:
    """Give those of the families that have a text in a step, most severe first.

    Raises
    ------
    UnknownCode
        No such step or family.
    """
    return tuple(_cells(step, ranked(families)))


def _fit(parts: Sequence[str]) -> str:
    for many in range(len(parts), 0, -1):
        rest = len(parts) - many
        text = "; ".join(parts[:many]) + (f"; and {rest} more" if rest else "")
        if len(text) <= WIDTH:
            return text
    return ""


def _cells(step: str, families: Sequence[str]) -> dict[str, Mapping[str, Any]]:
    """The overlays that have a text in this step, by family, most severe first."""
    if step not in _data()["steps"]:
        raise UnknownCode(f"{step!r} has no cautions: write one of {', '.join(steps())}.")
    overlays = _data()["steps"][step]["overlays"]
    return {id: overlays[id] for id in families if "sentences" in overlays[id]}


def _version(text: Mapping[str, Any]) -> str:
    return f"{text['id']} {text['version']}"


def _block(kind: str, text: Mapping[str, Any], holder: Mapping[str, tuple[str, Mapping[str, Any]]]) -> Block:
    chosen = [holder.get(s["id"], (_version(text), s)) for s in text["sentences"]]
    return Block(
        kind,
        "",
        tuple(sentence["text"] for _, sentence in chosen),
        tuple(dict.fromkeys(version for version, _ in chosen)),
    )


def _measured(page: CautionPage) -> tuple[tuple[str, ...], ...]:
    """The screens at the measure that decides what is cut, with lines kept free for local rules."""
    kept_free = ["", *["(local rules)"] * int(_data()["layout"]["local_rule_lines"])]
    pieces = replace(page, local_rules=())._pieces(WIDTH)
    return _lay_out((*pieces, kept_free), page.note, WIDTH, HEIGHT)


def _lay_out(pieces: Iterable[list[str]], note: str, width: int, height: int) -> tuple[tuple[str, ...], ...]:
    foot = textwrap.wrap(note, width)
    room = max(height - len(foot) - 1, 1)
    screens: list[list[str]] = [[]]
    for piece in pieces:
        if len(screens[-1]) + len(piece) > room and screens[-1]:
            screens.append([])
        if not screens[-1] and piece[0] == "":
            piece = piece[1:]
        while len(piece) > room:
            screens[-1] += piece[:room]
            screens.append([])
            piece = piece[room:]
        screens[-1] += piece
    return tuple((*lines, *[""] * (room - len(lines)), "", *foot) for lines in screens)


def _hung(head: str, texts: Iterable[str], width: int) -> list[str]:
    lines = [line for text in texts for line in textwrap.wrap(text, width - INDENT)]
    return [(head if place == 0 else "").ljust(INDENT) + line for place, line in enumerate(lines)]
