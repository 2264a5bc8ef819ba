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
    words = of_kind(words)
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


ROOM = 60
"""Signs of a long text before the word that was looked for."""


def near(hit: Hit, text: str) -> str:
    """Give the text of a hit, the parts that have a word looked for first, so that they are in sight.

    Of a long part, such as a label, only what stands around the word, without the rules drawn on it.

    >>> label = "-------- PREPARED SOLUTION potassium dichromate, CAS 7778-50-9 ---------------- DANGER"
    >>> near(Hit("prep", "P-1", f"KD-2 · {label} · 12 g", 7), "dichro")
    'PREPARED SOLUTION potassium dichromate, CAS 7778-50-9 DANGER · KD-2 · 12 g'
    """
    words = [w.casefold().strip('"') for w in text.split()]
    parts = [" ".join(w for w in part.split() if w.strip("-")) for part in hit.text.split(" · ")]
    first = [p for p in parts if any(w in p.casefold() for w in words)]
    return " · ".join(dict.fromkeys((*(_around(p, words) for p in first), *parts)))


def _around(part: str, words: list[str]) -> str:
    """Give a part from a little before the first word that it has."""
    at = min(part.casefold().find(w) for w in words if w in part.casefold())
    if at <= ROOM // 2:
        return part
    begin = part.rfind(" ", 0, at - ROOM // 4) + 1
    return f"… {part[begin:]}"


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


def of_kind(words: str, *kinds: str) -> str:
    """Give what to match for words in things of some kinds, or of any; without words, all of these kinds.

    The kind is looked up as the words are, so that no row of another kind is read.

    Examples
    --------
    >>> of_kind('"L7-1"*', "lot"), of_kind('"12"*')
    ('kind : ("lot") AND {id words} : ("L7-1"*)', '{id words} : ("12"*)')
    """
    either = " OR ".join(f'"{kind}"' for kind in kinds)
    held = (f"kind : ({either})" if kinds else "", f"{{id words}} : ({words})" if words else "")
    return " AND ".join(part for part in held if part)
