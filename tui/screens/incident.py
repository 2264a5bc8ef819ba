"""An incident in a few digits: what, in which prep, in which words, who was there."""

from collections.abc import Sequence
from typing import ClassVar

from store.actions import notes
from store.errors import StoreError
from store.queries import preps, registers
from tui.commands import BACK, HELP, Command
from tui.guide.keys import Choose, Chosen, Intent, Mode, Number, Text, Typed
from tui.guide.texts import INCIDENT_WORDS, OTHER_WORDS
from tui.screens.desk import Desk
from tui.screens.frame import PadScreen, wrapped
from tui.widgets.footer import pairs
from tui.widgets.lines import Lines

NONE = "none of them"
MOST = 8
"""Preps or people offered by digit."""


class IncidentScreen(PadScreen[None]):
    """Asks step by step and writes one entry."""

    NAME = "Incident"
    KEYS: ClassVar[tuple[Command, ...]] = (BACK, HELP)
    HELP_LINES = (
        "See to people first. An incident is written at any time, with what happened and everybody who was "
        "near; a reading or a dose is never changed by it. In its prep the cautions are shown in full again.",
    )
    locks = False

    def __init__(self, desk: Desk, prep: str) -> None:
        super().__init__(desk)
        self.prep = prep
        self._open = () if prep else tuple(p.prep for p in preps.open_preps(desk.record))[: MOST - 1]
        self._asks_prep = bool(self._open)
        self.what = self.note = ""
        self._typing = False
        self._line = ""
        me = desk.acting.person
        self._others = tuple(p for p in registers.people_here(desk.record) if p != me)[:MOST]
        self._near: set[str] = set()

    @property
    def stage(self) -> str:
        """What is asked now."""
        if not self.what:
            return "kind"
        if self._asks_prep:
            return "prep"
        if not self.note:
            return "words" if not self._typing else "typing"
        return "near"

    @property
    def choices(self) -> tuple[str, ...]:
        """What a digit may choose now."""
        return {
            "kind": (*INCIDENT_WORDS, "nothing: go back"),
            "prep": (*self._open, NONE),
            "words": (*INCIDENT_WORDS.get(self.what, ()), OTHER_WORDS),
            "typing": (),
            "near": tuple(f"{'was near' if p in self._near else 'not near'}   {p}" for p in self._others),
        }[self.stage]

    def expecting(self) -> Mode:
        """Say which keys mean something now."""
        if self.stage == "near":
            return Number(allow_empty=True, choices=len(self.choices))
        return Text() if self.stage == "typing" else Choose(len(self.choices))

    def typed(self, line: str) -> None:
        """Show what is typed so far."""
        self._line = line
        self.draw()

    def on_intent(self, intent: Intent) -> None:
        """Take an answer."""
        match intent:
            case Chosen(n):
                self.say("")
                self._choose(n)
            case Typed("") if self.stage == "near":
                self._write()
            case Typed(text) if self.stage == "typing" and text.strip():
                self.note = text.strip()
            case _:
                super().on_intent(intent)

    def _choose(self, n: int) -> None:
        match self.stage:
            case "kind" if n > len(INCIDENT_WORDS):
                self.dismiss(None)
            case "kind":
                self.what = tuple(INCIDENT_WORDS)[n - 1]
            case "prep":
                self.prep = self._open[n - 1] if n <= len(self._open) else ""
                self._asks_prep = False
            case "words" if n == len(self.choices):
                self._typing = True
            case "words":
                self.note = self.choices[n - 1]
            case "near":
                self._near ^= {self._others[n - 1]}

    def leave(self) -> None:
        """Go back a question."""
        if self.note:
            self.note, self._typing = "", False
        elif self._typing:
            self._typing = False
        elif self.what and self._open and not self._asks_prep:
            self._asks_prep = True
        elif self.what:
            self.what = ""
        else:
            self.dismiss(None)

    def _write(self) -> None:
        try:
            entry = notes.note_incident(
                self.desk.acting, self.prep, what=self.what, note=self.note, present=tuple(sorted(self._near))
            )
        except StoreError as refusal:
            self.say(refusal)
            return
        self.leave_saying(f"Incident written as entry {entry.entry}.")

    def footer(self) -> Sequence[tuple[str, str]]:
        """Give the keys of the question."""
        last = pairs(self.KEYS)
        if self.stage == "typing":
            return (("Enter", "done"), *last)
        if self.stage == "near":
            many = ((f"1 to {len(self._others)}", "was near, or not"),) if self._others else ()
            return (*many, ("Enter", "write the incident"), *last)
        return ((f"1 to {len(self.choices)}", "choose"), *last)

    def draw(self) -> None:
        """Draw what was answered, and what is asked."""
        if not self.is_mounted:
            return
        asked = {
            "kind": "What went wrong? See to people first; the entry can wait.",
            "prep": "In which prep?",
            "words": f"{self.what.capitalize()}: what happened?",
            "typing": f"{self.what.capitalize()}: what happened, in a few words?",
            "near": "Who was near, besides you?",
        }[self.stage]
        head = [part for part in (self.what, self.prep, self.note) if part]
        lines = [*(["  ·  ".join(head), ""] if head else []), asked, ""]
        lines += [f"  {n}  {choice}" for n, choice in enumerate(self.choices, 1)]
        if self.stage == "typing":
            lines.append(f"  {self._line}▏")
        self.query_one("#lines", Lines).show(wrapped(lines, self.wide, indent="     "))
        self.keys_mean(self.footer())
