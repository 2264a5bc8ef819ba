"""Portions of a rack: what each aims at, what each place holds in words, and how equal they came out."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from store.calc import uniformity
from store.calc.purity import as_is
from store.model.prep import Plan
from store.procedure import inputs, outcome, parts
from store.procedure.checks import Finding
from store.procedure.state import PrepState
from store.readings import difference
from store.units import figure, fixed, quantity

WAITING, TARED, DOSED, FILLED, REJECTED = "waiting", "tared", "dosed", "filled", "rejected"
TAKEN_BACK = "-"
"""Stands where a mean content is said to be none."""
WORDS = (REJECTED, FILLED, DOSED, TARED, WAITING)


def aims(plan: Plan, basis: Mapping[str, Any]) -> dict[str, Any]:
    """Give what a plan of portions aims at: of one place, and by part under `parts`.

    Raises
    ------
    BadInput, OutOfRange
        The plan cannot be computed; the text says why.
    """
    by_part = {}
    for part in plan.parts:
        own, rows, _ = parts.view(plan, basis, {}, part.key)
        by_part[part.key] = outcome.aims(own, rows) if part.solvent_container else _powder(own, rows)
    first = by_part[plan.parts[0].key]
    total_mg = sum(float(a["solid_mg"]) for a in by_part.values())
    return {"solvent_mg": "0", "fill_percent": "0", **first, "all_mg": f"{total_mg:.4f}", "parts": by_part}


def _powder(plan: Plan, basis: Mapping[str, Any]) -> dict[str, Any]:
    content, _ = as_is(inputs.content(plan, basis))
    mass_mg = quantity(plan.amount, "mass").to("mg")
    return {
        "solid_mg": f"{mass_mg:.4f}",
        "minimum_mg": f"{outcome.minimum_mg(basis):.4f}",
        "fill_percent": "0",
        "content": f"{content:.6f}",
        "expected": f"{fixed(mass_mg, 2, 'mg')} as weighed",
    }


def findings(plan: Plan, aims: Mapping[str, Any], left_mg: float | None) -> Iterator[Finding]:
    """Give what is to be known of a whole rack: whether its container lasts, how many places there are."""
    need_mg = float(aims["all_mg"])
    if left_mg is not None and need_mg <= left_mg < 2 * need_mg:
        after = f"{fixed(left_mg - need_mg, 2, 'mg')} are left after this rack"
        yield Finding(f"container {plan.container} runs out: {after}", stop=False)
    if len(plan.parts) not in (10, 30):
        yield Finding(
            f"an acceptance value (USP <905>) is defined for 10 or 30 portions, these are {len(plan.parts)}",
            stop=False,
        )


@dataclass(frozen=True, slots=True)
class Place:
    """One place of a rack."""

    key: str
    vessel: str
    word: str
    aim_mg: float
    net_mg: float | None
    """Of the solid; None while nothing is in it."""
    solvent_mg: float | None
    inside: bool
    net: str = ""
    """Of the solid, with the digits of the display."""
    value: float | None = None
    unit: str = ""
    reason: str = ""
    """Why it was rejected, or taken outside its window."""
    assay: str = ""
    """Content by a laboratory, in % of the label, as reported."""

    @property
    def percent(self) -> float | None:
        """Of what was aimed at."""
        return None if self.net_mg is None else 100.0 * self.net_mg / self.aim_mg


def places(state: PrepState, why: Mapping[int, str] | None = None) -> tuple[Place, ...]:
    """Give every place with its state in words; `why` is why the dose of an entry was discarded."""
    found, said = assayed(state).units, words(state)
    return tuple(
        replace(_place(state.part(p.key), state, why or {}), word=said[p.key], assay=found.get(p.key, ""))
        for p in state.plan.parts
    )


def words(state: PrepState) -> dict[str, str]:
    """Give the state of every place in a word; quick, since a step screen says it at every key."""
    off = state.rejected
    there: dict[str, set[str]] = {}
    for dose in state.doses:
        if dose.counts:
            there.setdefault(dose.part, set()).add(dose.content)
    tared = {r.part for r in state.reads if r.what == "vessel"}
    out = {}
    for part in state.plan.parts:
        holds = there.get(part.key, set())
        wanted = {part.content, "solvent"} if part.solvent_container else {part.content}
        if part.key in off:
            out[part.key] = REJECTED
        elif wanted <= holds:
            out[part.key] = FILLED
        elif part.content in holds:
            out[part.key] = DOSED
        else:
            out[part.key] = TARED if part.key in tared else WAITING
    return out


@dataclass(frozen=True, slots=True)
class Assay:
    """What laboratories reported of the portions, as it stands; all in % of the label, as reported."""

    units: Mapping[str, str]
    """By place."""
    mean: str
    target: str


def assayed(state: PrepState) -> Assay:
    """Give what was reported of the portions of a rack, the last report of each standing."""
    units: dict[str, str] = {}
    mean, target = "", "100"
    for report in state.assays:
        units |= report["units"]
        mean, target = report["mean"] or mean, report["target"]
    return Assay({k: v for k, v in units.items() if v}, "" if mean == TAKEN_BACK else mean, target)


def _place(part: PrepState, whole: PrepState, why: Mapping[int, str]) -> Place:
    solid, solvent = part.in_vessel("solid"), part.in_vessel("solvent")
    off = part.key in whole.rejected
    last = solid[-1] if solid else None
    gone = next((d for d in reversed(whole.doses) if d.part == part.key), None)
    return Place(
        key=part.key,
        vessel=part.plan.vessel,
        word="",
        aim_mg=float(part.aims["solid_mg"]),
        net_mg=part.total_mg("solid") if solid else None,
        solvent_mg=part.total_mg("solvent") if solvent else None,
        inside=last is not None and last.inside,
        net=difference(part.total_mg("solid"), last.shown) if last is not None else "",
        value=float(part.result["value"]) if part.result else None,
        unit=str(part.result.get("unit", "")) if part.result else "",
        reason=(
            whole.rejections.get(part.key) or why.get(gone.entry if gone is not None else 0, "")
            if off
            else last.reason
            if last is not None
            else ""
        ),
    )


def in_words(state: PrepState) -> tuple[str, ...]:
    """Say in a line or two which places are where: `filled 1 to 6, 8; rejected 7; tared 10 to 30`."""
    here = state.part_of(state.step, state.act)
    every = words(state)
    said = [f"here {here}"] if here else []
    for word in WORDS:
        keys = [key for key, its in every.items() if its == word and key != here]
        if keys:
            said.append(f"{word} {_runs(keys, list(every))}")
    return ("Rack: " + "; ".join(said) + ".",) if said else ()


def _runs(keys: Sequence[str], order: Sequence[str]) -> str:
    """Give keys as runs.

    >>> _runs(["1", "2", "3", "5"], ["1", "2", "3", "4", "5"])
    '1 to 3, 5'
    """
    out: list[list[str]] = []
    for key in keys:
        at = order.index(key)
        if out and order.index(out[-1][-1]) == at - 1:
            out[-1].append(key)
        else:
            out.append([key])
    return ", ".join(run[0] if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in out)


@dataclass(frozen=True, slots=True)
class Equal:
    """How equal the portions of a rack are, of those that stand; contents in % of what was aimed at."""

    count: int
    rejected: int
    mean_mg: float
    rsd_percent: float | None
    acceptance: uniformity.Acceptance | None
    mass: uniformity.MassUniformity | None
    why_not: str = ""
    by: str = ""
    """What the acceptance value rests on."""

    def lines(self) -> tuple[str, ...]:
        """Say it in lines."""
        rsd = "" if self.rsd_percent is None else f", RSD {figure(self.rsd_percent, 2)} %"
        out = [f"{self.count} portions, mean {fixed(self.mean_mg, 3, 'mg')}{rsd}, {self.rejected} rejected"]
        if self.acceptance is not None:
            a = self.acceptance
            out.append(
                f"USP <905> acceptance value {figure(a.acceptance_value, 3)} ({self.by}): {verdict(a)}"
            )
        if self.mass is not None:
            m = self.mass
            out.append(
                f"Ph. Eur. 2.9.5, the first 20: {m.outside} over {figure(m.limit_percent, 3)} %, "
                f"{m.far_outside} over twice that: {'passes' if m.passes else 'DOES NOT PASS'}"
            )
        return (*out, self.why_not) if self.why_not else tuple(out)


def verdict(a: uniformity.Acceptance) -> str:
    """Say whether an acceptance value passes, at which stage, and what follows where it does not."""
    stage = f"stage {a.stage}, limit L1 {uniformity.L1:g}"
    if a.passes:
        return f"passes {stage}"
    if a.stage == 1:
        return f"DOES NOT PASS {stage}: 20 more are judged with these (stage 2)"
    wide = f", {a.outside} outside ±{uniformity.L2:g} % (L2)" if a.outside else ""
    return f"DOES NOT PASS {stage}{wide}"


def _judged(state: PrepState, there: Sequence[Place]) -> tuple[uniformity.Acceptance | None, str, str]:
    """Give the acceptance value, what it rests on, and why there is none.

    Contents by a laboratory stand above its mean content, and that above the masses alone, which take what
    was weighed to have the content that was planned with. Which units are judged follows from the order of
    the rack, not from what they hold.
    """
    found, n = assayed(state), len(there)
    target = float(found.target)
    contents = [float(p.assay) for p in there if p.assay]
    if contents:
        if len(contents) not in (10, 30):
            said = f"{len(contents)} portions are assayed: an acceptance value is defined for 10 or for 30"
            return None, "", said
        by = f"content uniformity, {len(contents)} assayed"
        return uniformity.acceptance(contents, target_percent=target), by, ""
    many = 30 if n >= 30 else 10
    if n < many:
        return None, "", "an acceptance value is defined for 10 or for 30 portions"
    judged, which = there[:many], "" if n == many else f", the first {many}"
    if found.mean:
        masses = [p.net_mg for p in judged if p.net_mg is not None]
        contents = uniformity.by_weight(masses, mean_assay_percent=float(found.mean))
        by = f"weight variation, assay {found.mean} %{which}"
    else:
        contents = [p.percent for p in judged if p.percent is not None]
        by = f"weight variation, not assayed{which}"
    return uniformity.acceptance(contents, target_percent=target), by, ""


def equal(state: PrepState) -> Equal | None:
    """Give mean, RSD, acceptance value and uniformity of mass of what stands; None while nothing does."""
    every = places(state)
    there = [p for p in every if p.net_mg is not None and p.word != REJECTED]
    if not there:
        return None
    masses = [p.net_mg for p in there if p.net_mg is not None]
    n = len(masses)
    acceptance, by, why_not = _judged(state, there)
    return Equal(
        count=n,
        rejected=sum(p.word == REJECTED for p in every),
        mean_mg=sum(masses) / n,
        rsd_percent=uniformity.rsd_percent(masses) if n > 1 else None,
        acceptance=acceptance,
        mass=uniformity.mass_uniformity(masses[:20]) if n >= 20 else None,
        why_not=why_not,
        by=by,
    )


def without_rejected(state: PrepState) -> PrepState:
    """Give the state with those places only that hold something: what closing makes lots of."""
    if not state.plan.is_rack:
        return state
    kept = tuple(p for p in state.plan.parts if p.key not in state.rejected)
    return replace(state, plan=replace(state.plan, parts=kept))
