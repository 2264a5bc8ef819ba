"""The reference tables beside this file, each read once and on first use."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

PACKAGE = "store.hazards"


@cache
def table(name: str) -> Mapping[str, Any]:
    """Give one table of the package as parsed TOML."""
    return tomllib.loads((files(PACKAGE) / name).read_text(encoding="utf-8"))


@cache
def tables(stem: str) -> Mapping[str, Mapping[str, Any]]:
    """Give every table whose name begins with `stem`, by the edition that it names."""
    names = sorted(
        file.name
        for file in files(PACKAGE).iterdir()
        if file.name.startswith(stem) and file.name.endswith(".toml")
    )
    return {parsed["edition"]: parsed for parsed in map(table, names)}
