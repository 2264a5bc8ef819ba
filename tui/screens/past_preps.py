"""Past preps, whatever became of them: a list that is searched, filtered and ordered."""

from collections.abc import Iterable, Mapping, Sequence
from typing import ClassVar, get_args

from textual.widget import Widget

from store.model.words import PrepStatus
from store.queries import named, periods, preps, registers
from store.queries.preps import PrepRow, Sort
from store.units import clock, figure, percent, rounded
from tui.commands import BACK, CHART, FIND, HELP, OPEN, ORDER, PAGE, WHICH, Command
from tui.screens.bench_rows import named as names_of
from tui.screens.desk import Desk
from tui.screens.frame import Framed
from tui.screens.which import WhichScreen, choice, period
from tui.widgets.entry_form import Field
from tui.widgets.table_page import Column, Row, TablePage

ORDERS: tuple[Sort, ...] = get_args(Sort)
WIDE = 110
"""From so many columns on, everything stands in columns of its own."""


class PastPrepsScreen(Framed[None]):
    """The list of preps; a row opens its page."""

    CSS_PATH = ["frame.tcss", "past_preps.tcss"]
    NAME = "Past preps"
    KEYS: ClassVar[tuple[Command, ...]] = (OPEN, FIND, WHICH, ORDER, CHART, PAGE, BACK, HELP)
    HELP_LINES = (
        "Every prep stands here: open, closed, given up, accepted, returned. f looks for words in number, "
        "plan, label and who planned it; w chooses by substance, lot, status, period, person; o changes the "
        "order. Below the list stands more of the row.",
        "STALE: the result rests on an entry that was withdrawn. REVISED: on a certificate that was revised "
        "since; the old value stands until it is written anew.",
    )

    def __init__(self, desk: Desk, *, status: str = "", substance: str = "", lot: str = "") -> None:
        super().__init__(desk)
        self.which = {
            "substance": substance,
            "lot": lot,
            "status": status,
            "since": "",
            "until": "",
            "person": "",
        }
        self.order = 0
        self._more: dict[str, str] = {}

    def inside(self) -> Iterable[Widget]:
        """Give the list."""
        self._wide = self.app.size.width >= WIDE
        self._names = names_of(registers.rows(self.desk.record, "substance", retired=True))
        columns = WIDE_COLUMNS if self._wide else COLUMNS
        yield TablePage(columns, self._load, id="list", below=lambda prep: self._more.get(prep, ""))

    def on_mount(self) -> None:
        """Take keys."""
        self.query_one(TablePage).focus()

    def on_screen_resume(self) -> None:
        """A prep may have been reviewed meanwhile."""
        self.query_one(TablePage).read()

    def right(self) -> str:
        """Give the filters and the order."""
        held = [f"{k} {v}" for k, v in self.which.items() if v]
        return " · ".join((*held, ORDERS[self.order]))

    def _load(self, find: str, offset: int, most: int) -> Sequence[Row]:
        found = _past(self.desk, self.which, find=find, order=ORDERS[self.order], most=most, offset=offset)
        self._more = {p.prep: more(p) for p in found}
        return [Row(p.prep, cells(p, self._names, wide=self._wide)) for p in found]

    def letter(self, key: str) -> None:
        """Choose which, or another order."""
        if key == ORDER.key:
            self.order = (self.order + 1) % len(ORDERS)
            self._anew()
        elif key == WHICH.key:
            screen = WhichScreen(self.desk, fields(self.desk, self.which), check=self._check)
            self.app.push_screen(screen, self._chosen)
        elif key == CHART.key:
            self._chart()

    def _chart(self) -> None:
        """Chart the substance of the row; where one is chosen, that one."""
        table = self.query_one(TablePage)
        if not table.rows:
            self.say("No row is here: choose a substance with w, then c.")
            return
        from tui.screens.chart import ChartScreen

        (row,) = preps.meant(self.desk.record, table.rows[table.cursor].key)
        self.app.push_screen(ChartScreen(self.desk, self.which["substance"] or row.substance))

    def _check(self, values: Mapping[str, str]) -> None:
        periods.in_order(values["since"], values["until"])
        _past(self.desk, values, find="", order=ORDERS[0], most=1, offset=0)

    def _chosen(self, values: Mapping[str, str] | None) -> None:
        if values is not None:
            self.which = dict(values)
            self._anew()

    def _anew(self) -> None:
        self.show_head()
        table = self.query_one(TablePage)
        table.cursor = 0
        table.read()

    def on_table_page_opened(self, message: TablePage.Opened) -> None:
        """Open the page of a prep."""
        message.stop()
        from tui.screens.prep_page import PrepPageScreen

        self.app.push_screen(PrepPageScreen(self.desk, message.key))


def _past(
    desk: Desk, which: Mapping[str, str], *, find: str, order: Sort, most: int, offset: int
) -> tuple[PrepRow, ...]:
    return preps.past(
        desk.record,
        substance=which["substance"],
        lot=which["lot"],
        status=which["status"],
        since=which["since"],
        until=which["until"],
        person=which["person"],
        text=find,
        sort=order,
        limit=most,
        offset=offset,
    )


_STATUS = 13
COLUMNS = (
    Column("prep", 11),
    Column("planned", 10),
    Column("status", _STATUS),
    Column("substance"),
    Column("result, or target", 21),
)
WIDE_COLUMNS = (
    Column("prep", 11),
    Column("planned", 10),
    Column("by", 5),
    Column("status", 9),
    Column("substance"),
    Column("target", 14),
    Column("result", 22),
    Column("to be known", 12),
)


def cells(p: PrepRow, names: Mapping[str, str], *, wide: bool) -> tuple[str, ...]:
    """Give the cells of a prep."""
    flags = known(p)
    if not wide:
        first = flags[0] if flags else ""
        status = first if first and p.status == PrepStatus.OPEN else _short(str(p.status), first)
        return (p.prep, p.planned_day, status, p.substance, result(p) or p.target)
    return (
        p.prep,
        p.planned_day,
        p.planned_by,
        p.status,
        names.get(p.substance, p.substance),
        p.target,
        result(p),
        ", ".join(flags),
    )


def _short(status: str, flag: str) -> str:
    """As a narrow column has room for it; the line below the list says it whole.

    >>> _short("closed", "2 incidents"), _short("accepted", "rehearsal"), _short("accepted", "STALE")
    ('closed 2 inc', 'accepted reh', 'STALE accepted')
    """
    if flag in ("STALE", "REVISED"):
        return f"{flag} {status}"
    many, _, word = flag.partition(" ")
    short = f"{many} inc" if word.startswith("incident") else _SHORT.get(flag, flag)
    whole = f"{status} {short}".rstrip()
    return f"{status} {short.rpartition(' ')[2]}" if len(whole) > _STATUS else whole


_SHORT = {"note owed": "owed", "let through": "let", "u incomplete": "u?", "rehearsal": "reh"}


def more(p: PrepRow) -> str:
    """Say what the columns have no room for: how it came out, of what, by whom, on what, how long open."""
    off = f"off {100 * p.deviation:+.2f} %" if p.value is not None and p.deviation is not None else ""
    open_ = f"open {clock(p.open_s, estimated=p.open_estimated)}" if p.open_s else ""
    review = f"{p.verdict} by {p.reviewed_by}" if p.verdict else ""
    said = (
        f"target {p.target}",
        off,
        f"lot {p.lot}" if p.lot else "",
        p.planned_by,
        p.balance,
        open_,
        review,
        f"revised since: {p.revised}" if p.revised else "",
        *known(p),
    )
    return " · ".join(s for s in said if s)


def known(p: PrepRow) -> tuple[str, ...]:
    """Give what is to be known of a prep before its result is used, the gravest first."""
    incidents = f"{p.incidents} incident{'s' if p.incidents > 1 else ''}" if p.incidents else ""
    said = (
        "STALE" if p.stale else "",
        "REVISED" if p.revised else "",
        "note owed" if p.owed else "",
        incidents,
        "let through" if p.let_through else "",
        "u incomplete" if p.value is not None and not p.complete else "",
        "rehearsal" if p.rehearsal else "",
        f"step {p.step + 1}/{p.steps}" if p.status == PrepStatus.OPEN and p.step < p.steps else "",
    )
    return tuple(s for s in said if s)


def result(p: PrepRow) -> str:
    """Give the result with its expanded uncertainty; empty where there is none."""
    if p.value is None:
        return ""
    if p.u is None or p.k is None or p.u_rel is None:
        return f"{figure(p.value)} {p.unit}"
    return f"{rounded(p.value, p.k * p.u)[0]} {p.unit} ± {percent(p.k * p.u_rel)}"


def fields(desk: Desk, which: Mapping[str, str]) -> tuple[Field, ...]:
    """Give the fields of the filter."""
    record = desk.record
    statuses = (*(s.value for s in PrepStatus), "waiting", "done")

    def status(text: str) -> str:
        preps.past(record, status=text, limit=1)
        return text

    return (
        Field("substance", "substance", value=which["substance"],
              **choice(record, "substance", named.substance),
              help="solute or solvent: id, name or CAS"),
        Field("lot", "lot", value=which["lot"], **choice(record, "lot", named.lot), help="used, or made"),
        Field("status", "status", value=which["status"], take=status,
              suggest=lambda t: [s for s in statuses if s.startswith(t)], help=", ".join(statuses)),
        Field("since", "since", value=which["since"], take=period, help="day, month or year of planning"),
        Field("until", "until", value=which["until"], take=period, help="day, month or year of planning"),
        Field("person", "planned by", value=which["person"], **choice(record, "person", named.person),
              help="id; empty for everybody"),
    )  # fmt: skip
