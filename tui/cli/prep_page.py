"""The page of one prep as plain text, and as data for programs."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, is_dataclass
from typing import Any

from store.queries import classified
from store.queries.page import PrepPage
from store.queries.periods import local
from store.queries.results import ResultShown


def as_data(page: PrepPage) -> dict[str, Any]:
    """Give the whole page as plain data."""
    from store.queries import by_hand

    state = page.state
    return {
        "prep": state.prep,
        "title": page.title,
        "status": str(state.status),
        "stale": page.stale,
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
    yield from _section("doses, as the display showed them", DOSE, _doses(page))
    yield from _section("other readings", READ, _reads(page))
    yield from _portions(page)
    yield from _result(page, budget=budget)
    yield from _section("handlings", HANDLED, _handlings(page))
    yield from _section("exposure notes", NOTE, _notes(page))
    yield from _section("incidents", WRONG, _incidents(page))
    yield from _section("corrected, discarded, never happened", CHANGE, _changes(page))
    yield from _cautions(page, texts=cautions)
    yield from _ending(page)
    if journal:
        rows = [(str(x.entry), _at(x.at), x.person, x.says, x.digest[:16]) for x in page.log]
        yield from _section("journal", ("entry", "at", "who", "what", "digest"), rows)
    yield ""
    yield f"head  {page.head}"


PORTION = ("place", "vessel", "is", "net mg", "percent", "assay %", "solvent mg", "reason")


def _portions(page: PrepPage) -> Iterator[str]:
    """Every place of a rack, and how equal the portions are."""
    rows = [
        (
            p.key,
            p.vessel,
            p.word,
            "" if p.net_mg is None else f"{p.net_mg:.4g}",
            "" if p.percent is None else f"{p.percent:.1f}",
            p.assay,
            "" if p.solvent_mg is None else f"{p.solvent_mg:.6g}",
            p.reason,
        )
        for p in page.portions
    ]
    yield from _section("portions", PORTION, rows)
    if page.equal is not None:
        yield from (f"  {line}" for line in page.equal.lines())


def _plan(page: PrepPage) -> Iterator[str]:
    state, plan = page.state, page.state.plan
    yield f"{state.prep}   {page.title}   {state.status}"
    if plan.rehearsal:
        yield "REHEARSAL: it counts for no stock and makes no lot"
    if page.stale:
        yield f"STALE: {page.stale}"
    wanted = f"{page.state.target}, {plan.amount}; {plan.recipe}"
    yield f"planned  {_at(state.planned_at)} by {state.planned_by}: {wanted}"
    for part in plan.parts:
        yield f"vessel   {page.part_words(part)}"
    place = f"place    vessel {plan.vessel}, balance {plan.balance}, enclosure {plan.enclosure}"
    yield f"{place}, tolerance ± {plan.tolerance_percent} %"
    for what, key, container in (
        ("solute", "lot", plan.container),
        ("solvent", "solvent_lot", plan.solvent_container),
    ):
        lot = state.basis.get(key, {})
        named = page.name(str(lot.get("substance", "")))
        certified = f", assay {lot['assay'].rstrip(' %')} %" if lot.get("assay") else ""
        certified += f" ({lot['assay_u']})" if lot.get("assay_u") else ""
        certified += f", {lot['basis']}" if lot.get("basis") else ""
        yield f"{what:<8} {named}, lot {lot.get('id', '')}, container {container}{certified}"
    if factors := state.aims.get("factors", ()):
        said = " × ".join(f"{f['value']} ({f['name']}: {f['why']})" for f in factors)
        yield f"content  {said}"
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


DOSE = (
    "entry",
    "at",
    "who",
    "content",
    "container",
    "vessel",
    "display",
    "added mg",
    "in vessel mg",
    "how",
    "state",
)
READ = ("entry", "at", "step", "what", "display", "within")
HANDLED = ("entry", "at", "who", "what", "step", "open", "note", "state")
NOTE = ("entry", "at", "who", "for entries", "gloves", "present", "how")
WRONG = ("entry", "at", "who", "what", "note", "present")
CHANGE = ("entry", "at", "who", "how", "of entry", "was", "now", "why")


def _doses(page: PrepPage) -> list[tuple[str, ...]]:
    out: list[tuple[str, ...]] = []
    for d in page.state.doses:
        state = [d.state] if d.state != "stands" else []
        state += [] if d.usable else ["not usable"]
        state += [] if d.inside else ["outside"]
        state += [d.reason] if d.reason else []
        out.append(
            (
                str(d.entry), _at(d.at), d.person, d.content, d.container, d.vessel if d.part else "",
                d.shown,
                f"{d.net_mg:.7g}",
                f"{d.total_mg:.7g}", d.source, "; ".join(state),
            )
        )  # fmt: skip
    return out


def _reads(page: PrepPage) -> list[tuple[str, ...]]:
    return [
        (str(r.entry), _at(r.at), str(r.step + 1), r.what, r.shown, "yes" if r.within else "NO")
        for r in page.state.reads
    ]


def _handlings(page: PrepPage) -> list[tuple[str, ...]]:
    out: list[tuple[str, ...]] = []
    for h in page.state.handlings:
        name = page.state.steps[h.step].name if 0 <= h.step < len(page.state.steps) else ""
        opened = (
            f"{'~' if h.estimated else ''}{int(h.open_s) // 60}:{round(h.open_s) % 60:02d}"
            if h.open_s
            else ""
        )
        opened = opened if h.closed else "OPEN"
        state = "" if h.state == "stands" else h.state
        out.append(
            (
                str(h.entry), _at(h.at), h.person, h.what, str(name), opened,
                f"entry {h.noted}" if h.noted else "owed", state,
            )
        )  # fmt: skip
    return out


def _notes(page: PrepPage) -> list[tuple[str, ...]]:
    return [
        (
            str(n.entry), _at(n.at), n.person, ", ".join(map(str, n.handlings)), n.gloves,
            ", ".join(n.present), f"UNUSUAL: {n.note}" if n.unusual else n.note or "nothing unusual",
        )
        for n in page.notes
    ]  # fmt: skip


def _incidents(page: PrepPage) -> list[tuple[str, ...]]:
    return [(str(i.entry), _at(i.at), i.person, i.what, i.note, ", ".join(i.present)) for i in page.incidents]


def _changes(page: PrepPage) -> list[tuple[str, ...]]:
    return [
        (
            str(c.entry), _at(c.at), c.person, c.how, str(c.of), c.was, c.now,
            c.reason + (f"; agreed by {c.second}" if c.second else ""),
        )
        for c in page.changes
    ]  # fmt: skip


def _result(page: PrepPage, *, budget: bool) -> Iterator[str]:
    for result in page.vessels or page.results[-1:]:
        yield from _result_of(page, result, budget=budget)
    for old in page.results[:-1]:
        yield f"  before, entry {old.entry}: {old.value} {old.unit}, u {old.u}"


def _result_of(page: PrepPage, result: ResultShown, *, budget: bool) -> Iterator[str]:
    from store.queries import by_hand
    from store.units import figure, rounded

    where = page.vessel_of(result)
    yield ""
    yield f"result of {where}" if where else "result"
    if result.value and not float(result.value):
        yield "  blank: nothing was added"
    elif result.value and result.u:
        value, u = rounded(float(result.value), float(result.u))
        yield f"  {value} {result.unit}, standard uncertainty {u} {result.unit}"
    else:
        yield f"  {result.value or 'no value was written'} {result.unit}, without an uncertainty"
    if result.value and result.U and result.k and float(result.u):
        expanded = rounded(float(result.value), float(result.U))[1]
        dof = f", effective degrees of freedom {figure(float(result.dof), 4)}" if result.dof else ""
        yield f"  expanded uncertainty U {expanded} {result.unit} (k = {figure(float(result.k), 4)}){dof}"
    if not result.complete:
        yield f"  INCOMPLETE, missing: {'; '.join(result.missing) or 'not said'}"
    for remark in result.remarks:
        yield f"  remark: {remark}"
    if result.lot:
        yield f"  made lot {result.lot.get('id', '')}, expiry {result.lot.get('expiry', '') or 'none'}"
    sums = by_hand.sums(result)
    yield from _section(
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
        yield from _section("budget: u² is the sum of the squared parts", names, rows)
        yield f"  value as written {result.value} {result.unit}, u as written {result.u} {result.unit}"


def _figure(text: str) -> str:
    from store.units import figure

    return figure(float(text), 7) if text else ""


def _cautions(page: PrepPage, *, texts: bool) -> Iterator[str]:
    rows = [
        (str(a.entry), _at(a.at), a.person, f"{a.step + 1} {a.step_name}", a.how, a.digest[:16])
        for a in page.state.acks
    ]
    yield from _section("cautions acknowledged", ("entry", "at", "who", "step", "how", "text"), rows)
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
        (str(r.entry), _at(r.at), r.person, r.verdict, r.meaning, r.reason, r.head[:24]) for r in page.reviews
    ]
    yield from _section("review", ("entry", "at", "who", "verdict", "meaning", "reason", "seen up to"), rows)


def _section(title: str, names: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Give a titled table; nothing where there are no rows."""
    if not rows:
        return
    yield ""
    yield title
    used = [n for n in range(len(names)) if any(row[n] for row in rows)]
    widths = {n: max(len(names[n]), *(len(row[n]) for row in rows)) for n in used}
    for row in (names, *rows):
        yield "  " + "  ".join(row[n].ljust(widths[n]) for n in used).rstrip()


def _at(at: str) -> str:
    return f"{local(at):%Y-%m-%d %H:%M:%S}" if at else ""
