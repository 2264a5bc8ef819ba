"""One lot: what it was made of, all that was made of it, what a certificate changes, what to recall."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import ClassVar

from store.actions import revise
from store.errors import StoreError
from store.model.words import Role
from store.procedure.state import PrepState
from store.queries import lot_checks, recalled, registers, rests_on, revised, spread, stale, taken, trace
from store.queries.revised import Revised
from store.queries.trace import Link
from store.units import figure, rounded, weighed
from tui.commands import ANEW, BACK, HELP, PAGE, REVISE, Command
from tui.screens.desk import Desk
from tui.screens.frame import wrapped
from tui.screens.reading import Reading
from tui.screens.small_form import SmallForm
from tui.screens.tabled import tabled
from tui.widgets.entry_form import Field
from tui.widgets.lines import clip

ASKED = (
    ("assay", "assay in percent"), ("assay_u", "its uncertainty"), ("water", "water in percent"),
    ("water_u", "its uncertainty"), ("loss_on_drying", "loss on drying"),
    ("loss_on_drying_u", "its uncertainty"),
)  # fmt: skip
"""What a revised certificate mostly says; anything else is changed in the register."""

SHOWN = 200
"""Links, and lots with their containers, where more preps than that rest on the lot."""

COMPUTED = 40
"""Preps computed anew where more than that rest on the lot."""

LOOKED_AT = 60
"""Preps looked at by one key that writes anew, where many rest on the lot."""


class TraceScreen(Reading[None]):
    """Everything above and below a lot."""

    CSS_PATH = ["frame.tcss", "prep_page.tcss"]
    NAME = "Trace"
    KEYS: ClassVar[tuple[Command, ...]] = (REVISE, ANEW, PAGE, BACK, HELP)
    HELP_LINES = (
        "Masses are those standing in the vessels at the end. STALE: it rests on something withdrawn.",
        "A revised certificate changes no result by itself: each prep is shown with its old and its new "
        "value. A reviewer or a keeper has them written anew; then the old ones stay on the page, and "
        "accepted preps wait for review again.",
    )

    def __init__(self, desk: Desk, lot: str) -> None:
        super().__init__(desk)
        self.lot = lot
        self._looking: Iterator[Revised] | None = None
        """Where writing anew goes on, of a lot that many preps rest on."""
        trace.trace(desk.record, lot, newest=1)

    def show_head(self) -> None:
        """Show which lot it is."""
        self.NAME = f"Trace of lot {self.lot}"
        super().show_head()

    def text(self, width: int) -> Sequence[str]:
        """Give every section."""
        record = self.desk.record
        found = trace.trace(record, self.lot, newest=SHOWN)
        made = f", made by {found.made_by}" if found.made_by else ""
        out = [clip(f"{found.substance} {found.concentration}   {found.status}{made}", width)]
        out += wrapped((f"✗ {x}" for x in rests_on.of_lot(record, self.lot)), width, indent="  ")
        out += ["", "MADE OF", *_links(found.up, width), "", "MADE OF IT"]
        if not found.whole:
            out += wrapped(
                (
                    f"{taken.said(found.taken)} The newest {len(found.down)} are shown; all: "
                    f"tarebook trace {self.lot} --format csv",
                ),
                width,
            )
        out += _links(found.down, width)
        changes = revised.newest(record, self.lot, COMPUTED)
        only = self._only(COMPUTED, "preps", "--revised", width)
        if only or any(r.how != "unchanged" for r in changes):
            out += ["", "WITH THE CERTIFICATE AS IT STANDS NOW", *only, *changed(changes, width)]
        rows = recalled.newest(record, self.lot, SHOWN)
        recall = [
            (r.container, r.lot, r.place, _grams(r.left_mg), ", ".join(r.who), ", ".join(r.open_preps))
            for r in rows
        ]
        names = ("container", "lot", "place", "left", "who", "open preps")
        only = self._only(SHOWN, "lots made of it", "--recall", width)
        out += ["", "WHERE IT IS NOW", *only, *(tabled(names, recall, width) or ("no container in use",))]
        checks = lot_checks.of(record, self.lot)
        if checks:
            held = [(c.day, c.person, c.how, c.against, figure(c.ratio), c.said) for c in checks]
            names = ("on", "by", "how", "against", "ratio", "")
            out += ["", "HELD AGAINST OTHERS", *tabled(names, held, width)]
        return out

    def _only(self, most: int, what: str, option: str, width: int) -> Sequence[str]:
        """Say that a section shows only the newest, and how to get all; nothing where it shows all."""
        if spread.few(self.desk.record, self.lot, most=most):
            return ()
        all_ = f"tarebook trace {self.lot} {option} --format csv"
        return wrapped((f"Of the newest {most} {what} only; all: {all_}",), width)

    def letter(self, key: str) -> None:
        """Enter a revised certificate, or have results written anew."""
        try:
            if key == REVISE.key:
                self.desk.acting.must(Role.KEEPER)
                self.app.push_screen(_certificate(self.desk, self.lot), self._again)
            elif key == ANEW.key:
                self._write_anew()
        except StoreError as refusal:
            self.say(refusal)

    def _again(self, done: bool | None) -> None:
        if done:
            self.draw()
            if not spread.few(self.desk.record, self.lot):
                self.say(f"Which preps have another value now is computed as you ask: {ANEW.key} goes on.")
                return
            again = {r.prep for r in revised.of(self.desk.record, self.lot) if r.changed}
            if again:
                many = f"{len(again)} preps have" if len(again) > 1 else "1 prep has"
                self.say(f"{many} another value now; {ANEW.key} writes them anew.")

    def _write_anew(self) -> None:
        self.desk.acting.must(Role.REVIEWER, Role.KEEPER)
        record = self.desk.record
        few = spread.few(record, self.lot)
        # Of many, what goes in proportion is computed once that which it was made of is written anew.
        now = ("computed", "in proportion")
        waiting = _other(revised.of(record, self.lot), now) if few else self._next()
        if not waiting:
            if few:
                self.say(self._nothing())
            elif self._looking is None:
                self.say(f"Those were the last that rest on it; {ANEW.key} begins again with the newest.")
            else:
                self.say(f"None of the next {LOOKED_AT} is to be computed anew; {ANEW.key} goes on.")
            return

        def do(given: Mapping[str, str]) -> None:
            """Write them generation by generation: what rests on one that is written anew comes after it."""
            with record.immediate():
                if not few:
                    self._write(row.prep for row in waiting)
                    return
                for _generation in range(stale.DEPTH):
                    self._write(row.prep for row in _other(revised.of(record, self.lot), ("computed",)))
                    if not _other(revised.of(record, self.lot), ("computed",)):
                        break

        lines = (
            "The old results stay on their pages; accepted preps wait for review again, and their lots with "
            "them.",
            *changed(waiting, self.wide),
        )
        fields = (Field("yes", "write them anew", "choice", "", ("yes",), required=True),)
        labels = tuple(dict.fromkeys(row.prep for row in waiting if row.print_again))
        self.app.push_screen(
            SmallForm(self.desk, "Write anew", lines, fields, do), lambda done: self._written(done, labels)
        )

    def _nothing(self) -> str:
        """Say why nothing is to be written anew: something above goes first, or nothing differs."""
        rows = revised.of(self.desk.record, self.lot)
        above = next((r.how for r in rows if r.changed and r.how.startswith(revised.ABOVE)), "")
        if above:
            return f"What rests on this lot is to be computed {above}."
        return "Nothing that rests on this lot has another value now."

    def _next(self) -> list[Revised]:
        """Look at the next preps of many, the newest first; after the last begin again with the first."""
        if self._looking is None:
            self._looking = revised.each(self.desk.record, self.lot)
        looked_at = list(islice(self._looking, LOOKED_AT))
        if len(looked_at) < LOOKED_AT:
            self._looking = None
        return _other(looked_at, ("computed",))

    def _write(self, preps: Iterable[str]) -> None:
        for prep in dict.fromkeys(preps):
            seen = self.desk.record.prep_state(prep).last_entry
            revise.write_anew(self.desk.acting, prep, seen=seen, label=self._label)

    def _written(self, done: bool | None, labels: Sequence[str]) -> None:
        """Say which labels show an old value now."""
        self._again(done)
        if done and labels:
            self.say(f"Print these labels again: {', '.join(f'tarebook label {prep}' for prep in labels)}.")

    def _label(self, state: PrepState) -> str:
        from tui.guide.labels import final_label

        return final_label(self.desk.record, state)


def _other(rows: Iterable[Revised], how: Collection[str]) -> list[Revised]:
    """Leave what has another value now."""
    return [r for r in rows if r.how in how and r.changed]


def _links(links: Sequence[Link], width: int) -> Sequence[str]:
    rows = [
        (
            f"{'. ' * (x.depth - 1)}{x.parent}", f"{x.net_mg:.2f}", x.content, x.child or "no lot", x.prep,
            "; ".join(p for p in (x.prep_status, x.day, f"STALE: {x.stale}" if x.stale else "") if p),
        )
        for x in links
    ]  # fmt: skip
    return tabled(("of", "mg", "as", "in", "prep", ""), rows, width) or ("nothing that this record knows",)


def changed(rows: Sequence[Revised], width: int) -> Sequence[str]:
    """Draw old and new values; what has no new one says why."""
    out = []
    for r in rows:
        was, now = _value(r.was, r.was_u, r.unit), _value(r.now, r.now_u, r.unit)
        more = [r.how] if r.how != "computed" else []
        more += ["PRINT LABEL AGAIN"] if r.print_again else []
        more += [f"used by {', '.join(r.used_by)}"] if r.used_by else []
        out.append((r.prep, r.made_lot, was, now, r.by, "; ".join(more)))
    return tabled(("prep", "lot", "was", "is now", "by", ""), out, width)


def _value(value: float | None, u: float | None, unit: str) -> str:
    if value is None:
        return "-"
    return f"{rounded(value, u)[0] if u else figure(value)} {unit}"


def _grams(mass_mg: float | None) -> str:
    return "" if mass_mg is None else weighed(mass_mg)


def _certificate(desk: Desk, lot: str) -> SmallForm:
    found = registers.row(desk.record, "lot", lot)

    def do(given: Mapping[str, str]) -> None:
        says = {key: given[key] for key, _ in ASKED}
        revise.certificate(desk.acting, lot, says, reason=given["reason"], seen=found.entry)

    fields = tuple(Field(key, label, value=str(found.row.get(key, ""))) for key, label in ASKED)
    reason = Field("reason", "why", required=True, help="such as: certificate revised, its number and date")
    lines = ("What was written with the old certificate stays; what changes is shown beside it.",)
    return SmallForm(desk, f"Revised certificate of {lot}", lines, (*fields, reason), do)
