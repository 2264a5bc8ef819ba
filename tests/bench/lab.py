"""A whole laboratory's record, invented and seeded, every entry through the record's own bulk path.

40 people at four enclosures, 1,000 substances, ten years; each prep has four doses and three handlings, 22
entries. A million doses are 5.5 million entries. The chain is whole, and `verify` passes.
"""

from collections.abc import Callable, Iterator
from datetime import date, datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from store import events as ev
from store.hazards import snapshot
from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, StepName
from store.record.record import Record

PEOPLE, SUBSTANCES, YEARS, LOTS, ENCLOSURES = 40, 1000, 10, 2, 4
FIRST = date(2016, 1, 4)
DAYS = YEARS * 365
DOSES = 4
"""Of a prep."""
ZONE = timezone(timedelta(hours=1))
CLASSES = (
    ("Carc. 1B H350", "Resp. Sens. 1 H334"), ("Acute Tox. 2 H300",), ("Skin Corr. 1A H314",),
    ("Ox. Sol. 2 H272",), ("Skin Sens. 1 H317",),
)  # fmt: skip
HAZARDS = tuple(snapshot.take(classes) for classes in CLASSES)
HARMLESS = snapshot.take(("not classified",))
RESULT = {
    "value": "1.0003", "unit": "mg/g", "u": "0.003", "u_rel": "0.003", "k": "2.0", "dof": "inf", "U": "0.006",
    "complete": True, "missing": [], "remarks": [], "components": [], "w": "0.0010003", "content": "0.995",
    "solid_mass_g": "0.010013", "solvent_mass_g": "9.9501", "solution_density_g_ml": None,
    "temperature_c": "20.0",
}  # fmt: skip

Happened = tuple[ev.Event, str, str]


class Time:
    """A clock that the story sets."""

    def __init__(self) -> None:
        self.at = datetime(FIRST.year, FIRST.month, FIRST.day, 7, tzinfo=ZONE)

    def __call__(self) -> datetime:
        self.at += timedelta(milliseconds=100)
        return self.at

    def not_before(self, day: date) -> None:
        """Go on to a day, never back."""
        self.at = max(self.at, datetime(day.year, day.month, day.day, 7, tzinfo=ZONE))


def make(path: Path, *, doses: int, chunk: int = 2500, walked: Callable[[int], None] | None = None) -> Record:
    """Make the record, `chunk` preps a transaction, and give it open."""
    clock = Time()
    record = Record.create(path, now=clock, terminal="7F3A", site="River Laboratory")
    record.append_all(_registers())
    story = Story(record.head().entry, clock, doses // DOSES)
    for first in range(0, story.preps, chunk):
        record.append_all(story.told(range(first, min(first + chunk, story.preps))))
        if walked is not None:
            walked(story.entry)
    return record


def _registers() -> Iterator[Happened]:
    def put(register: str, **row: Any) -> Happened:
        event = ev.Registered(register=register, id=row["id"], row=row)
        return event, "ke-1", f"{register}:{row['id']}"

    for n in range(PEOPLE):
        yield put("person", id=f"op-{n}", name=f"N. {n}", roles=["operator"], trained_for=["all"])
    yield put("person", id="re-1", name="R. R.", roles=["reviewer"])
    yield put("substance", id="WATER", name="water", form="liquid", classification=["not classified"])
    yield put("lot", id="W", substance="WATER")
    yield put("container", id="W-1", lot="W", content="1000 kg")
    for n in range(ENCLOSURES):
        yield put("enclosure", id=f"E-{n + 1}", name=f"isolator {n + 1}", kind="isolator", gloves="nitrile")
    yield put("balance", id="B-1", name="semi-micro", readability="0.01 mg", capacity="80 g", enclosure="E-1")
    yield put("vessel", id="V-1", name="vial 20 mL", capacity="20 mL")
    for n in range(SUBSTANCES):
        classification = list(CLASSES[n % len(CLASSES)])
        yield put("substance", id=f"S{n}", name=f"substance {n}", classification=classification)
        for m in range(LOTS):
            lot = f"L{n}-{m}"
            yield put("lot", id=lot, substance=f"S{n}", assay="99.5", basis="as-is", expiry="2030-06-01")
            yield put("container", id=f"{lot}-1", lot=lot, content="900 g")


class Story:
    """The preps, one after the other; it counts the entries, since handlings are named by theirs."""

    def __init__(self, entry: int, clock: Time, preps: int) -> None:
        self.entry, self.clock, self.preps = entry, clock, preps
        self._chance = Random(905)

    def told(self, numbers: range) -> Iterator[Happened]:
        """Give the entries of some preps."""
        for number in numbers:
            for event, person, subject in self._prep(number):
                self.entry += 1
                yield event, person, subject

    def _prep(self, number: int) -> Iterator[Happened]:
        chance = self._chance
        self.clock.not_before(FIRST + timedelta(days=number * DAYS // self.preps))
        prep, n = f"P-7F3A-{number + 1:06d}", chance.randrange(SUBSTANCES)
        lot = f"L{n}-{chance.randrange(LOTS)}"
        who = chance.randrange(PEOPLE)
        person, enclosure = f"op-{who}", f"E-{who % ENCLOSURES + 1}"
        other = f"op-{chance.randrange(PEOPLE)}" if chance.random() < 0.1 else person
        present = tuple(dict.fromkeys((person, other)))
        subject = f"prep:{prep}"

        def put(event: ev.Event, by: str = person) -> Happened:
            return event, by, subject

        yield put(ev.Planned(prep=prep, **_drawn_up(n, lot, enclosure)))
        read = ev.Read(
            prep=prep, step=0, act="check", what="check", balance="B-1", shown="20000.00 mg",
            mass_mg="20000.00", expected_mg="20000", limit_mg="0.05", within=True,
        )  # fmt: skip
        yield put(read)
        yield put(ev.StepDone(prep=prep, step=0))
        solid_mg = round(chance.uniform(9.0, 11.0), 2)
        both = (f"S{n}", "WATER")
        for step, content, container, held, mg in (
            (1, "solid", f"{lot}-1", both[:1], solid_mg),
            (2, "solvent", "W-1", both, round(1000 * solid_mg - 60.0, 2)),
        ):
            yield from self._weighed(prep, step, content, container, held, mg, enclosure, present, put)
        handled = ev.Handled(
            prep=prep, step=3, act="waste", what="waste", enclosure=enclosure, substances=both, detail="bag 3"
        )
        yield put(handled)
        yield put(_note(prep, 3, self.entry, enclosure, present))
        yield put(ev.StepDone(prep=prep, step=3))
        made = f"S-7F3A-{number + 1:06d}"
        row = {"id": made, "substance": f"S{n}", "concentration": "1.0003 mg/g", "solvent": "WATER",
               "expiry": "2030-01-01", "status": "released", "made_by": prep}  # fmt: skip
        bottle = {"id": f"{made}-1", "lot": made, "content": "9.96 g"}
        yield put(ev.PrepClosed(prep=prep, result=RESULT, lot=row, container=bottle, label=f"label {made}"))
        for register, of in (("lot", row), ("container", bottle)):
            yield ev.Registered(register=register, id=of["id"], row=of), person, f"{register}:{of['id']}"
        if number < self.preps - 20:
            yield put(
                ev.Reviewed(prep=prep, verdict="accepted", reason="", meaning="sums checked", head=""), "re-1"
            )

    def _weighed(
        self,
        prep: str,
        step: int,
        content: str,
        container: str,
        held: tuple[str, ...],
        mg: float,
        enclosure: str,
        present: tuple[str, ...],
        put: Callable[..., Happened],
    ) -> Iterator[Happened]:
        """Two portions from one opening, and its exposure note."""
        opened = ev.Opened(
            prep=prep, step=step, act="open", what="container", container=container, vessel="V-1",
            enclosure=enclosure, substances=held,
        )  # fmt: skip
        yield put(opened)
        handling = self.entry
        first = round(0.7 * mg, 2)
        for net, ends in ((first, False), (round(mg - first, 2), True)):
            total = mg if ends else first
            dosed = ev.Dosed(
                prep=prep, step=step, act="dose", content=content, container=container, vessel="V-1",
                shown=f"{total:.2f} mg", net_mg=f"{net:.2f}", total_mg=f"{total:.2f}", ends=ends,
            )  # fmt: skip
            yield put(dosed)
        guess = self._chance.random() < 0.01
        open_s = f"{self._chance.uniform(20, 240):.1f}"
        yield put(
            ev.Closed(prep=prep, step=step, act="close", opened=handling, open_s=open_s, estimated=guess)
        )
        yield put(_note(prep, step, handling, enclosure, present))
        yield put(ev.StepDone(prep=prep, step=step))


def _note(prep: str, step: int, handling: int, enclosure: str, present: tuple[str, ...]) -> ev.ExposureNoted:
    return ev.ExposureNoted(
        prep=prep, step=step, act="note", handlings=(handling,), enclosure=enclosure, gloves="nitrile",
        unusual=False, note="", present=present,
    )  # fmt: skip


@cache
def _drawn_up(n: int, lot: str, enclosure: str) -> dict[str, Any]:
    """Give what every plan for a lot at an enclosure has."""
    substance, container = f"S{n}", f"{lot}-1"
    plan = Plan(
        recipe="solution, solid first", container=container, solvent_container="W-1", target="1.000 mg/g",
        amount="10 g", vessel="V-1", balance="B-1", enclosure=enclosure,
    )  # fmt: skip
    both = (substance, "WATER")

    def weigh(name: StepName, content: str, of: str, held: tuple[str, ...]) -> Step:
        acts = (
            Act(key="open", kind=ActKind.OPEN, text="Open.", what="container"),
            Act(key="dose", kind=ActKind.DOSE, text="Dose.", what=content),
            Act(key="close", kind=ActKind.CLOSE, text="Close.", what="container"),
            Act(key="note", kind=ActKind.NOTE, text="Exposure note."),
        )
        return Step(name=name, acts=acts, vessel="V-1", container=of, substances=held)

    check = (Act(key="check", kind=ActKind.READ, text="Check weight.", what="check"),)
    waste = (
        Act(key="waste", kind=ActKind.HANDLE, text="Bag.", what="waste"),
        Act(key="note", kind=ActKind.NOTE, text="Exposure note."),
    )
    steps = (
        Step(name=StepName.CHECK_BALANCE, acts=check),
        weigh(StepName.WEIGH_SOLID, "solid", container, both[:1]),
        weigh(StepName.ADD_SOLVENT, "solvent", "W-1", both),
        Step(name=StepName.WASTE, acts=waste, substances=both),
    )
    return {
        "plan": {f: getattr(plan, f) for f in Plan.__dataclass_fields__},
        "steps": tuple(s.to_body() for s in steps),
        "basis": {
            "container": {"id": container, "lot": lot},
            "lot": {"id": lot, "substance": substance},
            "solvent_container": {"id": "W-1", "lot": "W"},
            "solvent_lot": {"id": "W", "substance": "WATER"},
            "hazards": {substance: HAZARDS[n % len(CLASSES)], "WATER": HARMLESS},
        },
        "aims": {"solid_mg": "10.00"},
    }
