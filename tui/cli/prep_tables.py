"""The tables of a prep's page: doses as shown, readings, handlings, notes, places of a rack."""

from collections.abc import Iterator, Sequence

from store.queries.page import PrepPage
from store.queries.periods import local
from store.readings import difference
from store.units import clock, milligrams

DOSE = (
    "entry",
    "at",
    "who",
    "content",
    "container",
    "vessel",
    "display",
    "added",
    "in vessel",
    "how",
    "state",
)
READ = ("entry", "at", "step", "what", "display", "within")
HANDLED = ("entry", "at", "who", "what", "step", "open", "note", "state")
NOTE = ("entry", "at", "who", "for entries", "gloves", "present", "how")
WRONG = ("entry", "at", "who", "what", "note", "present")
CHANGE = ("entry", "at", "who", "how", "of entry", "was", "now", "why")


def doses(page: PrepPage) -> list[tuple[str, ...]]:
    """Every dose, as the display showed it."""
    out: list[tuple[str, ...]] = []
    for d in page.state.doses:
        state = [d.state] if d.state != "stands" else []
        state += [] if d.usable else ["not usable"]
        state += [] if d.inside else ["outside"]
        state += [d.reason] if d.reason else []
        out.append(
            (
                str(d.entry), at(d.at), d.person, d.content, d.container, d.vessel if d.part else "",
                d.shown,
                difference(d.net_mg, d.shown), difference(d.total_mg, d.shown), d.source, "; ".join(state),
            )
        )  # fmt: skip
    return out


def reads(page: PrepPage) -> list[tuple[str, ...]]:
    """Every other reading."""
    return [
        (str(r.entry), at(r.at), str(r.step + 1), r.what, r.shown, "yes" if r.within else "NO")
        for r in page.state.reads
    ]


def handlings(page: PrepPage) -> list[tuple[str, ...]]:
    """Every handling with its time open."""
    out: list[tuple[str, ...]] = []
    for h in page.state.handlings:
        name = page.state.steps[h.step].name if 0 <= h.step < len(page.state.steps) else ""
        opened = clock(h.open_s, estimated=h.estimated) if h.open_s else ""
        opened = opened if h.closed else "OPEN"
        state = "" if h.state == "stands" else h.state
        out.append(
            (
                str(h.entry), at(h.at), h.person, h.what, str(name), opened,
                f"entry {h.noted}" if h.noted else "owed", state,
            )
        )  # fmt: skip
    return out


def notes(page: PrepPage) -> list[tuple[str, ...]]:
    """Every exposure note."""
    return [
        (
            str(n.entry), at(n.at), n.person, ", ".join(map(str, n.handlings)), n.gloves,
            ", ".join(n.present), f"UNUSUAL: {n.note}" if n.unusual else n.note or "nothing unusual",
        )
        for n in page.notes
    ]  # fmt: skip


def incidents(page: PrepPage) -> list[tuple[str, ...]]:
    """What went wrong."""
    return [(str(i.entry), at(i.at), i.person, i.what, i.note, ", ".join(i.present)) for i in page.incidents]


def changes(page: PrepPage) -> list[tuple[str, ...]]:
    """Ways back: what was corrected, discarded, or never happened."""
    return [
        (
            str(c.entry), at(c.at), c.person, c.how, str(c.of), c.was, c.now,
            c.reason + (f"; agreed by {c.second}" if c.second else ""),
        )
        for c in page.changes
    ]  # fmt: skip


PORTION = ("place", "vessel", "is", "net", "percent", "assay %", "solvent mg", "reason")


def portions(page: PrepPage) -> Iterator[str]:
    """Every place of a rack, and how equal the portions are."""
    rows = [
        (
            p.key,
            p.vessel,
            p.word,
            p.net,
            "" if p.percent is None else f"{p.percent:.1f}",
            p.assay,
            "" if p.solvent_mg is None else milligrams(p.solvent_mg),
            p.reason,
        )
        for p in page.portions
    ]
    yield from section("portions", PORTION, rows)
    if page.equal is not None:
        yield from (f"  {line}" for line in page.equal.lines())


def section(title: str, names: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Give a titled table; nothing where there are no rows."""
    if not rows:
        return
    yield ""
    yield title
    used = [n for n in range(len(names)) if any(row[n] for row in rows)]
    widths = {n: max(len(names[n]), *(len(row[n]) for row in rows)) for n in used}
    for row in (names, *rows):
        yield "  " + "  ".join(row[n].ljust(widths[n]) for n in used).rstrip()


def at(stored: str) -> str:
    """Give a stored time as people read it."""
    return f"{local(stored):%Y-%m-%d %H:%M:%S}" if stored else ""
