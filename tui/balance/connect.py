"""From a row of the register to a source of readings."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from store.model.registers import Balance as Registered
from tui.balance.protocol import Balance, Kind
from tui.balance.settings import Manner, manner, wire
from tui.balance.stream import Heard
from tui.balance.typed import Typed

if TYPE_CHECKING:
    from tui.balance.link import Link


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


def listening(port: str, how: Manner, heard: Callable[[Heard], None]) -> "Link":
    """Begin to listen to a port of any kind; every line is handed on as it comes, by a thread of its own.

    Raises
    ------
    BadField
        The port cannot be understood.
    """
    from tui.balance.link import Link
    from tui.balance.serial_line import open_port as open_serial
    from tui.balance.tcp import open_port as open_tcp

    spoken = wire(port)
    over_tcp = spoken.tcp is not None
    kind: Kind = "tcp" if over_tcp else "serial"
    return Link(spoken.place, kind, spoken, how, open_tcp if over_tcp else open_serial, heard=heard)
