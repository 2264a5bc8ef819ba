"""Recipes: a plan becomes steps. A recipe is data in the order that the method wants."""

from collections.abc import Callable, Mapping
from typing import Any

from store.errors import UnknownCode
from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, StepName
from store.procedure import warned
from store.procedure.conditioning import conditioning, mixing

COMPARE = "compare"
"""Key of the act that compares the label of the container with the plan; a scanned label answers it."""
AS_PLANNED = ("it is as planned", "it is not")
UNCAPPED = {"closure": "without its cap"}
"""How the vessel is on the pan, at its tare as at its gross: another closure would be weighed as powder."""
_BEFORE_MORE = {
    "net": ", and zero the display.",
    "gross": ": take its gross.",
    "sum": ": the sum on the display goes on from where it was.",
}
CLEAR = ("clear, all dissolved", "not yet", "it does not dissolve")


def _act(
    key: str,
    kind: ActKind,
    text: str,
    what: str = "",
    *,
    choices: tuple[str, ...] = (),
    unit: str = "",
) -> Act:
    return Act(key=key, kind=kind, text=text, what=what, choices=choices, unit=unit)


def _note() -> Act:
    return _act("note", ActKind.NOTE, "Exposure note: how did it go?")


def _pressure(basis: Mapping[str, Any], text: str) -> tuple[Act, ...]:
    """Ask for the pressure where the enclosure has limits for it."""
    enclosure = basis["enclosure"]
    if not (enclosure.get("pressure_low") or enclosure.get("pressure_high")):
        return ()
    return (_act("pressure", ActKind.TELL, text, "pressure", unit="Pa"),)


def transfer_in(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """Container, vessel and solvent go in; the name on the container is compared with the plan."""
    lot = basis["lot"]
    acts = [
        _act(
            COMPARE,
            ActKind.ANSWER,
            f"Read the label of the container: is it container {plan.container}, lot {lot['id']}, "
            f"{basis['substances'][lot['substance']]['name']}?",
            choices=AS_PLANNED,
        )
    ]
    acts += _pressure(basis, "Read the pressure of the enclosure against the room and type it.")
    extra: dict[str, str] = {}
    for key, suffix in (("container", ""), ("solvent_container", "_solvent")):
        acts += conditioning(basis[key], suffix, extra)
    acts += [
        _act("prelabel", ActKind.CONFIRM, f"Put this pre-label on vessel {plan.vessel}.", "pre-label"),
        _act(
            "in",
            ActKind.HANDLE,
            f"Bring in container {plan.container} (closed), vessel {plan.vessel} and solvent container "
            f"{plan.solvent_container}.",
            "transfer in",
        ),
        _note(),
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
    acts = [_act("zero", ActKind.READ, "Pan empty, doors closed: zero the display.", "zero")]
    if balance.get("check_mass"):
        acts.append(
            _act(
                "check", ActKind.READ, f"Put the check weight of {balance['check_mass']} on the pan.", "check"
            )
        )
        acts.append(
            _act("off", ActKind.READ, "Take the check weight off: the display returns to zero.", "zero")
        )
    return Step(name=StepName.CHECK_BALANCE, acts=tuple(acts))


def tare(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """The empty vessel's mass, then the display to zero where the balance shows net."""
    acts = [
        _act(
            "vessel",
            ActKind.READ,
            f"Zero the empty pan, put the empty vessel {plan.vessel} on without its cap, doors closed.",
            "vessel",
        )
    ]
    if basis["balance"].get("shows", "net") != "gross":
        acts.append(_act("tared", ActKind.READ, "Press the tare key: the display shows zero.", "tared"))
    return Step(name=StepName.TARE, acts=tuple(acts), vessel=plan.vessel, extra=UNCAPPED)


def weigh_solid(plan: Plan, basis: Mapping[str, Any]) -> Step:
    """The hazardous act: open, dose, close, zero return, note."""
    lot = basis["lot"]
    name = basis["substances"][lot["substance"]]["name"]
    acts = (
        *_pressure(basis, "Before you open: read the pressure of the enclosure again and type it."),
        *mixing(basis["container"]),
        _act("open", ActKind.OPEN, f"Open container {plan.container} of {name}.", "container"),
        _act("dose", ActKind.DOSE, f"Dose {name} into vessel {plan.vessel}.", "solid"),
        _act("close", ActKind.CLOSE, f"Close container {plan.container} and cap the vessel.", "container"),
        _act(
            "return",
            ActKind.READ,
            "Take the vessel off the pan, doors closed: the empty pan must come back to its zero.",
            "return",
        ),
        _note(),
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
        _act(
            "open",
            ActKind.OPEN,
            f"Uncap vessel {plan.vessel}; open solvent container {plan.solvent_container}.",
            "vessel",
        ),
        _act(
            "zeroed",
            ActKind.READ,
            f"Put vessel {plan.vessel} on the pan without its cap, doors closed"
            + _BEFORE_MORE[basis["balance"].get("shows", "net")],
            "tared",
        ),
        _act("dose", ActKind.DOSE, f"Add {name} to vessel {plan.vessel}.", "solvent"),
        _act("close", ActKind.CLOSE, "Cap the vessel; close the solvent container.", "vessel"),
        _act(
            "return",
            ActKind.READ,
            "Take the vessel off the pan, doors closed: the empty pan must come back to its zero.",
            "return",
        ),
        _note(),
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
    cleaning = tuple(basis["enclosure"].get("cleaning", ())) or ("the liquid of the site's procedure",)
    return (
        Step(
            name=StepName.DISSOLVE,
            acts=(
                _act(
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
                _act(
                    "sealed",
                    ActKind.READ,
                    f"Seal vessel {plan.vessel}. Zero the empty pan, put the sealed vessel on.",
                    "sealed",
                ),
                _act("label", ActKind.CONFIRM, "Put this label on the vessel and read it back.", "label"),
            ),
            vessel=plan.vessel,
            substances=both,
        ),
        Step(
            name=StepName.TRANSFER_OUT,
            acts=(
                _act(
                    "out",
                    ActKind.HANDLE,
                    f"Wipe vessel {plan.vessel} and container {plan.container}, bag them, bring them out.",
                    "transfer out",
                ),
                _note(),
            ),
            vessel=plan.vessel,
            substances=both,
        ),
        Step(
            name=StepName.DECONTAMINATE,
            acts=(
                _act("liquid", ActKind.ANSWER, "Clean with which liquid?", "cleaning", choices=cleaning),
                _act("open", ActKind.OPEN, "Begin: tools, pan surroundings, floor, gloves.", "surfaces"),
                _act(
                    "close", ActKind.CLOSE, "Done: every surface wiped, wipes in the closed bag.", "surfaces"
                ),
                _note(),
            ),
            substances=both,
        ),
        Step(
            name=StepName.WASTE,
            acts=(
                _act(
                    "waste",
                    ActKind.HANDLE,
                    f"Close and label the waste bag; stream: {_stream(basis)}. Bring it to its place.",
                    "waste",
                ),
                _note(),
            ),
            substances=both,
        ),
    )


def _stream(basis: Mapping[str, Any]) -> str:
    solute = basis["substances"][basis["lot"]["substance"]]
    return solute.get("waste_stream") or "ask, none is set for this substance"


def solid_first(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Solid, then the solvent that the solid needs: the usual order."""
    before = (transfer_in, check_balance, tare, weigh_solid, add_solvent)
    return (*(make(plan, basis) for make in before), *after_mixing(plan, basis))


def solvent_first(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Solvent, then the solid that the solvent needs: where the solid heats up or must go into liquid."""
    before = (transfer_in, check_balance, tare, add_solvent, weigh_solid)
    return (*(make(plan, basis) for make in before), *after_mixing(plan, basis))


RECIPES: Mapping[str, Callable[[Plan, Mapping[str, Any]], tuple[Step, ...]]] = {
    "solution, solid first": solid_first,
    "solution, solvent first": solvent_first,
}
"""Every recipe by the name that stands in the plan."""


def steps(plan: Plan, basis: Mapping[str, Any]) -> tuple[Step, ...]:
    """Give the steps of a plan.

    Raises
    ------
    UnknownCode
        The plan names a recipe that there is not.
    """
    if plan.recipe not in RECIPES:
        raise UnknownCode(f"There is no recipe {plan.recipe!r}: choose {' or '.join(RECIPES)}.")
    return warned.into(RECIPES[plan.recipe](plan, basis), basis)
