"""A register row as the fields of a form: each reads, watches and completes by the kind of its column."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING
from dataclasses import Field as DataField
from typing import Any

from store.actions import registers
from store.actions.known import Known
from store.errors import BadField, BadInput, StoreError
from store.model.registers import columns
from store.model.settings import SETTINGS
from store.queries.registers import text_of
from tui.screens import pick
from tui.screens.desk import Desk
from tui.screens.register_offers import TODAY, suggest
from tui.widgets.entry_form import Field

MOLAR = "molar_mass"
"""The field in which the molar mass of a typed formula is confirmed; no column of the register."""
REASON = "why"
"""Key of the field for the reason of a change."""
YES_NO = ("yes", "no")
NEVER_TYPED = ("made_by",)
"""What the program itself writes; a form keeps it as it stands."""
LABELS: Mapping[str, str] = {
    "cas": "CAS number",
    "pressure_low": "lowest pressure, Pa",
    "pressure_high": "highest pressure, Pa",
    "shift_minutes": "shift limit, minutes",
    "repeatability": "repeatability, s",
    "repeatability_n": "number of weighings",
    "repeatability_on": "weighed on",
    "linearity_small": "linearity, small",
    "linearity_small_range": "up to",
    "sensitivity_percent": "sensitivity, %",
    "check_mass": "check weight",
    "check_class": "its class",
    "check_u": "its U, k = 2",
    "check_limit": "check off by at most",
    "check_hours": "check holds, hours",
    "calibration_u": "calibration U by load",
    "adjustment_air": "gas at adjustment",
    "assay": "assay, %",
    "assay_u": "its uncertainty",
    "water": "water, %",
    "water_u": "its uncertainty",
    "water_on": "measured on",
    "loss_on_drying": "loss on drying, %",
    "loss_on_drying_u": "its uncertainty",
    "concentration_u": "its u, same unit",
    "in_use_days": "days once opened",
    "warm_minutes": "to warm, minutes",
    "thaws": "thawed so far",
    "thaws_most": "thaws at most",
    "thickness_mm": "thickness, mm",
    "mass": "empty, about",
    "tared": "empty, by its set",
    "fit_until": "fit test until",
    "open_minutes": "minutes open at most",
    "below": "below, % by mass",
}
"""Where a column's name alone says too little, beside its field; files keep the name."""


def fields(desk: Desk, register: str, row: Mapping[str, Any] | None) -> tuple[Field, ...]:
    """Give the fields of a row that is new (None), or that is there already and changes.

    The id of a row that is there is no field: it never changes.
    """
    if register == "setting":
        return (_setting(desk, str((row or {}).get("id", "")), str((row or {}).get("value", ""))), _why(True))
    known = Known(desk.record)
    out: list[Field] = []
    for column in columns(register):
        if (column.name == "id" and row is not None) or column.name in NEVER_TYPED:
            continue
        out.append(_field(desk, known, register, column, row))
        if column.name == "formula" and register == "substance":
            out.append(Field(MOLAR, "molar mass", "choice", help="of the formula; say that it is right"))
    return (*out, _why(row is not None))


def _why(needed: bool) -> Field:
    what = "why it changes; it stands in the record for good" if needed else "remark for the record, or empty"
    return Field(REASON, "why", required=needed, help=what)


def _label(name: str) -> str:
    return LABELS.get(name) or name.replace("_", " ")


def _field(
    desk: Desk, known: Known, register: str, column: DataField[Any], row: Mapping[str, Any] | None
) -> Field:
    name, kind, what = column.name, str(column.metadata["kind"]), str(column.metadata["what"])
    value = text_of(row.get(name, _default(column)) if row is not None else _default(column))
    required = column.default is MISSING

    def take(text: str) -> str:
        return read(known, register, name, _day(desk, text) if kind == "date" else text)

    if kind == "yesno":
        return Field(name, _label(name), "choice", value or "no", YES_NO, help=what)
    if kind == "choice":
        choices = tuple(c for c in column.metadata["choices"] if c)
        return Field(name, _label(name), "choice", value, choices, required=required, help=what)
    if kind.startswith("ref:"):
        one = pick.rows(desk.record, kind.removeprefix("ref:"))
        by = "code, name or CAS number" if kind in _BY_CAS else "code or name"
        return Field(name, _label(name), value=value, suggest=one.suggest, take=one.take, required=required,
                     help=f"{what}: {by}")  # fmt: skip
    return Field(
        name,
        _label(name),
        "number" if kind == "number" else "text",
        value,
        suggest=suggest(name, kind, column, desk),
        take=take,
        watch=_watch(take, kind, name),
        required=required,
        help=f"{what}; several parted by ;" if kind in ("list", "statements", "roles") else what,
    )


_BY_CAS = ("ref:substance",)


def _default(column: DataField[Any]) -> Any:
    return "" if column.default is MISSING else column.default


def read(known: Known, register: str, name: str, text: str) -> str:
    """Give a field as it will stand.

    Raises
    ------
    BadInput
        With what to write instead, and without the name of the field, beside which it stands.
    """
    try:
        return registers.check_field(known, register, name, text)
    except BadField as error:
        raise BadInput(error.what) from None


def _day(desk: Desk, text: str) -> str:
    return desk.now().date().isoformat() if text.strip().casefold() == TODAY else text


def _watch(take: Callable[[str], str], kind: str, name: str) -> Callable[[str], str]:
    """Say while a field is typed what is wrong with it, or what it means."""

    def watch(text: str) -> str:
        if kind == "date" and TODAY.startswith(text.strip().casefold()):
            return ""
        value = take(text.strip())
        if kind == "formula":
            return molar_mass(value)
        if kind == "cas":
            return "the check digit fits"
        if name == "classification":
            return _statement(value.rpartition(";")[2].strip())
        return ""

    return watch


def molar_mass(text: str) -> str:
    """Give the molar mass of a formula, to be confirmed."""
    from store.calc.molar import formula

    return f"{formula(text).molar_mass_g_mol:.3f} g/mol"


def _statement(text: str) -> str:
    from store.hazards import catalogue
    from store.model.words import NOT_CLASSIFIED

    return "" if text == NOT_CLASSIFIED else catalogue.classification(text).statement.text


def _setting(desk: Desk, id: str, value: str) -> Field:
    """The value of one setting, held to the limits of its kind."""
    of, known = SETTINGS[id], Known(desk.record)

    def take(text: str) -> str:
        faults = registers.faults_of(known.record, "setting", {"id": id, "value": text})
        if faults:
            raise BadInput(faults[0].what.removeprefix(f"{id}: "))
        return text

    def watch(text: str) -> str:
        take(text.strip())
        return ""

    now = value or of.default
    limits = f", from {of.low} to {of.high}" if of.low else ""
    help = f"{of.what}{limits}; without the site's own it is {of.default or 'empty'}"
    if of.kind == "yesno":
        return Field("value", _label(id), "choice", now, YES_NO, required=True, help=help)
    if of.kind == "choice":
        return Field("value", _label(id), "choice", now, of.words, required=True, help=help)
    return Field("value", _label(id), value=now, take=take, watch=watch, required=bool(of.default), help=help)


def confirm_molar_mass(form: Sequence[Field], *, was: str) -> None:
    """Ask for the molar mass of the formula in the form, unless it stood there before."""
    by_key = {f.key: f for f in form}
    of = by_key[MOLAR]
    text = by_key["formula"].value
    try:
        choice = f"{molar_mass(text)} is right" if text else ""
    except StoreError:
        choice = ""
    if of.choices == ((choice,) if choice else ()):
        return
    of.choices, of.required = ((choice,), True) if choice else ((), False)
    of.value = choice if choice and text == was else ""
