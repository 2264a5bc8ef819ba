"""What the register says of solubility and dust, held against a plan. Pure; said, never a stop."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from store.errors import StoreError
from store.procedure import inputs
from store.units import figure, quantity

_PER_100_ML = re.compile(r"([0-9.,]+) ?g ?/ ?100 ?m[lL]")
_QUANTITY = re.compile(r"[0-9.,]+ ?[a-zA-Zµ]+/[a-zA-Z]+")


def limit_g_l(text: str, names: tuple[str, ...]) -> tuple[float, str] | None:
    """Give the greatest concentration [g/L] that a text names for a solvent, and the words that say so.

    Parameters
    ----------
    text
        Solubility by solvent as a keeper wrote it, entries parted by semicolons.
    names
        What the solvent is called.

    Examples
    --------
    >>> limit_g_l("hardly in water; DMSO 20 g/L", ("dmso",)), limit_g_l("hardly in water", ("water",))
    ((20.0, 'DMSO 20 g/L'), None)
    >>> limit_g_l("water 12 g/100 mL at 20 degC", ("water",))
    (120.0, 'water 12 g/100 mL at 20 degC')
    """
    for entry in (part.strip() for part in text.split(";")):
        said = re.split(r"[\s,]+", entry.casefold())
        if not any(name and set(name.casefold().split()) <= set(said) for name in names):
            continue
        try:
            if found := _PER_100_ML.search(entry):
                return 10.0 * quantity(f"{found[1]} g", "mass").to("g"), entry
            if found := _QUANTITY.search(entry):
                return quantity(found[0], "mass_concentration").to("g/L"), entry
        except StoreError:
            continue  # words that are no quantity of ours: nothing is said
    return None


def against(basis: Mapping[str, Any], aims: Mapping[str, Any]) -> Iterator[str]:
    """Say where more is to be dissolved than the register says the solvent takes, and what dusts."""
    lot = basis["lot"]
    if lot.get("concentration"):
        return
    row = basis["substances"][lot["substance"]]
    if row.get("dustiness") == "high" and row.get("form") != "liquid":
        yield f"{row['name']} dusts highly, as the register says: static off, slow hands"
    solid_mg, solvent_mg = float(aims.get("solid_mg") or 0.0), float(aims.get("solvent_mg") or 0.0)
    if not (row.get("solubility") and solid_mg and solvent_mg):
        return
    solvent = basis["substances"][basis["solvent_lot"]["substance"]]
    names = (
        str(solvent["id"]),
        str(solvent["name"]),
        *solvent.get("synonyms", ()),
        inputs.known_solvent(solvent),
    )
    found = limit_g_l(str(row["solubility"]), names)
    if found is None:
        return
    aim_g_l = 1000.0 * solid_mg * inputs.solvent_density(basis)[0] / solvent_mg
    if aim_g_l > found[0]:
        yield (
            f"the register says of {row['name']}: {found[1]}; about {figure(aim_g_l, 3)} g in a litre of "
            "solvent are aimed at: it may not dissolve"
        )
