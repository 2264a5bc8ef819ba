"""Plan a prep: everything decided is computed, checked and explained first, then written whole."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from store import events as ev
from store.actions import economy, parted, rules_now, streams_now
from store.actions.acting import Acting, LetThrough
from store.actions.hazards_now import of_row
from store.errors import BadInput, NeedsSecondPerson, Refused
from store.model.prep import Plan, Step
from store.model.registers import Person, Procedure
from store.model.settings import SETTINGS
from store.model.words import Role
from store.procedure import checks, entered, limits_told, meeting, outcome, portions, recipes, warned
from store.procedure.checks import Finding
from store.procedure.recipes import rack
from store.queries import balances, lots, registers
from store.record.record import Record
from store.record.upgrade import libraries


@dataclass(frozen=True, slots=True)
class Explained:
    """A plan looked at from all sides; nothing of it is written yet."""

    plan: Plan
    basis: dict[str, Any]
    aims: dict[str, Any]
    steps: tuple[Step, ...]
    findings: tuple[Finding, ...]
    limits: tuple[str, ...] = ()
    """Which generic concentration limits the mixture reaches: information with its source."""

    @property
    def final(self) -> tuple[str, ...]:
        """What nobody lets through, as the site's settings say."""
        settings = self.basis["settings"]
        if settings["second_person"] != "yes":
            return self.stops
        never = SETTINGS["never_let_through"].words_of(settings.get("never_let_through", ""))
        return tuple(f.what for f in self.findings if f.stop and f.group in never)

    @property
    def stops(self) -> tuple[str, ...]:
        """What a second person would have to let through."""
        return tuple(f.what for f in self.findings if f.stop)


def gather(record: Record, plan: Plan) -> dict[str, Any]:
    """Give every register row that a plan uses, the settings in force and the hazards as classified now.

    Raises
    ------
    NotFound
        The plan names something that is not in its register.
    """
    container = parted.container(record, plan.container)
    solvent_container = parted.container(record, plan.solvent_container)
    lot = registers.in_use(record, "lot", container["lot"])
    solvent_lot = registers.in_use(record, "lot", solvent_container["lot"])
    several = parted.gather(record, plan)
    ids = dict.fromkeys((lot["substance"], solvent_lot["substance"], *parted.substances(several)))
    substances = {id: registers.in_use(record, "substance", id) for id in ids}
    mixtures = [dict(r.row) for r in registers.rows(record, "mixture")]
    hazards = {id: of_row(row) for id, row in substances.items()}
    if mixtures and not plan.rehearsal:
        used = (lot, solvent_lot, *parted.lots_taken(several))
        hazards |= entered.of_lots(mixtures, used, substances, record.due_now().date())
    enclosure = registers.in_use(record, "enclosure", plan.enclosure)
    return {
        "container": container,
        "solvent_container": solvent_container,
        "lot": lot,
        "solvent_lot": solvent_lot,
        "substances": substances,
        "hazards": hazards,
        "balance": balances.in_force(record, registers.in_use(record, "balance", plan.balance)),
        "enclosure": enclosure,
        "streams": streams_now.used(record, {"substances": substances, "enclosure": enclosure}),
        "gloves": [
            dict(r.row) for r in registers.rows(record, "glove") if r.row["enclosure"] == plan.enclosure
        ],
        "vessel": registers.in_use(record, "vessel", plan.vessel),
        "settings": registers.settings(record),
        "carriers": _carriers(record, lot=lot, solvent_lot=solvent_lot),
        "mixtures": mixtures,
        "procedures": [dict(r.row) for r in registers.rows(record, "procedure")],
        **several,
    }


def _carriers(record: Record, **lots: dict[str, Any]) -> dict[str, str]:
    """What the solutions among the lots are dissolved in, by name."""
    return {
        key: str(registers.body(record, "substance", lot["solvent"])["name"])
        for key, lot in lots.items()
        if lot.get("solvent")
    }


def explain(acting: Acting, plan: Plan) -> Explained:
    """Compute, check and explain a plan without writing it.

    Raises
    ------
    BadInput
        The target or the amount is not a quantity of a kind that fits.
    NotFound, UnknownCode
        Something that the plan names is not there.
    Refused
        A rehearsal names something hazardous.
    """
    record = acting.record
    basis = gather(record, plan)
    of_rack = plan.is_rack
    wet = not of_rack or rack.dissolves(plan)
    if wet and basis["lot"]["substance"] == basis["solvent_lot"]["substance"]:
        raise BadInput("Substance and solvent are the same: choose another container of solvent.")
    if not plan.parts and basis["lot"].get("concentration"):
        raise BadInput(
            f"Container {plan.container} holds a solution, {basis['lot']['concentration']}: plan a dilution "
            "or a series of it."
        )
    if plan.rehearsal:
        _must_be_harmless(basis)
    aims = (portions if of_rack else outcome).aims(plan, basis)
    who: Person = registers.person(record, acting.person)
    today: date = record.due_now().date()
    left = lots.stock(record, plan.container).left_mg
    check = balances.check_standing(record, basis["balance"])
    findings = checks.of_plan(
        plan, basis, person=who, today=today, left_mg=left, aims=aims, check=check,
        left={p.container: lots.stock(record, p.container).left_mg for p in plan.parts if p.container},
    )  # fmt: skip
    if of_rack:
        findings = (*findings, *portions.findings(plan, aims, left))
    procedures = [Procedure.from_body(row) for row in basis["procedures"]]
    met = [
        meeting.said(m, procedures, person=acting.person, today=today)
        for m in meeting.of_plan(plan, basis, aims)
    ]
    basis["mixing"] = warned.kept(met)
    spared = economy.findings(record, plan, basis, aims)
    steps = recipes.steps(plan, basis)
    ruled = rules_now.of_plan(record, plan, basis, steps)
    every = (*findings, *dict.fromkeys(meeting.findings(met)), *ruled, *spared)
    findings = tuple(sorted(every, key=lambda f: not f.stop))
    told = () if plan.rehearsal else limits_told.of_plan(plan, basis, aims)
    return Explained(plan, basis, aims, steps, findings, told)


def _must_be_harmless(basis: dict[str, Any]) -> None:
    """Refuse a rehearsal with anything that can hurt: what it handles is in no total of exposure.

    Raises
    ------
    Refused
        Solid or solvent is classified, or nothing is known about it; nobody lets that through.
    """
    for id, found in basis["hazards"].items():
        if found["no_data"]:
            why = "nothing is known about it"
        elif found["families"] or found["statements"]:
            why = "it is classified as hazardous"
        else:
            continue
        name = basis["substances"][id]["name"]
        raise Refused(
            f"A rehearsal takes a harmless powder and solvent; {name} is none: {why}. "
            "Choose containers of substances that are assessed and carry no statement."
        )


def write(acting: Acting, plan: Plan, *, let_through: LetThrough | None = None) -> str:
    """Write a plan and give the number of the prep.

    Raises
    ------
    NotAllowed
        No operator.
    NeedsSecondPerson
        Something stands against it, and nobody let it through.
    Refused
        Something stands against it, and the site's settings let nobody let it through.
    """
    acting.must(Role.OPERATOR)
    record = acting.record
    with record.immediate():
        found = explain(acting, plan)
        if found.stops:
            if found.final:
                raise Refused("This plan is refused: " + "; ".join(found.final) + ".")
            if let_through is None:
                raise NeedsSecondPerson(found.stops)
        prep = record.next_prep_id()
        event = ev.Planned(
            prep=prep,
            plan=plan.to_body(),
            steps=tuple(step.to_body() for step in found.steps),
            basis=found.basis,
            aims=found.aims,
            let_through=(let_through.to_body(),) if let_through else (),
            libraries=libraries(),
        )
        record.append(event, person=acting.person, subject=f"prep:{prep}")
    return prep
