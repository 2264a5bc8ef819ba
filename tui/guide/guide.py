"""The guide of one prep: what stands on the screen follows from the record; a key becomes one verb.

The open act is computed from the entries alone, so nothing here needs to survive: a question half answered,
a number half typed, the screen of a page are all that a killed program loses.
"""

from collections.abc import Callable
from random import Random
from typing import Protocol

from store.actions import cautions as guard
from store.actions import rules_now, steps
from store.actions.acting import Acting, LetThrough
from store.actions.cautions import Before
from store.errors import MovedOn, NeedsSecondPerson, StoreError
from store.model.prep import Act
from store.model.words import PrepStatus
from store.procedure import pan
from store.procedure.standing import Standing
from store.procedure.state import PrepState
from store.queries import answered, gloves, today
from store.record.record import Record
from store.units import plain
from tui.balance.protocol import Balance, Sample
from tui.guide import acts, back, between, drawing, ending, keys, scanning, unmeant, weigh
from tui.guide.asks import Ask
from tui.guide.by_itself import CountDown
from tui.guide.stream import Stream
from tui.guide.texts import STATIC_HELP
from tui.guide.view import StepView


class Bench(Protocol):
    """What stands for the hands where the balance is simulated: puts on the pan what the act asks for."""

    def arrange(self, state: PrepState, act: Act | None, at_s: float) -> None:
        """Lay on the pan what lies there at the open act."""

    def dose(self, how: int, at_s: float) -> None:
        """Add one portion: 1 pours, 2 taps, 3 lets a grain or a drop fall."""


class Guide:
    """One person at one prep."""

    def __init__(
        self,
        acting: Acting,
        prep: str,
        *,
        monotonic: Callable[[], float],
        chance: Random,
        balance: Balance | None = None,
        bench: Bench | None = None,
        label: Callable[[Record, PrepState], str],
        fresh: bool = False,
    ) -> None:
        self.acting, self.prep = acting, prep
        self.monotonic, self.chance, self.balance, self.bench = monotonic, chance, balance, bench
        self._label = label
        self.asks: list[Ask] = []
        self.said = ""
        self.answer = ""
        """What the last key wrote; what is said goes before it."""
        self._holds: Callable[[], bool] | None = None
        """As long as this holds, what is said does too; None: until the next key."""
        self.refused = False
        """The last key led to a refusal."""
        self.taken = ""
        """How what is taken now came to be taken; empty where a key did it."""
        self.left = False
        """The person left the prep; it stays open in the record."""
        self.sample: Sample | None = None
        self.typed_reading = ""
        """What was typed at a dose and waits for the second Enter."""
        self.opened_at: float | None = None
        self.screen, self.digit = 0, chance.randint(1, 9)
        self.leaf = 0
        """Which part of a long text is shown; Enter turns to the next before it acts."""
        self.state = acting.record.prep_state(prep)
        if self.state.status == PrepStatus.OPEN and not fresh and self.state.acks:
            steps.resume(acting, prep, why="taken up again")
            self.said = "Taken up again. What was typed but not accepted before is not kept."
        self.by_itself = CountDown(self.state.basis.get("settings", {}))
        self.stream = Stream(pan.balance(self.state), self.state.basis.get("settings", {}))
        self.refresh()
        if self.state.open_handlings:
            self.push(acts.still_open(self))

    # ---- where it stands ----

    def refresh(self) -> None:
        """Read the prep anew and lay on the pan what the open act asks for."""
        self.state = self.acting.record.prep_state(self.prep)
        self.before: Before | None = None
        if self.state.status == PrepStatus.OPEN and self.state.current is not None:
            self.before = guard.before(self.acting.record, self.state, self.acting.person)
        self.untold: tuple[Act, ...] = ()
        self.rule_left_s: float | None = None
        if self.before is not None:
            self.untold = rules_now.untold(self.acting.record, self.state)
            self.rule_left_s = rules_now.left_s(self.acting.record, self.state, self.acting.person)
        self.open_today_s = today.open_s(self.acting.record, self.acting.person)
        self.gloves = gloves.clocks(self.acting.record, self.state)
        if self.bench is not None:
            act = weigh.current(self) if self.state.act is not None else None
            self.bench.arrange(self.state, act, self.monotonic())

    @property
    def on_page(self) -> bool:
        """Whether the full page of the open step must be read now."""
        return self.before is not None and self.before.standing == Standing.PAGE

    @property
    def place(self) -> tuple[object, ...]:
        """What is asked now, to be compared: another place asks for something else."""
        act = self.state.act
        return self.state.step, act.key if act is not None else "", tuple(map(id, self.asks)), self.on_page

    @property
    def finished(self) -> bool:
        """Whether the prep is closed or given up."""
        return self.state.status != PrepStatus.OPEN

    @property
    def something_open(self) -> bool:
        """Whether anything hazardous is open: then the screen never locks."""
        return bool(self.state.open_handlings)

    @property
    def screens(self) -> tuple[tuple[str, ...], ...]:
        """The screens of the open step's caution page."""
        return self.before.screens if self.before is not None else ()

    def label(self) -> str:
        """Give the text label that fits the moment."""
        return self._label(self.acting.record, self.state.here)

    def labels(self) -> dict[str, str]:
        """Give the text label of every vessel, by its part."""
        return {part.key: self._label(self.acting.record, part) for part in self.state.each}

    def view(self) -> StepView:
        """Give what stands on the screen now."""
        return drawing.draw(self)

    def expect(self) -> keys.Mode:
        """Say which keys mean something now."""
        if self.asks:
            ask = self.asks[-1]
            if ask.passes:
                return keys.Number(allow_empty=True, choices=len(ask.choices))
            if ask.choices:
                return keys.Choose(len(ask.choices))
            if ask.read_only:
                return keys.Act()
            return keys.Pin() if ask.secret else keys.Text()
        if self.on_page:
            return keys.Page(self.digit)
        return acts.expect(self)

    def poll(self) -> None:
        """Ask the balance for what it shows now."""
        if self.balance is not None:
            self.sample = self.stream.take(self.balance.poll(self.monotonic()))
        if self._holds is not None and not self._holds():
            self.said, self._holds = "", None

    @property
    def fresh_sample(self) -> Sample | None:
        """What the display shows now; a reading older than a second, or a fault, is none."""
        sample = self.sample
        return sample if sample is not None and sample.live(self.monotonic()) else None

    @property
    def link_says(self) -> str:
        """What is wrong with the balance or its link; empty while nothing is."""
        if self.balance is None:
            return ""
        fault = self.sample.fault if self.sample is not None else ""
        return fault or self.balance.state()

    # ---- keys ----

    def take(self, intent: keys.Intent) -> None:
        """Do what a key asks; a refusal is said in one sentence and changes nothing."""
        self.said, self.answer, self.refused, self._holds = "", "", False, None
        before = self.state.last_entry
        if self.fresh_sample is None:
            self.poll()  # a line prompt may have waited long: what counts is what the display shows now
        try:
            self._take(intent)
        except NeedsSecondPerson as refusal:
            self.said, self.refused = str(refusal), True
        except MovedOn as refusal:
            self.asks.clear()
            self.refresh()
            self.said, self.refused = str(refusal), True
        except StoreError as refusal:
            self.refresh()
            self.said, self.refused = str(refusal), True
        if self.state.last_entry != before:
            written = self.acting.record.entries(subject=f"prep:{self.prep}", after=before)
            self.answer = answered.words(written, self.state)

    def _take(self, intent: keys.Intent) -> None:
        if isinstance(intent, keys.Unmeant | keys.NotTaken | keys.Letter):
            self.refuse(unmeant.words(intent, self.expect()))
        elif isinstance(intent, keys.Help):
            self.push(Ask(text=STATIC_HELP, then=lambda _n, _t: None, read_only=True))
        elif isinstance(intent, keys.Back) and self.asks:
            self.asks.pop()
        elif isinstance(intent, keys.Pause):
            self._pause()
        elif isinstance(intent, keys.Note):
            self.push(between.incident_ask(self))
        elif isinstance(intent, keys.Act) and self.leaf + 1 < drawing.leaves(self):
            self.leaf += 1
        elif isinstance(intent, keys.Scanned) and scanning.scans(self):
            scanning.scanned(self, intent.text)
        elif isinstance(intent, keys.Doubtful | keys.Scanned):
            self.refuse(f"Not taken, two things may have run together: {plain(intent.text)}")
        elif self.asks:
            self._answer(intent)
        elif self.finished:
            self.left = True
        elif isinstance(intent, keys.Back) and self.typed_reading:
            self.typed_reading, self.said = "", "What was typed is dropped."
        elif isinstance(intent, keys.Back):
            self.push(back.ask(self))
        elif self.on_page:
            if isinstance(intent, keys.Acknowledged):
                self._acknowledge()
        elif self.state.current is None:
            ending.take(self, intent)
        else:
            acts.take(self, intent)

    def _answer(self, intent: keys.Intent) -> None:
        ask, self.leaf = self.asks[-1], 0
        if isinstance(intent, keys.Chosen) and intent.n <= len(ask.choices):
            self.asks.pop()
            ask.then(intent.n, ask.choices[intent.n - 1])
        elif ask.passes and intent in (keys.Act(), keys.Typed("")):
            self.asks.pop()
        elif isinstance(intent, keys.Typed) and not ask.choices and not ask.read_only:
            self.asks.pop()
            ask.then(0, intent.text)
        elif isinstance(intent, keys.Act) and ask.read_only:
            self.asks.pop()
            ask.then(0, "")

    def _acknowledge(self) -> None:
        screens = self.screens
        self.digit = self.chance.choice([d for d in range(1, 10) if d != self.digit])
        if self.screen + 1 < len(screens):
            self.screen += 1
            return
        guard.acknowledge(self.acting, self.prep, seen=self.state.last_entry, screens=len(screens))
        self.screen = 0
        self.refresh()

    def _pause(self) -> None:
        if self.something_open:
            self.said = "Something is open: close it before you leave."
        else:
            self.left = True

    def refuse(self, why: str, *, holds: Callable[[], bool] | None = None) -> None:
        """Say why a key did not do what was asked, for as long as it holds."""
        self.said, self.refused, self._holds = why, True, holds

    def stop_counting(self) -> None:
        """A key stopped the count-down: it does nothing else."""
        self.by_itself.stop()
        self.said = "The count-down is stopped: Enter takes it."

    def push(self, ask: Ask) -> None:
        """Put a question before everything else."""
        self.leaf = 0
        self.asks.append(ask)

    # ---- what a verb needs ----

    def did(self) -> None:
        """After a verb: look anew; the page of the next step starts at its first screen."""
        self.screen = self.leaf = 0
        self.typed_reading = ""
        self.stream.begin(self.monotonic())
        self.refresh()

    def try_with_second(self, verb: Callable[[LetThrough | None], None]) -> None:
        """Run a verb; where it needs a second person, ask for one and run it again with the decision."""
        try:
            verb(None)
        except NeedsSecondPerson as refusal:
            if self.state.basis["settings"]["second_person"] != "yes" and not refusal.demanded:
                raise
            self.refused = True
            self.push(between.second_ask(self, refusal.what, verb))
        else:
            self.did()
