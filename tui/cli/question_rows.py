"""Rows of the questions as people read them: local times, lists, minutes and seconds."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from store.units import clock

HANDLED = ("time", "present", "what", "held", "lot", "mg", "open", "note", "prep")
WRONG = ("time", "present", "kind", "note", "held", "enclosure", "prep")
RECALLED = ("container", "lot", "place", "left", "lot_status", "who", "open_preps")
REVISED = ("prep", "made_lot", "was", "now", "unit", "change", "how", "containers", "used_by", "label")
TOTAL = ("key", "handlings", "mg", "open", "estimated", "longest", "incidents", "unusual")


def columns(row: Any, output: str, table: Sequence[str]) -> Sequence[str]:
    """Give the columns of a table, or every field for programs."""
    return table if output == "table" else list(row.__dataclass_fields__)


def row(row: Any, output: str) -> Mapping[str, Any]:
    """Give a row whole for programs, or with times and lists as people read them."""
    from store.queries.periods import happened, local

    body = asdict(row)
    if output != "table":
        return body
    return {
        **body,
        "time": happened(local(row.at), row.day, row.prep),
        "present": _list(row.present),
        "kind": row.what,
        "held": _list(row.substances),
    }


def handling(found: Any, output: str) -> Mapping[str, Any]:
    """Give one handling."""
    if output != "table":
        return row(found, output)
    said = [found.note] if found.unusual else []
    said += [f"{found.incidents} incidents" if found.incidents > 1 else "incident"] if found.incidents else []
    said += [] if found.noted else ["note owed"]
    said += [] if found.closed else ["OPEN"]
    said += [found.state] if found.state != "stands" else []
    said += ["rehearsal"] if found.rehearsal else []
    return {
        **row(found, output),
        "mg": f"{found.net_mg:.2f}" if found.net_mg else "",
        "open": clock(found.open_s, estimated=found.estimated) if found.open_s else "",
        "note": "; ".join(said),
    }


def incident(found: Any, output: str) -> Mapping[str, Any]:
    """Give one incident, or one unusual note."""
    body = row(found, output)
    return body if output != "table" else {**body, "note": found.said}


def total(body: Mapping[str, Any], output: str) -> Mapping[str, Any]:
    """Give one total."""
    if output != "table":
        return body
    estimated = f"{body['estimated']} ({clock(body['estimated_s'])})" if body["estimated"] else ""
    return {
        **body,
        "mg": f"{body['net_mg']:.2f}",
        "open": clock(body["open_s"]),
        "estimated": estimated,
        "longest": clock(body["longest_s"]),
    }


def prep(row: Any, output: str) -> Mapping[str, Any]:
    """Give one prep."""
    from store.units import figure, percent, rounded

    if output != "table":
        return asdict(row)
    said = [f"step {row.step + 1} of {row.steps}"] if row.status == "open" else []
    said += ["STALE"] if row.stale else []
    said += [f"REVISED: {row.revised}"] if row.revised else []
    said += ["note owed"] if row.owed else []
    said += [f"incidents {row.incidents}"] if row.incidents else []
    said += ["budget incomplete"] if row.value is not None and not row.complete else []
    said += ["rehearsal"] if row.rehearsal else []
    has_u = row.value is not None and row.u is not None
    result = (
        ("" if row.value is None else figure(row.value))
        if not has_u
        else (rounded(row.value, (row.k or 1.0) * row.u)[0])
    )
    return {
        "prep": row.prep,
        "planned": row.planned_day,
        "by": row.planned_by,
        "status": row.status,
        "substance": row.substance,
        "target": row.target,
        "result": f"{result} {row.unit}" if row.value else "",
        "U": percent(row.k * row.u_rel) if has_u and row.k and row.u_rel else "",
        "off": f"{100 * row.deviation:+.2f} %" if has_u and row.deviation is not None else "",
        "lot": row.lot,
        "balance": row.balance,
        "open": clock(row.open_s, estimated=row.open_estimated),
        "made": row.made_lot,
        "note": "; ".join(said),
    }


def due(found: Any, output: str) -> Mapping[str, Any]:
    """Give one thing that is due."""
    body = asdict(found)
    if output != "table":
        return body
    day = when(found.days) if found.group in ("due", "expiring") else ""
    if not day and found.day:
        day = "since " + (_local(found.day) if "T" in found.day else found.day)
    return {**body, "when": day, "id": f"{found.register} {found.id}"}


def when(days: int | None) -> str:
    """Say how far a day is off."""
    if days is None:
        return "now"
    if days == 0:
        return "today"
    return f"in {days} d" if days > 0 else f"{-days} d overdue"


def link(link: Any) -> Mapping[str, Any]:
    """Give one link of a trace, further generations indented."""
    indent = ". " * (link.depth - 1)
    said = [f"{link.lot_status}"] if link.lot_status else []
    said += [f"expiry {link.expiry}"] if link.expiry else []
    said += [f"discarded {link.discarded_mg:.2f} mg"] if link.discarded_mg else []
    said += [f"STALE: {link.stale}"] if link.stale else []
    return {
        "of": indent + link.parent,
        "mg": f"{link.net_mg:.2f}",
        "content": link.content,
        "in": link.child or "no lot",
        "prep": link.prep,
        "prep_status": link.prep_status,
        "day": link.day,
        "note": "; ".join(said),
    }


def _list(items: Sequence[str]) -> str:
    return ", ".join(items)


def _local(at: str) -> str:
    from store.queries.periods import local

    return f"{local(at):%Y-%m-%d %H:%M}"


def traced(found: Any, output: str) -> Mapping[str, Any]:
    """Give one container to be recalled, or one prep with its old and its new value."""
    body = asdict(found)
    if output != "table":
        return body
    if "left_mg" in body:
        from store.units import weighed

        return {**body, "left": "" if found.left_mg is None else weighed(found.left_mg)}
    change = f"{100 * (found.now / found.was - 1):+.3f} %" if found.changed else ""
    return {
        **body,
        "change": change,
        "containers": _list([f"{h.container} {h.place}".strip() for h in found.holders]),
        "label": "print again" if found.print_again else "",
    }
