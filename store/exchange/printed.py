"""An export as a page for print: one HTML file that stands by itself, written row by row."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from html import escape
from typing import Any, TextIO

from store.exchange import for_people
from store.exchange.cells import as_text
from store.exchange.head import Head
from store.queries import periods

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "Exposure log": (
        "entry", "at", "person", "present", "what", "prep", "substances", "families", "lot", "net_mg",
        "open_s", "estimated", "enclosure", "gloves", "note", "incidents", "state",
    ),
    "Preps": (
        "prep", "planned_day", "planned_by", "status", "substance", "lot", "solvent", "target", "value", "u",
        "unit", "deviation", "open_s", "made_lot", "reviewed_by", "verdict", "stale",
    ),
}  # fmt: skip
"""Title -> what fits across a page; any other export of many fields stands as one block a row."""
ACROSS = 13
"""So many columns fit across a page unchosen."""
LEFT_OUT = "Fields that do not fit across a page are left out here; the same export as CSV or JSON has all."

STYLE = """
@page { size: A4 landscape; margin: 12mm; }
* { box-sizing: border-box; }
body { font-family: Arial, 'Liberation Sans', Helvetica, sans-serif; font-size: 9pt; color: #000; margin: 0; }
h1 { font-size: 14pt; margin: 0 0 2mm; } h2 { font-size: 11pt; margin: 5mm 0 1mm; break-after: avoid; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.5mm 4mm; margin: 0 0 4mm; }
dt { font-weight: bold; } dd { margin: 0; overflow-wrap: break-word; }
table { border-collapse: collapse; width: 100%; font-size: 7.5pt; } thead { display: table-header-group; }
th, td { border: 0.2mm solid #666; padding: 0.6mm 1mm; text-align: left; vertical-align: top;
  overflow-wrap: break-word; }
tr, .block { break-inside: avoid; } .block { border-top: 0.2mm solid #666; padding-top: 1.5mm; }
@media screen { body { padding: 6mm; } }
"""


@dataclass(frozen=True, slots=True)
class Section:
    """One table of a page of several."""

    title: str
    rows: Iterable[Mapping[str, Any]]
    says: str = ""
    """What is to be known about it."""


def begin(head: Head, out: TextIO) -> None:
    """Write the beginning of a page, with what stands at the head of every export."""
    title = escape(head.title)
    out.write(
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>\n'
        f"<style>{STYLE}</style></head>\n<body>\n<h1>{title}</h1>\n"
    )
    _pairs({name: value for name, value in asdict(head).items() if name != "title"}, out)


def end(out: TextIO) -> None:
    """Write the end of a page."""
    out.write("</body></html>\n")


def page(head: Head, rows: Iterable[Mapping[str, Any]], out: TextIO, sums: Iterable[Section] = ()) -> int:
    """Write an export of one table and what it adds up to, and give the number of its rows."""
    begin(head, out)
    count = table(rows, out, columns=COLUMNS.get(head.title))
    if head.title in COLUMNS:
        out.write(f"<p>{escape(LEFT_OUT)}</p>\n")
    for of in sums:
        section(of, out)
    end(out)
    return count


def section(of: Section, out: TextIO) -> int:
    """Write one table under its title, and give the number of its rows."""
    out.write(f"<h2>{escape(of.title)}</h2>\n")
    if of.says:
        out.write(f"<p>{escape(of.says)}</p>\n")
    return table(of.rows, out)


def table(rows: Iterable[Mapping[str, Any]], out: TextIO, *, columns: Sequence[str] | None = None) -> int:
    """Write rows as a table, or as one block a row where they have too many fields."""
    count = 0
    across: Sequence[str] = ()
    for given in rows:
        row = for_people.row(given)
        if {"at", "day", "prep"} <= given.keys():
            row["at"] = periods.happened(periods.local(given["at"]), given["day"], given["prep"])
        if not count:
            across = columns or (tuple(row) if len(row) <= ACROSS else ())
            if across:
                names = "".join(f"<th>{escape(for_people.name(n))}</th>" for n in across)
                out.write(f"<table><thead><tr>{names}</tr></thead><tbody>\n")
        if across:
            cells = "".join(f"<td>{escape(as_text(row[n]))}</td>" for n in across)
            out.write(f"<tr>{cells}</tr>\n")
        else:
            out.write('<div class="block">\n')
            _pairs(row, out)
            out.write("</div>\n")
        count += 1
    if across and count:
        out.write("</tbody></table>\n")
    if not count:
        out.write("<p>none</p>\n")
    return count


def _pairs(row: Mapping[str, Any], out: TextIO) -> None:
    out.write("<dl>\n")
    for name, value in for_people.row(row).items():
        if value not in ("", None, [], ()):
            label, said = escape(for_people.name(name)), escape(as_text(value))
            out.write(f"<dt>{label}</dt><dd>{said}</dd>\n")
    out.write("</dl>\n")
