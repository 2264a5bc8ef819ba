"""The cautions that stand before the open step, and the one way to acknowledge them."""

import hashlib
from dataclasses import dataclass
from functools import lru_cache

from store import events as ev
from store.actions.acting import Acting
from store.errors import Refused
from store.hazards import cautions
from store.hazards.cautions import CautionPage
from store.hazards.news import NOTHING, News, PageRead, against
from store.procedure.standing import Standing, standing
from store.procedure.state import PrepState
from store.queries import registers, texts
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Before:
    """What stands before the open step: the page, its digest, and what it asks of this person now."""

    page: CautionPage
    digest: str
    standing: Standing
    families: tuple[str, ...]
    news: News = NOTHING
    """What is new on the page against those that this person has read; that stands first."""
    again: bool = False
    """This person has read the page of this kind of step before, in this prep."""

    @property
    def screens(self) -> tuple[tuple[str, ...], ...]:
        """The screens of the page as this person sees them."""
        return self.page.screens(news=self.news)


def families_of(state: PrepState) -> tuple[str, ...]:
    """Give the hazard families of the open step: as classified in the plan, and the box gas."""
    step = state.current
    found: dict[str, None] = {}
    if step is not None:
        for substance in step.substances:
            found.update(dict.fromkeys(state.basis["hazards"][substance]["families"]))
    if state.basis["enclosure"].get("gas", "air") != "air":
        found["INERT_GAS"] = None
    return tuple(found)


def before(record: Record, state: PrepState, person: str) -> Before:
    """Compose the page of the open step and say whether this person's acknowledgement stands.

    Raises
    ------
    Refused
        The prep has no open step.
    """
    step = state.current
    if step is None:
        raise Refused("This prep has no open step.")
    families = families_of(state)
    rules = registers.rules_for(record, step=step.name, substances=step.substances, families=families)
    page, digest = _composed(
        step.name.value, families, tuple((f"{r.id} (since {r.since})", r.sentence) for r in rules)
    )
    minutes = float(state.basis["settings"]["break_minutes"])
    stands = standing(state, person=person, digest=digest, now=record.now(), break_minutes=minutes)
    read = _read(record, state, person) if stands == Standing.PAGE else ()
    if not read:
        return Before(page, digest, stands, families)
    again = any(one.step == step.name for one in read)
    return Before(page, digest, stands, families, against(page, read), again)


def _read(record: Record, state: PrepState, person: str) -> tuple[PageRead, ...]:
    """Give the pages that this person has read in this prep, each text once, as they were read last."""
    mine = {a.digest: a for a in reversed(state.acks) if a.person == person}
    found = ((a, texts.kept(record, a.digest)) for a in reversed(mine.values()))
    return tuple(PageRead(a.step_name, a.families, kept.text) for a, kept in found if kept is not None)


@lru_cache(maxsize=64)
def _composed(
    step: str, families: tuple[str, ...], rules: tuple[tuple[str, str], ...]
) -> tuple[CautionPage, str]:
    page = cautions.compose(step, families, rules)
    return page, hashlib.sha256(page.text.encode()).hexdigest()


def keep_text(acting: Acting, text: str, what: str) -> str:
    """Write a shown text once, and give its digest."""
    digest = hashlib.sha256(text.encode()).hexdigest()
    if not texts.kept(acting.record, digest):
        acting.record.append(
            ev.TextKept(digest=digest, text=text, what=what),
            person=acting.person,
            subject=f"text:{digest[:16]}",
        )
    return digest


def acknowledge(acting: Acting, prep: str, *, seen: int, screens: int) -> None:
    """Write that this person read every screen of the page that stands before the open step."""
    record = acting.record
    with record.immediate():
        state = record.prep_state(prep)
        _write(acting, state, before(record, state, acting.person), seen=seen, screens=screens, how="page")


def acknowledge_short(acting: Acting, state: PrepState, stands: Before) -> PrepState:
    """Write that the short form stood on the screen; the step's own first key did it."""
    _write(acting, state, stands, seen=state.last_entry, screens=0, how="short")
    return acting.record.prep_state(state.prep)


def _write(acting: Acting, state: PrepState, stands: Before, *, seen: int, screens: int, how: str) -> None:
    keep_text(acting, stands.page.text, "caution page")
    acting.record.append(
        ev.Acknowledged(
            prep=state.prep,
            step=state.step,
            digest=stands.digest,
            families=stands.families,
            screens=screens,
            how=how,
            news=stands.news.words,
        ),
        person=acting.person,
        subject=f"prep:{state.prep}",
        seen=seen,
    )
