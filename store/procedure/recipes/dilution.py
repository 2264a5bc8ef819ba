"""The recipe of dilutions and series: aliquots of solutions, each vessel made up with its own solvent.

What a container is opened for is done in one pass: every vessel that takes from it, one opening, one step.
Vessels that are made from other vessels of the plan come after those, so a dilution is a row of passes over
one vessel, and a series from one stock is one pass over all.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from store.model.prep import Act, Part, Plan, Step
from store.model.words import ActKind, StepName
from store.procedure import parts
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
    stream,
)
from store.procedure.recipes.solution import check_balance

Rows = Mapping[str, Any]


def _rows(plan: Plan, basis: Rows, part: Part) -> Rows:
    return parts.view(plan, basis, {}, part.key)[1]


def _held(rows: Rows) -> tuple[str, ...]:
    """What counts as hazard of a solution: the analyte and what carries it."""
    lot = rows["lot"]
    return tuple(dict.fromkeys(x for x in (lot["substance"], lot.get("solvent", "")) if x))


def _all(plan: Plan, basis: Rows) -> tuple[str, ...]:
    found: list[str] = []
    for part in plan.parts:
        rows = _rows(plan, basis, part)
        found += [*(() if part.is_blank else _held(rows)), rows["solvent_lot"]["substance"]]
    return tuple(dict.fromkeys(found))


def _names(of: Sequence[Part]) -> str:
    names = [p.vessel for p in of]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _stocks(plan: Plan, basis: Rows) -> dict[str, Rows]:
    """Give every container that is brought in as a source, with the rows of the first part that uses it."""
    found: dict[str, Rows] = {}
    for part in plan.parts:
        if part.container:
            found.setdefault(part.container, _rows(plan, basis, part))
    return found


def _transfer_in(plan: Plan, basis: Rows) -> Step:
    acts: list[Act] = []
    extra: dict[str, str] = {}
    stocks = _stocks(plan, basis)
    for number, (id, rows) in enumerate(stocks.items(), 1):
        key, suffix = (COMPARE, "") if number == 1 else (f"{COMPARE}:{number}", f"_{number}")
        name = basis["substances"][rows["lot"]["substance"]]["name"]
        acts.append(
            act(
                key,
                ActKind.ANSWER,
                f"Read the label of the container: is it container {id}, lot {rows['lot']['id']}, {name} "
                f"{rows['lot']['concentration']}?",
                choices=AS_PLANNED,
            )
        )
        extra[f"container:{key}"] = id
        acts += conditioning(rows["container"], suffix, extra)
    acts += pressure(basis, "Read the pressure of the enclosure against the room and type it.")
    solvents: dict[str, Rows] = {}
    for part in plan.parts:
        solvents.setdefault(part.solvent_container, _rows(plan, basis, part)["solvent_container"])
    for number, row in enumerate(solvents.values(), 1):
        acts += conditioning(row, f"_solvent{number if number > 1 else ''}", extra)
    acts += [
        act("prelabel", ActKind.CONFIRM, "Put these pre-labels on the vessels.", "pre-labels"),
        act(
            "in",
            ActKind.HANDLE,
            f"Bring in, closed: container {' and '.join(stocks)}, vessel {_names(plan.parts)}, solvent "
            f"container {' and '.join(solvents)}.",
            "transfer in",
        ),
        note(),
    ]
    return Step(
        name=StepName.TRANSFER_IN,
        acts=tuple(acts),
        container=plan.container,
        substances=_all(plan, basis),
        extra=extra,
    )


def _tare(plan: Plan, basis: Rows) -> Step:
    acts = tuple(
        act(
            "vessel",
            ActKind.READ,
            f"Zero the empty pan, put the empty vessel {part.vessel} on without its cap, doors closed.",
            "vessel",
            part=part,
        )
        for part in plan.parts
    )
    return Step(name=StepName.TARE, acts=acts, extra=UNCAPPED)


def _on_pan(basis: Rows, part: Part) -> Act:
    return act(
        "zeroed",
        ActKind.READ,
        f"Put vessel {part.vessel} on the pan without its cap, doors closed"
        + BEFORE_MORE[basis["balance"].get("shows", "net")],
        "tared",
        part=part,
    )


def _aliquots(plan: Plan, basis: Rows, of: Sequence[Part]) -> Step:
    """One opening of one source: an aliquot into every vessel that takes from it."""
    rows = _rows(plan, basis, of[0])
    name = basis["substances"][rows["lot"]["substance"]]["name"]
    source = plan.part(of[0].source).vessel if of[0].source else ""
    where = f"vessel {source}" if source else f"container {rows['container']['id']}"
    acts = [*pressure(basis, "Before you open: read the pressure of the enclosure again and type it.")]
    acts += mixing(rows["container"])
    acts.append(_on_pan(basis, of[0]))
    acts.append(act("open", ActKind.OPEN, f"Open {where}, the solution of {name}.", "container"))
    for number, part in enumerate(of):
        if number:
            acts.append(_on_pan(basis, part))
        text = f"Dose solution of {name} from {where} into vessel {part.vessel}."
        acts.append(act("dose", ActKind.DOSE, text, "aliquot", part=part))
    # Made anew alone, one vessel is filled where the step serves several.
    many = "each vessel just filled" if len(of) > 1 else f"vessel {of[0].vessel}"
    closed = f"Close {where} and cap {many}; the tip goes to the waste."
    acts += [act("close", ActKind.CLOSE, closed, "container"), off_the_pan(), note()]
    return Step(
        name=StepName.DOSE_LIQUID,
        acts=tuple(acts),
        container=rows["container"]["id"],
        substances=_held(rows),
        extra=UNCAPPED,
    )


def _solvent(plan: Plan, basis: Rows, of: Sequence[Part], container: str) -> Step:
    """One opening of one solvent: what every vessel needs by what is in it."""
    rows = _rows(plan, basis, of[0])
    name = basis["substances"][rows["solvent_lot"]["substance"]]["name"]
    held = [s for part in of if not part.is_blank for s in _held(_rows(plan, basis, part))]
    acts = [*mixing(rows["solvent_container"])]
    many = "one vessel at a time" if len(of) > 1 else f"vessel {of[0].vessel}"
    acts.append(act("open", ActKind.OPEN, f"Open solvent container {container}; uncap {many}.", "vessel"))
    for part in of:
        acts.append(_on_pan(basis, part))
        acts.append(
            act(
                "dose",
                ActKind.DOSE,
                f"Add {name} to vessel {part.vessel}, then cap it.",
                "solvent",
                part=part,
            )
        )
    acts += [
        act("close", ActKind.CLOSE, "Cap the vessel; close the solvent container.", "vessel"),
        off_the_pan(),
        note(),
    ]
    return Step(
        name=StepName.ADD_SOLVENT,
        acts=tuple(acts),
        container=container,
        substances=tuple(dict.fromkeys((*held, rows["solvent_lot"]["substance"]))),
        extra=UNCAPPED,
    )


def _mix(plan: Plan, basis: Rows, of: Sequence[Part]) -> Step:
    acts = tuple(
        act(
            "look",
            ActKind.ANSWER,
            f"Turn vessel {part.vessel} over ten times, closed. Hold it against the light: how does it look?",
            choices=CLEAR,
            part=part,
        )
        for part in of
    )
    return Step(name=StepName.DISSOLVE, acts=acts, substances=_all(plan, basis))


def _by(of: Sequence[Part], key: str) -> Iterator[tuple[str, list[Part]]]:
    """Give parts together that share a container, in the order of the plan."""
    found: dict[str, list[Part]] = {}
    for part in of:
        found.setdefault(str(getattr(part, key)), []).append(part)
    yield from found.items()


def _generation(plan: Plan, basis: Rows, of: Sequence[Part], *, solvent_last: bool) -> Iterator[Step]:
    solvent = [_solvent(plan, basis, each, id) for id, each in _by(of, "solvent_container")]
    taking = [p for p in of if not p.is_blank]
    aliquots = [
        _aliquots(plan, basis, each)
        for _, some in _by(taking, "source")
        for _, each in _by(some, "container")
    ]
    yield from (*aliquots, *solvent) if solvent_last else (*solvent, *aliquots)
    yield _mix(plan, basis, of)


def _seal_and_out(plan: Plan, basis: Rows) -> Iterator[Step]:
    kept, every = [p for p in plan.parts if p.keep], _all(plan, basis)
    acts: list[Act] = []
    for part in kept:
        text = f"Seal vessel {part.vessel}. Zero the empty pan, put the sealed vessel on."
        acts.append(act("sealed", ActKind.READ, text, "sealed", part=part))
        text = f"Put this label on vessel {part.vessel} and read it back."
        acts.append(act("label", ActKind.CONFIRM, text, "label", part=part))
    yield Step(name=StepName.SEAL_LABEL, acts=tuple(acts), substances=every)
    text = f"Wipe vessel {_names(kept)} and container {' and '.join(_stocks(plan, basis))}, bag them, "
    out = act("out", ActKind.HANDLE, f"{text}bring them out.", "transfer out")
    yield Step(name=StepName.TRANSFER_OUT, acts=(out, note()), substances=every)


def _rests(plan: Plan, basis: Rows) -> tuple[Act, ...]:
    """What is rinsed and what is discarded, each a handling of its own."""
    into = stream(basis)
    rinse = f"Rinse what carried solution with solvent; tips and rinse into the waste, stream: {into}."
    return (
        act("rinse", ActKind.HANDLE, rinse, "rinse to waste"),
        *(
            act(
                "discard",
                ActKind.HANDLE,
                f"Empty vessel {part.vessel} and its rinse into the waste, stream: {into}.",
                "discarded to waste",
                part=part,
            )
            for part in plan.parts
            if not part.keep
        ),
    )


def _steps(plan: Plan, basis: Rows, *, solvent_last: bool) -> tuple[Step, ...]:
    passes = [
        step
        for of in parts.generations(plan)
        for step in _generation(plan, basis, of, solvent_last=solvent_last)
    ]
    return (
        _transfer_in(plan, basis),
        check_balance(plan, basis),
        _tare(plan, basis),
        *passes,
        *_seal_and_out(plan, basis),
        *clean_and_waste(basis, _all(plan, basis), _rests(plan, basis)),
    )


def aliquot_first(plan: Plan, basis: Rows) -> tuple[Step, ...]:
    """Aliquot, then the solvent that it needs as it fell: the usual order."""
    return _steps(plan, basis, solvent_last=True)


def solvent_first(plan: Plan, basis: Rows) -> tuple[Step, ...]:
    """Solvent, then the aliquot that it needs: where the solution must go into the liquid."""
    return _steps(plan, basis, solvent_last=False)
