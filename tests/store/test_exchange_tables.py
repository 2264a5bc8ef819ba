from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from store.errors import BadInput, FileRefused, ImportRefused, UnknownCode
from store.exchange import csv_rows
from store.exchange.tables import read_rows, template, write_rows
from store.model.registers import Container, LocalRule, Substance, Vessel


def read(
    tmp_path: Path, text: str | bytes, register: str = "substance", end: str = "csv"
) -> tuple[object, ...]:
    file = tmp_path / f"file.{end}"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_rows(file, register)


def faults(
    tmp_path: Path, text: str | bytes, register: str = "substance", end: str = "csv"
) -> list[tuple[int, str]]:
    with pytest.raises(ImportRefused) as caught:
        read(tmp_path, text, register, end)
    return [(fault.line, fault.column) for fault in caught.value.faults]


# ---- what is read ----


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_csv_is_read_with_and_without_a_byte_order_mark_and_with_any_line_end(
    tmp_path: Path, mark: bytes, ends: str
) -> None:
    text = ends.join(["id,name,synonyms", "A,α-pinene,x; y ;", "", 'B,"say ""hi"", twice",'])
    file = tmp_path / "a.CSV"
    file.write_bytes(mark + text.encode())
    first, second = read_rows(file, "substance")
    assert dict(first.cells) == {"id": "A", "name": "α-pinene", "synonyms": ("x", "y")}
    assert (first.line, second.line, second.cells["name"]) == (2, 4, 'say "hi", twice')


def test_toml_is_read_with_the_line_of_each_key_and_every_digit(tmp_path: Path) -> None:
    file = tmp_path / "lot.toml"
    file.write_text(
        '# [[lot]] in a comment\n[[lot]]\nid = "A"   # one\nassay = 99.500\nexpiry = 2027-12-31\n'
        'storage = """\n[[lot]]\nid = 3"""\ndried_before_use = true\n\n[[lot]]\n"id" = \'B\'\nassay = 98\n'
    )
    first, second = read_rows(file, "lot")
    assert (first.line, first.line_of("assay"), first.line_of("dried_before_use")) == (2, 4, 9)
    assert (second.line, second.line_of("id"), second.line_of("basis")) == (11, 12, 11)
    assert (first.cells["assay"], first.cells["expiry"]) == ("99.500", "2027-12-31")
    assert (first.cells["dried_before_use"], second.cells["assay"]) == ("yes", "98")


def test_comments_stand_above_the_header_only(tmp_path: Path) -> None:
    text = '# a, b\n"# c, ""d""",,\n,,\nid,name\n#1,# two\n'
    (row,) = read(tmp_path, text)
    assert dict(row.cells) == {"id": "#1", "name": "# two"}  # type: ignore[attr-defined]


# ---- what is refused, and where ----


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('id,name\nA,b\nC,"d\ne,f\n', [(3, "name")]),
        ('id,name\nA,b\nC,"d"e\n', [(3, "name")]),
        ('id,name\n"A""x""",b\nC,"d""",e"\n', [(3, "column 3")]),
        ("id,name\nA\nB,b,c\nC,d\n", [(2, "name"), (3, "column 3")]),
        ("id,nom,id,\n", [(1, "column 2"), (1, "column 3"), (1, "column 4"), (1, "name")]),
        ("id;name\nA;b\n", [(1, "column 1")]),
        ("id\tname\nA\tb\n", [(1, "column 1")]),
        ("", [(1, "column 1")]),
        (b"id,name\nA,caf\xe9\n", [(2, "column 6")]),
        (b"id,name\nA,b\x00\n", [(2, "column 4")]),
        ("id,name\n".encode("utf-16"), [(1, "column 1")]),
    ],
)
def test_a_csv_file_is_refused_by_line_and_column(
    tmp_path: Path, text: str | bytes, where: list[tuple[int, str]]
) -> None:
    assert faults(tmp_path, text) == where


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("[[substance]]\nid = 'A\n", [(2, "column 6")]),
        ("[[substance]]\nid = 'A'\nname = \"b\n", [(3, "column 10")]),
        ("[[substance]]\nid = 'A'\nname = '''b\n\n", [(3, "column 10")]),
        ("[[substance]]\nid = 'A'\nid = 'B'\n\n", [(3, "column 9")]),
        ("[[substance]]\nid = 'A'\nname = 3\nsynonyms = [1.5]\nnom = 'x'\n", [(5, "nom")]),
        (
            "[[substance]]\nid = ['A']\nname = {}\nsds_date = 12:00:00\n",
            [(2, "id"), (3, "name"), (4, "sds_date")],
        ),
        ("\n\n[[lot]]\nid = 'A'\n[[substance]]\nid = 'B'\n", [(3, "lot")]),
        ("[[substance]]\nid = 'A'\n\n[substance.below]\nb = 1\n", [(4, "below")]),
        ("top = 1\n", [(1, "top")]),
        ("x = 1\nsubstance = [{id = 'A'}]\n", [(1, "x"), (2, "substance")]),
    ],
)
def test_a_toml_file_is_refused_by_line_and_column(
    tmp_path: Path, text: str, where: list[tuple[int, str]]
) -> None:
    assert faults(tmp_path, text, end="toml") == where


def test_every_fault_of_a_file_is_told_at_once(tmp_path: Path) -> None:
    text = "id,name,capacity\n" + "A\n" * 7
    assert [line for line, _ in faults(tmp_path, text, "vessel")] == [2, 3, 4, 5, 6, 7, 8]


def test_what_is_no_register_file_is_refused_before_it_is_read(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"PK")
    for name, error in (("a.xlsx", ".csv or .toml"), ("none.csv", "no file"), ("", "ends in")):
        with pytest.raises(FileRefused, match=error):
            read_rows(tmp_path / name, "substance")
    (tmp_path / "dir.csv").mkdir()
    with pytest.raises(FileRefused, match="no plain file"):
        read_rows(tmp_path / "dir.csv", "substance")
    with pytest.raises(UnknownCode, match="no register"):
        read_rows(tmp_path / "a.csv", "chemicals")
    with pytest.raises(BadInput, match="csv or toml"):
        write_rows((), "lot", "xlsx")
    with pytest.raises(UnknownCode):
        template("chemicals")


# ---- what is written ----

SHOWN = st.text(st.characters(exclude_categories=("C", "Z")) | st.sampled_from(" =+-@'\",;#"), max_size=30)
TEXT = SHOWN.map(str.strip)
ENTRY = SHOWN.map(lambda text: text.replace(";", "").strip()).filter(bool)


@given(
    st.lists(
        st.builds(
            Substance, id=st.from_regex(r"[A-Za-z0-9_.()-]{1,24}", fullmatch=True), name=TEXT, storage=TEXT,
            synonyms=st.lists(ENTRY, max_size=4).map(tuple), skin_notation=st.booleans(),
        ),
        min_size=1, max_size=4,
    ),
    st.sampled_from(["csv", "toml"]),
)  # fmt: skip
@settings(derandomize=True, deadline=None, max_examples=300)
def test_whatever_a_row_says_comes_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, rows: list[Substance], end: str
) -> None:
    file = tmp_path_factory.getbasetemp() / f"round.{end}"
    file.write_bytes(write_rows(rows, "substance", end).encode())
    back = [
        Substance(
            id=str(raw.cells["id"]),
            name=str(raw.cells.get("name", "")),
            storage=str(raw.cells.get("storage", "")),
            form=str(raw.cells.get("form", "")),
            synonyms=tuple(raw.cells.get("synonyms", ())),
            skin_notation=raw.cells.get("skin_notation") == "yes",
        )
        for raw in read_rows(file, "substance")
    ]
    assert back == rows


@pytest.mark.parametrize("text", ["=1+1", "+49 30", "-x", "@SUM(A1)", "'=1", "''@", "\uff1d1", " =x".strip()])
def test_no_text_cell_of_an_export_begins_so_that_a_spreadsheet_runs_it(text: str) -> None:
    # OWASP, CSV Injection: cells that begin with = + - @, tab, carriage return, or a full-width form.
    written = write_rows([Vessel(id="V-1", name=text, capacity="1 mL")], "vessel").split("\n")[1]
    assert written.split(",")[1].startswith("'")
    assert csv_rows.taken_back(csv_rows.spared(text)) == text


def test_a_negative_number_stays_a_number(tmp_path: Path) -> None:
    assert csv_rows.spared("-120") == "-120"
    assert csv_rows.taken_back("'-120") == "-120"


def test_a_list_stands_in_one_cell_parted_by_semicolons() -> None:
    text = write_rows([LocalRule(id="1", text="t", since="2026-03-02", steps=("tare", "waste"))], "rule")
    assert "tare; waste" in text
    assert 'conditioning = ["dry", "cool"]' in write_rows(
        [Container(id="C-1", lot="L", conditioning=("dry", "cool"))], "container", "toml"
    )
