"""Start the terminal interface on a record.

Screens are imported by name, when they are wanted: the shell itself never needs them.
"""

import os
import sys
import time
from collections.abc import Callable
from datetime import datetime
from importlib import import_module
from pathlib import Path
from random import SystemRandom

import click

from store.errors import BadInput


def check_terminal() -> None:
    """Refuse what cannot show a screen, with a sentence.

    Raises
    ------
    BadInput
        No terminal, or one that cannot move its cursor.
    """
    is_terminal = sys.stdin.isatty() and sys.stdout.isatty()
    theme = import_module("tui.theme")
    if sentence := theme.dumb_terminal_sentence(os.environ, is_terminal=is_terminal):
        raise BadInput(sentence)


def start(ctx: click.Context) -> None:
    """Open or begin the site's record and show the first screen."""
    check_terminal()
    from tui.cli.desk import now, place, terminal

    run(place(ctx), now=now, terminal=terminal())


def _samples() -> Path:
    from tui.cli.demo_site import samples

    return samples()


def run(
    path: Path, *, now: Callable[[], datetime], terminal: str, hint: tuple[str, ...] = (), seed: int = 0
) -> None:
    """Show the terminal interface on a record; begin the record if there is none."""
    from store.record.record import Record

    app = import_module("tui.app")
    desk = import_module("tui.screens.desk")
    if path.exists():
        record = Record.open(path, now=now, terminal=terminal)
    else:
        path.parent.mkdir(parents=True, exist_ok=True)
        record = Record.create(path, now=now, terminal=terminal, site="")
    with record:
        table = desk.Desk(
            record=record,
            path=path,
            now=now,
            terminal=terminal,
            monotonic=time.monotonic,
            chance=SystemRandom(),
            hint=hint,
            seed=seed,
            samples=_samples,
        )
        app.TarebookApp(table).run(mouse=False)
