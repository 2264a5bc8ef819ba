"""Texts that were shown to a person, as they were shown: kept once, found by their digest."""

from dataclasses import dataclass

from store.errors import NotFound
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class KeptText:
    """One kept text: `what` says what it was, such as a caution page or a label."""

    digest: str
    text: str
    what: str
    entry: int


def kept(record: Record, digest: str) -> KeptText | None:
    """Give the text of a digest, or None where no such text has been kept yet."""
    found = record.query(
        "SELECT digest, text, what, entry FROM kept_text WHERE digest = :digest", digest=digest
    )
    return KeptText(**found[0]) if found else None


def shown(record: Record, digest: str) -> KeptText:
    """Give the text of a whole digest, or of its first eight or more digits.

    Raises
    ------
    NotFound
        No kept text has it, or more than one begins with it.
    """
    found = record.query(
        """
        SELECT digest, text, what, entry FROM kept_text
        WHERE digest >= :first AND digest < :first || 'g'
        ORDER BY digest LIMIT 2
        """,
        first=digest.lower(),
    )
    if len(digest) < 8 or len(found) != 1:
        raise NotFound(f"No one text has the digest {digest!r}: give eight or more of its digits.")
    return KeptText(**found[0])
