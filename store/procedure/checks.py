"""What stands against a plan, said before anything is done. Pure: dates and stock come in."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from store.model.naming import spans
from store.model.prep import Plan
from store.model.registers import Person
from store.model.site_rows import minutes_through
from store.model.words import WARM, LotStatus
from store.procedure import parts, soluble, trained
from store.procedure.balance_checks import CheckStanding, CheckState
from store.units import quantity


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found: `stop` needs a second person or another plan; otherwise it is said and goes on."""

    what: str
    stop: bool = True
    group: str = ""
    """One of `settings.GROUPS`: what the site may except from being let through."""


def of_plan(
    plan: Plan,
    basis: Mapping[str, Any],
    *,
    person: Person,
    today: date,
    left_mg: float | None,
    aims: Mapping[str, Any],
    check: CheckStanding | None = None,
    left: Mapping[str, float | None] | None = None,
) -> tuple[Finding, ...]:
    """Give everything that stands against a plan, the gravest first.

    `left` is what each source of a plan of several vessels holds, in mg by container.

    An overdue check of the balance is none of it: the prep begins with one, and opens nothing without.
    """
    found = [
        *of_material(plan, basis, today),
        *grouped("place", _balance(basis, check)),
        *of_person(person, basis, today),
        *grouped("mass", _every_mass(plan, basis, aims, left_mg, left or {})),
        *_waits(plan, basis),
        *_gloves(basis),
        *_known(basis),
        *_as_registered(plan, basis, aims),
    ]
    return tuple(sorted(dict.fromkeys(found), key=lambda f: not f.stop))


def grouped(group: str, found: Iterator[Finding]) -> Iterator[Finding]:
    """Say what kind of thing was found."""
    return (replace(f, group=group) for f in found)


def of_material(plan: Plan, basis: Mapping[str, Any], today: date) -> Iterator[Finding]:
    """Give what stands against lots, containers, enclosure and balance of a plan."""
    seen = set()
    for own, rows, _ in parts.views(plan, basis, {}):
        for key in ("lot", "solvent_lot"):
            container = rows[key.replace("lot", "container")]
            if container["id"] not in seen and not (own.parts and own.parts[0].source and key == "lot"):
                yield from grouped("lot", _lot(rows[key], container, today))
            seen.add(container["id"])
    yield from grouped("place", _place(plan, basis, today))


HEADSPACE_FROM = 90
"""Percent of a vessel; a tenth left free to mix and to expand is common practice."""


def _past(text: str, today: date) -> bool:
    return bool(text) and date.fromisoformat(text) < today


def _lot(lot: Mapping[str, Any], container: Mapping[str, Any], today: date) -> Iterator[Finding]:
    status = lot.get("status", LotStatus.RELEASED)
    if status != LotStatus.RELEASED:
        why = f" ({lot['status_reason']})" if lot.get("status_reason") else ""
        yield Finding(f"lot {lot['id']} is in status {status}{why}")
    if _past(lot.get("expiry", ""), today):
        yield Finding(f"lot {lot['id']} expired on {lot['expiry']}")
    if _past(lot.get("retest", ""), today):
        yield Finding(f"lot {lot['id']} was to be retested on {lot['retest']}")
    yield from (Finding(line) for line in container.get("rests_on", ()))
    # It blocks nothing by itself: whoever plans is told, and a keeper or a reviewer decides.
    yield from (Finding(line, stop=False) for line in container.get("undecided", ()))
    opened, days = container.get("opened_on", ""), container.get("in_use_days", "")
    if opened and days and (today - date.fromisoformat(opened)).days > int(days):
        yield Finding(f"container {container['id']} was opened on {opened} and may be used {days} days")
    most, thawed = container.get("thaws_most", ""), int(container.get("thawed", 0))
    if most and thawed >= int(most):
        yield Finding(
            f"container {container['id']} was thawed {thawed} times, and {most} is the most it may be"
        )


def _place(plan: Plan, basis: Mapping[str, Any], today: date) -> Iterator[Finding]:
    balance, enclosure = basis["balance"], basis["enclosure"]
    if balance.get("enclosure") and balance["enclosure"] != plan.enclosure:
        yield Finding(f"balance {plan.balance} stands in {balance['enclosure']}, not in {plan.enclosure}")
    for name, due in (
        ("leak or air flow test", "test_due"),
        ("filter", "filter_due"),
        ("glove change", "glove_due"),
    ):
        if _past(enclosure.get(due, ""), today):
            yield Finding(f"enclosure {plan.enclosure}: {name} was due on {enclosure[due]}")
    if _past(balance.get("calibration_due", ""), today):
        yield Finding(f"balance {plan.balance}: calibration was due on {balance['calibration_due']}")


def _balance(basis: Mapping[str, Any], check: CheckStanding | None) -> Iterator[Finding]:
    balance = basis["balance"]
    id = balance["id"]
    if not balance.get("check_mass"):
        yield Finding(f"balance {id} has no check weight in the register: it cannot be checked")
    if check is not None and check.state == CheckState.FAILED:
        yield Finding(check.why)
    if not balance.get("repeatability"):
        yield Finding(
            f"balance {id} has no repeatability in the register: 0.41 of its readability is used", stop=False
        )
    load, vessel = balance.get("repeatability_load", ""), basis["vessel"].get("mass", "")
    if load and vessel:
        ratio = quantity(vessel, "mass").to("mg") / max(quantity(load, "mass").to("mg"), 1e-6)
        if not 0.5 <= ratio <= 2.0:
            yield Finding(
                f"the repeatability of balance {id} was measured with {load} on the pan, this vessel is "
                f"{vessel}: measure it with such a vessel",
                stop=False,
            )


def _waits(plan: Plan, basis: Mapping[str, Any]) -> Iterator[Finding]:
    """What takes its time before anything is opened: said with the plan, so that it can begin meanwhile."""
    balance = basis["balance"]
    if minutes := balance.get("warm_up_minutes"):
        yield Finding(f"balance {balance['id']}: switched on for {minutes} min before it weighs", stop=False)
    every = (rows[key] for _, rows, _ in parts.views(plan, basis, {}) for key in _CONTAINERS if key in rows)
    for container in {row["id"]: row for row in every}.values():
        needs = [e for e in container.get("conditioning", ()) if e != WARM]
        if WARM in container.get("conditioning", ()):
            minutes = container.get("warm_minutes")
            needs.insert(0, f"{WARM}, {minutes} min" if minutes else WARM)
        if needs:
            yield Finding(f"container {container['id']} before it is opened: {'; '.join(needs)}", stop=False)


_CONTAINERS = ("container", "solvent_container")


def of_person(person: Person, basis: Mapping[str, Any], today: date, *, step: str = "") -> Iterator[Finding]:
    """Give what stands against a person doing a step, or anything at all, with what a plan rests on."""
    substance = basis["lot"]["substance"]
    for what in trained.against(
        person,
        substance=substance,
        families=basis["hazards"][substance]["families"],
        step=step,
        steps_count=basis["settings"].get("step_training") == "yes",
        today=today,
    ):
        yield Finding(what, group="person")


def _gloves(basis: Mapping[str, Any]) -> Iterator[Finding]:
    """A liquid whose time through the gloves nobody entered is said: unknown is not long."""
    solvent = basis["solvent_lot"]["substance"]
    if solvent == basis["lot"]["substance"]:
        return  # powder alone: there is no liquid
    for row in basis.get("gloves", ()):
        if not any(minutes_through(text)[0] == solvent for text in row.get("breakthrough", ())):
            yield Finding(
                f"gloves {row['id']}: no breakthrough time of {solvent} in the register", stop=False
            )


def _every_mass(
    plan: Plan,
    basis: Mapping[str, Any],
    aims: Mapping[str, Any],
    left_mg: float | None,
    left: Mapping[str, float | None],
) -> Iterator[Finding]:
    """Give what stands against the masses in each vessel, and against what is drawn from each source."""
    if not plan.parts:
        yield from _masses(basis, aims, left_mg)
        return
    drawn: dict[str, float] = {}
    holds: dict[str, float | None] = dict(left)
    against: dict[Finding, list[str]] = {}
    for own, rows, aimed in parts.views(plan, basis, aims):
        part = own.parts[0]
        for finding in _masses(rows, aimed, None, part.content):
            against.setdefault(finding, []).append(part.vessel)
        solute_mg = float(aimed.get(f"{part.content}_mg", 0.0))
        holds[_in(part.key)] = solute_mg + float(aimed.get("solvent_mg", 0.0))
        if not part.is_blank:
            source = _in(part.source) if part.source else part.container
            drawn[source] = drawn.get(source, 0.0) + solute_mg
    for finding, vessels in against.items():
        which = f"vessel {vessels[0]}" if len(vessels) == 1 else f"vessels {spans(vessels)}"
        yield replace(finding, what=f"{which}: {finding.what}")
    for id, mg in drawn.items():
        there = holds.get(id)
        if there is not None and there < mg:
            where = next((f"vessel {p.vessel}" for p in plan.parts if _in(p.key) == id), "")
            yield Finding(
                f"{where or f'container {id}'} holds about {there:.1f} mg and {mg:.1f} mg are to be taken: "
                "too little"
            )


def _in(key: str) -> str:
    """Name the vessel of a part so that no container is named alike."""
    return f"part {key}"


def _masses(
    basis: Mapping[str, Any], aims: Mapping[str, Any], left_mg: float | None, solute: str = "solid"
) -> Iterator[Finding]:
    solid_mg, minimum_mg = float(aims.get(f"{solute}_mg", 0.0)), float(aims["minimum_mg"])
    if 0.0 < solid_mg < minimum_mg:
        yield Finding(
            f"{solid_mg:.2f} mg of {solute} is below the minimum weight of {minimum_mg:.2f} mg of this "
            "balance: make more, or make it stronger and dilute"
        )
    total_mg = solid_mg + float(aims.get("solvent_mg", 0.0))
    capacity_mg = quantity(basis["balance"]["capacity"], "mass").to("mg")
    vessel_mg = quantity(basis["vessel"]["mass"], "mass").to("mg") if basis["vessel"].get("mass") else 0.0
    if total_mg + vessel_mg > capacity_mg:
        yield Finding(
            f"vessel and content, {(total_mg + vessel_mg) / 1000:.1f} g, are over the capacity of "
            f"{basis['balance']['capacity']} of the balance"
        )
    if float(aims["fill_percent"]) > 100:
        yield Finding(
            f"the vessel takes {basis['vessel']['capacity']}: it would be {aims['fill_percent']} % full"
        )
    elif float(aims["fill_percent"]) > HEADSPACE_FROM:
        yield Finding(
            f"the vessel would be {aims['fill_percent']} % full: little room to mix and to expand", stop=False
        )
    if left_mg is not None and left_mg < solid_mg:
        yield Finding(
            f"container {basis['container']['id']} holds about {left_mg:.1f} mg by the record: too little"
        )


def _as_registered(plan: Plan, basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Iterator[Finding]:
    """What the register says of dust and of solubility: said, and goes on."""
    for _, rows, aimed in parts.views(plan, basis, aims):
        for what in soluble.against(rows, aimed):
            yield Finding(what, stop=False)


def _known(basis: Mapping[str, Any]) -> Iterator[Finding]:
    for id, snapshot in basis["hazards"].items():
        if "UNKNOWN" in snapshot["families"]:
            yield Finding(f"no hazard data for {id}: the strictest cautions are shown", stop=False)
        if "entered" in snapshot:
            yield Finding(f"hazards as entered for the solution, {snapshot['entered']}", stop=False)
        for what in snapshot.get("findings", ()):
            yield Finding(f"classification of {id}: {what}", stop=False)
    if basis["lot"].get("concentration"):
        if not basis["lot"].get("concentration_u"):
            yield Finding(
                f"lot {basis['lot']['id']} gives no uncertainty of its concentration: the budget is "
                "incomplete",
                stop=False,
            )
    elif not basis["lot"].get("assay"):
        yield Finding(
            f"lot {basis['lot']['id']} has no assay: taken as pure, the budget is incomplete", stop=False
        )
    elif not basis["lot"].get("assay_u") and not basis["lot"]["assay"].startswith(">"):
        yield Finding(
            f"lot {basis['lot']['id']} gives no uncertainty of its assay: the budget is incomplete",
            stop=False,
        )
