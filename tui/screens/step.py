"""The working screen: one prep, one person, a keypad."""

import gc
from dataclasses import replace

from rich.cells import cell_len
from textual import events
from textual.app import ComposeResult
from textual.containers import Vertical

from store.queries import decimals
from store.units import clock
from tui.commands import SPILL_ANYWHERE
from tui.guide import bells, keys
from tui.guide.guide import Guide
from tui.guide.view import Live, StepView, fit
from tui.screens.desk import Desk
from tui.widgets.big_digits import BigDigits
from tui.widgets.footer import KeyFooter, layout
from tui.widgets.key_pad import KeyPad
from tui.widgets.lines import Lines, clip, wrap

HZ = 20
"""How often the balance is asked and the clocks move, a second."""
ROOMY, ROOMY_HAZARDS = 30, 5
"""Rows from which on the hazards may take more than two lines, and how many then."""
WHERE, RULES, LEAST_DIGITS = 2, 2, 5
"""Rows of the head, of the two rules, and of the digits where there is least room."""
CURSOR = "▏"
EMERGENCY = (SPILL_ANYWHERE.key, "spill")


class StepScreen(KeyPad[None]):
    """Draws the guide's view and hands it every key."""

    CSS_PATH = "step.tcss"

    def __init__(self, desk: Desk, guide: Guide) -> None:
        gap_s = float(desk.settings()["act_gap_ms"]) / 1000.0
        super().__init__(machine=keys.KeyMachine(act_gap_s=gap_s))
        self.desk, self.guide = desk, guide
        self._view: StepView | None = None
        self._line = ""
        self._bell = bells.Bell()
        self._room = 0
        """Rows that are left below the digits."""

    @property
    def locks(self) -> bool:
        """Whether the screen may lock when idle: never while something is open."""
        return not self.guide.something_open

    def compose(self) -> ComposeResult:
        """Lay out: where, what can hurt, what now, what it would give, which keys."""
        yield Lines(id="where")
        yield Lines(id="hazards")
        yield Lines(id="short")
        with Vertical(id="act"):
            yield Lines(id="body")
            yield BigDigits(id="digits")
            yield Lines(id="below")
        yield Lines(id="said")
        yield KeyFooter(id="keys")

    def on_mount(self) -> None:
        """Begin to ask the balance."""
        # What stands by now stays: to search all of it for garbage would hold a key up for 0.1 s.
        gc.collect()
        gc.freeze()
        decimals.follow(self.guide.acting.record)
        self.set_interval(1 / HZ, self._beat)
        self._beat()

    def on_screen_resume(self) -> None:
        """Look at the record anew: the incident of the spill card may have been written meanwhile."""
        if self.guide.acting.record.last_entry(f"prep:{self.guide.prep}") != self.guide.state.last_entry:
            self.guide.did()

    def on_unmount(self) -> None:
        """Let go of the port: the next screen of a prep opens it anew."""
        if self.guide.balance is not None:
            self.guide.balance.close()

    def expecting(self) -> keys.Mode:
        """Say which keys mean something now."""
        return self.guide.expect()

    def on_key(self, event: events.Key) -> None:
        """Any key stops a count-down, and does nothing else then; the spill card always comes."""
        if self.app.screen is not self or not self.guide.by_itself.running:
            return  # the key pad's own handler comes next
        self.guide.stop_counting()
        if event.key != SPILL_ANYWHERE.key.lower():
            event.stop()
            event.prevent_default()
            self.pressed_s = event.time
            self.keys.machine.hush(event.time)
        self._beat()

    def on_intent(self, intent: keys.Intent) -> None:
        """Hand a key to the guide; leave when it is left."""
        if isinstance(intent, keys.Spill):
            from tui.screens.spill import SpillScreen

            self.app.push_screen(SpillScreen(self.desk, self.guide.prep))
            return
        before = self.guide.place
        self.guide.take(intent)
        if self.guide.place != before:
            self.keys.machine.moved_on()
        if self.guide.left:
            self.dismiss(None)
            return
        self._beat()
        if self.guide.refused:
            self._ring("refused")

    def say(self, what: str) -> None:
        """Say why a key of the whole program did nothing."""
        self.guide.refuse(what)
        self._beat()

    def typed(self, line: str) -> None:
        """Show what is typed so far."""
        if line != self._line:
            self._line = line
            if self._view is None:
                self._beat()
            else:
                self._draw_typed(self._view, max(20, self.size.width - 2))

    def _beat(self) -> None:
        self.guide.poll()
        self.guide.by_itself.beat(self.guide, typing=bool(self._line))
        view = _whole_seconds(self.guide.view())
        if view != self._view:
            what = bells.pattern(self._view, view, wanted=bells.PATTERNS)
            if what:
                self._ring(what)
            self._view = view
            self._draw(view)

    def _ring(self, what: str) -> None:
        """Ring a pattern that the site wants to hear."""
        if what not in bells.wanted(self.desk.settings()):
            return
        for after_s in self._bell.rings(what, self.desk.monotonic()):
            if after_s:
                self.set_timer(after_s, self.app.bell)
            else:
                self.app.bell()

    def on_resize(self) -> None:
        """Draw anew at the new size."""
        if self._view is not None:
            self._draw(self._view)

    def _draw(self, view: StepView) -> None:
        width = max(20, self.size.width - 2)
        short = () if view.page else view.short
        body, said = (
            self._body(view, width),
            wrap(text, width) if (text := view.said or view.answer) else ("",),
        )
        lines = ROOMY_HAZARDS if self.size.height >= ROOMY else 2
        hazards = _hazards(view, width, lines)
        if view.live is not None:
            # What the display means goes before the last of the hazards, which stand on page and label.
            others = WHERE + RULES + len(short) + len(body) + LEAST_DIGITS + len(said)
            others += len(layout(_keys(view), width))
            if others + len(hazards) + len(self._below(view, width)) > self.size.height:
                hazards = _hazards(view, width, 1)
            self._room = self.size.height - others - len(hazards)
        self.query_one("#where", Lines).show(_where(view, width))
        self._lines("#hazards", hazards)
        self._lines("#short", short)
        self.query_one("#body", Lines).show(body)
        self.query_one("#digits", BigDigits).display = view.live is not None
        self._draw_typed(view, width)
        self.query_one("#said", Lines).show(said)
        self.query_one("#keys", KeyFooter).show(_keys(view))

    def _draw_typed(self, view: StepView, width: int) -> None:
        """Draw what follows a key that is typed, and nothing else: it must be there at once."""
        if view.live is not None:
            begun = self._begun(view)
            word = "typing" if begun else view.live.word
            self.query_one("#digits", BigDigits).show(begun or view.live.shown, view.live.unit, word)
        below = self._below(view, width)
        if view.live is not None and not view.prompt:
            below = _fitted(below, self._room)
        self.query_one("#below", Lines).show(below)

    def _lines(self, id: str, lines: tuple[str, ...]) -> None:
        """Show lines, or give their room to what needs it: a caution page takes all of 24 rows."""
        widget = self.query_one(id, Lines)
        widget.display = bool(lines)
        widget.show(lines)

    def _begun(self, view: StepView) -> str:
        """What is typed so far stands in the big digits; empty until a number is begun."""
        return self._line if view.prompt or view.typing else ""

    def _body(self, view: StepView, width: int) -> tuple[str, ...]:
        if view.page:
            return (*view.body, "", *view.page)
        lines = [line for text in view.body for line in (wrap(text, width) if text else ("",))]
        if view.live is not None and view.live.aim:
            lines.append(_aim(view.live, width))
        elif view.live is not None:
            lines.append(_apart("", view.live.where, width))
        lines += [f"  {n}  {choice}" for n, choice in enumerate(view.choices, 1)]
        lines += ["", *view.extra] if view.extra else []
        return tuple(lines)

    def _below(self, view: StepView, width: int) -> tuple[str, ...]:
        lines: list[str] = []
        live = view.live
        if live is not None and live.to_go:
            moves, right = live.rate or live.creep, f"halvings left  {live.halvings}"
            go = f"{live.to_go}  {moves}".rstrip()
            if cell_len(go) + 2 + cell_len(right) > width:
                right = f"halvings {live.halvings}"  # a line more would make the digits smaller
            if cell_len(go) + 2 + cell_len(right) > width:
                lines.append(_apart(live.to_go, right, width))
                go, right = moves, ""
            lines.append(_apart(go, right, width))
        elif live is not None and live.creep:
            lines.append(live.creep)
        if live is not None:
            lines += [
                f"{'if accepted now   ' if n == 0 else ' ' * 18}{line}"
                for n, line in enumerate(live.accepted)
            ]
            lines += [live.by_itself] if live.by_itself else []
            lines += [f"! {why}: tare again" for why in live.tare]
        if view.prompt:
            typed = "•" * len(self._line) if view.secret else self._line
            lines += ["", f"{view.prompt}: {typed}{CURSOR}"]
        return tuple(clip(line, width) for line in lines)


def _whole_seconds(view: StepView) -> StepView:
    """Give a view whose clocks stand on whole seconds: a screen that looks the same is not drawn again."""
    return replace(
        view,
        open_for=None if view.open_for is None else round(view.open_for),
        left_today=None if view.left_today is None else round(view.left_today),
        glove_left=None if view.glove_left is None else round(view.glove_left),
    )


def _hazards(view: StepView, width: int, lines: int) -> tuple[str, ...]:
    lead = f"{view.hazards[0]}   " if view.hazards else ""
    return fit(view.hazards[1:], width, lead=lead, lines=lines) if view.hazards else ()


def _fitted(lines: tuple[str, ...], room: int) -> tuple[str, ...]:
    """Give what has room, and say how many lines have none.

    >>> _fitted(("a", "b", "c"), 2)
    ('a', '! 2 lines more have no room here: enlarge the screen')
    """
    if len(lines) <= max(1, room):
        return lines
    kept = lines[: max(0, room - 1)]
    return (*kept, f"! {len(lines) - len(kept)} lines more have no room here: enlarge the screen")


def _where(view: StepView, width: int) -> tuple[str, ...]:
    clocks = []
    if view.open_for is not None:
        clocks.append(f"open {clock(view.open_for)}" + ("?" if view.estimated else ""))
    if view.left_today is not None:
        over = view.left_today < 0
        clocks.append("shift limit passed" if over else f"left today {clock(view.left_today)}")
    if view.glove_left is not None:
        clocks.append("gloves through" if view.glove_left <= 0 else f"gloves {clock(view.glove_left)}")
    first = _apart(f"{view.prep}   {view.title}", view.place, width)
    return first, _apart(view.step, "   ".join(clocks), width)


def _aim(live: Live, width: int) -> str:
    """The aim with both ends of its window, whole; what is said of the balance gives way."""
    for between, where in (
        (" " * 5, live.where),
        ("  ", live.where),
        ("  ", live.where.replace("live by ", "")),
    ):
        head = f"{live.aim}{between}{live.window}"
        if cell_len(head) + 2 + cell_len(where) <= width:
            return _apart(head, where, width)
    return _apart(head, clip(where, max(0, width - cell_len(head) - 2)), width)


def _apart(left: str, right: str, width: int) -> str:
    """One line, `right` at its end; `left` gives way."""
    room = width - cell_len(right)
    cut = clip(left, max(0, room - 2)) if right else clip(left, width)
    return f"{cut}{' ' * max(1, room - cell_len(cut))}{right}".rstrip()


def _keys(view: StepView) -> tuple[tuple[str, str], ...]:
    if view.page:
        (digit, what), *rest = view.keys
        return (view.page_place, ""), (f"press {digit}", what), *rest, EMERGENCY
    return (*view.keys, EMERGENCY)
