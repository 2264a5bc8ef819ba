"""Texts of a plan that say more than one number: a measured density, an evaporation."""

import re
from dataclasses import dataclass

from store.calc.given import Loss
from store.calc.purity import standard_uncertainty
from store.errors import BadInput, StoreError
from store.units import Quantity, plain, quantity

_U = re.compile(r"\s(?=(?:U|u|±|\+/-)\s*[0-9.,])")
DENSITY_SAYS = "write 1.012 g/mL u 0.001, or 10.123 g in 10.00 mL ± 0.02"
LOSS_SAYS = "write a bound such as 6 mg, or a measured loss such as 6.1 mg u 0.4"


@dataclass(frozen=True, slots=True)
class StatedDensity:
    """A density that was measured: as such, or as the mass of a known volume."""

    density: Quantity | None
    mass: Quantity | None
    volume: Quantity | None
    u: float | None
    """Standard uncertainty of the density or of the volume, in its own unit; None where it is missing."""


def density(text: str) -> StatedDensity:
    """Read a measured density of a solution.

    >>> found = density("10.123 g in 10.00 mL ± 0.02")
    >>> found.mass.number, found.volume.number, round(found.u, 5)
    (Decimal('10.123'), Decimal('10.00'), 0.01155)

    Raises
    ------
    BadInput
        It is neither a density nor a mass in a volume.
    """
    said, u = _parted(text, DENSITY_SAYS)
    mass, inside, volume = said.partition(" in ")
    try:
        if inside:
            found = StatedDensity(None, quantity(mass, "mass"), quantity(volume, "volume"), u)
        else:
            found = StatedDensity(quantity(said, "density"), None, None, u)
    except StoreError as error:
        raise BadInput(f"{plain(text)} is no measured density: {DENSITY_SAYS}.") from error
    if any(q is not None and q.number <= 0 for q in (found.density, found.mass, found.volume)):
        raise BadInput(f"{plain(text)}: each of its numbers is more than zero.")
    return found


def loss(text: str) -> Loss:
    """Read what evaporated: a bound (it lies anywhere from none to that), or a measured mass with its u.

    >>> loss("6 mg").value_mg, loss("6.1 mg u 0.4")
    (3.0, Loss(value_mg=6.1, u_mg=0.4))

    Raises
    ------
    BadInput
        It is no mass.
    """
    if not text.strip():
        return Loss()
    said, u = _parted(text, LOSS_SAYS)
    try:
        mass = quantity(said, "mass")
    except StoreError as error:
        raise BadInput(f"{plain(text)} is no evaporation: {LOSS_SAYS}.") from error
    if mass.number < 0:
        raise BadInput(f"{plain(text)}: solvent leaves, so it is not below zero.")
    if u is None:
        return Loss.up_to(mass.to("mg"))
    step = mass.to("mg") / float(mass.number) if mass.number else quantity(f"1 {mass.unit}", "mass").to("mg")
    return Loss(value_mg=mass.to("mg"), u_mg=round(u * step, 12))


def _parted(text: str, says: str) -> tuple[str, float | None]:
    """Part what is said from its uncertainty."""
    said, *rest = _U.split(text.strip(), maxsplit=1)
    try:
        return said.strip(), standard_uncertainty(rest[0]) if rest else None
    except StoreError as error:
        raise BadInput(f"{plain(text)}: {says}.") from error
