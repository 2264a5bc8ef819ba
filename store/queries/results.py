"""The result of a prep as it was computed and written, with every component of its uncertainty."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from store import events as ev
from store.units import stated


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One component of an uncertainty budget, each number as it was written."""

    name: str
    value: str
    unit: str
    u: str
    share: str
    """Its part of u², from 0 to 1."""
    sensitivity: str = ""
    """Change of the result per unit of it."""
    contribution: str = ""
    """Its part of u, in the unit of the result."""


@dataclass(frozen=True, slots=True)
class FactorShown:
    """One factor from the mass of solid to the mass of analyte, as it was written."""

    name: str
    value: str
    u: str
    why: str


@dataclass(frozen=True, slots=True)
class ResultShown:
    """One result as it was computed and written; the last one stands."""

    entry: int
    at: str
    person: str
    value: str
    unit: str
    u: str
    u_rel: str
    k: str
    dof: str
    U: str
    complete: bool
    missing: tuple[str, ...]
    budget: tuple[BudgetRow, ...]
    remarks: tuple[str, ...]
    figures: Mapping[str, str]
    """Every other figure of the result, by its name in the body: content, solid_mass_g, solvent_mass_g ..."""
    lot: Mapping[str, Any]
    factors: tuple[FactorShown, ...] = ()
    inputs: Mapping[str, Any] = field(default_factory=dict)
    """What it was computed from, as written: readings, densities, the balance, what the lot says."""
    part: str = ""
    label: str = ""
    levels: Mapping[str, Any] = field(default_factory=dict)
    """Of a prep of several vessels: values and covariance matrix of all of them, as written."""

    @property
    def stated(self) -> str:
        """Value and expanded uncertainty with its k, as the label has them; u where no k was written."""
        if not (self.U and self.k):
            return stated(float(self.value), float(self.u), self.unit, 1.0)
        return stated(float(self.value), float(self.U), self.unit, float(self.k))


_COLUMNS = ("name", "value", "unit", "u", "share", "sensitivity", "contribution")
_SHOWN = (
    "value",
    "unit",
    "u",
    "u_rel",
    "k",
    "dof",
    "U",
    "complete",
    "missing",
    "components",
    "remarks",
    "factors",
    "inputs",
    "levels",
)


def result(entry: ev.Entry, event: ev.PrepClosed) -> ResultShown:
    """Give the result of a closing, each number as it was written."""
    body = event.result
    return ResultShown(
        entry=entry.entry,
        at=entry.at,
        person=entry.person,
        value=_text(body, "value"),
        unit=_text(body, "unit"),
        u=_text(body, "u"),
        u_rel=_text(body, "u_rel"),
        k=_text(body, "k"),
        dof=_text(body, "dof"),
        U=_text(body, "U"),
        complete=bool(body.get("complete", False)),
        missing=tuple(body.get("missing", ())),
        budget=tuple(_component(row, _text(body, "u")) for row in body.get("components", ())),
        remarks=tuple(body.get("remarks", ())),
        figures={key: _text(body, key) for key in body if key not in _SHOWN and body[key] is not None},
        lot=event.lot,
        factors=tuple(
            FactorShown(*(_text(row, f) for f in ("name", "value", "u", "why")))
            for row in body.get("factors", ())
        ),
        inputs=body.get("inputs", {}),
        label=event.label,
        levels=body.get("levels", {}),
    )


def each(entry: ev.Entry, event: ev.PrepClosed) -> tuple[ResultShown, ...]:
    """Give the result of every vessel of a closing, in the order of the plan; none where there is one."""
    found = []
    for made in event.made:
        own = replace(event, result=made["result"], lot=made["lot"], label=str(made.get("label", "")))
        found.append(replace(result(entry, own), part=str(made["part"])))
    return tuple(found)


REST = 1e-9
"""A contribution below this part of u is none: the input cancels out of the result."""


def _component(row: Mapping[str, Any], u: str) -> BudgetRow:
    """Give a component; what binary arithmetic left of an input that cancels out stands as the 0 it is.

    >>> _component({"name": "sensitivity", "contribution": 1.1e-14, "sensitivity": 4.8e-9}, "0.0015")
    BudgetRow(name='sensitivity', value='', unit='', u='', share='', sensitivity='0', contribution='0')
    """
    found = BudgetRow(*(_text(row, f) for f in _COLUMNS))
    if found.contribution and u and abs(float(found.contribution)) < REST * float(u):
        return replace(found, sensitivity="0", contribution="0")
    return found


def _text(body: Mapping[str, Any], key: str) -> str:
    value = body.get(key)
    return "" if value is None else str(value)
