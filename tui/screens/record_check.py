"""The record check: the chain over the stored bytes, and every derived value against it."""

from collections.abc import Sequence
from pathlib import Path
from typing import ClassVar

from textual.message import Message
from textual.worker import Worker, get_current_worker

from store.errors import BadInput, StoreError
from store.record.verify import Verdict, verify
from tui.commands import BACK, HELP, Command
from tui.guide.keys import Choose, Chosen, Intent, Mode, Text, Typed
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen, wrapped
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines

CHOICES = (
    "the chain only: quick, for every day",
    "the chain and every derived value",
    "the same, held up to an entry:digest of a label, an export or a note",
)
SHORTEST = 16
"""Hex digits of a digest that an anchor needs."""


class RecordCheckScreen(PadScreen[None]):
    """Runs a check in a thread, with a connection of its own, and says what it found."""

    CSS_PATH = ["frame.tcss", "record_check.tcss"]
    NAME = "Record check"
    KEYS: ClassVar[tuple[Command, ...]] = (BACK, HELP)
    HELP_LINES = (
        "Every entry carries a digest of the one before it: a changed entry is named, the first one first. "
        "The derived tables are folded anew and compared value by value.",
        "Who owns the file can forge a whole chain, but not the labels, exports and backups that carry its "
        "digests: an anchor holds the record up to one of them, and finds a cut tail too.",
        "The record is read, never written; work may go on meanwhile.",
    )

    class Walked(Message):
        """The check has come so far."""

        def __init__(self, entries: int) -> None:
            super().__init__()
            self.entries = entries

    class Ended(Message):
        """The check has ended, with a verdict or with what kept it from one."""

        def __init__(self, found: Verdict | StoreError, what: str) -> None:
            super().__init__()
            self.found, self.what = found, what

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._typing = False
        self._line = ""
        self._worker: Worker[None] | None = None
        self._walked = 0
        self._found: Verdict | StoreError | None = None
        self._what = ""

    @property
    def runs(self) -> bool:
        """Whether a check runs now."""
        return self._worker is not None and not self._worker.is_finished

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        return Text() if self._typing else Choose(len(CHOICES))

    def typed(self, line: str) -> None:
        """Show what is typed so far."""
        self._line = line
        self.draw()

    def on_intent(self, intent: Intent) -> None:
        """Begin a check."""
        match intent:
            case Chosen() if self.runs:
                self.say("A check runs: wait for it.")
            case Chosen(3):
                self._typing = True
            case Chosen(n):
                self._begin(n)
            case Typed(text) if self._typing:
                self._with_anchor(text)
            case _:
                super().on_intent(intent)

    def leave(self) -> None:
        """Leave; a check that runs is let go, it writes nothing."""
        if self._typing:
            self._typing = False
        else:
            self.dismiss(None)

    def _with_anchor(self, text: str) -> None:
        try:
            anchor = anchor_of(text)
        except StoreError as refusal:
            self.say(refusal)
            return
        self._typing = False
        self._begin(3, anchor)

    def _begin(self, how: int, anchor: tuple[int, str] | None = None) -> None:
        self.say("")
        self._found, self._walked, self._what = None, 0, CHOICES[how - 1]
        path, what = self.desk.path, self._what
        self._worker = self.run_worker(
            lambda: self._check(path, what, chain_only=how == 1, anchor=anchor),
            group="record check",
            exclusive=True,
            thread=True,
        )
        self.draw()

    def _check(self, path: Path, what: str, *, chain_only: bool, anchor: tuple[int, str] | None) -> None:
        """Run in the thread: no widget is touched from here."""
        worker = get_current_worker()

        def walked(entries: int) -> None:
            if not worker.is_cancelled:
                self.post_message(self.Walked(entries))

        try:
            found: Verdict | StoreError = verify(path, chain_only=chain_only, anchor=anchor, progress=walked)
        except StoreError as refusal:
            found = refusal
        if not worker.is_cancelled:
            self.post_message(self.Ended(found, what))

    def on_record_check_screen_walked(self, message: Walked) -> None:
        """Show how far it has come."""
        self._walked = message.entries
        self.draw()

    def on_record_check_screen_ended(self, message: Ended) -> None:
        """Show what was found."""
        self._found = message.found
        self._worker = None
        self.draw()

    # ---- drawing ----

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys that mean something now."""
        last = pairs(self.KEYS)
        return (("Enter", "check"), *last) if self._typing else (("1 to 3", "begin"), *last)

    def draw(self) -> None:
        """Draw the choices, how far it is, and the verdict."""
        if not self.is_mounted:
            return
        head = self.desk.record.head()
        lines = [
            f"record  {self.desk.path.name}, {head.entry} entries",
            "head",
            *_digest(head.entry, head.digest, self.wide),
            "",
        ]
        lines += [f"  {n}  {choice}" for n, choice in enumerate(CHOICES, 1)]
        lines.append("")
        if self._typing:
            lines += ["The entry and its digest, as they stand there:", f"  {self._line}▏"]
        elif self.runs:
            share = 100 * self._walked // max(1, head.entry)
            lines.append(f"Checking {self._what} ... {self._walked} of {head.entry} entries, {share} %")
        elif self._found is not None:
            lines += said(self._found, self._what, self.wide)
        self.query_one("#lines", Lines).show(wrapped(lines, self.wide, indent="     "))
        self.keys_mean(self.footer())


def said(found: Verdict | StoreError, what: str, width: int) -> list[str]:
    """Give a verdict as lines."""
    if isinstance(found, StoreError):
        return [f"NOT CHECKED  {found}"]
    if found.ok:
        return [
            f"OK  {found.entries} entries: {what}.",
            "Note this head, or keep a label or an export that carries it:",
            *_digest(found.head.entry, found.head.digest, width),
        ]
    return [
        "DOES NOT VERIFY  Keep the file as it is, tell the keeper, and restore a verified backup.",
        *(f"✗ {fault}" for fault in found.faults),
    ]


def _digest(entry: int, digest: str, width: int) -> tuple[str, ...]:
    """An entry and its digest; broken in the middle where a line does not hold it."""
    text = f"{entry}:{digest}"
    return (f"  {text}",) if len(text) + 2 <= width else (f"  {text[: width - 4]}", f"  {text[width - 4 :]}")


def anchor_of(text: str) -> tuple[int, str]:
    """Read an anchor such as `120:88e391ed75c3a4f0`.

    >>> anchor_of("120:88E391ED75C3A4F0")
    (120, '88e391ed75c3a4f0')

    Raises
    ------
    BadInput
        It is none.
    """
    entry, colon, digest = text.strip().lower().partition(":")
    is_hex = len(digest) >= SHORTEST and not set(digest) - set("0123456789abcdef")
    if not (colon and entry.isascii() and entry.isdecimal() and is_hex):
        raise BadInput(
            f"Type the entry, a colon, and {SHORTEST} or more hex digits, such as 120:88e391ed75c3a4f0."
        )
    return int(entry), digest
