"""Whether the fields of a register row fit together: certificates, balances, limits, settings."""

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from store.actions import site_checks
from store.actions.field_checks import CONCENTRATIONS
from store.actions.known import Known
from store.actions.site_checks import order
from store.errors import BadField, StoreError
from store.model.registers import (
    Balance,
    Container,
    Enclosure,
    Lot,
    Mixture,
    Row,
    Substance,
)
from store.model.words import NOT_CLASSIFIED, WARM, LotStatus
from store.units import number, plain, quantity


def of_row(row: Row, known: Known) -> Iterator[BadField]:
    """Give everything in a row that does not fit together."""
    check = _CHECKS.get(type(row))
    if check is not None:
        yield from check(row, known)


def _mg(text: str) -> Decimal:
    return Decimal(repr(quantity(text, "mass").to("mg")))


# ---- substance ----


def _substance(row: Substance, known: Known) -> Iterator[BadField]:
    yield from read_classes(row.classification, row.edition)


def read_classes(texts: tuple[str, ...], edition: str) -> Iterator[BadField]:
    """Give every classification that cannot be read; what does not fit together is a remark."""
    from store.hazards import catalogue

    try:
        edition = catalogue.edition_named(edition)
    except StoreError as error:
        yield BadField("edition", str(error))
        return
    if NOT_CLASSIFIED in texts:
        if len(texts) > 1:
            yield BadField(
                "classification", f"'{NOT_CLASSIFIED}' stands alone: leave it out, or write only it."
            )
        return
    for text in texts:
        try:
            catalogue.classification(text, edition)
        except StoreError as error:
            yield BadField("classification", str(error))


def remarks(row: Row) -> tuple[str, ...]:
    """Give what does not fit together in a row that can be used all the same: a safety data sheet may say so.

    What is shown and asked for follows from every statement, also from one that does not fit.
    """
    if not isinstance(row, Substance | Mixture):
        return ()
    from store.hazards import catalogue

    texts = [text for text in row.classification if text != NOT_CLASSIFIED]
    return catalogue.check_set(catalogue.classifications(texts, row.edition))


# ---- lot ----


def _lot(row: Lot, known: Known) -> Iterator[BadField]:
    yield from order(row, ("received", "expiry"), ("received", "retest"))
    yield from _assay(row, known)
    yield from _stated(row)
    yield from _solution(row)
    if row.status in (LotStatus.BLOCKED, LotStatus.RECALLED) and not row.status_reason:
        yield BadField("status_reason", f"a lot that is {row.status} needs the reason: write it.")
    old = known.body("lot", row.id)
    if old and old.get("substance") != row.substance and known.used("lot", row.id):
        yield BadField("substance", "preps were made of this lot: it keeps its substance; enter a new lot.")
    if old.get("made_by"):
        yield from _made_here(row, old)


def _assay(row: Lot, known: Known) -> Iterator[BadField]:
    from store.calc import purity

    if not row.assay:
        for name in ("assay_u", "basis", "assay_method"):
            if getattr(row, name):
                yield BadField(name, "there is no assay that it could belong to: write the assay too.")
        return
    if row.concentration:
        yield BadField("assay", "a solution has a concentration and no assay: leave one of them empty.")
        return
    try:
        assay, u = purity.assay(row.assay, row.assay_u)
        if u is not None and u > assay:
            yield BadField("assay_u", f"{plain(row.assay_u)} is more than the assay itself: check it.")
        if not row.basis:
            yield BadField("basis", "the certificate says as-is, anhydrous or dried: write which.")
            return
        # What is measured later (water, loss on drying) may still be missing here; a plan asks for it.
        purity.chain(
            purity.Content(
                assay=assay,
                u_assay=u,
                basis=row.basis,
                method=row.assay_method,
                water=_fraction(row.water) or 0.0,
                loss_on_drying=_fraction(row.loss_on_drying) or 0.0,
                dried_before_use=row.dried_before_use,
                weighed_formula=row.assay_formula
                or str(known.body("substance", row.substance).get("formula", "")),
            )
        )
    except BadField as error:
        yield error
    except StoreError as error:
        yield BadField("basis", str(error).split("\n", 1)[0])


def _stated(row: Lot) -> Iterator[BadField]:
    """The uncertainties of water and loss on drying, written as that of an assay."""
    from store.calc.purity import standard_uncertainty

    for name in ("water", "loss_on_drying"):
        value, u_text = getattr(row, name), getattr(row, f"{name}_u")
        if value and number(value) >= 100:
            yield BadField(name, f"{value} % leaves no substance: it lies below 100.")
        try:
            u = standard_uncertainty(u_text)
        except BadField as error:
            yield BadField(f"{name}_u", error.what)
            continue
        if u is not None and not value:
            yield BadField(
                f"{name}_u", f"there is no {name.replace('_', ' ')} that it belongs to: write it too."
            )
        elif u is not None and u > float(number(value)):
            yield BadField(f"{name}_u", f"{plain(u_text)} is more than the value itself: check it.")
    if row.water_on and not row.water:
        yield BadField("water_on", "there is no water content of that day: write it too.")


def _fraction(text: str) -> float | None:
    return float(number(text)) / 100.0 if text else None


def _solution(row: Lot) -> Iterator[BadField]:
    if bool(row.concentration) != bool(row.solvent):
        missing = "solvent" if row.concentration else "concentration"
        yield BadField(missing, "a solution has a concentration and a solvent: write both or none.")
    if row.solvent and row.solvent == row.substance:
        yield BadField("solvent", "substance and solvent are the same: check both.")
    if not row.concentration_u:
        return
    if not row.concentration:
        yield BadField("concentration_u", "there is no concentration that it belongs to: write it too.")
        return
    value = quantity(row.concentration, *CONCENTRATIONS)
    try:
        u = quantity(row.concentration_u, value.kind)
    except StoreError as error:
        yield BadField("concentration_u", str(error))
        return
    if u.unit != value.unit:
        yield BadField("concentration_u", f"write it in {value.unit}, the unit of the concentration.")
    elif not 0 < u.number < value.number:
        yield BadField("concentration_u", f"{u} does not fit {value}: it lies between 0 and that.")


_FIXED = ("substance", "concentration", "concentration_u", "solvent", "made_by", "received")


def _made_here(row: Lot, old: Mapping[str, Any]) -> Iterator[BadField]:
    """A lot that a prep made says what its readings gave; only the prep can change that."""
    for name in _FIXED:
        if getattr(row, name) != old.get(name, ""):
            yield BadField(name, f"prep {old['made_by']} made this lot: correct the prep, not the register.")
    if old.get("expiry") and (not row.expiry or row.expiry > old["expiry"]):
        yield BadField("expiry", f"it rests on what the lot was made of: no later than {old['expiry']}.")
    if old.get("status") != row.status == LotStatus.RELEASED:
        yield BadField("status", f"it is released by a review of prep {old['made_by']}, not here.")


def _container(row: Container, known: Known) -> Iterator[BadField]:
    old = known.body("container", row.id)
    if old and old.get("lot") != row.lot and known.used("container", row.id):
        yield BadField(
            "lot", "preps were made from this container: it keeps its lot; number the new one anew."
        )
    if row.warm_minutes and WARM not in row.conditioning:
        yield BadField("warm_minutes", f"they belong to the conditioning `{WARM}`: write it too.")
    if row.thaws and not row.thaws_most:
        yield BadField("thaws_most", "thaws are counted against it: write how often it may be thawed.")


# ---- where it is weighed ----


def _balance(row: Balance, known: Known) -> Iterator[BadField]:
    step, capacity = _mg(row.readability), _mg(row.capacity)
    # OIML R 76-1: a scale interval is 1, 2 or 5 times a power of ten (from memory).
    if step.normalize().as_tuple().digits not in ((1,), (2,), (5,)):
        yield BadField("readability", f"{row.readability}: a display counts in steps of 1, 2 or 5.")
    if step * 1000 > capacity:
        yield BadField(
            "readability", f"{row.readability} does not fit a capacity of {row.capacity}: check both."
        )
    if row.repeatability and _mg(row.repeatability) > step * 1000:
        yield BadField("repeatability", f"{row.repeatability} is over 1000 steps of the display: check it.")
    if bool(row.linearity_small) != bool(row.linearity_small_range):
        missing = "linearity_small" if row.linearity_small_range else "linearity_small_range"
        yield BadField(missing, "the small range has a width and a limit: write both or none.")
    elif row.linearity_small:
        if _mg(row.linearity_small_range) > capacity:
            yield BadField("linearity_small_range", f"it is over the capacity of {row.capacity}: check it.")
        if row.linearity and _mg(row.linearity_small) > _mg(row.linearity):
            yield BadField(
                "linearity_small", f"it is more than {row.linearity} of the whole range: check both."
            )
    yield from _check_weight(row, capacity)
    yield from order(row, ("calibrated", "calibration_due"))
    if row.source in ("serial", "tcp") and not row.port:
        yield BadField("port", f"a balance on {row.source} needs it: write the port or address.")
    if row.stable_mark and row.stable_mark == row.unstable_mark:
        yield BadField("unstable_mark", "both marks are the same: they must tell the lines apart.")


def _check_weight(row: Balance, capacity: Decimal) -> Iterator[BadField]:
    if not row.check_mass:
        for name in ("check_class", "check_u", "check_limit"):
            if getattr(row, name):
                yield BadField(
                    "check_mass", "a class, limit or uncertainty of a check needs its weight: write its mass."
                )
                return
        return
    if _mg(row.check_mass) > capacity:
        yield BadField("check_mass", f"{row.check_mass} is over the capacity of {row.capacity}: check both.")
    if not row.check_limit:
        yield BadField(
            "check_limit", "a check weight without a limit checks nothing: write how far it may be off."
        )
    elif row.check_u and _mg(row.check_u) > _mg(row.check_limit):
        yield BadField(
            "check_u", f"it is more than the limit of {row.check_limit}: such a weight checks nothing."
        )


def _enclosure(row: Enclosure, known: Known) -> Iterator[BadField]:
    if row.pressure_low and row.pressure_high and number(row.pressure_low) >= number(row.pressure_high):
        yield BadField(
            "pressure_high", f"{row.pressure_high} is not above the lowest, {row.pressure_low} Pa."
        )


_CHECKS: Mapping[type[Row], Callable[[Any, Known], Iterator[BadField]]] = {
    Substance: _substance,
    Lot: _lot,
    Container: _container,
    Balance: _balance,
    Enclosure: _enclosure,
    **site_checks.CHECKS,
}
