"""Damage to the bytes of the file: whatever it hits, no other content is ever OK."""

import random
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from store.errors import RecordError
from store.record.tables import names
from store.record.verify import verify
from tests.store.record_story import Clock, new_record, story


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("told") / "site.tarebook"
    clock = Clock()
    with new_record(path, clock) as record:
        story(record, clock)
    return path


def _key(raw: sqlite3.Connection, table: str) -> str:
    rows = raw.execute(f"SELECT name FROM pragma_table_info('{table}') WHERE pk ORDER BY pk")
    return ", ".join(name for (name,) in rows)


def _content(path: Path) -> list[Any]:
    """All that a reader could be shown: every table, through its own pages and through each index."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as raw:
        out: list[Any] = raw.execute("SELECT type, name, sql FROM sqlite_schema ORDER BY name").fetchall()
        for table in ("journal", "credential", *names()):
            key = _key(raw, table)
            out += raw.execute(f"SELECT * FROM {table} NOT INDEXED ORDER BY {key}").fetchall()
        out += raw.execute("SELECT rowid, * FROM search ORDER BY rowid").fetchall()
        words = sorted({w for (text,) in raw.execute("SELECT words FROM search") for w in text.split()})
        for word in words:
            out += raw.execute("SELECT rowid FROM search WHERE search MATCH ?", (f'"{word}"',)).fetchall()
        for table, index, sql in raw.execute(
            "SELECT tbl_name, name, sql FROM sqlite_schema "
            "WHERE type = 'index' AND sql IS NOT NULL ORDER BY name"
        ).fetchall():
            named = [name for (name,) in raw.execute(f"SELECT name FROM pragma_index_info('{index}')")]
            # An index over an expression has no name for it; its own text has.
            said = sql.partition(" WHERE ")[0]
            columns = said[said.index("(") + 1 : said.rindex(")")] if None in named else ", ".join(named)
            only = sql.partition(" WHERE ")[2] or "TRUE"  # of an index over some rows
            rows = raw.execute(
                f"SELECT {columns}, count(*) FROM {table} INDEXED BY {index} WHERE {only} GROUP BY {columns}"
            )
            out += rows.fetchall()
        return out


def _never_ok_with_other_content(told: Path, at: Path, seeds: range) -> None:
    right, whole = _content(told), told.read_bytes()
    for seed in seeds:
        chance = random.Random(seed)
        data = bytearray(whole)
        for _ in range(chance.choice((1, 1, 1, 2, 40))):
            place = chance.randrange(len(data))
            data[place] ^= 1 << chance.randrange(8)
        at.write_bytes(data)
        try:
            fine = verify(at).ok
        except RecordError:
            fine = False
        if fine:
            assert _content(at) == right, f"seed {seed}"


def test_no_changed_byte_is_ok_with_other_content(told: Path, tmp_path: Path) -> None:
    _never_ok_with_other_content(told, tmp_path / "damaged", range(200))


@pytest.mark.long
def test_no_changed_byte_is_ok_with_other_content_at_length(told: Path, tmp_path: Path) -> None:
    _never_ok_with_other_content(told, tmp_path / "damaged", range(200, 20_000))


@pytest.mark.parametrize("part", [0.0, 0.1, 0.5, 0.99])
def test_a_cut_file_does_not_verify(told: Path, tmp_path: Path, part: float) -> None:
    data = told.read_bytes()
    (tmp_path / "cut").write_bytes(data[: int(len(data) * part)])
    assert not verify(tmp_path / "cut").ok
