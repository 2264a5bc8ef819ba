"""The site's own data: what stands in its registers. A row is text as written; the journal keeps it whole."""

from collections.abc import Mapping
from dataclasses import MISSING, Field, dataclass, fields
from typing import Any

from store.errors import BadField
from store.model.columns import LIST_KINDS, Row, col
from store.model.decisions import Mixture, Procedure, Stream
from store.model.site_rows import Glove, LocalRule, Person, Setting, Vessel
from store.model.words import BASES, CONDITIONING, FORMS, LotStatus

__all__ = [
    "LIST_KINDS",
    "REGISTERS",
    "Balance",
    "Container",
    "Enclosure",
    "Glove",
    "LocalRule",
    "Lot",
    "Mixture",
    "Person",
    "Procedure",
    "Row",
    "Setting",
    "Stream",
    "Substance",
    "Vessel",
    "check_id",
    "columns",
    "required",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Substance(Row):
    """What the hazard data is about."""

    id: str = col("short name, without blanks", "id")
    name: str = col("name as on the label")
    cas: str = col("CAS number", "cas", default="")
    formula: str = col("formula of the form in the bottle", "formula", default="")
    form: str = col("form", "choice", choices=FORMS, default="powder")
    dustiness: str = col("dustiness", "choice", choices=("low", "medium", "high", ""), default="")
    classification: tuple[str, ...] = col(
        "classification, such as `Carc. 1B H350`; `not classified`", "statements", default=()
    )
    edition: str = col("edition of the classification", default="")
    skin_notation: bool = col("passes through the skin", "yesno", default=False)
    hazardous_drug: bool = col("on the site's hazardous drug list", "yesno", default=False)
    peroxide_former: bool = col("forms peroxides", "yesno", default=False)
    density: str = col("density of the solid or liquid", "density", default="")
    synonyms: tuple[str, ...] = col("other names", "list", default=())
    tags: tuple[str, ...] = col("tags for mixing", "list", default=())
    solubility: str = col("solubility by solvent, as text", default="")
    storage: str = col("storage", default="")
    limits: str = col("exposure limits with source, as text", default="")
    sds_date: str = col("date of the safety data sheet", "date", default="")
    waste_stream: str = col("waste stream of the site", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot(Row):
    """One production run with one certificate, or one prepared solution."""

    id: str = col("lot number", "id")
    substance: str = col("substance", "ref:substance")
    assay: str = col("assay in percent, such as `99.5` or `>= 98`", "percent", default="")
    assay_u: str = col("its uncertainty: `U 0.2 k 2`, `± 0.3`, `u 0.1` or empty", default="")
    basis: str = col("basis of the assay", "choice", choices=(*BASES, ""), default="")
    assay_method: str = col("method of the assay", default="")
    assay_formula: str = col(
        "formula that the assay, or the concentration, refers to, where it differs", "formula", default=""
    )
    water: str = col("water content in percent", "percent", default="")
    water_u: str = col("its uncertainty: `U 0.2 k 2`, `± 0.3`, `u 0.1` or empty", default="")
    water_on: str = col("measured on", "date", default="")
    loss_on_drying: str = col("loss on drying in percent", "percent", default="")
    loss_on_drying_u: str = col("its uncertainty: `U 0.2 k 2`, `± 0.3`, `u 0.1` or empty", default="")
    dried_before_use: bool = col("dried before use", "yesno", default=False)
    density: str = col("density of this lot", "density", default="")
    concentration: str = col("concentration of a solution", "concentration", default="")
    concentration_u: str = col("its standard uncertainty, same unit", default="")
    solvent: str = col("solvent of a solution", "ref:substance", default="")
    received: str = col("received or made on", "date", default="")
    expiry: str = col("expiry", "date", default="")
    retest: str = col("retest on", "date", default="")
    status: str = col("status", "choice", choices=tuple(LotStatus), default="released")
    status_reason: str = col("why", default="")
    made_by: str = col("prep that made it", default="")
    storage: str = col("storage", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Container(Row):
    """One bottle or vial of a lot."""

    id: str = col("number on the container", "id")
    lot: str = col("lot", "ref:lot")
    content: str = col("content when new", "mass", default="")
    place: str = col("where it stands", default="")
    opened_on: str = col("first opened on", "date", default="")
    in_use_days: str = col("days it may be used once opened", "number", default="")
    gross: str = col("gross mass when it was weighed last", "mass", default="")
    conditioning: tuple[str, ...] = col(
        f"conditioning before use: {', '.join(CONDITIONING)}, or other words", "list", default=()
    )
    warm_minutes: str = col("minutes closed until it is at room temperature", "number", default="")
    thaws: str = col("times thawed before this record began", "number", default="")
    thaws_most: str = col("times it may be thawed", "number", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance(Row):
    """A weighing instrument in its place."""

    id: str = col("number of the balance", "id")
    name: str = col("what it is called")
    source: str = col(
        "where readings come from",
        "choice",
        choices=("typed", "simulated", "wedge", "serial", "tcp"),
        default="typed",
    )
    unit: str = col("unit of its display", "choice", choices=("mg", "g"), default="mg")
    shows: str = col(
        "shows net (zeroed before each content), gross, or the sum of all since its tare",
        "choice",
        choices=("net", "gross", "sum"),
        default="net",
    )
    readability: str = col("one step of its last digit", "mass")
    capacity: str = col("capacity", "mass")
    repeatability: str = col("standard deviation of ten or more weighings", "mass", default="")
    repeatability_n: str = col("number of those weighings", "number", default="")
    repeatability_on: str = col("date of those weighings", "date", default="")
    linearity: str = col("linearity limit over the range", "mass", default="")
    linearity_small: str = col("linearity limit of a small range", "mass", default="")
    linearity_small_range: str = col("that small range", "mass", default="")
    sensitivity_percent: str = col("sensitivity tolerance in percent", "percent", default="")
    check_mass: str = col("mass of the check weight", "mass", default="")
    check_class: str = col("its class, as on its certificate", default="")
    check_u: str = col("its expanded uncertainty, k = 2", "mass", default="")
    check_limit: str = col("how far the check may be off", "mass", default="")
    check_hours: str = col("hours that a check holds", "number", default="24")
    warm_up_minutes: str = col("minutes switched on until it weighs steadily", "number", default="")
    calibrated: str = col("calibrated on", "date", default="")
    calibration_due: str = col("calibration due", "date", default="")
    certificate: str = col("number of the calibration certificate", default="")
    calibration_u: tuple[str, ...] = col(
        "its expanded uncertainty by load, k = 2, such as `20 g: 0.05 mg`", "list", default=()
    )
    adjusted: str = col("last adjusted on", "date", default="")
    adjustment_air: str = col(
        "density of the gas around the weight of that adjustment, where it differs", "density", default=""
    )
    enclosure: str = col("stands in", "ref:enclosure", default="")
    port: str = col("port or address, with its settings", default="")
    stable_mark: str = col("mark of a stable line", default="")
    unstable_mark: str = col("mark of an unstable line", default="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Enclosure(Row):
    """The isolator, glovebox or cabinet that a balance stands in."""

    id: str = col("number of the enclosure", "id")
    name: str = col("what it is called")
    kind: str = col("kind", "choice", choices=("isolator", "glovebox", "safety cabinet", "fume cupboard"))
    gas: str = col(
        "gas", "choice", choices=("air", "nitrogen", "argon", "helium", "carbon dioxide"), default="air"
    )
    pressure_low: str = col("lowest pressure against the room, in Pa", "number", default="")
    pressure_high: str = col("highest pressure against the room, in Pa", "number", default="")
    gloves: str = col("gloves as worn")
    test_due: str = col("leak or air flow test due", "date", default="")
    filter_due: str = col("filter change due", "date", default="")
    glove_due: str = col("glove change due", "date", default="")
    cleaning: tuple[str, ...] = col("cleaning liquids", "list", default=())
    shift_minutes: str = col("minutes open that a person may have in a shift", "number", default="")


REGISTERS: Mapping[str, type[Row]] = {
    "substance": Substance,
    "lot": Lot,
    "container": Container,
    "enclosure": Enclosure,
    "glove": Glove,
    "balance": Balance,
    "vessel": Vessel,
    "person": Person,
    "rule": LocalRule,
    "procedure": Procedure,
    "mixture": Mixture,
    "stream": Stream,
    "setting": Setting,
}
"""Every register; imported in this order, rows refer only to rows before them."""


def columns(register: str) -> tuple[Field[Any], ...]:
    """Give the declared fields of a register."""
    return fields(REGISTERS[register])


def required(register: str) -> tuple[str, ...]:
    """Give the names of the fields that may not be empty."""
    return tuple(f.name for f in columns(register) if f.default is MISSING)


def check_id(text: str) -> str:
    """Give an id that can stand in a file name, a barcode and a command, or say why not."""
    if not (0 < len(text) <= 24) or not all((c.isalnum() and c.isascii()) or c in "-_.()" for c in text):
        raise BadField("id", f"{text!r}: write up to 24 letters, digits, - _ . without blanks.")
    return text
