"""What a prep brings together: solute with solvent, rests with a cleaning liquid, all of it with waste."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from store.hazards import mixing, mixing_list
from store.hazards.mixing import LEVELS, NOT_CHECKED, REMIND, STOP, WARN, Item, Part, Verdict
from store.model.decisions import PLACES, Procedure
from store.model.prep import Plan
from store.model.words import StepName
from store.procedure import parts
from store.procedure.checks import Finding
from store.procedure.state import PrepState
from store.procedure.strength import aimed_mg, strength_in_lot
from store.units import figure

VESSEL, WASTE, CLEANING = PLACES


@dataclass(frozen=True, slots=True)
class Meeting:
    """Things that meet in one place, and what the rules say of it."""

    place: str
    what: str
    """In words, such as `sodium azide and water in the vessel`."""
    verdict: Verdict
    strengths: Mapping[str, float]
    """Percent by mass of each substance in what meets: of the solute in the finished solution."""


@dataclass(frozen=True, slots=True)
class Said:
    """What is said of one meeting to a person, and at which level it holds for this site."""

    place: str
    level: str
    text: str
    what: str
    unknown: tuple[str, ...] = ()
    """Names that the list does not have."""


@dataclass(frozen=True, slots=True)
class _Known:
    """One substance as the rules know it: by name, CAS number or synonym, else by tags and statements."""

    name: str
    fraction: float
    carrier: str
    tags: tuple[str, ...]
    statements: tuple[str, ...]

    def item(self, mass_mg: float) -> Item:
        return Item(self.name, self.fraction, mass_mg, self.carrier, self.tags, self.statements)

    def parts(self, share: float) -> tuple[Part, ...]:
        """The components of this liquid or solid where it is a share of a mixture."""
        own = (Part(self.name, share * self.fraction, self.tags, self.statements),)
        if self.fraction >= 1:
            return own
        return (*own, Part(self.carrier or f"the rest of {self.name}", share * (1 - self.fraction)))


def _known(basis: Mapping[str, Any], key: str) -> _Known:
    lot = basis[key]
    row, snapshot = basis["substances"][lot["substance"]], basis["hazards"][lot["substance"]]
    names = (row["name"], row.get("cas", ""), *row.get("synonyms", ()))
    return _Known(
        next((n for n in names if n and mixing_list.known(n)), row["name"]),
        strength_in_lot(row, lot),
        str(basis.get("carriers", {}).get(key, "")),
        tuple(row.get("tags", ())),
        tuple(s["code"] for s in snapshot["statements"]),
    )


# ---- what meets ----


def of_plan(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> tuple[Meeting, ...]:
    """Give everything that a plan brings together in any of its vessels, with the masses it aims at."""
    found: dict[tuple[str, str], Meeting] = {}
    for own, rows, aimed in parts.views(plan, basis, aims):
        masses = aimed_mg(own, aimed)
        if masses is None:
            continue
        liquids = rows["enclosure"].get("cleaning", ())
        for one in (
            in_vessel(rows, *masses, solvent_first=plan.recipe.endswith("solvent first")),
            *(with_cleaning(rows, *masses, liquid) for liquid in liquids),
            *in_waste(rows, *masses),
        ):
            kept = found.setdefault((one.place, one.what), one)
            if LEVELS.index(one.verdict.level) > LEVELS.index(kept.verdict.level):
                found[one.place, one.what] = one
    return tuple(found.values())


def _vessels(
    state: PrepState, basis: Mapping[str, Any]
) -> Iterator[tuple[Mapping[str, Any], tuple[float, float], PrepState]]:
    """Give what each vessel that the open act may touch holds, or is to hold."""
    here = state.here
    for part in (here,) if here.whole is not None or not state.plan.parts else state.each:
        own = parts.view(state.plan, basis, {}, part.key)[1] if part.key and state.whole is None else basis
        aimed = aimed_mg(part.plan, part.aims)
        if aimed is not None:
            there = part.total_mg(part.solute) or aimed[0], part.total_mg("solvent") or aimed[1]
            yield own, there, part


def cleaned(state: PrepState, basis: Mapping[str, Any], liquid: str) -> tuple[Meeting, ...]:
    """Give what a cleaning liquid meets, of all that the prep has in its vessels."""
    return tuple(with_cleaning(own, *there, liquid) for own, there, _ in _vessels(state, basis))


def at_step(state: PrepState, basis: Mapping[str, Any]) -> tuple[Meeting, ...]:
    """Give what the open step brings together, with the masses that are in the vessel by now."""
    step = state.current
    if step is None:
        return ()
    if step.name == StepName.WASTE:
        liquid = next((a for k, a in state.answers.items() if k.endswith("/liquid")), "")
        return tuple(m for own, there, _ in _vessels(state, basis) for m in in_waste(own, *there, liquid))
    if step.name not in (StepName.ADD_SOLVENT, StepName.WEIGH_SOLID, StepName.DOSE_LIQUID):
        return ()
    solvent_is_there = step.name != StepName.ADD_SOLVENT
    return tuple(
        in_vessel(own, *there, solvent_first=solvent_is_there)
        for own, there, part in _vessels(state, basis)
        if (not step.parts or part.key in step.parts)
        and part.in_vessel("solvent" if solvent_is_there else part.solute)
    )


def in_vessel(
    basis: Mapping[str, Any], solid_mg: float, solvent_mg: float, *, solvent_first: bool
) -> Meeting:
    """Give what is known of solute and solvent meeting, in the order of the recipe."""
    items = _known(basis, "lot").item(solid_mg), _known(basis, "solvent_lot").item(solvent_mg)
    verdict = mixing.meet(items[::-1] if solvent_first else items)
    return Meeting(VESSEL, f"{_names(basis)} in the vessel", verdict, _strengths(basis, solid_mg, solvent_mg))


def with_cleaning(basis: Mapping[str, Any], solid_mg: float, solvent_mg: float, liquid: str) -> Meeting:
    """Give what is known of rests of powder and of solution meeting a cleaning liquid."""
    powder, solution = _known(basis, "lot").item(solid_mg), _solution(basis, solid_mg, solvent_mg)
    agent = _liquid(basis, liquid)
    verdict = _strongest(mixing.meet((rest, agent), CLEANING) for rest in (powder, solution))
    what = f"{_names(basis)} and {liquid} when cleaning"
    return Meeting(CLEANING, what, verdict, _strengths(basis, solid_mg, solvent_mg))


def in_waste(
    basis: Mapping[str, Any], solid_mg: float, solvent_mg: float, liquid: str = ""
) -> tuple[Meeting, ...]:
    """Give what is known of solution, and wipes with a cleaning liquid, meeting the waste stream."""
    stream = basis["substances"][basis["lot"]["substance"]].get("waste_stream", "")
    if not stream:
        return ()
    items = [_liquid(basis, stream), _solution(basis, solid_mg, solvent_mg)]
    items += [_liquid(basis, liquid)] if liquid else []
    what = f"{_names(basis)}{f' and {liquid}' if liquid else ''} in waste stream {stream}"
    return (Meeting(WASTE, what, mixing.meet(items, WASTE), _strengths(basis, solid_mg, solvent_mg)),)


def _liquid(basis: Mapping[str, Any], name: str) -> Item:
    """A waste stream or cleaning liquid: as the site's own register says, else as the list of the rules."""
    own = basis.get("streams", {}).get(name.casefold(), ())
    parts = (Part(p["name"], p["fraction"], tuple(p["tags"]), tuple(p["statements"])) for p in own)
    return Item(name, parts=tuple(parts))


def _solution(basis: Mapping[str, Any], solid_mg: float, solvent_mg: float) -> Item:
    w = solid_mg / (solid_mg + solvent_mg)
    parts = (*_known(basis, "lot").parts(w), *_known(basis, "solvent_lot").parts(1 - w))
    return Item("the solution", mass_mg=solid_mg + solvent_mg, parts=parts)


def _names(basis: Mapping[str, Any]) -> str:
    return " and ".join(basis["substances"][basis[k]["substance"]]["name"] for k in ("lot", "solvent_lot"))


def _strengths(basis: Mapping[str, Any], solid_mg: float, solvent_mg: float) -> dict[str, float]:
    solute, solvent = _known(basis, "lot"), _known(basis, "solvent_lot")
    return {
        basis["solvent_lot"]["substance"]: 100.0 * solvent.fraction,
        basis["lot"]["substance"]: 100.0 * solute.fraction * solid_mg / (solid_mg + solvent_mg),
    }


def _strongest(of: Iterator[Verdict]) -> Verdict:
    found = tuple(of)
    best = max(found, key=lambda v: LEVELS.index(v.level))

    def every(name: str) -> tuple[str, ...]:
        return tuple(dict.fromkeys(x for v in found for x in getattr(v, name)))

    return replace(best, stops=every("stops"), unchecked=every("unchecked"), others=every("others"))


# ---- what is said of it ----


def said(meeting: Meeting, procedures: Sequence[Procedure], *, person: str, today: date) -> Said:
    """Give what is said of a meeting; where approved procedures cover every stop it is a reminder."""
    verdict, what = meeting.verdict, meeting.what
    more = f" {verdict.instead}" if verdict.instead else ""
    more += f" Order: {verdict.order}." if verdict.order else ""
    # A stop names each rule that stops: a procedure allows it only where it is for all of them.
    more += f" ({', '.join(verdict.stops) or verdict.rule})" if verdict.rule else ""
    level, after = verdict.level, _not_listed(verdict.unchecked)
    match level:
        case mixing.STOP:
            covering = [_covering(procedures, meeting, rule, person, today) for rule in verdict.stops]
            text = f"{what} must not meet: {verdict.happens}{more}"
            if all(covering):
                by = "; ".join(dict.fromkeys(_approved(p) for p in covering if p is not None))
                level, text = REMIND, f"remember, {what}: {verdict.happens}{more} Allowed by {by}."
        case mixing.NOT_CHECKED:
            text = f"{what}: not checked, no rule was found."
        case _:
            text = f"{'warning' if level == WARN else 'remember'}, {what}: {verdict.happens}{more}"
    return Said(meeting.place, level, text + after, what, verdict.unchecked)


def _not_listed(names: Sequence[str]) -> str:
    return f" Not checked, not in the list: {', '.join(names)}." if names else ""


def _covering(
    procedures: Sequence[Procedure], meeting: Meeting, rule: str, person: str, today: date
) -> Procedure | None:
    return next((p for p in procedures if covers(p, meeting, rule, person=person, today=today)), None)


def covers(procedure: Procedure, meeting: Meeting, rule: str, *, person: str, today: date) -> bool:
    """Say whether an approved procedure is for this rule, place and person, today and at this strength."""
    strengths = dict(procedure.ceilings)
    of = [name for name in meeting.strengths if name in strengths]
    return (
        rule in procedure.rules
        and (not procedure.places or meeting.place in procedure.places)
        and (not procedure.people or person in procedure.people)
        and (not procedure.substances or bool(set(procedure.substances) & set(meeting.strengths)))
        and procedure.since <= today.isoformat() <= procedure.until
        and bool(of)
        and all(meeting.strengths[name] <= strengths[name] * (1 + 1e-9) for name in of)
    )


def _approved(procedure: Procedure) -> str:
    up_to = ", ".join(f"{name} up to {figure(most)} %" for name, most in procedure.ceilings)
    return (
        f"procedure {procedure.id}: {procedure.text} (approved by {procedure.approved_by} until "
        f"{procedure.until}; {up_to})"
    )


def findings(of: Sequence[Said]) -> Iterator[Finding]:
    """Give what stands against a plan. One bad cleaning liquid of several stops nothing: it is not chosen."""
    free = any(s.level != STOP for s in of if s.place == CLEANING)
    for one in of:
        if one.level == STOP and one.place == CLEANING and free:
            yield Finding(f"choose another liquid: {one.text}", stop=False, group="mixing")
        elif one.level != NOT_CHECKED:
            yield Finding(one.text, stop=one.level == STOP, group="mixing")
    if silent := [s for s in of if s.level == NOT_CHECKED]:
        names = tuple(dict.fromkeys(n for s in silent for n in s.unknown))
        yield Finding(f"{no_rule([s.what for s in silent])}{_not_listed(names)}", stop=False, group="mixing")


def no_rule(meetings: Sequence[str]) -> str:
    """Say of which meetings nothing is known; what all of them begin with is said once.

    >>> no_rule(["acetone and water in the vessel", "acetone and water in waste stream solvents"])
    'not checked, no rule was found: acetone and water: in the vessel; in waste stream solvents.'
    """
    words = [what.split() for what in meetings]
    same = 0
    if len(words) > 1:
        while all(len(w) > same + 1 and w[same] == words[0][same] for w in words):
            same += 1
        same -= words[0][same - 1] == "in"
    first = " ".join(words[0][:same])
    rest = "; ".join(" ".join(w[same:]) for w in words)
    return f"not checked, no rule was found: {f'{first}: ' if same else ''}{rest}."
