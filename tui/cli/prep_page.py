"""The page of one prep as plain text, and as data for programs."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, is_dataclass
from typing import Any

from store.queries import classified, page_plan
from store.queries.page import PrepPage
from store.queries.results import ResultShown
from tui.cli import prep_tables as tables
from tui.cli.prep_tables import at, section


def as_data(page: PrepPage) -> dict[str, Any]:
    """Give the whole page as plain data."""
    from store.queries import by_hand

    state = page.state
    return {
        "prep": state.prep,
        "title": page.title,
        "status": str(state.status),
        "stale": page.stale,
        "revised": page.revised,
        "planned_at": state.planned_at,
        "planned_by": state.planned_by,
        "closed_at": state.closed_at,
        "step": state.step,
        "steps": [str(s.name) for s in state.steps],
        "plan": asdict(state.plan),
        "basis": _plain(state.basis),
        "aims": _plain(state.aims),
        "let_through": _plain(state.let_through),
        "doses": _plain(state.doses),
        "readings": _plain(state.reads),
        "handlings": _plain(state.handlings),
        "notes": _plain(page.notes),
        "incidents": _plain(page.incidents),
        "changes": _plain(page.changes),
        "cautions": _plain(page.cautions),
        "results": _plain(page.results),
        "vessels": _plain(page.vessels),
        "portions": [{**_plain(p), "percent": p.percent} for p in page.portions],
        "equal": _plain(page.equal),
        "by_hand": _plain(by_hand.sums(page.result)) if page.result else [],
        "lot": _plain(state.lot),
        "label": state.label,
        "material": state.material,
        "reviews": _plain(page.reviews),
        "log": _plain(page.log),
        "head": page.head,
    }


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {k: _plain(getattr(value, k)) for k in value.__dataclass_fields__}
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list | frozenset):
        return [_plain(v) for v in value]
    return value


def lines(page: PrepPage, *, budget: bool, cautions: bool, journal: bool) -> Iterator[str]:
    """Give the page line by line: plan, doses as shown, sums, result, who and when."""
    yield from _plan(page)
    yield from section("doses, as the display showed them", tables.DOSE, tables.doses(page))
    yield from section("other readings", tables.READ, tables.reads(page))
    yield from tables.portions(page)
    yield from _result(page, budget=budget)
    yield from section("handlings", tables.HANDLED, tables.handlings(page))
    yield from section("exposure notes", tables.NOTE, tables.notes(page))
    yield from section("incidents", tables.WRONG, tables.incidents(page))
    yield from section("corrected, discarded, never happened", tables.CHANGE, tables.changes(page))
    yield from _cautions(page, texts=cautions)
    yield from _ending(page)
    if journal:
        rows = [(str(x.entry), at(x.at), x.person, x.says, x.digest[:16]) for x in page.log]
        yield from section("journal", ("entry", "at", "who", "what", "digest"), rows)
    yield ""
    yield f"head  {page.head}"


def _plan(page: PrepPage) -> Iterator[str]:
    state, plan = page.state, page.state.plan
    yield f"{state.prep}   {page.title}   {state.status}"
    if plan.rehearsal:
        yield "REHEARSAL: it counts for no stock and makes no lot"
    if page.stale:
        yield f"STALE: {page.stale}"
    yield from (f"REVISED: {line}; what it comes to: tarebook trace LOT --revised" for line in page.revised)
    wanted = f"{page.state.target}, {plan.amount}; {plan.recipe}"
    yield f"planned  {at(state.planned_at)} by {state.planned_by}: {wanted}"
    for part in plan.parts:
        yield f"vessel   {page.part_words(part)}"
    place = f"place    vessel {plan.vessel}, balance {plan.balance}, enclosure {plan.enclosure}"
    yield f"{place}, tolerance ± {plan.tolerance_percent} %"
    for of in page_plan.sources(page):
        yield f"{of.what:<8} {of.name}, lot {of.lot}, container {of.container}{of.certified}"
    yield from (f"{'' if n else 'content':<9}{line}" for n, line in enumerate(page_plan.content(page)))
    for substance, taken in state.basis.get("hazards", {}).items():
        said = " ".join((taken.get("signal_word") or "", *classified.codes(taken.get("statements", ()))))
        if "UNKNOWN" in taken.get("families", ()):
            said = "NOT KNOWN: the strictest cautions were shown"
        edition = taken.get("edition") or "no edition"
        yield f"hazards  {substance}: {said.strip() or 'none classified'} ({edition})"
    for n, line in enumerate(page.limits):
        yield f"{'' if n else 'limits':<9}{line}"
    for decision in state.let_through:
        what = "; ".join(decision.get("what", ()))
        yield f"let through by {decision.get('second', '')}: {what} ({decision.get('reason', '')})"
    if state.current is not None:
        yield f"step     {state.step + 1} of {len(state.steps)}: {state.current.name}"


def _result(page: PrepPage, *, budget: bool) -> Iterator[str]:
    for result in page.vessels or page.results[-1:]:
        yield from _result_of(page, result, budget=budget)
    for old in page.earlier:
        yield f"  before, entry {old.entry}: {page.before(old)}"


def _result_of(page: PrepPage, result: ResultShown, *, budget: bool) -> Iterator[str]:
    from store.queries import by_hand
    from store.units import figure, rounded

    where = page.vessel_of(result)
    yield ""
    yield f"result of {where}" if where else "result"
    if result.value and not float(result.value):
        yield "  blank: nothing was added"
    elif result.value and result.u:
        yield f"  {result.stated}"
        u = rounded(float(result.value), float(result.u))[1]
        dof = f", effective degrees of freedom {figure(float(result.dof), 4)}" if result.dof else ""
        yield f"  standard uncertainty u {u} {result.unit}{dof}"
    else:
        yield f"  {result.value or 'no value was written'} {result.unit}, without an uncertainty"
    if not result.complete:
        yield f"  INCOMPLETE, missing: {'; '.join(result.missing) or 'not said'}"
    for remark in result.remarks:
        yield f"  remark: {remark}"
    if result.lot:
        yield f"  made lot {result.lot.get('id', '')}, expiry {result.lot.get('expiry', '') or 'none'}"
    sums = by_hand.sums(result)
    yield from section(
        "sums",
        ("what", "formula", "gives"),
        [(s.what, s.formula, f"{figure(s.gives, 9)} {s.unit}") for s in sums],
    )
    if budget:
        rows = [
            (
                b.name, _figure(b.value), b.unit, _figure(b.u), _figure(b.sensitivity),
                _figure(b.contribution), f"{100 * float(b.share or 0):.2f} %",
            )
            for b in result.budget
        ]  # fmt: skip
        names = ("component", "value", "unit", "u", "sensitivity", f"part of u, {result.unit}", "share of u²")
        yield from section("budget: u² is the sum of the squared parts", names, rows)
        yield f"  value as written {result.value} {result.unit}, u as written {result.u} {result.unit}"


def _figure(text: str) -> str:
    from store.units import figure

    return figure(float(text), 7) if text else ""


def _cautions(page: PrepPage, *, texts: bool) -> Iterator[str]:
    rows = [
        (str(a.entry), at(a.at), a.person, f"{a.step + 1} {a.step_name}", a.how, a.digest[:16])
        for a in page.state.acks
    ]
    yield from section("cautions acknowledged", ("entry", "at", "who", "step", "how", "text"), rows)
    if texts:
        for shown in page.cautions:
            yield ""
            yield f"caution text {shown.digest}"
            yield from (f"  | {line}" for line in (shown.text or "not in this record").splitlines())


def _ending(page: PrepPage) -> Iterator[str]:
    state = page.state
    for label in [v.label for v in page.vessels] or [state.label]:
        if label:
            yield ""
            yield "label"
            yield from (f"  | {line}" for line in label.splitlines())
    if state.material:
        yield f"given up; material: {state.material}"
    rows = [
        (str(r.entry), at(r.at), r.person, r.verdict, r.meaning, r.reason, r.head[:24]) for r in page.reviews
    ]
    yield from section("review", ("entry", "at", "who", "verdict", "meaning", "reason", "seen up to"), rows)
