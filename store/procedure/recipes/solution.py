"""The recipes of a solution: one vessel, a solid and a solvent."""

from collections.abc import Mapping
from typing import Any

from store.model.prep import Plan, Step
from store.model.words import ActKind, StepName
from store.procedure.conditioning import conditioning, mixing
from store.procedure.recipes.acts import (
    AS_PLANNED,
    BEFORE_MORE,
    CLEAR,
    COMPARE,
    UNCAPPED,
    act,
    clean_and_waste,
    note,
    off_the_pan,
    pressure,
)


def transfer_in(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """Container, vessel and solvent go in; the name on the container is compared with the plan."""
    lot = basis["lot"]
    acts = [
        act(
            COMPARE,
            ActKind.ANSWER,
            f"Read the label of the container: is it container {plan.container}, lot {lot['id']}, "
            f"{basis['substances'][lot['substance']]['name']}?",
            choices=AS_PLANNED,
        )
    ]
    acts += pressure(basis, "Read the pressure of the enclosure against the room and type it.")
    extra: dict[str, str] = {}
    for key, suffix in (("container", ""), ("solvent_container", "_solvent")):
        acts += conditioning(basis[key], suffix, extra)
    acts += [
        act("prelabel", ActKind.CONFIRM, f"Put this pre-label on vessel {plan.vessel}.", "pre-label"),
        act(
            "in",
            ActKind.HANDLE,
            f"Bring in container {plan.container} (closed), vessel {plan.vessel} and solvent container "
            f"{plan.solvent_container}.",
            "transfer in",
        ),
        note(),
    ]
    return Step(
        name=StepName.TRANSFER_IN,
        acts=tuple(acts),
        container=plan.container,
        vessel=plan.vessel,
        substances=(lot["substance"],),
        extra=extra,
    )


def check_balance(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """Zero and check weight, before anything is opened."""
    balance = basis["balance"]
    minutes = balance.get("warm_up_minutes", "")
    warm = f"Switched on for {minutes} min or longer? " if minutes else ""
    acts = [act("zero", ActKind.READ, f"{warm}Pan empty, doors closed: zero the display.", "zero")]
    if balance.get("check_mass"):
        acts.append(
            act(
                "check", ActKind.READ, f"Put the check weight of {balance['check_mass']} on the pan.", "check"
            )
        )
        acts.append(
            act("off", ActKind.READ, "Take the check weight off: the display returns to zero.", "zero")
        )
    return Step(name=StepName.CHECK_BALANCE, acts=tuple(acts))


def tare(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """The empty vessel's mass, then the display to zero where the balance shows net."""
    acts = [
        act(
            "vessel",
            ActKind.READ,
            f"Zero the empty pan, put the empty vessel {plan.vessel} on without its cap, doors closed.",
            "vessel",
        )
    ]
    if basis["balance"].get("shows", "net") != "gross":
        acts.append(act("tared", ActKind.READ, "Press the tare key: the display shows zero.", "tared"))
    return Step(name=StepName.TARE, acts=tuple(acts), vessel=plan.vessel, extra=UNCAPPED)


def weigh_solid(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """The hazardous act: open, dose, close, zero return, note."""
    lot = basis["lot"]
    name = basis["substances"][lot["substance"]]["name"]
    acts = (
        *pressure(basis, "Before you open: read the pressure of the enclosure again and type it."),
        *mixing(basis["container"]),
        act("open", ActKind.OPEN, f"Open container {plan.container} of {name}.", "container"),
        act("dose", ActKind.DOSE, f"Dose {name} into vessel {plan.vessel}.", "solid"),
        act("close", ActKind.CLOSE, f"Close container {plan.container} and cap the vessel.", "container"),
        off_the_pan(),
        note(),
    )
    return Step(
        name=StepName.WEIGH_SOLID,
        acts=acts,
        container=plan.container,
        vessel=plan.vessel,
        substances=(lot["substance"],),
        extra=UNCAPPED,
    )


def add_solvent(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """Solvent by mass, so much as the powder that fell needs."""
    solvent = basis["solvent_lot"]
    name = basis["substances"][solvent["substance"]]["name"]
    acts = (
        *mixing(basis["solvent_container"]),
        act(
            "open",
            ActKind.OPEN,
            f"Uncap vessel {plan.vessel}; open solvent container {plan.solvent_container}.",
            "vessel",
        ),
        act(
            "zeroed",
            ActKind.READ,
            f"Put vessel {plan.vessel} on the pan without its cap, doors closed"
            + BEFORE_MORE[basis["balance"].get("shows", "net")],
            "tared",
        ),
        act("dose", ActKind.DOSE, f"Add {name} to vessel {plan.vessel}.", "solvent"),
        act("close", ActKind.CLOSE, "Cap the vessel; close the solvent container.", "vessel"),
        off_the_pan(),
        note(),
    )
    return Step(
        name=StepName.ADD_SOLVENT,
        acts=acts,
        container=plan.solvent_container,
        vessel=plan.vessel,
        substances=(basis["lot"]["substance"], solvent["substance"]),
        extra=UNCAPPED,
    )


def after_mixing(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """What every solution needs: dissolve, seal and label, out, clean, waste."""
    both = (basis["lot"]["substance"], basis["solvent_lot"]["substance"])
    return (
        Step(
            name=StepName.DISSOLVE,
            acts=(
                act(
                    "look",
                    ActKind.ANSWER,
                    "Swirl, closed, until nothing is left. Hold it against the light: how does it look?",
                    choices=CLEAR,
                ),
            ),
            vessel=plan.vessel,
            substances=both,
        ),
        Step(
            name=StepName.SEAL_LABEL,
            acts=(
                act(
                    "sealed",
                    ActKind.READ,
                    f"Seal vessel {plan.vessel}. Zero the empty pan, put the sealed vessel on.",
                    "sealed",
                ),
                act("label", ActKind.CONFIRM, "Put this label on the vessel and read it back.", "label"),
            ),
            vessel=plan.vessel,
            substances=both,
        ),
        Step(
            name=StepName.TRANSFER_OUT,
            acts=(
                act(
                    "out",
                    ActKind.HANDLE,
                    f"Wipe vessel {plan.vessel} and container {plan.container}, bag them, bring them out.",
                    "transfer out",
                ),
                note(),
            ),
            vessel=plan.vessel,
            substances=both,
        ),
        *clean_and_waste(basis, both),
    )


def solid_first(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Solid, then the solvent that the solid needs: the usual order."""
    before = (transfer_in, check_balance, tare, weigh_solid, add_solvent)
    return (*(make(plan, basis) for make in before), *after_mixing(plan, basis))


def solvent_first(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Solvent, then the solid that the solvent needs: where the solid heats up or must go into liquid."""
    before = (transfer_in, check_balance, tare, add_solvent, weigh_solid)
    return (*(make(plan, basis) for make in before), *after_mixing(plan, basis))
