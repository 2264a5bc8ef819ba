"""A record in which everything that can happen has happened, for the tests of the record. Invented data."""

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from store import events as ev
from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, StepName
from store.record import people
from store.record.record import Record

SITE_TIME = timezone(timedelta(hours=2))
LOW_N = 4
"""scrypt cost in tests: the sums are the same, only quick."""


class Clock:
    """A clock that goes on by a second each time it is asked."""

    def __init__(self) -> None:
        self.at = datetime(2026, 3, 2, 8, 0, 0, 250_000, tzinfo=SITE_TIME)
        self.step = timedelta(seconds=1)

    def __call__(self) -> datetime:
        self.at += self.step
        return self.at


PLAN = Plan(
    recipe="solution, solid first",
    container="KD-2-1",
    solvent_container="W-1-1",
    target="1.000 mg/g",
    amount="10 g",
    vessel="V-17",
    balance="B-2",
    enclosure="E-1",
)

STEPS = (
    Step(
        name=StepName.TARE,
        acts=(Act(key="vessel", kind=ActKind.READ, text="Empty vessel on the pan.", what="vessel"),),
        vessel="V-17",
        substances=("K2CR2O7",),
    ),
    Step(
        name=StepName.WEIGH_SOLID,
        acts=(
            Act(key="open", kind=ActKind.OPEN, text="Open.", what="container"),
            Act(key="dose", kind=ActKind.DOSE, text="Dose.", what="solid"),
            Act(key="close", kind=ActKind.CLOSE, text="Close.", what="container"),
            Act(key="note", kind=ActKind.NOTE, text="Exposure note."),
        ),
        vessel="V-17",
        container="KD-2-1",
        substances=("K2CR2O7", "WATER"),
    ),
    Step(name=StepName.WASTE, acts=(Act(key="waste", kind=ActKind.HANDLE, text="Bag.", what="waste"),)),
)

BASIS: dict[str, Any] = {
    "container": {"id": "KD-2-1", "lot": "KD-2"},
    "lot": {"id": "KD-2", "substance": "K2CR2O7"},
    "solvent_container": {"id": "W-1-1", "lot": "W-1"},
    "solvent_lot": {"id": "W-1", "substance": "WATER"},
    "hazards": {
        "K2CR2O7": {
            "edition": "2025-09-01",
            "signal_word": "DANGER",
            "statements": ["H350", "H334"],
            "families": ["CMR1", "RESP_SENS"],
            "classes": ["Carc. 1B H350", "Resp. Sens. 1 H334"],
        },
        "WATER": {"edition": "2025-09-01", "signal_word": "", "statements": [], "families": []},
    },
}

ROWS: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("person", "op-1", {"id": "op-1", "name": "A. B.", "roles": ["operator"]}),
    ("person", "op-2", {"id": "op-2", "name": "C. D.", "roles": ["operator"]}),
    ("person", "k-1", {"id": "k-1", "name": "E. F.", "roles": ["keeper"]}),
    ("substance", "K2CR2O7", {"id": "K2CR2O7", "name": "potassium dichromate", "skin_notation": True}),
    ("lot", "KD-2", {"id": "KD-2", "substance": "K2CR2O7", "assay": "99.5", "basis": "as-is"}),
    ("lot", "KD-3", {"id": "KD-3", "substance": "K2CR2O7"}),
    ("container", "KD-3-1", {"id": "KD-3-1", "lot": "KD-3"}),
    ("setting", "site", {"id": "site", "value": "River Laboratory"}),
)


def planned(prep: str = "P-7F3A-0001") -> ev.Planned:
    return ev.Planned(
        prep=prep,
        plan={f: getattr(PLAN, f) for f in PLAN.__dataclass_fields__},
        steps=tuple(s.to_body() for s in STEPS),
        basis=BASIS,
        aims={"solid_mg": "10.00"},
    )


def dosed(prep: str, shown: str, net_mg: str, total_mg: str, **more: Any) -> ev.Dosed:
    values: dict[str, Any] = {
        "step": 1, "act": "dose", "content": "solid", "container": "KD-2-1", "vessel": "V-17",
        "ends": False, **more,
    }  # fmt: skip
    return ev.Dosed(prep=prep, shown=shown, net_mg=net_mg, total_mg=total_mg, **values)


def site(record: Record) -> None:
    """Enter the registers, a text, PINs and a visit."""
    for register, id, row in ROWS:
        event = ev.Registered(register=register, id=id, row=row)
        record.append(event, person="k-1", subject=f"{register}:{id}")
    again = {"id": "op-2", "name": "C. D.", "roles": ["operator", "reviewer"]}
    changed = ev.Registered(register="person", id="op-2", row=again, reason="may review")
    record.append(changed, person="k-1", subject="person:op-2")
    gone = ev.Retired(register="lot", id="KD-3", reason="used up")
    record.append(gone, person="k-1", subject="lot:KD-3")
    never = ev.Retired(register="vessel", id="V-0", reason="was never entered")
    record.append(never, person="k-1", subject="vessel:V-0")
    people.set_pin(record, "op-1", "4711", by="k-1", n=LOW_N)
    record.append(ev.PinRefused(who="op-1"), person="op-1", subject="person:op-1")
    record.append(ev.SignedIn(who="op-1"), person="op-1", subject="person:op-1")
    record.append(ev.SignedOut(who="op-1"), person="op-1", subject="person:op-1")
    text = ev.TextKept(digest="ab" * 32, text="Follow your site's rules [b]µ[/b] \x1b", what="caution page")
    record.append(text, person="op-1", subject="text:" + "ab" * 8)
    measured = ev.RepeatabilityMeasured(
        balance="B-2", enclosure="E-1", load="5.01 g", weighings=("100.01 mg",) * 9 + ("100.02 mg",),
        sd_mg="0.0031623", readability_mg="0.01", minimum_mg="8.2", settings={"minimum_weight_factor": "2"},
    )  # fmt: skip
    record.append(measured, person="op-1", subject="checks:B-2")
    adjusted = ev.Adjusted(balance="B-2", how="external weight", air_kg_m3="1.199", note="after moving")
    record.append(adjusted, person="k-1", subject="checks:B-2")
    restored = ev.Restored(
        source="old.db", source_entry=1, source_digest="0" * 64,
        aside="aside.db", aside_entry=2, aside_digest="1" * 64,
    )  # fmt: skip
    record.append(restored, person="k-1", subject="record")


def prep_events(prep: str = "P-7F3A-0001") -> Iterator[ev.Event | tuple[ev.Event, str]]:
    """Give the events of one prep in order; a pair names another person than op-1. Numbers count from 0."""
    yield planned(prep)  # 0
    yield ev.Acknowledged(prep=prep, step=0, digest="ab" * 32, families=("CMR1",), screens=2)
    yield ev.Read(
        prep=prep, step=0, act="vessel", what="vessel", balance="B-2", shown="5012.34 mg",
        mass_mg="5012.34", expected_mg="5000", limit_mg="50",
    )  # fmt: skip
    yield ev.Confirmed(prep=prep, step=0, act="look", answer="clear", let_through=({"second": "op-2"},))
    yield ev.StepDone(prep=prep, step=0)
    yield ev.Opened(
        prep=prep, step=1, act="open", what="container", container="KD-2-1", vessel="V-17",
        enclosure="E-1", substances=("K2CR2O7", "WATER"),
    )  # fmt: skip  # 5
    yield dosed(prep, "6.10 mg", "6.10", "6.10")  # 6
    yield dosed(prep, "10.13 mg", "4.03", "10.13")  # 7
    yield dosed(prep, "2.00 mg", "2.00", "2.00", content="aliquot", container="KD-3-1")  # 8
    yield dosed(prep, "1.00 mg", "1.00", "1.00", content="other", container="?")  # 9


def prep_story(record: Record, prep: str = "P-7F3A-0001") -> None:
    """Run one prep through everything that can happen to it."""
    subject = f"prep:{prep}"

    def put(event: ev.Event, person: str = "op-1") -> int:
        return record.append(event, person=person, subject=subject).entry

    numbers = [put(event) for event in prep_events(prep) if isinstance(event, ev.Event)]
    opening, first, second = numbers[5], numbers[6], numbers[7]
    put(ev.Closed(prep=prep, step=1, act="close", opened=opening, open_s="95.5", estimated=True))
    spill = ev.IncidentNoted(
        prep=prep, what="spill", note="a grain on the pan", substances=("K2CR2O7",), handling=opening,
        enclosure="E-1", present=("op-1", "op-2"), step=1,
    )  # fmt: skip
    put(spill)
    put(ev.Resumed(prep=prep, why="the power failed", open_now="container"))
    put(ev.WentBack(prep=prep, step=1, act="dose", reason="wiped"))
    note = ev.ExposureNoted(
        prep=prep, step=1, act="note", handlings=(opening,), enclosure="E-1", gloves="neoprene",
        unusual=True, note="a grain", present=("op-1", "op-2"),
    )  # fmt: skip
    put(note)
    put(
        ev.Corrected(
            prep=prep, entry=first, shown="6.01 mg", net_mg="6.01", total_mg="6.01", reason="misread"
        )
    )
    put(ev.Discarded(prep=prep, entry=second, reason="wrong vessel"))
    put(ev.NeverHappened(prep=prep, entry=numbers[8], second="op-2", reason="key pressed twice"))
    put(ev.StepDone(prep=prep, step=1))
    waste = ev.Handled(
        prep=prep, step=2, act="waste", what="waste", enclosure="E-1", substances=("K2CR2O7",), detail="bag 3"
    )
    bag = put(waste, "op-2")
    put(ev.NeverHappened(prep=prep, entry=bag, second="op-1", reason="it was the bag of another prep"))
    put(ev.Handled(prep=prep, step=-1, act="", what="glove change", enclosure="E-1"))
    put(ev.StepDone(prep=prep, step=2))
    closed = ev.PrepClosed(
        prep=prep,
        result={"value": "0.998", "unit": "mg/g", "u": "0.003", "k": "2", "complete": True},
        lot={"id": "S-7F3A-0001", "expiry": "2026-04-01"},
        container={"id": "S-7F3A-0001-1"},
        label="chromium(VI) 0.998 mg/g",
    )
    put(closed)
    put(ev.Corrected(prep=prep, entry=first, shown="6.02 mg", net_mg="6.02", total_mg="6.02", reason="again"))
    reviewed = ev.Reviewed(
        prep=prep, verdict="accepted", reason="in order", meaning="I have looked at all of it", head="1:ab"
    )
    put(reviewed, "op-2")
    put(ev.PlaceRejected(prep=prep, part="1", reason="chipped"))
    put(ev.Assayed(prep=prep, units={"1": "99.2"}, mean="99.4", method="photometry", report="R-17"))


def apart(record: Record) -> None:
    """Tell what belongs to no prep: a wipe-down, a visit that never was, results, a lot and its container."""

    def put(event: ev.Event, subject: str, person: str = "op-1") -> int:
        return record.append(event, person=person, subject=subject).entry

    taken = {"K2CR2O7": BASIS["hazards"]["K2CR2O7"]}
    wiped = ev.HandledApart(
        what="wipe-down", day="2026-03-01", enclosure="E-1", gloves="nitrile", present=("op-2", "op-1"),
        substances=("K2CR2O7",), hazards=taken, open_s="600", unusual=True, note="a yellow stain",
    )  # fmt: skip
    put(wiped, "handling")
    visit = ev.HandledApart(what="visit", day="2026-03-02", enclosure="E-1", gloves="", present=("op-2",))
    visited = put(visit, "handling")
    other = put(wiped, "handling")
    for number in (visited, other):
        gone = ev.NeverHappened(prep="", entry=number, second="op-2", reason="entered twice")
        put(gone, "handling")
    put(
        ev.Monitored(
            what="wipe", day="2026-03-02", substance="K2CR2O7", value="< 0.1 ug", place="bench", who="op-1"
        ),
        "monitoring",
    )
    cut = ev.IncidentNoted(
        prep="", what="contact", note="torn glove", substances=("K2CR2O7",), present=("op-1",), hazards=taken
    )
    number = put(cut, "record")
    details = ev.IncidentDetailed(
        incident=number, route="skin", body_part="left thumb", referred="yes", cause="a sharp edge",
        follow_up="edge ground", substances=("K2CR2O7",), hazards=taken, present=("op-1", "op-2"),
    )  # fmt: skip
    put(details, f"incident:{number}")
    put(ev.IncidentClosed(incident=number, reason="edge ground"), f"incident:{number}", "k-1")
    verified = ev.LotVerified(
        lot="KD-2", how="previous lot", against="KD-3", method="photometry", ratio="0.998", u="0.002",
        limit="0.01", note="three readings",
    )  # fmt: skip
    put(verified, "verification:KD-2")
    put(
        ev.StockTaken(
            container="KD-3-1", how="weighed", shown="0.51 g", left_mg="510", by_record_mg="512.1",
            reason="static",
        ),
        "stock:KD-3-1",
    )  # fmt: skip
    for when, shown in (("at closing", "22.0412 g"), ("before use", "22.0391 g")):
        put(
            ev.SealedWeighed(
                container="S-7F3A-0001-1", when=when, balance="B-2", shown=shown,
                mass_mg=shown.replace(".", "").removesuffix(" g"),
            ),
            "sealed:S-7F3A-0001-1",
        )  # fmt: skip


def story(record: Record, clock: Clock) -> None:
    """Tell all of it: registers, one prep to its end, one given up, an incident without a prep, a clock."""
    site(record)
    prep_story(record)
    other = "P-7F3A-0002"
    record.append(planned(other), person="op-2", subject=f"prep:{other}")
    given_up = ev.Abandoned(prep=other, reason="wrong lot", material="nothing was opened")
    record.append(given_up, person="op-2", subject=f"prep:{other}")
    alarm = ev.IncidentNoted(prep="", what="alarm", note="pressure alarm of E-1", present=("op-2",))
    record.append(alarm, person="op-2", subject="record")
    apart(record)
    clock.at -= timedelta(hours=1)
    record.append(ev.SignedIn(who="op-2"), person="op-2", subject="person:op-2")


def new_record(path: Path, clock: Clock) -> Record:
    return Record.create(path, now=clock, terminal="7F3A", site="River Laboratory")
