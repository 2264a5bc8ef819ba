"""One box: words, numbers, names and CAS numbers in preps, registers, notes and incidents, newest first."""

from dataclasses import dataclass

from store.record.record import Record

PRIVATE = ("note", "incident", "handling", "monitoring")
"""Kinds that only those present and a safety officer read."""
MOST_WORDS = 12


@dataclass(frozen=True, slots=True)
class Hit:
    """One thing found: where it stands, and the text that was found."""

    kind: str
    """prep, a register, note, incident, handling, monitoring or verification."""
    id: str
    """Of the prep, the register row, the lot, or the entry of an incident or a handling."""
    text: str
    entry: int


def find(record: Record, text: str, *, limit: int = 50, offset: int = 0, person: str = "") -> tuple[Hit, ...]:
    """Give what has every word in it, the last one as a beginning of a word; newest first.

    Parameters
    ----------
    offset
        So many of the newest are left out.
    person
        Who looks, where not everything may be read: notes, incidents, handlings and measurements of others
        are left out; empty for a safety officer.
    """
    words = phrase(text)
    if not words:
        return ()
    found = record.query(
        f"""
        SELECT kind, id, words AS text, rowid AS entry FROM search AS s
        WHERE search MATCH :words {_own() if person else ""}
        ORDER BY rowid DESC LIMIT :limit OFFSET :offset
        """,
        words=words,
        limit=limit,
        offset=offset,
        **({"person": person} if person else {}),
    )
    return tuple(Hit(**r) for r in found)


def _own() -> str:
    kinds = ", ".join(f"'{kind}'" for kind in PRIVATE)
    return f"""
        AND (s.kind NOT IN ({kinds})
             OR EXISTS (SELECT 1 FROM exposure_note AS n JOIN json_each(n.present) AS p
                        WHERE s.kind = 'note' AND n.entry = s.rowid AND p.value = :person)
             OR EXISTS (SELECT 1 FROM incident AS i
                        WHERE s.kind = 'incident' AND i.entry = CAST(s.id AS INTEGER)
                          AND (i.person = :person
                               OR EXISTS (SELECT 1 FROM json_each(i.present) WHERE value = :person)))
             OR EXISTS (SELECT 1 FROM handling_person AS h
                        WHERE s.kind = 'handling' AND h.handling = s.rowid AND h.person = :person)
             OR EXISTS (SELECT 1 FROM monitoring AS m
                        WHERE s.kind = 'monitoring' AND m.entry = s.rowid AND m.who = :person))
    """


def phrase(text: str) -> str:
    """Give what was typed as the words to match: signs inside a word part it as they do in what is searched.

    Examples
    --------
    >>> phrase("7778-50-9"), phrase('dichromate "op-1"')
    ('"7778-50-9"*', '"dichromate" "op-1"*')
    >>> phrase(" - ")
    ''
    """
    parts = [word.replace('"', "") for word in text.split()]
    kept = [word for word in parts if any(sign.isalnum() for sign in word)][:MOST_WORDS]
    return " ".join(f'"{word}"' for word in kept) + ("*" if kept else "")
