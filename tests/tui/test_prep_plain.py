"""`tarebook prep --plain` as a person at a teletype meets it: a process of its own, lines in, lines out."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store.model.prep import Plan
from store.model.words import PrepStatus
from store.procedure.state import PrepState
from store.record.record import Record
from store.record.verify import verify
from tests import site
from tests.tui import plain
from tui.__main__ import main

PREP = "P-7F3A-0001"
LATER = "2026-03-02T09:01:00+00:00"


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Path]:
    path = tmp_path / "r.tarebook"
    with site.begin(path, site.TestClock()) as record:
        site.planned(record)
    yield path
    assert verify(path).ok


def begin(place: Path, *, start: str = LATER) -> plain.Teletype:
    run = plain.Teletype(place, "prep", PREP, "--plain", "--as", "op-1", "--pin-stdin", start=start)
    run.type(site.PINS["op-1"])
    return run


def state(place: Path) -> PrepState:
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        return record.prep_state(PREP)


def test_a_whole_prep_is_walked_by_lines_alone(place: Path) -> None:
    run = begin(place)
    plain.walk(run)
    assert run.end() == (0, "")
    after = state(place)
    assert after.status == PrepStatus.CLOSED
    assert after.owed == ()
    assert abs(float(after.result["value"]) - 1.0) < 0.05
    said = run.said
    assert "Closed. Lot S-7F3A-0001, status quarantine." in said
    # Every caution page was read out whole, with the note, before its step's first act.
    assert said.count("-- cautions, page") == said.count(" I have read this page") == len(after.acks)
    assert said.count("they come before this text. If they disagree or are missing, stop") >= len(after.acks)
    # What the screens show stands in the lines too: hazards, aim, what acceptance would give, the clock.
    for words in ("DANGER   carcinogen 1B", "aim 10.01 mg, inside from", "if accepted now: solvent to add",
                  "open since 0:00, left today", "Exposure note. How did it go?"):  # fmt: skip
        assert words in said


@pytest.mark.parametrize("how", ["ctrl-c", "end of input"])
def test_broken_off_while_dosing_nothing_is_lost_and_the_same_command_goes_on(place: Path, how: str) -> None:
    run = begin(place)
    plain.walk(run, until=lambda said: "if accepted now: solvent to add" in said)
    before = state(place)
    assert before.open_handlings
    if how == "ctrl-c":
        run.interrupt()
    code, err = run.end()
    assert code == 2
    sentence = "SOMETHING IS OPEN: close it now. Left: every accepted reading is in the record"
    assert sentence in err.replace("\n", " ")
    assert "Traceback" not in err
    after = state(place)
    assert (after.last_entry, after.doses) == (before.last_entry, before.doses)
    again = begin(place, start="2026-03-02T10:00:00+00:00")
    first = plain.walk(again, until=lambda said: True)
    assert "Taken up again." in first
    assert "Look: is it open now?" in first
    again.type("1")
    plain.walk(again)
    assert again.end() == (0, "")
    closed = state(place)
    assert closed.status == PrepStatus.CLOSED
    assert sum(d.counts and d.content == "solid" for d in closed.doses) == 1


def test_a_line_that_means_nothing_is_said_and_acts_on_nothing(place: Path) -> None:
    run = begin(place)
    page = run.read()
    digit = re.findall(r"^\[([1-9]) I have read", page, re.MULTILINE)[-1]
    wrong = "1" if digit != "1" else "2"
    for line in (wrong, "", "yes", "0"):
        run.type(line)
        assert "!! " in run.read()
    assert state(place).acks == ()
    run.type("/")
    assert run.read() == ""
    assert run.end() == (0, "")


def test_a_second_person_s_pin_from_a_pipe_is_taken_and_never_echoed(place: Path) -> None:
    run = begin(place)
    plain.walk(run, until=lambda said: "zero the display" in said)
    run.type("5.00")  # far from zero
    said = run.read()
    choice = re.findall(r"^   ([1-9])  go on all the same, a second person", said, re.MULTILINE)[-1]
    run.type(choice)
    run.type(re.findall(r"^   ([1-9])  so-1", run.read(), re.MULTILINE)[-1])
    assert run.read().endswith("PIN ")
    run.type(site.PINS["so-1"])
    assert "Why may it go on?" in run.read()
    run.type("1")
    assert "5.00" not in run.read()
    run.type("/")
    run.read()
    code, err = run.end()
    assert (code, err) == (0, "")
    assert site.PINS["so-1"] not in run.said
    assert site.PINS["op-1"] not in run.said


def test_without_a_prep_the_open_ones_are_listed(place: Path) -> None:
    done = CliRunner().invoke(
        main, ["--record", str(place), "prep", "--plain"], env={"TAREBOOK_TERMINAL": "7F3A"}
    )
    assert done.exit_code == 0
    assert f"{PREP}  K2CR2O7 1.000 mg/g  step 1 of 10" in done.output


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((PREP, "--as", "op-1"), "--plain"),
        ((PREP, "--plain"), "--as ID"),
        (("P-7F3A-0099", "--plain", "--as", "op-1", "--pin-stdin"), "P-7F3A-0099"),
        ((PREP, "--plain", "--as", "so-1", "--pin-stdin"), "so-1"),
    ],
)
def test_what_cannot_be_walked_is_refused_in_one_sentence(
    place: Path, words: tuple[str, ...], says: str
) -> None:
    pin = site.PINS["so-1" if "so-1" in words else "op-1"]
    done = CliRunner().invoke(
        main, ["--record", str(place), "prep", *words], input=f"{pin}\n", env={"TAREBOOK_TERMINAL": "7F3A"}
    )
    assert done.exit_code == 2
    assert says in done.output
    assert "Traceback" not in done.output


# ---- planned from the shell ----

OPTIONS = (
    "--container", "C-1", "--target", "1.000 mg/g", "--amount", "10 g", "--solvent", "WB-1",
    "--vessel", "V-17", "--balance", "B-1", "--enclosure", "E-1",
)  # fmt: skip


def new(place: Path, *words: str, typed: tuple[str, ...] = ()) -> Result:
    argv = [
        "--record",
        str(place),
        "prep",
        "--plain",
        "--new",
        "--later",
        "--as",
        "op-1",
        "--pin-stdin",
        *words,
    ]
    lines = "".join(f"{line}\n" for line in (site.PINS["op-1"], *typed))
    return CliRunner().invoke(main, argv, input=lines, env={"TAREBOOK_TERMINAL": "7F3A"})


def plan_of(place: Path, prep: str) -> Plan:
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        return record.prep_state(prep).plan


def test_a_plan_given_as_options_is_explained_and_written(place: Path) -> None:
    done = new(place, *OPTIONS)
    assert done.exit_code == 0, done.output
    for words in (
        "weigh  10.01 mg of solid",
        "minimum weight of B-1",
        "steps  10:",
        "P-7F3A-0002 is planned.",
    ):
        assert words in done.output
    assert plan_of(place, "P-7F3A-0002") == site.PLAN


def test_a_plan_is_asked_for_prompt_by_prompt_and_what_is_no_answer_is_asked_again(place: Path) -> None:
    typed = ("C-77", "C-1", "1 %", "4 mmol/kg", "ten grams", "12 g", "WB-1", "V-17", "B-1", "E-1")
    done = new(place, "--recipe", "solution, solvent first", typed=typed)
    assert done.exit_code == 0, done.output
    assert done.output.count("!! ") == 3
    assert "C-1  potassium dichromate, lot KD-2" in done.output
    made = plan_of(place, "P-7F3A-0002")
    assert (made.target, made.amount, made.recipe) == ("4 mmol/kg", "12 g", "solution, solvent first")


def test_what_stands_against_a_plan_is_let_through_by_a_second_person_at_the_prompt(place: Path) -> None:
    few = [*OPTIONS]
    few[few.index("10 g")] = "1 g"  # the solid comes below the minimum weight
    refused = new(place, *few)
    assert refused.exit_code == 2
    assert "STOP, unless a second person lets it through" in refused.output
    done = new(place, *few, typed=("so-1", site.PINS["so-1"], "checked together"))
    assert done.exit_code == 0, done.output
    assert "below the minimum weight" in done.output
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        assert record.prep_state("P-7F3A-0002").let_through[0]["second"] == "so-1"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*OPTIONS[2:], "--container", "C-77"), "C-77"),
        ((*OPTIONS, "--recipe", "stirred"), "There is no recipe"),
        ((*OPTIONS, "--rehearsal"), "rehearsal"),
        ((PREP,), "is planned already"),
        ((), "Broken off: nothing is planned"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_in_one_sentence_and_nothing_is_written(
    place: Path, words: tuple[str, ...], says: str
) -> None:
    done = new(place, *words)
    assert done.exit_code == 2, done.output
    assert says in done.output
    assert "Traceback" not in done.output
    with Record.open(place, now=site.TestClock(), terminal="7F3A", write=False) as record:
        assert len(record.query("SELECT 1 FROM prep")) == 1
