"""The guide under random keys and intents: whatever is pressed, the rules of a prep hold."""

from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from store.actions.acting import Acting
from store.model.registers import Balance
from store.model.words import ActKind, PrepStatus, Role
from store.procedure import outcome, pan
from store.queries import registers
from store.record.verify import verify
from tests import several, site
from tests.tui import audit
from tests.tui.prepared import moments, opened
from tui.balance.rig import Rig
from tui.balance.simulated import Simulated
from tui.guide import keys, weigh
from tui.guide.guide import Guide
from tui.guide.player import Player

PEOPLE = ("op-1", "op-1", "op-1", "op-2", "so-1")
KEYS = [*"1234567890.,+-*/", "enter", "enter", "ctrl+j", "backspace", "escape", "x", "up", "\x00"]
READINGS = (
    *("0.00", "0,00", "0.03", "10.00", "9.50", "8.99", "-0.01", "-5.00", "20.00", "9990.00", "12034.52"),
    *("20000.03", "22044.50", "79999.99", "99999.99", "1e5", "0.0", "10", "", "24,5", "١٢٫٠٠", "nan"),
)
WAYS = ("close what", "again", "step before", "discard", "misread", "never happened", "give")
WORDS = ("a reason", "", "   ", "[bold]x[/]", "\u202eright", "longer " * 30)


class Prep(RuleBasedStateMachine):
    """One prep at which anybody presses anything."""

    plan = site.PLAN

    def __init__(self) -> None:
        super().__init__()
        self.folder = TemporaryDirectory()
        self.guides: list[Guide] = []

    @initialize(data=st.data(), seed=st.integers(0, 999), live=st.booleans())
    def begin(self, data: st.DataObject, seed: int, live: bool) -> None:
        moment = data.draw(st.sampled_from(list(moments(self.plan).values())), label="moment")
        self.clock, self.prep, self.chance = moment.clock(), moment.prep, Random(seed)
        self.record = opened(moment.copy(Path(self.folder.name) / "r.tarebook"), self.clock)
        self.doses: list[int] = []
        self.restart("op-1", live)

    def acting(self, person: str) -> Acting:
        row = registers.body(self.record, "person", person)
        return Acting(self.record, person, tuple(row["roles"]))

    def made(self, person: str, live: bool) -> Guide:
        row = Balance.from_body(self.record.prep_state(self.prep).basis["balance"])
        balance = Simulated.of(row, seed=self.chance.randint(0, 99)) if live else None
        rig = Rig(balance, self.chance) if balance is not None else None
        return Guide(
            self.acting(person), self.prep, monotonic=self.clock.time, chance=self.chance, balance=balance,
            bench=rig, label=site.label,
        )  # fmt: skip

    def intend(self, intent: keys.Intent) -> None:
        self.guide.poll()
        self.guide.take(intent)
        self.looked()

    def looked(self) -> None:
        self.guide.poll()
        self.guide.view()
        if self.guide.left:
            self.restart(self.guide.acting.person, self.guide.balance is not None)

    # ---- people ----

    @rule(person=st.sampled_from(PEOPLE), live=st.booleans())
    def restart(self, person: str, live: bool) -> None:
        """The program is killed and started again, perhaps by somebody else."""
        if self.guides and self.record.prep_state(self.prep).status != PrepStatus.OPEN:
            return
        self.guides = [self.made(person, live)]
        self.guide, self.machine = self.guides[0], keys.KeyMachine()
        self.looked()

    @rule(person=st.sampled_from(PEOPLE))
    def second_screen(self, person: str) -> None:
        """Another terminal takes the prep up while this one still shows it; then both go on."""
        if len(self.guides) < 3:
            self.guides.append(self.made(person, live=self.chance.random() < 0.5))

    @rule()
    def turn_to_the_other_screen(self) -> None:
        self.guides.append(self.guides.pop(0))
        self.guide, self.machine = self.guides[0], keys.KeyMachine()

    # ---- keys ----

    @rule(pressed=st.lists(st.sampled_from(KEYS), min_size=1, max_size=4))
    def by_hand(self, pressed: list[str]) -> None:
        for key in pressed:
            self.clock.time.pass_(0.6)
            self.machine.expect(self.guide.expect())
            for intent in self.machine.press(key, self.clock.time()):
                self.intend(intent)

    @rule(
        pressed=st.lists(st.sampled_from(KEYS), min_size=1, max_size=12),
        rate=st.sampled_from((50, 500, 2000)),
    )
    def by_device(self, pressed: list[str], rate: int) -> None:
        self.clock.time.pass_(0.6)
        for key in pressed:
            self.clock.time.pass_(1 / rate)
            self.machine.expect(self.guide.expect())
            for intent in self.machine.feed(key, self.clock.time()):
                self.intend(intent)
        self.clock.time.pass_(0.6)
        self.machine.expect(self.guide.expect())
        for intent in self.machine.tick(self.clock.time()):
            self.intend(intent)

    # ---- intents ----

    @rule(
        intent=st.one_of(
            st.sampled_from((keys.Act(), keys.Back(), keys.Note(), keys.Help(), keys.Pause(), keys.Spill())),
            st.builds(keys.Chosen, st.integers(1, 9)),
            st.builds(keys.Acknowledged, st.integers(1, 9)),
            st.builds(keys.Typed, st.sampled_from(READINGS + WORDS)),
            st.builds(keys.Scanned, st.sampled_from(("C-1", "[/x]"))),
            st.builds(keys.Doubtful, st.just("12.5012.50")),
        )
    )
    def anything(self, intent: keys.Intent) -> None:
        self.intend(intent)

    @rule(way=st.sampled_from(WAYS), m=st.integers(0, 4), reading=st.sampled_from(READINGS))
    def take_back(self, way: str, m: int, reading: str) -> None:
        """The way back, and all that it asks answered; given up only now and then, for it ends the prep."""
        self.clock.time.pass_(2.0)
        self.intend(keys.Back())
        choices = self.guide.asks[-1].choices if self.guide.asks else ()
        wanted = [i for i, choice in enumerate(choices) if way in choice]
        if not wanted or (way == "give" and m):
            self.intend(keys.Back())
            return
        self.answer(wanted[0], reading, True)
        for _ in range(4):
            if self.guide.asks:
                self.answer(m, reading, True)

    @rule(n=st.integers(1, 5), m=st.integers(1, 3))
    def incident(self, n: int, m: int) -> None:
        for intent in (keys.Note(), keys.Chosen(n), keys.Chosen(m)):
            self.intend(intent)

    @precondition(lambda self: bool(self.guide.asks))
    @rule(n=st.integers(0, 8), reading=st.sampled_from(READINGS), right=st.booleans())
    def answer(self, n: int, reading: str, right: bool) -> None:
        """Answer what is asked: a choice, a reading, a PIN, other words."""
        ask = self.guide.asks[-1]
        if ask.choices:
            self.intend(keys.Chosen(1 + n % len(ask.choices)))
        elif ask.secret:
            found = [p for p in site.PINS if any(f"{p}: type" in line for line in ask.text)]
            self.clock.time.pass_(31.0)
            self.intend(keys.Typed(site.PINS[found[0]] if right else "0000"))
        elif ask.read_only:
            self.intend(keys.Act())
        else:
            self.intend(keys.Typed(reading if ask.prompt == "reading" else WORDS[n % len(WORDS)]))

    @rule(reading=st.sampled_from(READINGS), n=st.integers(0, 7))
    def a_reading_is_let_through(self, reading: str, n: int) -> None:
        """Whatever is typed, a second person lets it stand, where one may."""
        self.intend(keys.Typed(reading))
        self.intend(keys.Typed(""))
        for _ in range(6):
            if not self.guide.asks:
                break
            choices = self.guide.asks[-1].choices
            wanted = [
                i
                for i, c in enumerate(choices)
                if c.startswith(("go on all the same", "take it as it is", "so-1"))
            ]
            self.answer(wanted[0] if wanted else n, reading, True)

    @rule(turns=st.integers(1, 25), let=st.booleans())
    def go_on(self, turns: int, let: bool) -> None:
        """What a careful operator would do next, several times."""
        player = Player(self.guide, time=self.clock.time, chance=self.chance, show=lambda _: None)
        for _ in range(turns):
            if self.guide.finished or self.guide.left:
                break
            act = weigh.current(self.guide) if self.guide.state.act is not None else None
            typed = (
                act is not None and act.kind in (ActKind.READ, ActKind.DOSE) and not weigh.live(self.guide)
            )
            self.guide.poll()
            if self.guide.sample is not None and self.guide.sample.fault:
                break  # what somebody typed lies on the pan and is too much for it: nothing comes to rest
            if typed and act is not None and not self.guide.asks and not self.guide.on_page:
                self.read_by_eye(let)
            else:
                player.turn()
            if self.guide.said and (not let or Role.OPERATOR not in self.guide.acting.roles):
                break  # who is no operator is refused the same for ever
        self.looked()

    def read_by_eye(self, right: bool) -> None:
        state, act = self.guide.state.here, weigh.current(self.guide)
        if act.kind == ActKind.DOSE:
            there = state.total_mg(act.what)
            window = outcome.window(state, act.what)
            mg = pan.shown_now_mg(state) + (window.aim_mg - there) * (1.0 if right else 0.4)
        else:
            wanted = pan.expectation(state, act)
            mg = wanted.expected_mg if wanted.expected_mg is not None else 12_034.52 + pan.content_mg(state)
        self.intend(keys.Typed(f"{mg:.2f}"))
        if act.kind == ActKind.DOSE:
            self.intend(keys.Typed(""))

    @rule(minutes=st.sampled_from((0.02, 0.2, 5.0, 31.0, 600.0)))
    def time_passes(self, minutes: float) -> None:
        self.clock.time.pass_(60.0 * minutes)
        self.looked()

    # ---- what must always hold ----

    @invariant()
    def the_journal_keeps_the_rules(self) -> None:
        if not self.guides:
            return
        found = audit.of_prep(self.record, self.prep)
        assert found.faults == []
        assert found.doses[: len(self.doses)] == self.doses, "an accepted dose is lost"
        self.doses = found.doses
        state = self.record.prep_state(self.prep)
        assert [d.entry for d in state.doses] == found.doses
        assert [d.entry for d in state.doses if d.counts] == found.standing
        for content in ("solid", "aliquot", "solvent"):
            assert state.total_mg(content) == pytest.approx(found.totals_mg.get(content, 0.0), abs=1e-6)
        assert {h.entry for h in state.open_handlings} == ({found.open} if found.open else set())
        assert {h.entry for h in state.owed} == found.owed

    def teardown(self) -> None:
        try:
            if self.guides:
                before = self.record.prep_state(self.prep)
                self.record.rebuild()
                assert self.record.prep_state(self.prep) == before
                assert verify(self.record.path).ok
        finally:
            if self.guides:
                self.record.close()
            self.folder.cleanup()


SHORT = settings(
    max_examples=40, stateful_step_count=25, derandomize=True, deadline=None, print_blob=False,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip


class Dilution(Prep):
    """The same with a dilution in two steps."""

    plan = several.dilution()


class Series(Prep):
    """The same with a series whose levels are dosed in one pass."""

    plan = several.series("1 ug/g", "5 ug/g", blank=True)


def test_whatever_is_pressed_the_rules_of_a_dilution_hold() -> None:
    run_state_machine_as_test(Dilution, settings=settings(SHORT, max_examples=20))  # type: ignore[no-untyped-call] # hypothesis has none


def test_whatever_is_pressed_the_rules_of_a_series_hold() -> None:
    run_state_machine_as_test(Series, settings=settings(SHORT, max_examples=20))  # type: ignore[no-untyped-call] # hypothesis has none


def test_whatever_is_pressed_the_rules_of_a_prep_hold() -> None:
    run_state_machine_as_test(Prep, settings=SHORT)  # type: ignore[no-untyped-call] # hypothesis has none


@pytest.mark.long
def test_whatever_is_pressed_for_long_the_rules_of_a_prep_hold() -> None:
    long = settings(SHORT, max_examples=3000, stateful_step_count=60, derandomize=False)
    run_state_machine_as_test(Prep, settings=long)  # type: ignore[no-untyped-call] # as above
