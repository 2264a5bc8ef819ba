"""DEVELOPERS.md cannot lie about the file: its tables and views are those that the program makes.

`TAREBOOK_DOCS=write` writes the section anew.
"""

import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from store.model.registers import REGISTERS
from store.record import derived, schema, views
from store.record.found_shape import PREP_LETTERS, PREP_TEXT, SEARCH
from store.record.tables import names
from tests.tui import desks

FILE = Path(__file__).parents[1] / "DEVELOPERS.md"
SECTION = re.compile(r"(<!-- schema:.*?-->\n).*?(<!-- end of schema -->)", re.S)


def laid_out() -> sqlite3.Connection:
    """Give an empty file as the program lays it out."""
    connection = sqlite3.connect(":memory:")
    connection.execute(schema.JOURNAL)
    connection.execute(schema.CREDENTIAL)
    derived.create(connection)
    return connection


def lines() -> Iterator[str]:
    """Give the section: what is kept, what is folded, what is for reading."""
    with closing(laid_out()) as connection:

        def row(name: str, says: str) -> str:
            found = connection.execute(f"PRAGMA table_xinfo({name})").fetchall()
            columns = ", ".join(
                f"**{c[1]}**" if c[5] else c[1]
                for c in found
                if c[6] != 1  # 1: hidden columns of FTS5
            )
            return f"| `{name}` | {columns} | {says} |"

        yield "| table | columns, the key in bold | what |"
        yield "|---|---|---|"
        yield row("journal", "the truth: one line an entry; the columns after `digest` are read out of it")
        yield row("credential", "PINs, outside the chain")
        for table in names():
            yield row(table, "folded")
        yield row(SEARCH, "folded, FTS5: words that the search finds")
        yield row(PREP_TEXT, "folded, FTS5: what the list of preps finds anywhere in a text")
        yield row(PREP_LETTERS, "a look into the index of the table before: each three letters, and a rowid")
        yield ""
        yield "| view | columns | a row is |"
        yield "|---|---|---|"
        for view, (what, _) in views.VIEWS.items():
            yield row(view, what)
        for register in REGISTERS:
            yield row(register, f"a row of the {register} register as it stands; lists are JSON")


def test_the_schema_in_developers_is_the_one_that_the_program_makes() -> None:
    text = FILE.read_text(encoding="utf-8")
    found = SECTION.search(text)
    assert found
    made = found.group(1) + "\n".join(lines()) + "\n" + found.group(2)
    if os.environ.get("TAREBOOK_DOCS") == "write":
        FILE.write_text(text.replace(found.group(0), made), encoding="utf-8")
        return
    assert found.group(0) == made, "write it anew with TAREBOOK_DOCS=write, and look at it"


def test_another_program_reads_the_views_and_cannot_write_the_journal(tmp_path: Path) -> None:
    desk = desks.desk(tmp_path, story=desks.closed_prep)
    desk.record.close()
    with closing(sqlite3.connect(f"{desk.path.as_uri()}?mode=ro", uri=True)) as other:
        for view in (*views.VIEWS, *REGISTERS):
            assert other.execute(f"SELECT * FROM {view}").description
        name, shown, families = other.execute(
            "SELECT substance_name, shown, families FROM dose_list WHERE substance = 'K2CR2O7'"
        ).fetchone()
        assert (name, "CMR_1" in families) == ("potassium dichromate", True)
        assert shown.endswith(" mg")
        (made,) = other.execute("SELECT made_lot, value, unit FROM result_list").fetchall()
        assert made[0] == "S-7F3A-0001"
        assert made[2] == "mg/g"
        by_view = other.execute(
            "SELECT count(*), sum(open_s) FROM handling_list WHERE person = 'op-1' AND counts"
        ).fetchone()
        assert (
            by_view
            == other.execute(
                "SELECT sum(handlings), sum(open_s) FROM daily_all WHERE person = 'op-1'"
            ).fetchone()
        )
        entries = other.execute("SELECT count(*), max(entry) FROM entry_list").fetchone()
        assert entries[0] == entries[1] > 20
    with closing(sqlite3.connect(desk.path)) as other:
        for statement in (
            "INSERT INTO journal (entry, line, digest) SELECT max(entry) + 1, '{}', '' FROM journal",
            "UPDATE journal SET line = '{}' WHERE entry = 1",
            "DELETE FROM journal",
        ):
            try:
                other.execute(statement)
            except sqlite3.Error:
                continue
            raise AssertionError(statement)
