"""The README cannot lie: its key table, its test command, its job first."""

import re
from pathlib import Path

from tui.commands import readme_table

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_key_table_is_the_one_of_the_program() -> None:
    found = re.search(r"<!-- keys:.*?-->\n(.*?)<!-- end of keys -->", README, re.S)
    assert found
    assert found.group(1).strip() == readme_table().strip()


def test_the_job_stands_in_the_first_paragraph() -> None:
    title, first, *_ = README.split("\n\n")
    assert title == "# Tarebook"
    for word in ("hazardous", "cautions", "SQLite", "concentration", "exposure"):
        assert word in first


def test_ci_runs_the_test_command_of_the_readme() -> None:
    commands = re.findall(r"^python3 -m venv .*$", README, re.M)
    assert len(commands) == 2
    assert commands[1] in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_command_of_the_readme_is_there() -> None:
    from tui.__main__ import COMMANDS

    block = README.split("## Commands")[1].split("```")[1]
    named = set(re.findall(r"tarebook (\w+)", block)) | {"backup", "restore"}
    assert named == set(COMMANDS)


def test_the_constraints_pin_exactly_and_name_no_host() -> None:
    lines = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").split()
    assert all(re.fullmatch(r"[A-Za-z0-9_.\-]+==[0-9][A-Za-z0-9.]*", line) for line in lines)
    assert any(line == "textual==8.2.8" for line in lines)
