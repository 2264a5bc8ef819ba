"""The settings of a balance out of its own lines: recorded, proposed, taken into its row by a keeper."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING
from queue import Empty, SimpleQueue
from typing import ClassVar

from textual import events

from store.errors import BadField, StoreError
from store.model.registers import Balance
from store.queries.registers import RegisterRow
from store.units import UNITS, unit_of
from tui.balance import connect, teach
from tui.balance.settings import Manner, wire
from tui.balance.stream import Heard
from tui.commands import BACK, HELP, Command
from tui.guide.keys import Choose, Chosen, Intent, Mode, Typed
from tui.guide.keys import Text as TextMode
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen, wrapped
from tui.screens.register_fields import REASON
from tui.screens.small_form import SmallForm
from tui.screens.tabled import tabled
from tui.widgets.entry_form import Field
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines

MOST = 10_000
"""Lines that are kept; the newest."""
LOOK_S = 0.25
CHOICES = (("1", "into the form"), ("2", "record on"))
UNIT_OF_ROW = Balance.__dataclass_fields__["unit"].metadata["choices"]
REST = "While it records, let the display rest, put something on, and let it rest again."
Fields = Mapping[str, str]


def form(desk: Desk, row: RegisterRow, then: Callable[[Fields], None]) -> SmallForm:
    """Give the form that asks where the lines come from; `then` gets `port` and `unit`, both may be empty."""

    def do(given: Mapping[str, str]) -> None:
        if given["port"]:
            wire(given["port"])
        if given["unit"] and unit_of(given["unit"]) not in UNITS["mass"]:
            raise BadField("unit", "write mg or g, or nothing.")
        then(given)

    lines = (
        "Ten of its lines or more, at rest and moving, and their form is proposed for the row. Nothing is "
        "written before the form of the row is.",
    )
    fields = (
        Field("port", "port", value=str(row.row.get("port", "")),
              help="place, then settings: /dev/ttyUSB0 9600, or host:port; empty: lines are typed or pasted"),
        Field("unit", "unit of the display", help="only where its lines carry none: mg or g"),
    )  # fmt: skip
    return SmallForm(desk, f"Lines of balance {row.id}", lines, fields, do)


class TeachScreen(PadScreen[Fields]):
    """Records lines from a port, typed or pasted; its result is the fields of the row, or None."""

    KEYS: ClassVar[tuple[Command, ...]] = (BACK, HELP)
    HELP_LINES = (
        REST + " Lines come from the port, from a device that types, from the keyboard or pasted. Enter on "
        "an empty line proposes settings.",
        "A mark that stands only while the numbers rest means stable. What the lines do not tell is said, "
        "not guessed. Compare what is proposed with the display itself before it is written.",
    )
    survives_lock = False

    def __init__(self, desk: Desk, row: RegisterRow, *, port: str = "", unit: str = "") -> None:
        super().__init__(desk)
        self.row, self.port, self.unit = row, port, unit
        self.NAME = f"Lines of balance {row.id}"
        self.lines: list[bytes] = []
        self.found: teach.Proposal | None = None
        self._heard: SimpleQueue[Heard] = SimpleQueue()
        self._link = connect.listening(port, Manner(), self._heard.put) if port else None
        self._line = ""

    def on_mount(self) -> None:
        """Take what comes."""
        self.set_interval(LOOK_S, self._look)

    def on_unmount(self) -> None:
        """Let go of the port."""
        if self._link is not None:
            self._link.close()

    def _look(self) -> None:
        while True:
            try:
                raw = self._heard.get_nowait().raw
            except Empty:
                break
            if self.found is None:
                self._record(raw)
        if self.found is None:
            self.draw()

    def _record(self, raw: bytes) -> None:
        if raw := raw.strip(b"\r\n"):
            self.lines.append(raw)
            del self.lines[:-MOST]

    # ---- keys ----

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return TextMode(allow_empty=True) if self.found is None else Choose(len(CHOICES))

    def typed(self, line: str) -> None:
        """Show what is typed so far."""
        self._line = line
        self.draw()

    def on_paste(self, event: events.Paste) -> None:
        """Take pasted lines whole, however many."""
        if self.found is not None:
            return
        event.stop()
        event.prevent_default()
        for line in event.text.splitlines():
            self._record(line.encode())
        self.draw()

    def on_intent(self, intent: Intent) -> None:
        """Record a typed line, propose, or give what is proposed."""
        match intent:
            case Typed(text) if text:
                self._record(text.encode())
            case Typed():
                self._propose()
            case Chosen(1) if self.found is not None:
                self.dismiss(self._fields(self.found))
            case Chosen(2):
                self.found = None
            case _:
                super().on_intent(intent)

    def leave(self) -> None:
        """Back to recording, or away."""
        if self.found is None:
            self.dismiss(None)
        else:
            self.found = None

    def _propose(self) -> None:
        if self.is_mounted:
            self.say("")
        try:
            self.found = teach.propose(self.lines, unit=self.unit)
        except StoreError as refusal:
            self.say(refusal)

    def _fields(self, found: teach.Proposal) -> Fields:
        """Give what the row would say."""
        fields = {
            "readability": found.readability,
            "stable_mark": found.stable_mark,
            "unstable_mark": found.unstable_mark,
        }
        if found.unit in UNIT_OF_ROW:
            fields["unit"] = found.unit
        if self.port:
            fields |= {
                "source": "tcp" if wire(self.port).tcp is not None else "serial",
                "port": found.port(self.port),
            }
        return {**fields, REASON: f"read from {found.of} of its lines"}

    # ---- drawing ----

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys of the moment."""
        if self.found is not None:
            return (*CHOICES, *pairs(self.KEYS))
        enter = "take the line" if self._line else "propose settings"
        return (("Enter", enter), *pairs(self.KEYS))

    def draw(self) -> None:
        """Draw what was recorded, or what is proposed."""
        if not self.is_mounted:
            return
        lines = self._recording() if self.found is None else self._proposed(self.found)
        self.query_one("#lines", Lines).show(wrapped(lines, self.wide, indent="  "))
        self.keys_mean(self.footer())

    def _recording(self) -> list[str]:
        room = max(3, self.size.height - 14)
        state = self._link.state() if self._link is not None else ""
        return [
            f"Listening to {self.port}." if self.port else "Lines are typed, pasted, or come from a wedge.",
            REST,
            "",
            f"{len(self.lines)} lines; {teach.FEWEST} or more with one number are needed.",
            *(f"  {repr(raw)[2:-1]}" for raw in self.lines[-room:]),
            *((f"! {state}",) if state else ()),
            "",
            f"a line, or Enter: {self._line}▏",
        ]

    def _proposed(self, found: teach.Proposal) -> list[str]:
        now, proposed = self.row.row, self._fields(found)
        rows = [
            (name.replace("_", " "), str(now.get(name) or _default(name) or "-"), proposed[name] or "-")
            for name in proposed
            if name != REASON
        ]
        apart = (
            (f"! Its lines are in {found.unit}: set the display to {' or '.join(UNIT_OF_ROW)}.",)
            if found.unit not in UNIT_OF_ROW
            else ()
        )
        return [
            *tabled(("field", "in the row", "proposed"), rows, self.wide),
            "",
            f"With it {found.read} of {found.of} lines are read.",
            *apart,
            *(f"! {remark}" for remark in found.remarks),
            "",
            "Compare with the display itself; then take it into the form of the row.",
        ]


def _default(name: str) -> object:
    default = Balance.__dataclass_fields__[name].default
    return "" if default is MISSING else default
