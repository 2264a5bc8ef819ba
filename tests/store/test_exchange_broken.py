import tracemalloc
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest

from store.actions import imports
from store.actions.acting import Acting
from store.errors import Fault, FileRefused, ImportRefused
from store.exchange.tables import MAX_BYTES, MAX_CELL, MAX_FAULTS, MAX_ROWS, read_rows, write_rows
from store.model.registers import REGISTERS, Row
from tests.store.broken_files import broken
from tests.store.sample_site import empty, rows, take_all

SEED = 20260302


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Acting]:
    acting = empty(tmp_path_factory.mktemp("site") / "site.tarebook")
    take_all(acting)
    yield acting
    acting.record.close()


def samples_of(site: Acting) -> dict[str, list[Row]]:
    return {register: list(rows(site.record, register)) for register in REGISTERS}


def test_a_thousand_broken_files_are_refused_with_line_and_column_and_nothing_is_taken(
    site: Acting, tmp_path: Path
) -> None:
    samples, before = samples_of(site), site.record.head()
    for number in range(1000):
        register, end, what, data, column = broken(Random(SEED + number), samples)
        said = f"{number}: {register}.{end}, {what}"
        faults = refused(site, tmp_path / f"broken.{end}", register, data)
        assert faults, f"{said} was taken"
        lines = data.count(b"\n") + data.count(b"\r") + 2
        assert all(1 <= fault.line <= lines for fault in faults), said
        assert all(fault.column for fault in faults), said
        assert all("\n" not in fault.what and len(fault.what) < 700 for fault in faults), said
        assert not column or column in {fault.column for fault in faults}, said
    assert site.record.head() == before


def refused(site: Acting, file: Path, register: str, data: bytes) -> tuple[Fault, ...]:
    """Give why a file is refused; nothing where it would be taken. What was taken is let go again."""
    file.write_bytes(data)
    try:
        with site.record.immediate():
            imports.take(site, register, read_rows(file, register), file.name)
            raise LetGo
    except ImportRefused as error:
        return error.faults
    except LetGo:
        return ()


class LetGo(Exception):
    """Ends a transaction that is not to be kept."""


def test_a_file_with_random_damage_is_taken_whole_or_refused_but_never_breaks_the_program(
    site: Acting, tmp_path: Path
) -> None:
    samples, before = samples_of(site), site.record.head()
    taken = 0
    for number in range(400):
        chance = Random(SEED - number)
        register, end = chance.choice(tuple(REGISTERS)), chance.choice(("csv", "toml"))
        data = bytearray(write_rows(samples[register], register, end).encode())
        for _ in range(chance.randint(1, 4)):
            at = chance.randrange(len(data))
            data[at : at + chance.randrange(3)] = bytes(
                chance.choice(b"\"',;=[]{}#\n\r\\\x00\xff.1aZ ") for _ in range(chance.randrange(3))
            )
        faults = refused(site, tmp_path / f"damaged.{end}", register, bytes(data))
        taken += not faults
    assert 0 < taken < 400
    assert site.record.head() == before


SHAPES = {
    "commas.csv": b"," * (MAX_BYTES - 1),
    "lines.csv": b"\n" * (MAX_BYTES // 4),
    "quotes.csv": b'id,name\n"' + b'""' * (MAX_BYTES // 2 - 8),
    "open.csv": b'id,name\nx,"' + b"y" * (MAX_BYTES - 40),
    "faults.csv": b"id,name\n" + b"a\n" * 9000,
    "wide.csv": b"id,name\nx" + b"," * (MAX_BYTES - 20),
    "brackets.toml": b"[" * 1_000_000,
    "dots.toml": b"[[substance]]\n" + b"a." * 1_000_000 + b"a = 1\n",
    "quoted-dots.toml": b"[[substance]]\nx = {" + b'"a".' * 150_000 + b"a = 1}\n",
    "digits.toml": b"[[substance]]\nid = " + b"9" * 2_000_000,
    "hex.toml": b"[[substance]]\nid = 0x" + b"f_" * 1_000_000 + b"f",
    "point.toml": b"[[substance]]\nid = 0." + b"9" * 2_000_000,
    "tables.toml": b"[[substance]]\n[substance.a]\n" * 9_000,
    "strings.toml": b'[[substance]]\nid = """' + b'x""' * 100_000,
    "lists.toml": b"[[substance]]\nsynonyms = [" + b"'a'," * 100_000 + b"]\n",
    "comments.toml": b"#\n" * 150_000 + b"x",
}


@pytest.mark.parametrize("name", SHAPES)
def test_a_file_of_the_worst_shape_is_refused_within_bounded_memory(tmp_path: Path, name: str) -> None:
    file = tmp_path / name
    file.write_bytes(SHAPES[name])
    tracemalloc.start()
    try:
        with pytest.raises(ImportRefused):
            read_rows(file, "substance")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 40 * MAX_BYTES


def test_a_file_over_the_size_is_refused_without_being_read_whole(tmp_path: Path) -> None:
    for size, error in ((MAX_BYTES, ImportRefused), (MAX_BYTES + 1, FileRefused)):
        file = tmp_path / "large.csv"
        file.write_bytes(b" " * size)
        with pytest.raises(error):
            read_rows(file, "vessel")
    if Path("/dev/zero").exists():
        (tmp_path / "endless.csv").symlink_to("/dev/zero")
        with pytest.raises(FileRefused, match="no plain file"):
            read_rows(tmp_path / "endless.csv", "vessel")


@pytest.mark.parametrize(
    ("name", "before", "after", "where"),
    [
        ("plain.csv", "id,name,capacity\nV-9,", ",20 mL\n", "line 2, name"),
        ("quoted.csv", 'id,name,capacity\nV-8,vial,20 mL\n"V-9","', '",20 mL\n', "line 3, name"),
        ("open.csv", 'id,name,capacity\nV-9,"', "", "line 2, name"),
        ("text.toml", '[[vessel]]\nid = "V-9"\nname = "', '"\n', "line 3, name"),
    ],
)
def test_ten_million_signs_in_a_cell_are_refused_at_their_place(
    tmp_path: Path, name: str, before: str, after: str, where: str
) -> None:
    file = tmp_path / name
    file.write_text(f"{before}{'x' * 10_000_000}{after}")
    tracemalloc.start()
    try:
        with pytest.raises(ImportRefused, match=f"{where}: more than {MAX_CELL} signs"):
            read_rows(file, "vessel")
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 4 * MAX_BYTES


@pytest.mark.parametrize("text", ['=HYPERLINK("x")', "+1+1", "@SUM(A1)", "=1+1|cmd"])
def test_a_formula_is_text_on_the_way_in_and_guarded_on_the_way_out(
    site: Acting, tmp_path: Path, text: str
) -> None:
    row = REGISTERS["vessel"].from_body({"id": "V-1", "name": text, "capacity": "20 mL"})
    written = write_rows([row], "vessel", "csv")
    assert f"'{text[0]}" in written
    file = tmp_path / "formula.csv"
    file.write_text(written)
    assert read_rows(file, "vessel")[0].cells["name"] == text


@pytest.mark.parametrize("end", ["csv", "toml"])
def test_one_row_too_many_is_refused(tmp_path: Path, end: str) -> None:
    for many, refused in ((MAX_ROWS, False), (MAX_ROWS + 1, True)):
        lines = (
            ["id,name,capacity", *(f"V{n},vial,20 mL" for n in range(many))]
            if end == "csv"
            else [f"[[vessel]]\nid='V{n}'" for n in range(many)]
        )
        file = tmp_path / f"many.{end}"
        file.write_text("\n".join(lines))
        if refused:
            with pytest.raises(ImportRefused, match="10000 rows"):
                read_rows(file, "vessel")
        else:
            assert len(read_rows(file, "vessel")) == MAX_ROWS


def test_one_sign_too_many_in_a_cell_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "long.csv"
    file.write_text(f"id,name,capacity\nV1,{'x' * MAX_CELL},20 mL\n")
    assert len(str(read_rows(file, "vessel")[0].cells["name"])) == MAX_CELL
    file.write_text(f"id,name,capacity\nV1,{'x' * (MAX_CELL + 1)},20 mL\n")
    with pytest.raises(ImportRefused, match="line 2, name: 10001 signs"):
        read_rows(file, "vessel")


def test_more_faults_than_anybody_reads_end_the_list(site: Acting, tmp_path: Path) -> None:
    file = tmp_path / "faults.csv"
    for faulty in (MAX_FAULTS - 1, MAX_FAULTS + 50):
        file.write_text("id,name,capacity\n" + "".join(f"V{n},vial,20 cups\n" for n in range(faulty)))
        with pytest.raises(ImportRefused) as caught:
            imports.take(site, "vessel", read_rows(file, "vessel"), file.name)
        assert len(caught.value.faults) == min(faulty, MAX_FAULTS + 1)
        assert ("the rest" in str(caught.value)) is (faulty > MAX_FAULTS)
