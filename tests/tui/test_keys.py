"""The key machine's laws, under hands, feet and devices."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tui.guide.keys import (
    Acknowledged,
    Act,
    Back,
    Choose,
    Chosen,
    Doubtful,
    Help,
    Intent,
    KeyMachine,
    Letter,
    Mode,
    Note,
    NotTaken,
    Number,
    Page,
    Pause,
    Pin,
    Scanned,
    Spill,
    Text,
    Typed,
    Unmeant,
)
from tui.guide.teletype import whole_line

LAW = settings(derandomize=True, deadline=None, max_examples=200)
MODES: tuple[Mode, ...] = (
    Page(7),
    Act(),
    Act(spill=True),
    Choose(3),
    Choose(8, spill=True),
    Number(),
    Number(allow_empty=True),
    Number(live=True),
    Number(live=True, choices=3),
    Text(),
    Pin(),
    Pin(spill=True),
)
KEYS = [*"0123456789.,+-*/ ax", "enter", "ctrl+j", "backspace", "escape", "up", "ctrl+b", "\x00", "é"]


def machine(mode: Mode) -> KeyMachine:
    made = KeyMachine()
    made.expect(mode)
    return made


def by_device(of: KeyMachine, text: str, *, at_s: float, rate: float) -> tuple[Intent, ...]:
    found: tuple[Intent, ...] = ()
    for n, key in enumerate(text):
        found += of.feed({"\n": "ctrl+j", "\r": "enter"}.get(key, key), at_s + n / rate)
    return found


def by_hand(of: KeyMachine, *keys: str, at_s: float, gap_s: float = 0.3) -> tuple[Intent, ...]:
    """Type at the pace of a hand, the clock ticking in between."""
    found: tuple[Intent, ...] = ()
    for n, key in enumerate(keys):
        found += of.press(key, at_s + n * gap_s)
    return found


@pytest.mark.parametrize("rate", [50, 100, 500, 1000, 2000])
@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
@given(st.lists(st.from_regex(r"[+-]?[0-9]{1,6}([.,][0-9]{1,4})?( mg)?", fullmatch=True), min_size=1))
@settings(LAW, max_examples=25)
def test_every_line_of_a_device_arrives_as_it_was_sent(rate: int, end: str, lines: list[str]) -> None:
    for mode in (Number(), Number(live=True), Number(live=True, choices=3), Number(allow_empty=True)):
        found = by_device(machine(mode), "".join(line + end for line in lines), at_s=9.0, rate=rate)
        alone = [x for x in lines if not (isinstance(mode, Number) and mode.choices and x in ("1", "2", "3"))]
        assert [i.text for i in found if isinstance(i, Typed)] == alone
        assert len(found) == len(lines)


@given(st.lists(st.from_regex(r"[0-9]{4,8}", fullmatch=True), min_size=1, max_size=20), st.floats(50, 2000))
@LAW
def test_a_device_never_acts_acknowledges_or_chooses(lines: list[str], rate: float) -> None:
    sent = "".join(line + "\r\n" for line in lines)
    for mode in (Page(7), Act(), Act(spill=True), Choose(9), Choose(8, spill=True)):
        assert set(by_device(machine(mode), sent, at_s=9.0, rate=rate)) == {Scanned(x) for x in lines}


@given(st.lists(st.floats(0.0, 0.39), max_size=60), st.sampled_from(["enter", "ctrl+j"]))
@LAW
def test_a_bouncing_or_held_enter_acts_once(gaps_s: list[float], key: str) -> None:
    of, at_s = machine(Act()), 5.0
    found = of.press(key, at_s)
    for gap_s in gaps_s:
        at_s += gap_s
        found += of.tick(at_s) + of.feed(key, at_s)
    found += of.tick(at_s + 1)
    assert [i for i in found if not isinstance(i, NotTaken)] == [Act()]


@pytest.mark.parametrize("delay_s", [0.25, 0.5, 0.66, 0.9])
@pytest.mark.parametrize("key", ["enter", "7", "+"])
def test_a_key_held_for_three_seconds_counts_once(delay_s: float, key: str) -> None:
    modes: dict[str, Mode] = {"enter": Act(), "7": Page(7), "+": Act()}
    mode = modes[key]
    of = machine(mode)
    found = of.press(key, 5.0)
    for n in range(90):
        at_s = 5.0 + delay_s + n * 0.033
        found += of.tick(at_s) + of.feed(key, at_s)
    found += of.tick(9.5)
    wanted = {"enter": Act(), "7": Acknowledged(7), "+": Note()}[key]
    assert found[0] == wanted
    assert len(found) == (2 if key == "+" else 1)  # a command held opens what is open already


def test_a_digit_held_after_the_page_is_not_the_beginning_of_a_number() -> None:
    of = machine(Page(7))
    assert of.press("7", 5.0) == (Acknowledged(7),)
    of.expect(Number())
    for n in range(30):
        assert of.feed("7", 5.5 + n * 0.033) == ()
    assert of.tick(7.0) == ()
    assert of.line == ""
    assert by_device(of, "10.02\r", at_s=8.0, rate=500) == (Typed("10.02"),)


@pytest.mark.parametrize("reading", ["7.02", "77.7", "777.1"])
def test_a_reading_that_begins_with_the_digit_of_the_page_is_whole(reading: str) -> None:
    of = machine(Page(7))
    of.press("7", 5.0)
    of.expect(Number())
    assert by_device(of, reading + "\r", at_s=5.3, rate=200) == (Typed(reading),)


@given(st.lists(st.tuples(st.sampled_from(KEYS), st.sampled_from([0.0, 0.001, 0.02, 0.1, 0.2, 0.5, 2.0]))))
@LAW
def test_a_page_is_acknowledged_by_its_own_digit_alone_and_by_nothing_else(
    keys: list[tuple[str, float]],
) -> None:
    of, at_s = machine(Page(7)), 5.0
    since: list[str] = []
    for key, gap_s in keys:
        at_s += gap_s
        before = since[-1:] if gap_s >= 0.15 else []
        acknowledged = Acknowledged(7) in of.tick(at_s)
        assert not acknowledged or before == ["7"]
        since.append(key)
        found = of.feed(key, at_s)
        assert Acknowledged(7) not in found or (key in ("enter", "ctrl+j") and since[-2] == "7")
        assert Act() not in found


@given(
    st.lists(
        st.tuples(
            st.sampled_from([k for k in KEYS if k != "backspace"]),
            st.floats(0.0, 2.0),
            st.sampled_from(MODES),
        )
    )
)
@LAW
def test_no_keys_at_all_break_it_and_what_is_typed_was_pressed(
    keys: list[tuple[str, float, Mode]],
) -> None:
    of, at_s, pressed = KeyMachine(), 0.0, ""
    for key, gap_s, mode in keys:
        at_s += gap_s
        if gap_s > 1.5:
            of.expect(mode)
        pressed += key if len(key) == 1 else ""
        for intent in of.tick(at_s) + of.feed(key, at_s):
            if isinstance(intent, Typed | Doubtful | Scanned):
                assert intent.text.replace("\ufffd", "").strip("-").lstrip("+") in pressed
        assert of.due_s is None or of.due_s >= at_s


@pytest.mark.parametrize(
    ("key", "intent"),
    [("+", Note()), ("-", Back()), ("*", Help()), ("/", Pause()), ("minus", Back()), ("subtract", Back())],
)
@pytest.mark.parametrize("mode", MODES)
def test_an_operator_by_itself_is_a_command_wherever_one_is(key: str, intent: Intent, mode: Mode) -> None:
    of = machine(mode)
    assert of.feed(key, 5.0) == ()
    assert of.tick(5.14) == ()
    assert of.tick(5.15) == (intent,)
    assert of.line == ""


def test_an_operator_is_no_command_once_something_is_typed() -> None:
    of = machine(Number())
    assert by_hand(of, "1", "+", at_s=5.0) == ()
    assert of.line == "1+"


def test_a_minus_after_the_digits_turns_the_sign() -> None:
    of = machine(Number())
    assert by_hand(of, "0", ".", "0", "2", "-", "enter", at_s=5.0) == (Typed("-0.02"),)
    assert by_hand(of, "0", ".", "0", "2", "-", "-", "enter", at_s=9.0) == (Typed("0.02"),)
    assert by_device(of, "12-34\r", at_s=20.0, rate=500) == (Typed("12-34"),)


def test_a_key_left_over_from_a_hand_makes_the_line_of_a_device_doubtful() -> None:
    of = machine(Number())
    of.press("1", 5.0)
    assert by_device(of, "0.02\r", at_s=6.0, rate=500) == (Doubtful("10.02"),)
    assert by_device(of, "0.02\r", at_s=7.0, rate=500) == (Typed("0.02"),)


def test_a_key_that_cannot_be_typed_spoils_the_line_of_a_device() -> None:
    of = machine(Number())
    found: tuple[Intent, ...] = ()
    for n, key in enumerate(["1", "alt+2", "3", "enter"]):
        found += of.feed(key, 5.0 + n / 500)
    assert found == (Typed("1\ufffd3"),)


def test_cr_lf_is_one_enter_and_two_enters_of_a_hand_are_two() -> None:
    of = machine(Number(allow_empty=True))
    assert of.feed("enter", 5.0) + of.feed("ctrl+j", 5.001) == (Typed(""),)
    assert of.tick(6.0) == ()
    assert of.press("enter", 6.5) == (Typed(""),)
    assert of.press("enter", 7.0) == (Typed(""),)


def test_enter_takes_the_live_reading_on_an_empty_line_and_the_typed_one_else() -> None:
    of = machine(Number(live=True))
    assert of.feed("enter", 5.0) == (Act(),)
    assert by_hand(of, *"9.87", "enter", at_s=6.0) == (Typed("9.87"),)


def test_what_was_typed_for_something_else_is_lost_with_the_rest_of_its_line() -> None:
    of = machine(Number())
    by_device(of, "10", at_s=5.0, rate=500)
    of.expect(Number(allow_empty=True))
    assert of.line == ""
    assert by_device(of, ".02\r", at_s=5.004, rate=500) == ()
    assert by_device(of, "3.1\r", at_s=6.0, rate=500) == (Typed("3.1"),)


def test_the_same_expectation_again_keeps_what_was_typed() -> None:
    of = machine(Number())
    of.press("1", 5.0)
    of.expect(Number())
    assert of.line == "1"


@pytest.mark.parametrize("after_s", [0.35, 0.6, 0.95])
def test_a_number_whose_first_digit_was_taken_for_a_held_one_is_doubtful(after_s: float) -> None:
    of = machine(Page(9))
    assert of.press("9", 1.0) == (Acknowledged(9),)
    of.expect(Number())
    at_s = 1.0 + after_s
    assert by_hand(of, "9", "0", at_s=at_s, gap_s=0.35) == (NotTaken("9"),)
    assert by_hand(of, "enter", at_s=at_s + 1.0) == (Doubtful(of.line or "0"),)
    assert by_hand(of, "9", "0", "enter", at_s=at_s + 3.0) == (Typed("90"),)


@pytest.mark.parametrize(("gap_s", "intent"), [(1.9, Doubtful("0")), (2.0, Typed("0"))])
def test_a_number_is_doubtful_where_a_digit_was_swallowed_shortly_before_it(
    gap_s: float, intent: Intent
) -> None:
    of = machine(Act())
    of.feed("8", 1.0)
    of.expect(Number())
    of.feed("9", 1.1)  # without silence: meant for what was asked before, or so it seems
    assert by_hand(of, "0", "enter", at_s=1.1 + gap_s) == (NotTaken("9"), intent)


def test_a_line_of_a_device_that_was_swallowed_to_its_end_leaves_the_next_one_whole() -> None:
    of = machine(Act())
    of.feed("8", 1.0)
    of.expect(Number())
    assert by_device(of, "12.345\r", at_s=1.02, rate=50.0) == ()
    assert by_device(of, "12.346\r", at_s=1.5, rate=50.0) == (Typed("12.346"),)


def test_escape_and_backspace_edit_and_an_empty_escape_goes_back() -> None:
    of = machine(Text())
    assert by_hand(of, "a", "b", "backspace", at_s=5.0) == ()
    assert of.line == "a"
    assert of.feed("escape", 8.0) == ()
    assert of.line == ""
    assert of.feed("escape", 9.0) == (Back(),)


@pytest.mark.parametrize(("mode", "needs_enter"), [(Act(spill=True), False), (Choose(8, spill=True), False)])
def test_nine_by_itself_opens_the_spill_card(mode: Mode, needs_enter: bool) -> None:
    assert machine(mode).press("9", 5.0) == (Spill(),)


def test_a_pin_may_begin_with_nine_and_nine_alone_with_enter_is_the_spill_card() -> None:
    of = machine(Pin(spill=True))
    assert by_hand(of, *"9421", "enter", at_s=5.0) == (Typed("9421"),)
    assert by_hand(of, "9", "enter", at_s=9.0) == (Spill(),)


def test_choices_of_a_simulated_hand_leave_readings_alone() -> None:
    of = machine(Number(live=True, choices=3))
    assert by_hand(of, "1", "1", "2", at_s=5.0) == (Chosen(1), Chosen(1), Chosen(2))
    assert by_device(of, "11.02\r", at_s=9.0, rate=500) == (Typed("11.02"),)


def test_a_digit_beyond_the_choices_chooses_nothing_and_is_answered() -> None:
    of = machine(Choose(3))
    assert by_hand(of, "0", "4", "9", at_s=5.0) == (Unmeant("0"), Unmeant("4"), Unmeant("9"))
    assert of.press("3", 8.0) == (Chosen(3),)


@pytest.mark.parametrize(
    ("mode", "text", "intents"),
    [
        (Act(), "", (Act(),)),
        (Number(), "-0,02", (Typed("-0,02"),)),
        (Number(), "12", (Typed("12"),)),
        (Number(), "+", (Note(),)),
        (Choose(3), "2", (Chosen(2),)),
        (Choose(3), "4", (Unmeant("4"),)),
        (Page(7), "", (Unmeant("enter"),)),
        (Page(7), "5", (Unmeant("5"),)),
        (Page(7), "77", (Scanned("77"),)),
        (Text(), "it fell - twice", (Typed("it fell - twice"),)),
    ],
)
def test_a_whole_line_means_what_its_keys_would(mode: Mode, text: str, intents: tuple[Intent, ...]) -> None:
    assert whole_line(mode, text) == intents


def test_a_new_screen_takes_no_rest_of_a_run_and_no_bounce_of_enter() -> None:
    of = machine(Number(live=True))
    of.hush(5.0)
    assert by_device(of, "0.02\r", at_s=5.002, rate=500) == ()
    assert of.press("enter", 5.3) == (NotTaken("enter"),)
    assert by_device(of, "10.02\r", at_s=6.0, rate=500) == (Typed("10.02"),)


def test_a_text_put_on_the_line_is_edited_at_its_end() -> None:
    of = machine(Text(allow_empty=True))
    of.begin("1 mg/g")
    assert by_hand(of, *["backspace"] * 4, "g", "/", "L", "enter", at_s=5.0) == (Typed("1 g/L"),)


@pytest.mark.parametrize("mode", [Act(), Choose(3), Number(allow_empty=True, letters=True)])
def test_a_letter_by_itself_is_a_key_of_the_desk_and_a_scan_is_not(mode: Mode) -> None:
    of = machine(mode)
    assert of.press("n", 5.0) == (Letter("n"),)
    found = by_device(of, "nP-7F3A\r", at_s=6.0, rate=500)
    assert found in ((Scanned("nP-7F3A"),), (Typed("nP-7F3A"),))


# ---- keys that are not taken ----


@pytest.mark.parametrize("key", ["5", "enter", "0"])
def test_a_page_is_acknowledged_by_its_digit_alone_and_any_other_key_is_answered(key: str) -> None:
    assert machine(Page(7)).press(key, 5.0) == (Unmeant(key),)


@pytest.mark.parametrize(("gap_s", "found"), [(0.9, (NotTaken("1"),)), (1.0, (Chosen(1),))])
def test_a_digit_that_may_still_be_held_is_not_taken_and_that_is_answered(
    gap_s: float, found: tuple[Intent, ...]
) -> None:
    of = machine(Choose(3))
    assert of.press("1", 5.0) == (Chosen(1),)
    of.moved_on()
    assert of.press("1", 5.0 + gap_s) == found


@pytest.mark.parametrize(("gap_s", "found"), [(0.1, (NotTaken("2"),)), (0.15, (Chosen(2),))])
def test_a_key_without_silence_before_it_is_not_taken_and_that_is_answered(
    gap_s: float, found: tuple[Intent, ...]
) -> None:
    of = machine(Act())
    assert of.feed("enter", 5.0) == (Act(),)
    of.moved_on()
    of.expect(Choose(3))
    assert of.press("2", 5.0 + gap_s) == found


def test_the_rest_of_a_devices_line_and_a_bounce_stay_without_an_answer() -> None:
    of = machine(Act())
    assert of.feed("enter", 5.0) == (Act(),)
    of.moved_on()
    assert of.press("enter", 5.03) == ()
    assert of.feed("enter", 9.0) == (Act(),)
    of.moved_on()
    assert by_device(of, "12.345\r", at_s=9.02, rate=50.0) == ()
    assert of.tick(10.0) == ()


@pytest.mark.parametrize(("gap_s", "found"), [(0.39, (NotTaken("enter"),)), (0.41, (Act(),))])
def test_enter_too_soon_after_enter_is_answered(gap_s: float, found: tuple[Intent, ...]) -> None:
    of = machine(Act())
    of.press("enter", 5.0)
    assert of.press("enter", 5.0 + gap_s) == found


def test_no_digit_of_a_pin_is_named() -> None:
    of = machine(Pin())
    of.hush(5.0)
    assert of.press("4", 5.1) == (NotTaken(""),)


def test_an_answer_does_not_make_the_next_key_miss() -> None:
    of = machine(Page(7))
    of.feed("5", 5.0)
    assert (*of.feed("7", 5.3), *of.tick(6.0)) == (Unmeant("5"), Acknowledged(7))
