"""Everything about one person: read by that person and by a safety officer, written as a page for print."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

from store.errors import FileRefused, NotAllowed, StoreError
from store.exchange import about, for_people
from store.exchange.cells import as_text
from store.exchange.said import ABOUT, IS_NOT, RETENTION
from store.queries import exposures
from tui.commands import BACK, HELP, PAGE, PRINT, Command
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.screens.tabled import tabled

NEWEST = 100
"""Handlings on the screen; the page for print has all."""
ACROSS = 9
"""So many columns fit across a screen; a row of more stands field by field."""


class PersonPageScreen(Reading[None]):
    """The sections of a person's page."""

    KEYS: ClassVar[tuple[Command, ...]] = (PRINT, PAGE, BACK, HELP)
    HELP_LINES = (
        "All that this record holds about one person. Everybody reads the own page; a safety officer reads "
        "everybody's. Who else was present is left out.",
        f"{PRINT.key} writes it whole as a page for print beside the record; in the shell it is tarebook "
        "export person-page --person ID --format html --to FILE.",
    )

    def __init__(self, desk: Desk, person: str) -> None:
        super().__init__(desk)
        acting = desk.acting
        if not exposures.may_see(acting.roles, acting.person, person):
            raise NotAllowed("A safety officer sees everybody's page; you see your own.")
        self.person = person
        self.NAME = f"Everything about {person}"

    def text(self, width: int) -> Sequence[str]:
        """Give every section."""
        out = [*wrapped((ABOUT, IS_NOT.partition(" PINs")[0], RETENTION), width)]
        for part in about.sections(self.desk.record, about.About(self.person), newest=NEWEST):
            rows = [for_people.row(row) for row in part.rows]
            out += ["", part.title.upper(), *wrapped((part.says,) if part.says else (), width)]
            out += _rows(rows, width) or ["none"]
            if part.title.startswith("Handlings") and len(rows) == NEWEST:
                out += [f"the newest {NEWEST}; the page for print has all"]
        return out

    def letter(self, key: str) -> None:
        """Write the page for print."""
        if key != PRINT.key:
            return
        try:
            self.say(self._print())
        except StoreError as refusal:
            self.say(refusal)

    def _print(self) -> str:
        day = f"{self.desk.now():%Y%m%d-%H%M%S}"
        file = self.desk.path.with_name(f"{self.person}-{day}.html")
        try:
            with file.open("x", encoding="utf-8") as out:
                about.write(
                    self.desk.record,
                    about.About(self.person),
                    out,
                    form="html",
                    made_by=self.desk.acting.person,
                )
        except OSError as error:
            raise FileRefused(f"{file} cannot be written ({error.strerror}).") from None
        return f"Written: {file}. It names a person: keep it as your site keeps such files."


def _rows(rows: Sequence[Mapping[str, Any]], width: int) -> list[str]:
    if not rows:
        return []
    used = [n for n in rows[0] if any(as_text(row[n]) for row in rows)]
    if len(used) <= ACROSS:
        names = [for_people.name(n) for n in used]
        return [*tabled(names, [[_cell(row[n]) for n in used] for row in rows], width)]
    return [line for row in rows for line in (*_fields(row, width), "")][:-1]


def _fields(row: Mapping[str, Any], width: int) -> Iterator[str]:
    for name, value in row.items():
        if said := _cell(value):
            yield from wrapped((f"{for_people.name(name):<16}  {said}",), width, indent=" " * 18)


def _cell(value: Any) -> str:
    return "" if value in (0, 0.0) and not isinstance(value, bool) else as_text(value)
