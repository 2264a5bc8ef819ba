"""Whether the fields of the site's own rows fit together: gloves, vessels, people, local rules, settings."""

from collections.abc import Callable, Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from store.actions.field_checks import within
from store.actions.known import Known
from store.errors import BadField, StoreError
from store.model.decisions import strength_of
from store.model.registers import Glove, LocalRule, Mixture, Person, Procedure, Row, Setting, Stream, Vessel
from store.model.settings import SETTINGS
from store.model.site_rows import minutes_through
from store.model.words import Role
from store.units import number, plain

HAZARDOUS = (
    "transfer_in",
    "weigh_solid",
    "dose_liquid",
    "add_solvent",
    "transfer_out",
    "decontaminate",
    "waste",
)
"""Steps that open or handle something: what a local rule demands stands before that."""
SPILL = "9"
"""At the lock this digit opens the spill card."""


def order(row: Row, *pairs: tuple[str, str]) -> Iterator[BadField]:
    """Give every second day that lies before its first."""
    for first, then in pairs:
        early, late = getattr(row, first), getattr(row, then)
        if early and late and late < early:
            yield BadField(then, f"{late} is before {first.replace('_', ' ')} {early}: check both days.")


def _glove(row: Glove, known: Known) -> Iterator[BadField]:
    named = [minutes_through(text)[0] for text in row.breakthrough]
    twice = next((n for n in named if named.count(n) > 1), "")
    if twice:
        yield BadField("breakthrough", f"{twice} stands twice: keep one time.")
    if row.breakthrough and not row.source:
        yield BadField("source", "times without a source cannot be checked: write where they come from.")


def _vessel(row: Vessel, known: Known) -> Iterator[BadField]:
    if bool(row.tared) != bool(row.tared_on):
        missing = "tared_on" if row.tared else "tared"
        yield BadField(missing, "an empty mass holds for a day: write both or none.")
    if row.tare_set and not row.tared:
        yield BadField("tared", f"it is in the tare set {plain(row.tare_set)}: write its empty mass.")


def _person(row: Person, known: Known) -> Iterator[BadField]:
    yield from order(row, ("joined", "left"))
    old = known.row("person", row.id)
    gone = old is not None and (old.retired or bool(old.row.get("left")))
    if old is not None and gone and old.row.get("name") != row.name:
        yield BadField("id", f"{row.id} stands for {old.row.get('name')}, who has left: choose a new number.")
    if row.number:
        yield from _number(row, known)
    if row.fit_until and not row.fit_test:
        yield BadField("fit_test", "write what was fit tested: the glove size, or the respirator.")


def _number(row: Person, known: Known) -> Iterator[BadField]:
    if not (row.number.isascii() and row.number.isdigit() and len(row.number) <= 8) or row.number == SPILL:
        yield BadField(
            "number", f"{plain(row.number)}: write 1 to 8 digits; {SPILL} alone is the spill card."
        )
        return
    for other in known.rows("person"):
        if other.id != row.id and row.number in (other.id, other.row.get("number")):
            yield BadField("number", f"{row.number} signs {other.id} in: choose other digits.")


def _rule(row: LocalRule, known: Known) -> Iterator[BadField]:
    body = known.body("rule", row.id)
    old = LocalRule.from_body(body) if body else None
    if old is not None and old.sentence != row.sentence and row.since <= old.since:
        yield BadField(
            "since", f"the rule is another than that since {old.since}: write from when it is in force."
        )
    if row.demands and (idle := [s for s in row.steps if s not in HAZARDOUS]):
        yield BadField(
            "steps", f"nothing is opened or handled in {idle[0]}: what is demanded there is asked by nothing."
        )


def _procedure(row: Procedure, known: Known) -> Iterator[BadField]:
    yield from order(row, ("since", "until"))
    if not row.rules:
        yield BadField("rules", "it allows nothing: write the mixing rules that it is for.")
    if not row.up_to:
        yield BadField("up_to", "no strength is without an end: write up to which it is approved.")
    named = [strength_of(text)[0] for text in row.up_to]
    if twice := next((n for n in named if named.count(n) > 1), ""):
        yield BadField("up_to", f"{twice} stands twice: keep one strength.")
    yield from competent(row.approved_by, "approved_by", known)


def _mixture(row: Mixture, known: Known) -> Iterator[BadField]:
    if row.solvent == row.substance:
        yield BadField("solvent", f"{row.substance} in itself is no solution: write what it is dissolved in.")
    if not row.reason.strip():
        yield BadField("reason", "write why it is classified so, and from which data.")
    from store.actions.row_checks import read_classes  # row_checks stands above this module

    yield from read_classes(row.classification, row.edition)
    for other in known.rows("mixture"):
        same = all(other.row.get(f) == getattr(row, f) for f in ("substance", "solvent"))
        same = same and number(str(other.row["below"])) == number(row.below)
        if other.id != row.id and not other.retired and same:
            yield BadField("below", f"{other.id} classifies the same below {row.below} %: change that one.")
    yield from competent(row.classified_by, "classified_by", known)


def _stream(row: Stream, known: Known) -> Iterator[BadField]:
    if not row.holds:
        yield BadField("holds", "write what may be in it, such as `water: 90`; unknown is not checked.")
    named = [strength_of(text)[0] for text in row.holds]
    if twice := next((n for n in named if named.count(n) > 1), ""):
        yield BadField("holds", f"{twice} stands twice: keep the greater strength.")
    for other in known.rows("stream"):
        same = str(other.row.get("name", "")).casefold() == row.name.casefold()
        if other.id != row.id and not other.retired and same:
            yield BadField("name", f"{other.id} has this name already: change that one.")
    yield from competent(row.approved_by, "approved_by", known)


def competent(person: str, field: str, known: Known) -> Iterator[BadField]:
    """Give what stands against a person's deciding what softens a caution: who answers for it decides."""
    roles = known.body("person", person).get("roles", ())
    if not {Role.SAFETY_OFFICER, Role.REVIEWER} & set(roles):
        yield BadField(field, f"{person} is neither safety officer nor reviewer: name one who is.")


def _setting(row: Setting, known: Known) -> Iterator[BadField]:
    kind = SETTINGS.get(row.id)
    if kind is None:
        near = get_close_matches(row.id, SETTINGS, n=3, cutoff=0.4)
        yield BadField(
            "id", f"there is no setting {plain(row.id)}: write one of {', '.join(near or SETTINGS)}."
        )
    elif kind.kind == "yesno":
        if row.value not in ("yes", "no"):
            yield BadField("value", f"{row.id} is {plain(row.value)}: write yes or no.")
    elif kind.kind == "choice":
        if row.value not in kind.words:
            yield BadField("value", f"{row.id} is {plain(row.value)}: write {' or '.join(kind.words)}.")
    elif kind.kind == "words":
        wrong = [w for w in kind.words_of(row.value) if w not in kind.words]
        if wrong:
            yield BadField(
                "value",
                f"{row.id}: {plain(wrong[0])} is none of {', '.join(kind.words)}; part them by commas.",
            )
    elif kind.kind in ("number", "whole"):
        try:
            within(number(row.value), kind.low, kind.high, whole=kind.kind == "whole")
        except StoreError as error:
            yield BadField("value", f"{row.id}: {error}")


CHECKS: Mapping[type[Row], Callable[[Any, Known], Iterator[BadField]]] = {
    Glove: _glove,
    Vessel: _vessel,
    Person: _person,
    LocalRule: _rule,
    Procedure: _procedure,
    Mixture: _mixture,
    Stream: _stream,
    Setting: _setting,
}
"""What is checked of each of these rows."""
