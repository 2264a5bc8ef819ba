"""What the JSON of an export holds, as a JSON Schema (draft 2020-12) made from the rows themselves.

The words beside a field are those of the source, so that the two cannot drift apart.
"""

import ast
import inspect
from dataclasses import fields
from textwrap import dedent
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

from store.errors import BadInput
from store.exchange import about
from store.exchange.exports import FIGURES, KINDS, ROWS
from store.exchange.head import Head
from store.exchange.said import ABOUT, IS_NOT
from store.queries.duty import NamelessTotal
from store.queries.totals import Total

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_SIMPLE = {str: "string", int: "integer", float: "number", bool: "boolean"}


def of(kind: str) -> dict[str, Any]:
    """Give the schema of one export.

    Raises
    ------
    BadInput
        No such export.
    """
    if kind == about.KIND:
        return _of_a_page()
    if kind not in KINDS:
        raise BadInput(f"There is no schema of {kind}: write one of {', '.join((*KINDS, about.KIND))}.")
    title, what, what_not, _ = KINDS[kind]
    return {
        "$schema": DRAFT,
        "title": title,
        "description": f"{what} {what_not}",
        "type": "object",
        "required": ["head", "rows"],
        "properties": {
            "head": object_of(Head),
            "rows": {"type": "array", "items": object_of(ROWS[kind]) if kind in ROWS else _nameless()},
        },
    }


def _of_a_page() -> dict[str, Any]:
    """Several tables under their titles: which fields a row has is said by its table, not by the page."""
    cell = {"type": ["string", "number", "boolean", "null", "array"], "items": {"type": "string"}}
    row = {"type": "object", "required": [], "additionalProperties": cell, "properties": {}}
    part = {"title": {"type": "string"}, "rows": {"type": "array", "items": row}}
    section = {"type": "object", "required": list(part), "additionalProperties": False, "properties": part}
    return {
        "$schema": DRAFT,
        "title": "Everything about one person",
        "description": f"{ABOUT} {IS_NOT}",
        "type": "object",
        "required": ["head", "sections"],
        "properties": {"head": object_of(Head), "sections": {"type": "array", "items": section}},
    }


def object_of(row: type) -> dict[str, Any]:
    """Give the schema of a row: every field is there, what is not known is null or empty."""
    said, hints = words(row), get_type_hints(row)
    properties = {
        f.name: _type(hints[f.name]) | ({"description": said[f.name]} if f.name in said else {})
        for f in fields(row)
    }
    return {
        "type": "object",
        "required": list(properties),
        "additionalProperties": False,
        "properties": properties,
    }


def words(row: type) -> dict[str, str]:
    """Give what the source says beside the fields of a dataclass."""
    body = ast.parse(dedent(inspect.getsource(row))).body[0]
    assert isinstance(body, ast.ClassDef)
    out: dict[str, str] = {}
    for before, after in zip(body.body, body.body[1:], strict=False):
        if (
            isinstance(before, ast.AnnAssign)
            and isinstance(before.target, ast.Name)
            and isinstance(after, ast.Expr)
            and isinstance(after.value, ast.Constant)
        ):
            out[before.target.id] = " ".join(str(after.value.value).split())
    return out


def _type(hint: Any) -> dict[str, Any]:
    if hint in _SIMPLE:
        return {"type": _SIMPLE[hint]}
    if get_origin(hint) is tuple:
        return {"type": "array", "items": _type(get_args(hint)[0])}
    if isinstance(hint, UnionType):
        (one,) = (h for h in get_args(hint) if h is not type(None))
        return {"type": [_SIMPLE[one], "null"]}
    raise TypeError(f"{hint} has no form in JSON")


def _nameless() -> dict[str, Any]:
    """Totals without names: figures are null where fewer people stand behind them than are needed."""
    said, hints = {**words(NamelessTotal), **words(Total)}, get_type_hints(Total)
    properties: dict[str, Any] = {"key": {"type": "string"}, "people": {"type": "string"}}
    properties |= {name: {"type": [_SIMPLE[hints[name]], "null"]} for name in FIGURES}
    for name, of in properties.items():
        if name in said:
            of["description"] = said[name]
    return {
        "type": "object",
        "required": list(properties),
        "additionalProperties": False,
        "properties": properties,
    }
