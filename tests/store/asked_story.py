"""A builder of histories for the tests of the questions: real events through the record. Invented data."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from store import events as ev
from store.hazards import snapshot
from store.model.prep import Act, Plan, Step
from store.model.words import ActKind, StepName
from store.record.record import Record

SITE_TIME = timezone(timedelta(hours=1))

SUBSTANCES: Mapping[str, dict[str, Any]] = {
    "K2CR2O7": {
        "id": "K2CR2O7",
        "name": "potassium dichromate",
        "cas": "7778-50-9",
        "classification": ["Carc. 1B H350", "Resp. Sens. 1 H334"],
        "sds_date": "2025-06-01",
    },
    "NAN3": {
        "id": "NAN3",
        "name": "sodium azide",
        "classification": ["Acute Tox. 2 H300"],
        "sds_date": "2021-01-15",
    },
    "WATER": {"id": "WATER", "name": "water", "classification": ["not classified"]},
}

HAZARDS: Mapping[str, dict[str, Any]] = {
    id: snapshot.take(row["classification"]) for id, row in SUBSTANCES.items()
}

RESULT: Mapping[str, Any] = {
    "value": "1.0003",
    "unit": "mg/g",
    "u": "0.003",
    "u_rel": "0.003",
    "k": "2.0",
    "dof": "inf",
    "U": "0.006",
    "complete": True,
    "missing": [],
    "remarks": ["the solid's density was assumed"],
    "components": [
        {"name": "repeatability of the solid", "value": "10.0", "unit": "mg", "u": "0.02", "share": "0.9",
         "sensitivity": "0.1", "contribution": "0.002"},
        {"name": "content of the lot", "value": "0.995", "unit": "g/g", "u": "0.001", "share": "0.1",
         "sensitivity": "1.0", "contribution": "0.001"},
    ],
    "w": "0.0010003",
    "content": "0.995",
    "solid_mass_g": "0.010013",
    "solvent_mass_g": "9.9501",
    "solution_density_g_ml": None,
    "temperature_c": "20.0",
}  # fmt: skip


class Clock:
    """A clock that goes on by a second each time it is asked, and can be set."""

    def __init__(self, day: str = "2026-03-02") -> None:
        self.set(day)

    def set(self, day: str, hour: int = 8) -> None:
        """Set it to an hour of a day."""
        self.at = datetime.fromisoformat(f"{day}T{hour:02d}:00:00").replace(tzinfo=SITE_TIME)

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at


def _steps(container: str, solvent_container: str, substance: str, content: str) -> tuple[Step, ...]:
    def weigh(name: StepName, what: str, of: str, substances: tuple[str, ...]) -> Step:
        acts = (
            Act(key="open", kind=ActKind.OPEN, text="Open.", what="container"),
            Act(key="dose", kind=ActKind.DOSE, text="Dose.", what=what),
            Act(key="close", kind=ActKind.CLOSE, text="Close.", what="container"),
            Act(key="note", kind=ActKind.NOTE, text="Exposure note."),
        )
        return Step(name=name, acts=acts, vessel="V-17", container=of, substances=substances)

    check = (Act(key="check", kind=ActKind.READ, text="Check weight.", what="check"),)
    return (
        Step(name=StepName.CHECK_BALANCE, acts=check),
        weigh(StepName.WEIGH_SOLID, content, container, (substance,)),
        weigh(StepName.ADD_SOLVENT, "solvent", solvent_container, (substance, "WATER")),
        Step(
            name=StepName.WASTE,
            acts=(
                Act(key="waste", kind=ActKind.HANDLE, text="Bag.", what="waste"),
                Act(key="note", kind=ActKind.NOTE, text="Exposure note."),
            ),
            substances=(substance, "WATER"),
        ),
    )


@dataclass
class Story:
    """A record under way, and the verbs that tests tell it with."""

    record: Record
    clock: Clock
    preps: int = 0
    entries: dict[str, int] = field(default_factory=dict)

    def row(self, register: str, row: Mapping[str, Any], *, by: str = "k-1") -> None:
        """Enter a register row."""
        event = ev.Registered(register=register, id=str(row["id"]), row=row)
        self.record.append(event, person=by, subject=f"{register}:{row['id']}")

    def put(self, event: Any, *, by: str = "op-1") -> int:
        """Append one event of a prep, or of the record."""
        prep = getattr(event, "prep", "")
        return self.record.append(event, person=by, subject=f"prep:{prep}" if prep else "record").entry

    def plan(
        self,
        *,
        lot: str = "KD-2",
        substance: str = "K2CR2O7",
        by: str = "op-1",
        content: str = "solid",
        rehearsal: bool = False,
        families: tuple[str, ...] | None = None,
    ) -> str:
        """Plan a prep from container 1 of a lot, and give its number."""
        self.preps += 1
        prep = f"P-7F3A-{self.preps:04d}"
        container = f"{lot}-1"
        plan = Plan(
            recipe="solution, solid first",
            container=container,
            solvent_container="W-1-1",
            target="1.000 mg/g",
            amount="10 g",
            vessel="V-17",
            balance="B-2",
            enclosure="E-1",
            rehearsal=rehearsal,
        )
        taken = HAZARDS[substance] if families is None else {**HAZARDS[substance], "families": families}
        event = ev.Planned(
            prep=prep,
            plan={f: getattr(plan, f) for f in Plan.__dataclass_fields__},
            steps=tuple(s.to_body() for s in _steps(container, "W-1-1", substance, content)),
            basis={
                "container": {"id": container, "lot": lot},
                "lot": {"id": lot, "substance": substance},
                "solvent_container": {"id": "W-1-1", "lot": "W-1"},
                "solvent_lot": {"id": "W-1", "substance": "WATER"},
                "substances": {s: SUBSTANCES[s] for s in (substance, "WATER")},
                "hazards": {substance: taken, "WATER": HAZARDS["WATER"]},
            },
            aims={"solid_mg": "10.00"},
        )
        self.put(event, by=by)
        return prep

    def check(self, prep: str, *, within: bool = True, by: str = "op-1") -> int:
        """Read the check weight."""
        read = ev.Read(
            prep=prep, step=0, act="check", what="check", balance="B-2", shown="100.00 mg", mass_mg="100.00",
            expected_mg="100", limit_mg="0.05", within=within,
        )  # fmt: skip
        return self.put(read, by=by)

    def weigh(
        self,
        prep: str,
        mg: str = "10.00",
        *,
        step: int = 1,
        content: str = "solid",
        container: str = "KD-2-1",
        substances: tuple[str, ...] = ("K2CR2O7",),
        open_s: str = "60.0",
        estimated: bool = False,
        by: str = "op-1",
    ) -> tuple[int, int]:
        """Open, dose, close; give the entries of the handling and of the dose."""
        opening = self.put(
            ev.Opened(
                prep=prep, step=step, act="open", what="container", container=container, vessel="V-17",
                enclosure="E-1", substances=substances,
            ),
            by=by,
        )  # fmt: skip
        dose = self.put(
            ev.Dosed(
                prep=prep, step=step, act="dose", content=content, container=container, vessel="V-17",
                shown=f"{mg} mg", net_mg=mg, total_mg=mg,
            ),
            by=by,
        )  # fmt: skip
        self.put(
            ev.Closed(prep=prep, step=step, act="close", opened=opening, open_s=open_s, estimated=estimated),
            by=by,
        )
        return opening, dose

    def note(
        self,
        prep: str,
        *handlings: int,
        present: tuple[str, ...] = ("op-1",),
        unusual: str = "",
        step: int = 1,
    ) -> int:
        """Write the exposure note of handlings."""
        event = ev.ExposureNoted(
            prep=prep, step=step, act="note", handlings=handlings, enclosure="E-1", gloves="neoprene",
            unusual=bool(unusual), note=unusual, present=present,
        )  # fmt: skip
        return self.put(event, by=present[0])

    def close(self, prep: str, *, by: str = "op-1", expiry: str = "2026-04-01") -> str:
        """Close a prep: the lot it makes and its container are in the registers."""
        lot = prep.replace("P-", "S-")
        row = {
            "id": lot, "substance": "K2CR2O7", "concentration": "1.0003 mg/g", "expiry": expiry,
            "status": "released", "made_by": prep,
        }  # fmt: skip
        container = {"id": f"{lot}-1", "lot": lot, "content": "9.9601 g"}
        event = ev.PrepClosed(prep=prep, result=RESULT, lot=row, container=container, label=f"chromium {lot}")
        self.put(event, by=by)
        self.row("lot", row)
        self.row("container", container)
        return lot

    def whole(
        self,
        *,
        lot: str = "KD-2",
        by: str = "op-1",
        present: tuple[str, ...] = (),
        mg: str = "10.00",
        solvent_mg: str = "9950.00",
        content: str = "solid",
        open_s: str = "60.0",
        estimated: bool = False,
        rehearsal: bool = False,
    ) -> tuple[str, str]:
        """Run one prep to its end; give its number and the lot it made."""
        everybody = (by, *present)
        prep = self.plan(lot=lot, by=by, content=content, rehearsal=rehearsal)
        self.check(prep, by=by)
        self.put(ev.StepDone(prep=prep, step=0), by=by)
        first, _ = self.weigh(
            prep, mg, content=content, container=f"{lot}-1", open_s=open_s, estimated=estimated, by=by
        )
        self.note(prep, first, present=everybody)
        self.put(ev.StepDone(prep=prep, step=1), by=by)
        second, _ = self.weigh(
            prep, solvent_mg, step=2, content="solvent", container="W-1-1",
            substances=("K2CR2O7", "WATER"), open_s="30.0", by=by,
        )  # fmt: skip
        self.note(prep, second, present=everybody, step=2)
        self.put(ev.StepDone(prep=prep, step=2), by=by)
        bag = self.put(
            ev.Handled(
                prep=prep, step=3, act="waste", what="waste", enclosure="E-1",
                substances=("K2CR2O7", "WATER"), detail="bag 3",
            ),
            by=by,
        )  # fmt: skip
        self.note(prep, bag, present=everybody, step=3)
        self.put(ev.StepDone(prep=prep, step=3), by=by)
        return prep, self.close(prep, by=by)


def begin(folder: Path, *, day: str = "2026-03-02") -> Story:
    """Begin a record with its registers."""
    clock = Clock(day)
    record = Record.create(folder / "site.tarebook", now=clock, terminal="7F3A", site="River Laboratory")
    told = Story(record, clock)
    for id, roles in (
        ("op-1", ["operator"]),
        ("op-2", ["operator"]),
        ("rv-1", ["reviewer"]),
        ("so-1", ["safety officer"]),
        ("k-1", ["keeper"]),
    ):
        told.row("person", {"id": id, "name": id.upper(), "roles": roles, "employer": "River Laboratory"})
    for row in SUBSTANCES.values():
        told.row("substance", row)
    told.row("lot", {"id": "KD-2", "substance": "K2CR2O7", "assay": "99.5", "expiry": "2028-01-01"})
    told.row("lot", {"id": "W-1", "substance": "WATER"})
    told.row("container", {"id": "KD-2-1", "lot": "KD-2", "content": "1.0000 g", "in_use_days": "30"})
    told.row("container", {"id": "W-1-1", "lot": "W-1", "content": "1 kg"})
    told.row(
        "balance",
        {
            "id": "B-2", "name": "semi-micro", "readability": "0.01 mg", "capacity": "220 g",
            "check_mass": "100 mg", "check_hours": "24", "calibration_due": "2026-09-01", "enclosure": "E-1",
        },
    )  # fmt: skip
    told.row(
        "enclosure",
        {"id": "E-1", "name": "isolator", "kind": "isolator", "gloves": "neoprene", "test_due": "2026-06-01"},
    )
    return told
