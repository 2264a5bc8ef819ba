"""Hazards of a substance as an entry took them; what is classified as before shares a row."""

import sqlite3
from collections.abc import Mapping
from typing import Any

from store.record.journal import canonical


def snapshot_of(conn: sqlite3.Connection, entry: int, substance: str, taken: Mapping[str, Any]) -> int:
    """Give the hazard snapshot with this content, made where there is none yet."""
    content = (
        substance,
        taken.get("signal_word") or "",
        canonical(taken.get("statements", ())),
        canonical(taken.get("families", ())),
        taken.get("edition", ""),
        canonical(taken.get("classes", ())),
    )
    found = conn.execute(
        "SELECT id FROM hazard_snapshot WHERE substance = ? AND signal_word = ? AND statements = ? "
        "AND families = ? AND edition = ? AND classification = ?",
        content,
    ).fetchone()
    if found is not None:
        return int(found[0])
    (id,) = conn.execute("SELECT coalesce(max(id), 0) + 1 FROM hazard_snapshot").fetchone()
    conn.execute("INSERT INTO hazard_snapshot VALUES (?, ?, ?, ?, ?, ?, ?, ?)", (id, entry, *content))
    return int(id)
