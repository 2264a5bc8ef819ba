"""Questions from the shell: exposures, preps, show, due, trace. They read, and write nothing."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

import click

from store.units import clock
from tui.cli import question_rows as shaped
from tui.cli.desk import open_record
from tui.cli.output import emit, format_option, printable, say

SHOWN = 200
"""Rows of a table unless told otherwise; CSV and JSON give all."""


@click.command()
@click.option("--person", default="", help="Present at the handling.")
@click.option("--substance", default="", help="Held by what was open, alone or dissolved: id, name or CAS.")
@click.option("--lot", default="", help="Handled itself, or in what was made of it.")
@click.option("--family", default="", help="Hazard family, such as CMR_1.")
@click.option("--enclosure", default="", help="Where.")
@click.option("--what", default="", help="What was opened or done, or a step.")
@click.option("--since", default="", help="First day, month or year.")
@click.option("--until", default="", help="Last day, month or year.")
@click.option("--incidents", is_flag=True, help="What went wrong, or was unusual.")
@click.option("--now", "now", is_flag=True, help="Hazard families as classified today, not then.")
@click.option(
    "--by", "by", default="", help="Add up by all, day, week, month, year, person, substance, family."
)
@click.option(
    "--limit", type=click.IntRange(min=1), help=f"Rows; a table shows {SHOWN} unless told otherwise."
)
@format_option
@click.pass_context
def exposures(
    ctx: click.Context,
    person: str,
    substance: str,
    lot: str,
    family: str,
    enclosure: str,
    what: str,
    since: str,
    until: str,
    incidents: bool,
    now: bool,
    by: str,
    limit: int | None,
    output: str,
) -> None:
    """Say who handled what, when, how long it was open, and what went wrong."""
    from store.actions.handlings import WHAT as HANDLED
    from store.queries import asked, named, periods, totals
    from store.queries import exposures as log
    from store.queries import incidents as wrong

    periods.in_order(since, until)
    with open_record(ctx) as record:
        which = asked.asked(
            record,
            person=named.person(record, person),
            substance=named.substance(record, substance),
            lot=named.lot(record, lot),
            family=named.family(record, family),
            enclosure=named.enclosure(record, enclosure),
            what=what if what in HANDLED else named.what(record, what),
            since=since,
            until=until,
            incidents=incidents and bool(by),
            as_classified="now" if now else "then",
        )
        if by:
            sums = totals.of(record, which, totals.by_key(by))
            emit(
                [shaped.total(asdict(t), output) for t in sums],
                output,
                columns=shaped.columns(totals.Total, output, shaped.TOTAL),
            )
        elif incidents:
            found = wrong.of(record, which, limit=limit or -1)
            emit(
                [shaped.incident(i, output) for i in found],
                output,
                columns=shaped.columns(wrong.IncidentRow, output, shaped.WRONG),
            )
        else:
            rows = log.rows(record, which, limit=limit or (SHOWN if output == "table" else -1))
            emit(
                [shaped.handling(r, output) for r in rows],
                output,
                columns=shaped.columns(log.HandlingRow, output, shaped.HANDLED),
            )
            if output == "table":
                _sum_up(len(rows), totals.of(record, which, "all"), totals.of(record, which, "substance"))


def _sum_up(shown: int, totals: Sequence[Any], by_substance: Sequence[Any]) -> None:
    from textwrap import fill

    from store.exchange.said import IS_NOT

    if totals:
        t = totals[0]
        guess = f", and {clock(t.estimated_s)} estimated in {t.estimated}" if t.estimated else ""
        say(
            f"\n{t.handlings} handlings, open {clock(t.open_s)} min:s{guess}, "
            f"longest {clock(t.longest_s)}, incidents {t.incidents}, unusual {t.unusual}"
        )
        dosed = ", ".join(f"{s.key} {s.net_mg:.2f} mg" for s in by_substance if s.net_mg)
        if dosed:
            say(f"dosed: {dosed}")
        if t.handlings > shown:
            say(f"The newest {shown} are shown: ask for a shorter period, or add --limit or --format csv.")
    say(f"\n{fill(IS_NOT.partition(' PINs')[0], 76)}")


@click.command()
@click.option("--substance", default="", help="Solute or solvent: id, name or CAS.")
@click.option("--lot", default="", help="Used, or made.")
@click.option(
    "--status",
    default="",
    help="open, closed, abandoned, accepted, returned, waiting (for a reviewer), or done.",
)
@click.option("--since", default="", help="First day, month or year of planning.")
@click.option("--until", default="", help="Last day, month or year of planning.")
@click.option("--person", default="", help="Who planned it, by id.")
@click.option("--text", default="", help="Found anywhere in number, plan or label.")
@click.option(
    "--sort", default="newest", help="newest, oldest, substance, status, concentration, uncertainty ..."
)
@click.option(
    "--limit", type=click.IntRange(min=1), help=f"Rows; a table shows {SHOWN} unless told otherwise."
)
@format_option
@click.pass_context
def preps(
    ctx: click.Context,
    substance: str,
    lot: str,
    status: str,
    since: str,
    until: str,
    person: str,
    text: str,
    sort: Any,
    limit: int | None,
    output: str,
) -> None:
    """List past preps, whatever became of them."""
    from store.queries import named, periods
    from store.queries import preps as past

    periods.in_order(since, until)
    with open_record(ctx) as record:
        rows = past.past(
            record,
            substance=named.substance(record, substance),
            lot=named.lot(record, lot),
            status=status,
            since=since,
            until=until,
            person=named.person(record, person),
            text=text,
            sort=sort,
            limit=limit or (SHOWN if output == "table" else -1),
        )
        of, came = ("prep", "planned", "by", "status", "substance", "lot"), ("target", "result", "U", "off")
        table = (*of, *came, "balance", "open", "made", "note")
        emit(
            [shaped.prep(r, output) for r in rows],
            output,
            columns=shaped.columns(past.PrepRow, output, table),
        )


@click.command()
@click.argument("prep")
@click.option("--budget", is_flag=True, help="Every component, and the sum as a hand calculator follows it.")
@click.option("--cautions", is_flag=True, help="The caution texts as they were shown.")
@click.option("--covariance", is_flag=True, help="Of several levels: values and covariance, for a fit.")
@click.option("--log", "journal", is_flag=True, help="Every entry of the journal about it.")
@format_option
@click.pass_context
def show(
    ctx: click.Context,
    prep: str,
    budget: bool,
    cautions: bool,
    covariance: bool,
    journal: bool,
    output: str,
) -> None:
    """Show one prep: its plan, every dose as shown, the sums, the result, who did what and when."""
    from store.queries.page import page as page_of
    from tui.cli import prep_page

    with open_record(ctx) as record:
        page = page_of(record, prep)
    if covariance:
        from tui.cli import levels

        emit(levels.data(page) if output == "json" else levels.rows(page), output)
    elif output == "json":
        emit(prep_page.as_data(page), output)
    elif output == "csv":
        emit(*_csv_of(page, budget=budget))
    else:
        for line in prep_page.lines(page, budget=budget, cautions=cautions, journal=journal):
            say(printable(line))


def _csv_of(page: Any, *, budget: bool) -> tuple[list[Mapping[str, Any]], str]:
    """One table is what CSV can hold: the budget if asked for, else the doses."""
    rows: Iterable[Any] = (page.result.budget if page.result else ()) if budget else page.state.doses
    return [asdict(r) for r in rows], "csv"


@click.command()
@click.option(
    "--days", type=click.IntRange(min=0), default=30, show_default=True, help="Look so many days ahead."
)
@format_option
@click.pass_context
def due(ctx: click.Context, days: int, output: str) -> None:
    """Say what is owed, open, due, expiring, waiting for review, and which safety data sheets are old."""
    from store.queries import due as pending

    with open_record(ctx) as record:
        found = pending.of(record, within_days=days)
        columns = ("group", "what", "id", "name", "when", "person", "why")
        emit(
            [shaped.due(d, output) for d in found],
            output,
            columns=shaped.columns(pending.Due, output, columns),
        )


@click.command()
@click.argument("lot")
@click.option("--recall", is_flag=True, help="Every container of it and of what was made of it.")
@click.option("--revised", "revised_", is_flag=True, help="What a revised certificate changes.")
@format_option
@click.pass_context
def trace(ctx: click.Context, lot: str, recall: bool, revised_: bool, output: str) -> None:
    """Show what a lot was made of, and all that was made of it, with the masses that went in.

    Where more than a hundred or two preps rest on it, a table shows the newest of the nearest generation;
    csv and json give all.
    """
    from tui.cli import traced

    with open_record(ctx) as record:
        if recall:
            traced.recall(record, lot, output)
        elif revised_:
            traced.revised(record, lot, output)
        else:
            traced.links(record, lot, output)
