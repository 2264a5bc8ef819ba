"""What a prep was planned from, for its page: its lots and their content, as planned and as revised since."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from store.model.prep import Plan
from store.queries.page import PrepPage
from store.queries.results import FactorShown

SAME = 1e-7
"""Factors of a plan are written with seven digits: what differs by less is the same."""


@dataclass(frozen=True, slots=True)
class Source:
    """One lot that a prep takes from."""

    what: str
    """powder, solute, solvent."""
    name: str
    lot: str
    container: str
    planned: str
    """What its certificate said when the prep was planned; empty where nothing was known."""
    revised: str
    """What the certificate says that the result rests on now; empty where it is the same."""

    @property
    def certified(self) -> str:
        """What follows the container in a line of text, both certificates where there are two."""
        if not self.revised:
            return f", {self.planned}" if self.planned else ""
        return f", as planned: {self.planned or 'nothing known'}; REVISED since: {self.revised}"


def _stays_dry(plan: Plan) -> bool:
    from store.procedure.recipes import rack  # the recipes bring every check with them: for a rack alone

    return not rack.dissolves(plan)


def sources(page: PrepPage) -> tuple[Source, ...]:
    """Give what the prep takes from; portions of powder take from one lot alone, which is no solvent."""
    state, plan = page.state, page.state.plan
    dry = plan.is_rack and _stays_dry(plan)
    which = [("powder" if dry else "solute", "lot", plan.container)]
    which += [] if dry else [("solvent", "solvent_lot", plan.solvent_container)]
    out = []
    for what, key, container in which:
        lot = state.basis.get(key, {})
        planned, now = _certificate(page.planned_basis.get(key, {})), _certificate(lot)
        revised = (now or "nothing known") if now != planned else ""
        name = page.name(str(lot.get("substance", "")))
        out.append(Source(what, name, str(lot.get("id", "")), container, planned, revised))
    return tuple(out)


def content(page: PrepPage) -> tuple[str, ...]:
    """Say from mass of solid to mass of analyte, factor by factor; where revised since, both, each marked."""
    planned = [
        FactorShown(str(f["name"]), str(f["value"]), str(f.get("u", "")), str(f.get("why", "")))
        for f in page.state.aims.get("factors", ())
    ]
    if not planned:
        return ()
    results = page.vessels or page.results[-1:]
    now = next((r.factors for r in results if r.factors), ())
    if now and not _same(planned, now):
        return (f"as planned: {_words(planned)}", f"REVISED, as the result stands: {_words(now)}")
    return (_words(planned),)


def _same(one: Sequence[FactorShown], other: Sequence[FactorShown]) -> bool:
    return len(one) == len(other) and all(
        a.name == b.name and abs(float(a.value) - float(b.value)) <= SAME
        for a, b in zip(one, other, strict=True)
    )


def _words(factors: Sequence[FactorShown]) -> str:
    return " × ".join(f"{float(f.value):.7f} ({f.name}: {f.why})" for f in factors)


def _certificate(lot: Mapping[str, Any]) -> str:
    return ", ".join(_said(lot))


def _said(lot: Mapping[str, Any]) -> Iterator[str]:
    if lot.get("assay"):
        yield f"assay {lot['assay'].rstrip(' %')} %"
    if lot.get("assay_u"):
        yield str(lot["assay_u"])
    if lot.get("basis"):
        yield str(lot["basis"])
    if lot.get("concentration"):
        yield f"concentration {lot['concentration']}"
    if lot.get("concentration_u"):
        yield str(lot["concentration_u"])
