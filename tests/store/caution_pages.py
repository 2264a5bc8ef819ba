"""What must hold for every caution page that can be composed; each fault is a sentence."""

import textwrap
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Any

from store.hazards import cautions
from store.hazards.cautions import Block, CautionPage

Data = Mapping[str, Any]


class Pages:
    """Pages of one set of texts, looked at without composing a sentence twice."""

    def __init__(self, data: Data) -> None:
        self.data = data
        self.needs = data.get("needs", {})
        self.clashes = [frozenset(pair) for pair in data.get("clashes", {}).get("pairs", ())]
        layout = data["layout"]
        self.width, self.indent = layout["width"], layout["indent"]
        self.most_lines, self.most_screens = layout["text_lines"], layout["screens"]
        self.ordered_by = cache(self._ordered_by)

    def sentences(self, step: str, block: Block) -> list[Mapping[str, Any]]:
        """The sentences of a block with their tags."""
        table = self.data["steps"][step]
        if block.kind == "overlay":
            pool = list(table["overlays"][block.family]["sentences"])
        else:
            pool = [*table[block.kind]["sentences"]]
            pool += [
                s for cell in table["overlays"].values() for s in cell.get("sentences", ()) if "replaces" in s
            ]
        return [next(s for s in pool if s["text"] == text) for text in block.sentences]

    def _ordered_by(self, tags: tuple[str, ...]) -> frozenset[str]:
        found, queue = set(), list(tags)
        while queue:
            tag = queue.pop()
            if tag not in found:
                found.add(tag)
                queue += self.needs.get(tag, ())
        return frozenset(found)

    def contradictions(self, page: CautionPage, hidden: Iterable[Block] = ()) -> Iterator[str]:
        """Acts that the page both orders and forbids, or orders together though they clash."""
        ordered: dict[str, str] = {}
        forbidden: dict[str, str] = {}
        for block in (*page.blocks, *hidden):
            for sentence in self.sentences(page.step, block):
                for tag in self.ordered_by(tuple(sentence.get("orders", ()))):
                    ordered.setdefault(tag, sentence["id"])
                for tag in sentence.get("forbids", ()):
                    forbidden.setdefault(tag, sentence["id"])
        for tag in ordered.keys() & forbidden.keys():
            yield f"{page.step}: {ordered[tag]} orders {tag}, {forbidden[tag]} forbids it"
        for pair in self.clashes:
            if pair <= ordered.keys():
                one, two = sorted(pair)
                yield f"{page.step}: {ordered[one]} orders {one}, {ordered[two]} orders {two}"

    def faults(self, step: str, families: tuple[str, ...], *, whole: bool) -> Iterator[str]:
        """Everything wrong with one page; `whole` where it is too short to be cut."""
        page = cautions.compose(step, families)
        hidden = [self._cut(step, id) for id in page.folded]
        yield from self.contradictions(page, hidden)
        said = [text for block in page.blocks for text in block.sentences]
        if len(said) != len(set(said)):
            yield f"{step} + {families}: a sentence stands twice"
        for block in page.blocks:
            yield from self._of_block(step, families, block)
        wanted = {
            s["replaces"]
            for id in families
            for s in self.data["steps"][step]["overlays"][id].get("sentences", ())
            if "replaces" in s
        }
        gone = {s["id"] for kind in ("base", "first_aid") for s in self._kind(step, kind)} - {
            s["id"] for block in page.blocks if block.kind != "overlay" for s in self.sentences(step, block)
        }
        if wanted != gone:
            yield f"{step} + {families}: a replaced sentence came back"
        measured = cautions._measured(page)
        if len(measured) > self.most_screens:
            yield f"{step} + {families}: {len(measured)} screens, core alone"
        if any(len(line) > self.width for screen in measured for line in screen):
            yield f"{step} + {families}: a line is too long"
        if whole and page.folded:
            yield f"{step} + {families}: a page of one or two families is cut"

    def _kind(self, step: str, kind: str) -> list[Mapping[str, Any]]:
        return list(self.data["steps"][step].get(kind, {}).get("sentences", ()))

    def _cut(self, step: str, id: str) -> Block:
        cell = self.data["steps"][step]["overlays"][id]
        return Block("overlay", id, tuple(s["text"] for s in cell["sentences"] if "replaces" not in s), ())

    def _of_block(self, step: str, families: tuple[str, ...], block: Block) -> Iterator[str]:
        if block.kind == "overlay":
            return
        lines = textwrap.wrap(" ".join(block.sentences), self.width - self.indent)
        if block.kind == "base" and len(lines) > self.most_lines:
            yield f"{step} + {families}: base text has {len(lines)} lines"
        if block.kind == "first_aid" and any(len(s) > self.width - self.indent for s in block.sentences):
            yield f"{step} + {families}: a first-aid line does not fit its line"
