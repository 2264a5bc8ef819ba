"""The samples taken into a record that is empty, to try it."""

import tomllib
from pathlib import Path

from store.actions import imports, people
from store.actions.acting import Acting
from store.errors import Refused
from store.exchange.tables import read_rows
from store.model.registers import REGISTERS
from store.model.words import Role
from store.queries import registers as ask


def load(acting: Acting, folder: Path) -> dict[str, str]:
    """Take every sample register in, all or none, and give the PINs of the sample people.

    What the site has set already stays.

    Raises
    ------
    NotAllowed
        No keeper.
    Refused
        The record holds data already.
    """
    acting.must(Role.KEEPER)
    record = acting.record
    if held := [r for r in ("substance", "lot", "balance") if ask.rows(record, r, retired=True)]:
        raise Refused(f"This record has a {held[0]} already: samples are loaded into an empty one only.")
    kept = {"setting": ask.rows(record, "setting"), "person": ask.rows(record, "person", retired=True)}
    own = {(register, r.id) for register, rows in kept.items() for r in rows}
    pins = tomllib.loads((folder / "pins.toml").read_text(encoding="utf-8"))["pin"]
    with record.immediate():
        for register in REGISTERS:
            file = folder / f"{register}.toml"
            rows = [r for r in read_rows(file, register) if (register, r.cells["id"]) not in own]
            imports.take(acting, register, rows, f"the samples, {file.name}")
        for id, pin in pins.items():
            if ("person", id) not in own:
                people.set_pin(acting, str(id), str(pin))
    return {str(id): str(pin) for id, pin in pins.items() if ("person", id) not in own}
