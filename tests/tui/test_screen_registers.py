"""Registers, record check and the first run: read, proved, begun."""

import sqlite3
from pathlib import Path
from random import Random

import pytest

from store.model.registers import REGISTERS
from store.queries import registers
from store.record import schema
from store.record.record import Record
from tests import site
from tests.tui import desks, snap
from tui.screens.desk import Desk
from tui.screens.first_run import FirstRunScreen
from tui.screens.record_check import RecordCheckScreen
from tui.screens.register_row import RegisterRowScreen
from tui.screens.registers import RegisterScreen, RegistersScreen


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_register_its_rows_and_a_row_are_read(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(RegistersScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "registers")
        await snap.send(pilot, "2\r")
        await desks.settle(pilot)
        snap.check(app, "register_lots")
        await snap.send(pilot, "1\r")
        await desks.settle(pilot)
        snap.check(app, "register_lot")
        assert "S-7F3A-0001" in snap.text_of(app)
        await snap.press(pilot, "-", "-")
        await desks.settle(pilot)
        assert isinstance(app.screen, RegistersScreen)


@pytest.mark.parametrize("register", list(REGISTERS))
async def test_every_register_opens_even_without_rows(tmp_path: Path, register: str) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(RegistersScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.send(pilot, f"{list(REGISTERS).index(register) + 1}\r")
        await desks.settle(pilot)
        assert isinstance(app.screen, RegisterScreen)
        assert app.screen.register == register


async def test_words_are_found_anywhere_in_a_row(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    app = desks.DeskApp(RegisterScreen(desk, "substance"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "f")
        await snap.send(pilot, "7778-50-9\r")
        assert "K2CR2O7" in snap.text_of(app)
        assert "WATER" not in snap.text_of(app)


async def test_a_very_long_register_says_that_its_newest_entry_is_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(registers, "MANY", 2)
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(RegisterScreen(desk, "lot"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        shown = snap.text_of(app)
        assert "newest first" in shown.splitlines()[0]
        newest, *_, oldest = registers.page(desk.record, "lot", limit=9)
        assert newest.id == "S-7F3A-0001"
        assert 0 < shown.index(newest.id) < shown.index(oldest.id)


@pytest.mark.parametrize(("register", "offered"), [("setting", False), ("substance", True)])
async def test_a_new_row_is_offered_where_one_can_be_added(
    tmp_path: Path, register: str, offered: bool
) -> None:
    app = desks.DeskApp(RegisterScreen(desks.desk(tmp_path), register))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert ("a add" in snap.text_of(app)) == offered
        await snap.press(pilot, "*")
        await desks.settle(pilot)
        assert ("A keeper enters a new row" in snap.text_of(app)) == offered


async def test_a_setting_that_is_unset_shows_its_default(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path)
    site.put(desk.record, "setting", {"id": "lock_minutes", "value": "7"})
    app = desks.DeskApp(RegisterScreen(desk, "setting"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        shown = snap.text_of(app)
        assert "30 (default)" in shown
        assert "lock_minutes               7" in shown
        await snap.send(pilot, "1\r")
        assert "not set by the site" in snap.text_of(app)


@pytest.mark.parametrize(("who", "sees"), [("op-1", True), ("so-1", True), ("op-2", False)])
async def test_a_persons_page_shows_the_log_only_to_whom_it_may(tmp_path: Path, who: str, sees: bool) -> None:
    desk = desks.desk(tmp_path, person=who, story=desks.closed_prep)
    app = desks.DeskApp(RegisterRowScreen(desk, "person", "op-1"))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        shown = snap.text_of(app)
        assert ("CMR_1" in shown) is sees
        assert ("29 CFR 1910.1020" in shown) is sees
        assert ("seen by a safety officer" in shown) is not sees


@pytest.mark.parametrize("register", ["substance", "container", "balance", "enclosure", "vessel", "rule"])
async def test_every_kind_of_row_has_a_page(tmp_path: Path, register: str) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    site.put(desk.record, "rule", {"id": "7", "text": "a second person [in] the room", "since": "2026-01-01"})
    row = registers.rows(desk.record, register)[0]
    app = desks.DeskApp(RegisterRowScreen(desk, register, row.id))
    async with app.run_test(size=(120, 40)) as pilot:
        await desks.settle(pilot)
        shown = snap.text_of(app)
        assert row.id in shown
        assert f"{row.entry} " in shown


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_record_that_is_whole_verifies_and_shows_its_head(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    app = desks.DeskApp(RecordCheckScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "2")
        await app.workers.wait_for_complete()
        await desks.settle(pilot)
        shown = snap.text_of(app)
        head = desk.record.head()
        assert f"OK  {head.entry} entries" in shown
        assert f"{head.entry}:{head.digest}" in shown


async def test_a_changed_entry_is_named(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    with sqlite3.connect(desk.path) as raw:
        for (name,) in raw.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            raw.execute(f"DROP TRIGGER {name}")
        (entry,) = raw.execute("SELECT min(entry) FROM dose").fetchone()
        raw.execute("UPDATE journal SET line = replace(line, ' mg', '0 mg') WHERE entry = ?", (entry,))
        for name, sql in schema.KEPT.items():
            if sql.lstrip().upper().startswith("CREATE TRIGGER") and name:
                raw.execute(sql)
    raw.close()
    app = desks.DeskApp(RecordCheckScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "1")
        await app.workers.wait_for_complete()
        await desks.settle(pilot)
        assert "DOES NOT VERIFY" in snap.text_of(app)
        assert f"✗ entry {entry}" in snap.text_of(app)


@pytest.mark.parametrize(("cut", "word"), [(0, "OK"), (1, "DOES NOT VERIFY")])
async def test_an_anchor_that_the_record_does_not_hold_is_found(tmp_path: Path, cut: int, word: str) -> None:
    desk = desks.desk(tmp_path)
    head = desk.record.head()
    app = desks.DeskApp(RecordCheckScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        await snap.press(pilot, "3")
        await snap.send(pilot, "12\r")
        assert "Type the entry, a colon" in snap.text_of(app)
        await snap.send(pilot, f"{head.entry + cut}:{head.digest[:16]}\r")
        await app.workers.wait_for_complete()
        await desks.settle(pilot)
        assert f" {word}  " in snap.text_of(app)


def _new(folder: Path) -> Desk:
    clock = site.TestClock()
    path = folder / "new.tarebook"
    record = Record.create(path, now=clock, terminal="7F3A", site="")
    return Desk(record=record, path=path, now=clock, terminal="7F3A", monotonic=clock.time, chance=Random(1))


@pytest.mark.parametrize("size", desks.SIZES)
async def test_a_record_is_begun_with_its_keeper(tmp_path: Path, size: tuple[int, int]) -> None:
    desk = _new(tmp_path)
    app = desks.DeskApp(FirstRunScreen(desk))
    async with app.run_test(size=size) as pilot:
        await desks.settle(pilot)
        snap.check(app, "first_run")
        for line in ("Lake house [x]\r", "inside 112\r", "ke-1\r", "K. P.\r", "9000\r", "9001\r"):
            await snap.send(pilot, line)
        assert "The two PINs differ" in snap.text_of(app)
        assert not registers.rows(desk.record, "person")
        await pilot.pause(0.3)
        for line in ("9000\r", "9000\r"):
            await snap.send(pilot, line)
        await desks.settle(pilot)
    assert app.given == ["ke-1"]
    assert desk.acting.roles == ("keeper",)
    assert desk.settings()["site"] == "Lake house [x]"
    assert desk.settings()["emergency"] == "inside 112"


@pytest.mark.parametrize(
    ("at", "typed", "sentence"), [(2, "9", "spill card"), (2, "a b", "without blanks"), (4, "12", "4 to 12")]
)
async def test_what_a_first_run_cannot_use_is_refused_beside_its_field(
    tmp_path: Path, at: int, typed: str, sentence: str
) -> None:
    desk = _new(tmp_path)
    app = desks.DeskApp(FirstRunScreen(desk))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        screen = app.screen
        assert isinstance(screen, FirstRunScreen)
        await snap.send(pilot, ["down"] * at)
        await snap.send(pilot, f"{typed}\r")
        assert screen.form.at == at
        assert sentence in screen.form.current.error


async def test_who_has_left_is_told_apart_in_the_list_and_on_the_page(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, person="ke-1")
    site.put(
        desk.record, "person", {"id": "op-9", "name": "Q. R.", "roles": ["operator"], "left": "2026-02-01"}
    )
    app = desks.DeskApp(RegisterScreen(desk, "person"))
    async with app.run_test(size=(80, 24)) as pilot:
        await desks.settle(pilot)
        assert "left 2026-02-01 · Q. R." in snap.text_of(app)
        await snap.send(pilot, "op-9\r")
        await desks.settle(pilot)
        assert snap.text_of(app).splitlines()[0].rstrip().endswith("left 2026-02-01")
