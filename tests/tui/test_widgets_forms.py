"""Forms, lists and key pads under hands and under floods: no value lands where it was not meant."""

from collections.abc import Sequence

import pytest
from textual.app import App, ComposeResult

from store.errors import BadNumber
from store.units import number
from tests.tui import snap
from tui.guide.keys import Act, Back, Choose, Chosen, Intent, Letter, Mode, Number, Typed
from tui.messages import Meant
from tui.widgets.entry_form import EntryForm, Field
from tui.widgets.key_pad import KeyPad
from tui.widgets.lines import Lines
from tui.widgets.table_page import Column, Row, TablePage

RATES = (50.0, 500.0, 2000.0)
LOTS = ("KD-1", "KD-2", "KD-20", "SA-3")


def a_number(text: str) -> str:
    return str(number(text))


def fields() -> list[Field]:
    return [
        Field(
            "lot",
            "lot",
            suggest=lambda t: [x for x in LOTS if x.startswith(t)],
            required=True,
            help="scan it",
        ),
        Field("mass", "mass, mg", kind="number", take=a_number, required=True),
        Field("form", "form", kind="choice", choices=("powder", "crystals", "liquid"), value="powder"),
        Field("pin", "PIN", kind="pin", required=True),
    ]


class Forms(App[None]):
    def __init__(self, form: EntryForm) -> None:
        super().__init__()
        self.form = form
        self.submitted: list[dict[str, str]] = []
        self.taken: list[tuple[str, str]] = []
        self.meant: list[Intent] = []

    def compose(self) -> ComposeResult:
        yield self.form

    def on_entry_form_submitted(self, message: EntryForm.Submitted) -> None:
        self.submitted.append(dict(message.values))

    def on_entry_form_taken(self, message: EntryForm.Taken) -> None:
        self.taken.append((message.key, message.value))

    def on_meant(self, message: Meant) -> None:
        self.meant.append(message.intent)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("end", ["\r", "\n", "\r\n", "\t"])
async def test_a_flood_into_one_field_files_every_value_in_order(rate: float, end: str) -> None:
    app = Forms(EntryForm([Field("reading", "reading", kind="number")], again=True))
    sent = [f"{n:06d}.{n % 100:02d}" for n in range(200)]
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "".join(x + end for x in sent), rate=rate)
        await pilot.pause()
    assert [v["reading"] for v in app.submitted] == sent


@pytest.mark.parametrize("rate", RATES)
async def test_a_flood_over_several_fields_mixes_none(rate: float) -> None:
    names = ("a", "b", "c")
    app = Forms(EntryForm([Field(n, n, kind="number") for n in names], again=True))
    sent = [{n: f"{k}{m}.{k}" for m, n in enumerate(names)} for k in range(60)]
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "".join(f"{row[n]}\r\n" for row in sent for n in names), rate=rate)
        await pilot.pause()
    assert app.submitted == sent


async def test_a_form_that_was_submitted_takes_no_more_until_it_is_opened_again() -> None:
    app = Forms(EntryForm([Field("a", "a", kind="number"), Field("b", "b", kind="number")]))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "1.5\r2.5\r3.5\r4.5\r")
        assert app.submitted == [{"a": "1.5", "b": "2.5"}]
        assert app.form.values == {"a": "1.5", "b": "2.5"}
        app.form.refuse("b", "2.5 is more than there is: type 2.0 or less.")
        await pilot.pause(0.2)
        await snap.send(pilot, "2.0\r")
        assert app.submitted[1:] == [{"a": "1.5", "b": "2.0"}]


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_form_says_beside_the_field_what_is_wrong_and_stays_there(size: tuple[int, int]) -> None:
    app = Forms(EntryForm(fields()))
    async with app.run_test(size=size) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "KD-2\r24.5.1\r")
        assert app.form.current.key == "mass"
        assert app.form.current.value == ""
        snap.check(app, "form_error")
        await snap.send(pilot, "24,5\r")
        assert app.form.values["mass"] == "24.5"
        assert app.form.current.key == "form"
        snap.check(app, "form_choice")


async def test_a_choice_is_made_by_digit_by_typing_or_kept_by_enter() -> None:
    for keys, wanted in ((["3"], "liquid"), ([*"cry", "enter"], "crystals"), (["enter"], "powder")):
        form = EntryForm(
            [Field("form", "form", kind="choice", choices=("powder", "crystals", "liquid"), value="powder")]
        )
        app = Forms(form)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause(0.6)
            await snap.send(pilot, keys)
        assert app.submitted == [{"form": wanted}]


async def test_a_suggestion_is_taken_only_when_it_is_picked() -> None:
    app = Forms(EntryForm(fields()[:1], again=True))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "KD\r")
        await snap.press(pilot, "K", "D", "down", "down", "enter")
        await snap.press(pilot, "S", "right", "enter")
    assert [v["lot"] for v in app.submitted] == ["KD", "KD-2", "SA-3"]


async def test_a_pin_is_never_on_the_screen() -> None:
    app = Forms(EntryForm([Field("pin", "PIN", kind="pin"), Field("x", "x")]))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "73519")
        assert "•••••" in snap.text_of(app)
        assert "73519" not in snap.text_of(app)
        await snap.send(pilot, "\r")
        assert "73519" not in snap.text_of(app)
    assert app.taken == [("pin", "73519")]


async def test_what_cannot_be_kept_is_refused_with_a_sentence() -> None:
    app = Forms(EntryForm([Field("name", "name", value="a\u202eb", required=True)]))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.5)
        await snap.press(pilot, "enter")
        assert "cannot be kept" in app.form.current.error
        await pilot.pause(0.5)
        await snap.send(pilot, ["a", "ctrl+b", "b", "enter"])
        assert "type or scan it again" in app.form.current.error
    assert app.submitted == []


async def test_minus_by_itself_goes_back_a_field_and_then_out_of_the_form() -> None:
    app = Forms(EntryForm(fields()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "KD-2\r")
        await snap.press(pilot, "-")
        assert app.form.current.key == "lot"
        await snap.press(pilot, "-")
    assert app.meant == [Back()]


def rows(find: str, offset: int, most: int) -> Sequence[Row]:
    found = [Row(f"P-{n:04d}", (f"P-{n:04d}", f"substance [{n}]", f"{n}.50 mg")) for n in range(1, 1001)]
    return [r for r in found if find in r.cells[1] or find in r.key][offset : offset + most]


class Lists(App[None]):
    def __init__(self) -> None:
        super().__init__()
        self.opened: list[str] = []
        self.meant: list[Intent] = []

    def compose(self) -> ComposeResult:
        yield TablePage((Column("prep", 8), Column("substance"), Column("net", 10, right=True)), rows)

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        self.opened.append(message.key)

    def on_meant(self, message: Meant) -> None:
        self.meant.append(message.intent)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_list_shows_its_rows_and_where_it_is(size: tuple[int, int]) -> None:
    app = Lists()
    async with app.run_test(size=size) as pilot:
        await snap.press(pilot, "pagedown", "down")
        snap.check(app, "list")


async def test_a_row_opens_by_number_by_cursor_and_by_scan() -> None:
    app = Lists()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.5)
        await snap.send(pilot, "12\r")
        await pilot.pause(1.0)
        await snap.press(pilot, "down", "enter")
        await snap.send(pilot, "P-0077\r")
        await pilot.pause(1.0)
        await snap.send(pilot, "999\r")
    assert app.opened == ["P-0012", "P-0013", "P-0077"]


async def test_a_list_reads_on_past_its_end_and_back() -> None:
    app = Lists()
    async with app.run_test(size=(80, 24)) as pilot:
        table = app.query_one(TablePage)
        assert len(table.rows) == 200
        await snap.press(pilot, "end", "down")
        assert table.rows[table.cursor].key == "P-0201"
        await snap.press(pilot, "up")
        assert table.rows[table.cursor].key == "P-0200"
        await snap.press(pilot, "home")
        assert table.rows[table.cursor].key == "P-0001"


async def test_find_keeps_only_what_holds_the_words_and_escape_shows_all() -> None:
    app = Lists()
    async with app.run_test(size=(80, 24)) as pilot:
        table = app.query_one(TablePage)
        await pilot.pause(0.2)
        await snap.press(pilot, "f")
        await snap.send(pilot, "[99\r")
        assert [r.key for r in table.rows][:2] == ["P-0099", "P-0990"]
        await snap.press(pilot, "escape")
        assert len(table.rows) == 200
        await snap.press(pilot, "p", "-")
    assert app.meant == [Letter("p"), Back()]


class Pad(KeyPad[None]):
    def __init__(self) -> None:
        super().__init__()
        self.mode: Mode = Number()
        self.meant: list[Intent] = []

    def compose(self) -> ComposeResult:
        yield Lines(id="line")

    def expecting(self) -> Mode:
        return self.mode

    def typed(self, line: str) -> None:
        self.query_one("#line", Lines).show((f"typed: {line}",))

    def on_intent(self, intent: Intent) -> None:
        self.meant.append(intent)
        if intent == Chosen(2):
            self.app.push_screen(Pad())


class Pads(App[None]):
    def __init__(self) -> None:
        super().__init__()
        self.pad = Pad()

    def on_mount(self) -> None:
        self.push_screen(self.pad)


@pytest.mark.parametrize("rate", RATES)
async def test_a_flood_into_a_key_pad_gives_every_reading(rate: float) -> None:
    app = Pads()
    sent = [f"{n:06d}" for n in range(300)]
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "".join(f"{x}\r\n" for x in sent), rate=rate)
    assert app.pad.meant == [Typed(x) for x in sent]


async def test_what_is_typed_stands_on_the_screen_before_enter() -> None:
    app = Pads()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "12.5")
        assert "typed: 12.5" in snap.text_of(app)


async def test_keys_meant_for_one_screen_do_nothing_on_the_next() -> None:
    app = Pads()
    app.pad.mode = Choose(3)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.send(pilot, "2")
        second = app.screen
        assert isinstance(second, Pad)
        assert second is not app.pad
        late = snap.key_events("10.02\r", rate=500, start_s=second.keys.machine._last_s - 0.001)
        for event in late:
            app.post_message(event)
        await pilot.pause(0.2)
        assert second.meant == []
        await snap.send(pilot, "10.02\r")
        assert second.meant == [Typed("10.02")]


async def test_a_lone_key_is_decided_by_silence_without_another_key() -> None:
    app = Pads()
    app.pad.mode = Act()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.2)
        await snap.press(pilot, "-")
        assert app.pad.meant == [Back()]


def test_the_number_parser_of_a_field_refuses_what_it_should() -> None:
    with pytest.raises(BadNumber):
        a_number("24.5.1")
