"""A balance on a serial port."""

from collections.abc import Iterator
from contextlib import contextmanager
from errno import EACCES, EAGAIN, EBUSY, EINVAL, ENOENT
from os import strerror
from typing import TYPE_CHECKING

from tui.balance.link import READ_S, Link, Port
from tui.balance.settings import Manner, Wire

if TYPE_CHECKING:
    from serial import Serial


_SAYS = {
    ENOENT: "there is no such port",
    EACCES: "this user may not use the port",
    EBUSY: "another program uses the port",
    EAGAIN: "another program uses the port",
    EINVAL: "the port does not take this speed or frame",
}


@contextmanager
def _one_error() -> Iterator[None]:
    """Turn what a port raises while it is pulled out into OSError."""
    try:
        yield
    except OSError as error:
        if not error.errno:
            gone = "disconnected" in str(error)
            raise OSError("unplugged, or another program reads it too" if gone else str(error)) from error
        raise OSError(error.errno, _SAYS.get(error.errno) or strerror(error.errno)) from error
    except Exception as error:
        # termios.error is no OSError, and pyserial stumbles over a descriptor that is gone.
        if len(error.args) == 2 and isinstance(error.args[0], int):
            raise OSError(error.args[0], _SAYS.get(error.args[0]) or strerror(error.args[0])) from error
        raise OSError(str(error) or type(error).__name__) from error


class _SerialPort:
    def __init__(self, port: "Serial") -> None:
        self._port = port

    def read(self) -> bytes:
        with _one_error():
            first = self._port.read(1)  # waits; the rest is there already
            return first + self._port.read(self._port.in_waiting) if first else b""

    def write(self, data: bytes) -> None:
        with _one_error():
            self._port.write(data)

    def close(self) -> None:
        self._port.close()


def open_port(wire: Wire) -> Port:
    """Open the port; pyserial's errors are OSErrors."""
    with _one_error():
        return _SerialPort(_opened(wire))


def _opened(wire: Wire) -> "Serial":
    import serial

    port = serial.Serial(
        wire.place,
        wire.speed,
        bytesize=wire.bits,
        parity=wire.parity,
        stopbits=wire.stop,
        xonxoff=wire.handshake == "xonxoff",
        rtscts=wire.handshake == "rtscts",
        dsrdtr=wire.handshake == "dsrdtr",
        timeout=READ_S,
        write_timeout=1.0,
        exclusive=True,
    )
    port.reset_input_buffer()  # what was sent before nobody listened is no reading of now
    return port


def ports() -> tuple[tuple[str, str], ...]:
    """Give the serial ports of this machine, and what is known of each."""
    from serial.tools import list_ports

    return tuple(sorted((p.device, p.description or "") for p in list_ports.comports()))


def serial_line(name: str, wire: Wire, how: Manner) -> Link:
    """Begin to read a balance on a serial port."""
    return Link(name, "serial", wire, how, open_port)
