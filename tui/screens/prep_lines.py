"""The whole page of a prep as sections of lines: plan, doses, result, budget, handlings, texts, journal."""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime
from typing import Any

from store.hazards import families
from store.model.words import StepName
from store.procedure.done import DoseDone
from store.queries import by_hand, classified, page_plan
from store.queries.page import PrepPage
from store.queries.results import ResultShown
from store.readings import difference
from store.units import clock, figure, percent, rounded
from tui.guide.texts import TITLES
from tui.screens.frame import wrapped
from tui.screens.tabled import tabled

Local = Callable[[str], datetime]
Section = tuple[str, tuple[str, ...]]


def sections(page: PrepPage, width: int, local: Local) -> tuple[Section, ...]:
    """Give every section that has something in it, none longer than nine in number."""

    def at(utc: str) -> str:
        return f"{local(utc):%Y-%m-%d %H:%M:%S}" if utc else ""

    every = (
        ("Plan", wrapped(_plan(page, at), width, indent="          ")),
        ("Doses and readings", tuple(_weighed(page, width, at))),
        ("Portions", tuple(_portions(page, width))),
        ("Result", tuple(_result(page, width))),
        ("Budget of the uncertainty", tuple(_budget(page, width))),
        ("Handlings, notes, incidents", tuple(_handlings(page, width, at))),
        ("Corrected, discarded, never happened", tuple(_changes(page, width, at))),
        ("Cautions acknowledged, as they were shown", tuple(_cautions(page, width, at))),
        ("Label, lot, review", tuple(_ending(page, width, at))),
        ("Journal", tuple(_journal(page, width, at))),
    )
    return tuple((name, lines) for name, lines in every if lines)


def _plan(page: PrepPage, at: Callable[[str], str]) -> Iterator[str]:
    state, plan = page.state, page.state.plan
    if plan.rehearsal:
        yield "REHEARSAL it counts for no stock and makes no lot"
    if page.stale:
        yield f"STALE     {page.stale}"
    yield from (f"REVISED   {line}; what it comes to: t, then the lot" for line in page.revised)
    step = f", step {state.step + 1} of {len(state.steps)}" if state.current is not None else ""
    yield f"status    {state.status}{step}"
    yield f"planned   {at(state.planned_at)} by {state.planned_by}"
    yield f"wanted    {page.state.target}, {plan.amount}; {plan.recipe}; ± {plan.tolerance_percent} %"
    yield from (f"vessel    {page.part_words(part)}" for part in plan.parts)
    yield f"place     vessel {plan.vessel}, balance {plan.balance}, enclosure {plan.enclosure}"
    for of in page_plan.sources(page):
        yield f"{of.what:<10}{of.name}, lot {of.lot}, container {of.container}{of.certified}"
    yield from (f"{'' if n else 'content':<10}{line}" for n, line in enumerate(page_plan.content(page)))
    for id, taken in state.basis.get("hazards", {}).items():
        yield f"hazards   {page.name(id)}: {_hazards(taken)}; {taken.get('edition') or 'no edition'}"
    for n, line in enumerate(page.limits):
        yield f"{'' if n else 'limits':<10}{line}"
    for decision in state.let_through:
        what = "; ".join(decision.get("what", ()))
        yield f"let through by {decision.get('second', '')}: {what} ({decision.get('reason', '')})"


def _hazards(taken: Mapping[str, Any]) -> str:
    if families.UNKNOWN in taken.get("families", ()):
        return "NOT KNOWN, the strictest cautions were shown"
    codes = classified.codes(taken.get("statements", ()))
    return " ".join((str(taken.get("signal_word") or ""), *codes)).strip() or "none classified"


def _into(dose: DoseDone) -> str:
    """Say what was dosed; of several vessels also into which."""
    return f"{dose.content} to {dose.vessel}" if dose.part else dose.content


def _weighed(page: PrepPage, width: int, at: Callable[[str], str]) -> Iterator[str]:
    doses = []
    for d in page.state.doses:
        said = [d.state] if d.state != "stands" else []
        said += [] if d.usable else ["not usable"]
        said += [] if d.inside else ["outside"]
        said += [d.reason] if d.reason else []
        net = difference(d.net_mg, d.shown)
        doses.append(
            (str(d.entry), at(d.at)[11:], d.person, _into(d), d.shown, net, d.source, "; ".join(said))
        )
    names = ("entry", "at", "who", "dosed", "display", "added", "how", "state")
    yield from tabled(names, doses, width)
    reads = [
        (str(r.entry), str(r.step + 1), r.what, r.shown, "inside" if r.within else "OUT of its limit")
        for r in page.state.reads
    ]
    yield from ("",) if doses and reads else ()
    yield from tabled(("entry", "step", "reading", "display", "limit"), reads, width)


def _portions(page: PrepPage, width: int) -> Iterator[str]:
    if page.equal is not None:
        for line in page.equal.lines():
            yield from wrapped((line,), width, indent="  ")
    assayed = any(p.assay for p in page.portions)
    rows = [
        (
            p.key, p.vessel, p.word, p.net,
            "" if p.percent is None else f"{p.percent:.1f}",
            *((p.assay,) if assayed else ()),
            "" if p.solvent_mg is None else f"{p.solvent_mg / 1000:.4f}",
            "" if p.value is None or p.unit == "mg" else f"{figure(p.value, 5)} {p.unit}",
            "; ".join(x for x in ("" if p.inside or p.net_mg is None else "outside", p.reason) if x),
        )
        for p in page.portions
    ]  # fmt: skip
    by = ("assay %",) if assayed else ()
    names = ("place", "vessel", "is", "net", "%", *by, "solvent g", "came out", "")
    yield from tabled(names, rows, width)


def _result(page: PrepPage, width: int) -> Iterator[str]:
    for result in page.vessels or page.results[-1:]:
        yield from (f"{page.vessel_of(result)}:",) if result.part else ()
        yield from _result_of(result, width)
    for old in page.earlier:
        yield f"before, entry {old.entry}: {page.before(old)}"


def _result_of(result: ResultShown, width: int) -> Iterator[str]:
    for line in _value(result):
        yield from wrapped((line,), width, indent="  ")
    for remark in result.remarks:
        yield from wrapped((f"· {remark}",), width, indent="  ")
    for s in by_hand.sums(result):
        yield from wrapped((f"{s.what} = {s.formula}",), width, indent="    ")
        yield f"    = {figure(s.gives, 9)} {s.unit}"


def _value(result: ResultShown) -> Iterator[str]:
    if not float(result.value):
        yield "blank: nothing was added"
        return
    relative = f", U {percent(float(result.k) * float(result.u_rel))}" if result.k and result.u_rel else ""
    yield f"{result.stated}{relative}"
    yield f"standard uncertainty u {rounded(float(result.value), float(result.u))[1]} {result.unit}"
    if result.dof:
        yield f"effective degrees of freedom {figure(float(result.dof), 4)}"
    if not result.complete:
        yield f"INCOMPLETE, missing: {'; '.join(result.missing) or 'not said'}"


def _budget(page: PrepPage, width: int) -> Iterator[str]:
    for result in page.vessels or page.results[-1:]:
        if result.budget:
            yield from (f"{page.vessel_of(result)}:",) if result.part else ()
            yield from _budget_of(result, width)


def _budget_of(result: ResultShown, width: int) -> Iterator[str]:
    yield from wrapped((f"u² is the sum of the squared parts, in {result.unit}.",), width)
    rows = [
        (
            f"{100 * float(b.share or 0):.2f} %",
            _figure(b.contribution),
            _figure(b.u),
            f"{_figure(b.value)} {b.unit}".strip(),
            b.name,
        )
        for b in sorted(result.budget, key=lambda b: -float(b.share or 0))
    ]
    yield from tabled(("share", "part of u", "u", "value", "component"), rows, width)
    yield f"written as {result.value} {result.unit}, u {result.u} {result.unit}"


def _figure(text: str) -> str:
    return figure(float(text), 5) if text else ""


def _handlings(page: PrepPage, width: int, at: Callable[[str], str]) -> Iterator[str]:
    rows = []
    for h in page.state.handlings:
        steps = page.state.steps
        name = TITLES[steps[h.step].name].lower() if 0 <= h.step < len(steps) else ""
        open_ = clock(h.open_s, estimated=h.estimated) if h.open_s else ""
        said = [] if h.closed else ["OPEN"]
        said += [f"note in entry {h.noted}"] if h.noted else ["note owed"]
        said += [] if h.state == "stands" else [h.state]
        rows.append((str(h.entry), at(h.at)[11:], h.person, h.what, open_, name, "; ".join(said)))
    yield from tabled(("entry", "at", "who", "what", "open", "step", "state"), rows, width)
    notes = [
        (
            str(n.entry),
            n.person,
            ", ".join(p for p in n.present if p != n.person) or "nobody else",
            n.gloves,
            f"UNUSUAL: {n.note}" if n.unusual else n.note or "nothing unusual",
        )
        for n in page.notes
    ]
    yield from (
        ("", *tabled(("entry", "note by", "present too", "gloves", "how"), notes, width)) if notes else ()
    )
    wrong = [(str(i.entry), at(i.at)[11:], i.what, ", ".join(i.present), i.note) for i in page.incidents]
    yield from (
        ("", *tabled(("entry", "at", "incident", "present", "what happened"), wrong, width)) if wrong else ()
    )


def _changes(page: PrepPage, width: int, at: Callable[[str], str]) -> Iterator[str]:
    rows = [
        (
            str(c.entry),
            f"{at(c.at)} {c.person}",
            f"{c.how} {c.of}",
            c.was,
            c.now,
            c.reason + (f"; agreed by {c.second}" if c.second else ""),
        )
        for c in page.changes
    ]
    yield from tabled(("entry", "at, who", "how, of entry", "was", "now", "why"), rows, width)


def _cautions(page: PrepPage, width: int, at: Callable[[str], str]) -> Iterator[str]:
    for n, shown in enumerate(page.cautions):
        yield from ("",) if n else ()
        for a in shown.acknowledged:
            how = "page read" if a.how == "page" else "short form, unchanged page"
            step = f"step {a.step + 1}, {TITLES[StepName(a.step_name)].lower()}"
            yield f"{step}: {a.person} {at(a.at)}, {how}, entry {a.entry}"
        yield f"text {shown.digest[:16]}"
        text = shown.text or "this record does not hold the text"
        yield from (f"  | {line}" for line in wrapped(text.splitlines(), width - 4))


def _ending(page: PrepPage, width: int, at: Callable[[str], str]) -> Iterator[str]:
    state = page.state
    for label in [v.label for v in page.vessels] or [state.label]:
        yield from (f"  | {line}" for line in wrapped(label.splitlines(), width - 4))
    for lot in [v.lot for v in page.vessels] or ([state.lot] if state.lot else []):
        yield f"made lot {lot.get('id', '')}, expiry {lot.get('expiry', '') or 'none'}"
    if state.material:
        yield from wrapped((f"given up; material: {state.material}",), width)
    for r in page.reviews:
        reason = f", {r.reason}" if r.reason else ""
        text = f"{r.verdict} by {r.person} {at(r.at)}: {r.meaning}{reason}; journal up to {r.head[:24]}"
        yield from wrapped((text,), width, indent="  ")


def _journal(page: PrepPage, width: int, at: Callable[[str], str]) -> Iterator[str]:
    rows = [(str(x.entry), at(x.at), x.person, x.says) for x in page.log]
    yield from tabled(("entry", "at", "who", "what"), rows, width)
    yield from wrapped((f"head {page.head}",), width)
