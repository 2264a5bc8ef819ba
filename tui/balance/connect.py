"""From a row of the register to a source of readings."""

from store.model.registers import Balance as Registered
from tui.balance.protocol import Balance
from tui.balance.settings import manner, wire
from tui.balance.typed import Typed


def source(row: Registered, *, seed: int = 0) -> Balance:
    """Give the source of readings that a balance of the register names.

    Raises
    ------
    BadField
        Its port cannot be understood.
    """
    if row.source == "serial":
        from tui.balance.serial_line import serial_line

        return serial_line(row.id, wire(row.port), manner(row))
    if row.source == "tcp":
        from tui.balance.tcp import tcp

        return tcp(row.id, wire(row.port), manner(row))
    if row.source == "simulated":
        from tui.balance.simulated import Simulated

        return Simulated.of(row, seed=seed)
    return Typed(row.id, "wedge" if row.source == "wedge" else "typed")
