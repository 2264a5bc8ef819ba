import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from store.actions import people, planning
from store.model.prep import Plan
from store.record import people as pins
from store.record.record import Record
from tests.store.sample_site import NOW, SAMPLES, empty, take_all
from tui.__main__ import main


@pytest.fixture
def record(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TAREBOOK_TERMINAL", "7F3A")
    monkeypatch.setattr(pins, "N", 2)
    path = tmp_path / "site.tarebook"
    acting = empty(path)
    take_all(acting)
    people.set_pin(acting, "op-1", "1111")
    acting.record.close()
    return path


def run(record: Path, *words: str, pin: str = "") -> Result:
    return CliRunner().invoke(main, ["--record", str(record), *words], input=pin)


def test_what_is_exported_imports_again_and_changes_nothing(record: Path, tmp_path: Path) -> None:
    for end in ("csv", "toml"):
        file = tmp_path / f"lot.{end}"
        assert run(record, "export", "lot", "--format", end, "--to", str(file)).exit_code == 0
        assert file.read_text(encoding="utf-8") == run(record, "export", "lot", "--format", end).output
        done = run(record, "import", "lot", str(file), "--as", "re-1", "--pin-stdin", pin="4444\n")
        assert (done.exit_code, done.output.split("\n")[2][:15]) == (0, "unchanged    17")


def test_a_file_is_never_overwritten(record: Path, tmp_path: Path) -> None:
    file = tmp_path / "lot.csv"
    file.write_text("mine")
    refused = run(record, "export", "lot", "--to", str(file))
    assert (refused.exit_code, file.read_text()) == (2, "mine")
    assert "there already" in refused.output


@pytest.mark.parametrize(
    ("words", "pin", "said"),
    [
        (("import", "lot", "LOT", "--as", "re-1", "--pin-stdin"), "4444\n", "line 2, assay"),
        (("import", "lot", "LOT", "--as", "re-1", "--pin-stdin"), "4445\n", "do not fit"),
        (("import", "lot", "LOT"), "", "--as ID"),
        (("import", "vessel", "VESSEL", "--as", "op-1", "--pin-stdin"), "1111\n", "keeper"),
        (("import", "chemical", "LOT", "--as", "re-1", "--pin-stdin"), "4444\n", "no register"),
        (("import", "lot", "NONE", "--as", "re-1", "--pin-stdin"), "4444\n", "no file"),
        (("export", "chemical"), "", "write one of substance, lot"),
        (("export", "lot", "--format", "xlsx"), "", "csv or toml"),
        (("export", "lot", "--person", "op-1"), "", "leave out --person"),
        (("export", "exposures", "--template"), "", "registers only"),
        (("export", "exposures", "--format", "toml"), "", "csv, json, text or html"),
        (("export", "exposures", "--since", "yesterday"), "", "not a date"),
    ],
)
def test_what_cannot_be_done_is_one_sentence_and_exit_2_and_nothing_is_taken(
    record: Path, tmp_path: Path, words: tuple[str, ...], pin: str, said: str
) -> None:
    files = {"LOT": tmp_path / "lot.csv", "VESSEL": tmp_path / "vessel.toml", "NONE": tmp_path / "none.csv"}
    files["LOT"].write_text("id,substance,assay,basis\nL-1,NAN3,over 9000,as-is\n")
    files["VESSEL"].write_text('[[vessel]]\nid = "V-99"\nname = "vial"\ncapacity = "2 mL"\n')
    before = run(record, "export", "lot").output + run(record, "export", "vessel").output
    done = run(record, *(str(files.get(word, word)) for word in words), pin=pin)
    assert done.exit_code == 2
    assert said in done.output
    assert "Traceback" not in done.output
    assert run(record, "export", "lot").output + run(record, "export", "vessel").output == before


def test_a_template_needs_no_record(tmp_path: Path) -> None:
    done = run(tmp_path / "none.tarebook", "export", "balance", "--template")
    assert done.exit_code == 0
    assert "readability: one step of its last digit (number and unit: ug, mg, g, kg)" in done.output


def test_a_log_names_who_made_it(record: Path) -> None:
    nobody = run(record, "export", "exposures", "--format", "text").output
    assert "made by: nobody signed in, terminal 7F3A" in nobody
    signed = run(
        record, "export", "exposures", "--format", "text", "--as", "op-1", "--pin-stdin", pin="1111\n"
    )
    assert "made by: op-1" in signed.output


def test_only_an_operator_goes_on_with_a_prep_in_the_shell(record: Path) -> None:
    with Record.open(record, now=lambda: NOW, terminal="7F3A") as open_:
        keeper = people.sign_in(open_, "re-1", "4444")
        people.set_pin(keeper, "so-1", "3333")
        past = tomllib.loads((SAMPLES / "past.toml").read_text(encoding="utf-8"))["prep"][0]
        plan = {k: v for k, v in past.items() if k not in ("person", "days_ago")}
        prep = planning.write(people.sign_in(open_, "op-1", "1111"), Plan(**plan))
        before = open_.prep_state(prep)
    refused = run(record, "prep", prep, "--plain", "--as", "so-1", "--pin-stdin", pin="3333\n")
    assert (refused.exit_code, "takes the role of operator" in refused.output) == (2, True)
    with Record.open(record, now=lambda: NOW, terminal="7F3A") as open_:
        assert open_.prep_state(prep) == before
