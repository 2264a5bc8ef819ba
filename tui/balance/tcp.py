"""A balance behind a serial-to-network converter, or with a network port of its own: lines over TCP."""

import socket

from store.errors import BadField
from tui.balance.link import READ_S, Link, Port
from tui.balance.settings import Manner, Wire

CONNECT_S = 3.0


class _TcpPort:
    def __init__(self, link: socket.socket) -> None:
        self._link = link

    def read(self) -> bytes:
        try:
            data = self._link.recv(4096)
        except TimeoutError:
            return b""
        if not data:
            raise ConnectionResetError("closed by the other side")
        return data

    def write(self, data: bytes) -> None:
        self._link.sendall(data)

    def close(self) -> None:
        self._link.close()


def open_port(wire: Wire) -> Port:
    """Connect."""
    place = wire.tcp
    if place is None:
        raise BadField("port", f"{wire.place!r} is no address: write host:port, such as 192.0.2.7:4001.")
    link = socket.create_connection(place, timeout=CONNECT_S)
    # A link that died without a word is found by the kernel, not only by silence.
    link.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    link.settimeout(READ_S)
    return _TcpPort(link)


def tcp(name: str, wire: Wire, how: Manner) -> Link:
    """Begin to read a balance over TCP."""
    if wire.tcp is None:
        raise BadField("port", f"{wire.place!r} is no address: write host:port, such as 192.0.2.7:4001.")
    return Link(name, "tcp", wire, how, open_port)
