"""Find a word anywhere: preps, lots, substances, containers, people, notes, incidents."""

from dataclasses import dataclass

from store.queries.preps import like
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing found: where it stands, and the text that was found."""

    kind: str
    """prep, a register, note or incident."""
    id: str
    """Of the prep or register row."""
    text: str
    entry: int


def find(record: Record, text: str, *, limit: int = 50) -> tuple[Hit, ...]:
    """Give what has the text in it, register rows first, then preps, notes and incidents, newest first."""
    pattern = like(text)
    if not pattern:
        return ()
    found = record.query(
        r"""
        SELECT kind, id, text, entry FROM (
            SELECT register AS kind, id,
                   coalesce(row ->> '$.name', row ->> '$.text', row ->> '$.substance', '') AS text, entry
            FROM register_row
            WHERE register IN ('substance', 'lot', 'container', 'person', 'rule')
              AND (id LIKE :pattern ESCAPE '\' OR EXISTS (
                  SELECT 1 FROM json_tree(row) AS t
                  WHERE t.type IN ('text', 'integer', 'real') AND t.value LIKE :pattern ESCAPE '\'))
        )
        UNION ALL
        SELECT kind, id, text, entry FROM (
            SELECT 'prep' AS kind, prep AS id, substance || ' ' || target AS text, entry FROM prep
            WHERE prep LIKE :pattern ESCAPE '\' OR label LIKE :pattern ESCAPE '\'
               OR substance || ' ' || target || ' ' || lot || ' ' || made_lot LIKE :pattern ESCAPE '\'
            ORDER BY entry DESC LIMIT :limit
        )
        UNION ALL
        SELECT kind, id, text, entry FROM (
            SELECT 'note' AS kind, prep AS id, note AS text, entry FROM exposure_note
            WHERE note LIKE :pattern ESCAPE '\' ORDER BY entry DESC LIMIT :limit
        )
        UNION ALL
        SELECT kind, id, text, entry FROM (
            SELECT 'incident' AS kind, prep AS id, what || ': ' || note AS text, entry FROM incident
            WHERE note LIKE :pattern ESCAPE '\' OR what LIKE :pattern ESCAPE '\'
            ORDER BY entry DESC LIMIT :limit
        )
        LIMIT :limit
        """,
        pattern=pattern,
        limit=limit,
    )
    return tuple(Hit(**r) for r in found)
