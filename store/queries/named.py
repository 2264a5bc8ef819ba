"""From what a person types to the id that the record knows."""

from difflib import get_close_matches

from store.errors import NotFound
from store.queries import registers
from store.record.record import Record


def substance(record: Record, text: str) -> str:
    """Give the id of a substance from its id, name, CAS number or a synonym, in any case of letters.

    Raises
    ------
    NotFound
        None fits, or more than one; the nearest are named.
    """
    if not text:
        return ""
    wanted = text.strip().casefold()
    rows = registers.rows(record, "substance", retired=True)
    by_id = [r.id for r in rows if r.id == text.strip()] or [r.id for r in rows if r.id.casefold() == wanted]
    named = by_id or [
        r.id
        for r in rows
        if wanted
        in {str(n).casefold() for n in (r.row.get("name"), r.row.get("cas"), *r.row.get("synonyms", ())) if n}
    ]
    if len(named) == 1:
        return named[0]
    if named:
        raise NotFound(f"{text!r} fits several substances: write one of {', '.join(named)}.")
    every = {
        str(n).casefold(): r.id
        for r in rows
        for n in (r.id, r.row.get("name"), r.row.get("cas"), *r.row.get("synonyms", ()))
        if n
    }
    inside = [every[n] for n in every if wanted in n]
    near = list(
        dict.fromkeys([*inside, *(every[n] for n in get_close_matches(wanted, every, n=4, cutoff=0.5))])
    )[:4]
    hint = f"; near it: {', '.join(near)}" if near else ""
    raise NotFound(f"There is no substance {text!r} in the register{hint}.")


def person(record: Record, text: str) -> str:
    """Give the id of a person, also of one who has left.

    Raises
    ------
    NotFound
        There is no such id; the nearest are named.
    """
    return registers.row(record, "person", text).id if text else ""


def lot(record: Record, text: str) -> str:
    """Give the id of a lot that a register or a prep knows.

    Raises
    ------
    NotFound
        Neither does; the nearest are named.
    """
    if not text:
        return ""
    used = record.query(
        "SELECT 1 FROM used_lot WHERE lot = :lot LIMIT 1",
        lot=text,
    )
    return text if used else registers.row(record, "lot", text).id


def enclosure(record: Record, text: str) -> str:
    """Give the id of an enclosure, also of one out of use.

    Raises
    ------
    NotFound
        There is no such id; the nearest are named.
    """
    return registers.row(record, "enclosure", text).id if text else ""


def what(record: Record, text: str) -> str:
    """Give a kind of handling or a step as the exposure log has it.

    Raises
    ------
    NotFound
        Nothing was ever handled so: an empty answer would read as if all was known. Those there are stand by.
    """
    typed = text.strip()
    held = "SELECT DISTINCT what AS said FROM yearly_task UNION SELECT step_name FROM yearly_task"
    known = [str(r["said"]) for r in record.query(held) if r["said"]]
    if not typed or typed in known:
        return typed
    there = "SELECT 1 FROM handling WHERE what = :typed OR step_name = :typed LIMIT 1"  # in no sum: rehearsed
    if record.query(there, typed=typed):
        return typed
    hint = f": those there are: {', '.join(known)}" if known else ""
    raise NotFound(f"Nothing is written as {typed!r}, neither a kind of handling nor a step{hint}.")


def family(record: Record, text: str) -> str:
    """Give the id of a hazard family: `CMR 1`, `cmr1` and `CMR_1` are one.

    Raises
    ------
    UnknownCode
        There is no such family; the nearest are named.
    """
    if not text:
        return ""
    typed = _squeezed(text)
    seen = record.query(
        "SELECT DISTINCT f.value AS id FROM hazard_snapshot AS s JOIN json_each(s.families) AS f"
    )
    found = next((r["id"] for r in seen if _squeezed(r["id"]) == typed), "")
    if found:
        return str(found)
    from store.hazards import families

    found = next(
        (id for id, f in families.all_families().items() if typed in (_squeezed(id), _squeezed(f.name))), ""
    )
    return found or families.family(text).id


def _squeezed(text: str) -> str:
    """Give a code without what people leave out or put in."""
    return "".join(c for c in text.casefold() if c.isalnum())
