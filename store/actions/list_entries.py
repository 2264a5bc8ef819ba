"""The entries of a list column of a register row: read by the name of the column, or refused."""

from collections.abc import Callable, Mapping
from difflib import get_close_matches

from store.actions.known import Known
from store.errors import BadInput, StoreError
from store.model.decisions import PLACES, strength_of
from store.model.site_rows import dated, minutes_through
from store.model.words import NOT_CLASSIFIED, StepName
from store.procedure import told
from store.procedure.balance_checks import by_load
from store.queries import register_ids
from store.units import figure, plain


def ref(register: str, text: str, known: Known) -> str:
    """Give the id of a row that may be referred to.

    Raises
    ------
    BadInput
        There is none, or it is retired.
    """
    if known.has(register, text):
        return text
    if known.retired(register, text):
        raise BadInput(f"{register} {text} is retired: name another.")
    near = register_ids.nearest(known.record, register, text)
    then = f"near it: {', '.join(near)}" if near else f"enter it in the {register} register first"
    raise BadInput(f"there is no {register} {plain(text)}: {then}.")


def choice(text: str, choices: tuple[str, ...]) -> str:
    """Give one of a few words.

    Raises
    ------
    BadInput
        It is none of them.
    """
    if text in choices:
        return text
    raise BadInput(f"{plain(text)}: write one of {', '.join(c for c in choices if c)}.")


def _tag(text: str, known: Known) -> tuple[str, ...]:
    from store.hazards.mixing_list import with_implied

    with_implied((text,))
    return (text,)


def _step(text: str, known: Known) -> tuple[str, ...]:
    return (choice(text, tuple(StepName)),)


def _family(text: str, known: Known) -> tuple[str, ...]:
    from store.hazards.families import asked

    return asked(text)


def _substance(text: str, known: Known) -> tuple[str, ...]:
    return (ref("substance", text, known),)


def _trained_for(text: str, known: Known) -> tuple[str, ...]:
    return (text,) if text == "all" or known.has("substance", text) else _family(text, known)


def _calibration_u(text: str, known: Known) -> tuple[str, ...]:
    by_load(text)
    return (text,)


def _training(text: str, known: Known) -> tuple[str, ...]:
    what, since, until = dated(text)
    meant = (what,) if what in tuple(StepName) else _trained_for(what, known)
    return tuple(f"{one}: {since} to {until}" for one in meant)


def _breakthrough(text: str, known: Known) -> tuple[str, ...]:
    solvent, minutes = minutes_through(text)
    return (f"{ref('substance', solvent, known)}: {figure(minutes)}",)


def _mixing_rule(text: str, known: Known) -> tuple[str, ...]:
    from store.hazards.mixing_list import rules

    ids = tuple(str(rule["id"]) for rule in rules())
    if text not in ids:
        near = get_close_matches(text, ids, n=3, cutoff=0.4)
        raise BadInput(f"{plain(text)} is no mixing rule: write one of {', '.join(near or ids[:3])} ...")
    return (text,)


def _place(text: str, known: Known) -> tuple[str, ...]:
    return (choice(text, PLACES),)


def _person(text: str, known: Known) -> tuple[str, ...]:
    return (ref("person", text, known),)


def _up_to(text: str, known: Known) -> tuple[str, ...]:
    substance, percent = strength_of(text)
    return (f"{ref('substance', substance, known)}: {figure(percent)}",)


def _holds(text: str, known: Known) -> tuple[str, ...]:
    from store.hazards import mixing_list

    name, percent = strength_of(text)
    if not (mixing_list.known(name) or mixing_list.is_tag(name)):
        try:
            name = ref("substance", name, known)
        except StoreError as error:
            near = get_close_matches(name, mixing_list.names(), n=3, cutoff=0.5)
            raise BadInput(
                f"{plain(name)} is neither a name nor a tag of the mixing rules nor a substance of the "
                f"register: write {', '.join(near) or 'a tag such as organic_solvent'}."
            ) from error
    return (f"{name}: {figure(percent)}",)


def _checklist(text: str, known: Known) -> tuple[str, ...]:
    told.item(text)
    return (text,)


def _class(text: str, known: Known) -> tuple[str, ...]:
    return (NOT_CLASSIFIED,) if text.casefold() == NOT_CLASSIFIED else (text,)


ENTRIES: Mapping[str, Callable[[str, Known], tuple[str, ...]]] = {
    "tags": _tag,
    "steps": _step,
    "families": _family,
    "substances": _substance,
    "trained_for": _trained_for,
    "training": _training,
    "breakthrough": _breakthrough,
    "classification": _class,
    "calibration_u": _calibration_u,
    "rules": _mixing_rule,
    "places": _place,
    "people": _person,
    "up_to": _up_to,
    "holds": _holds,
    "checklist": _checklist,
}
"""How the entries of a list are read; families stand by their ids, however an officer names them."""
