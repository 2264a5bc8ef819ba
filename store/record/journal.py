"""One line of the journal: how it is written, how it is chained, how it is read.

A line is JSON with sorted keys, no blanks, UTF-8. The digest of an entry is SHA-256 over the digest of the
entry before it (64 hex digits; 64 zeros before the first), a newline, and the line.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from store.errors import BadInput, RecordTooNew

if TYPE_CHECKING:
    from store.events import Entry, Event

_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry of a record and its digest: whoever has seen it can find a cut tail."""

    entry: int
    digest: str

    def __str__(self) -> str:
        return f"{self.entry}:{self.digest}"


def canonical(content: Any) -> str:
    """Give the one text that plain data has, in a journal line and in a column.

    Raises
    ------
    BadInput
        A text in it cannot be written as UTF-8.

    Examples
    --------
    >>> canonical({"v": 1, "body": {"what": "10 µg", "ends": True}})
    '{"body":{"ends":true,"what":"10 µg"},"v":1}'
    """
    line = _ENCODER.encode(content)
    try:
        line.encode()
    except UnicodeEncodeError:
        raise BadInput("A text has half a character in it (a lone surrogate): type it again.") from None
    return line


def line_of(event: Event, *, at: datetime, terminal: str, person: str, subject: str) -> str:
    """Give the line of an event; `at` carries its local offset."""
    return canonical(
        {
            "at": at.astimezone(UTC).isoformat(timespec="microseconds"),
            "offset": at.isoformat()[-6:],
            "terminal": terminal,
            "person": person,
            "kind": event.kind,
            "subject": subject,
            "v": event.version,
            "body": event.to_body(),
        }
    )


def digest_of(before: str, line: str) -> str:
    """Give the digest of a line after the digest of the entry before.

    Examples
    --------
    >>> digest_of("0" * 64, "{}")[:16]
    '5649d09ed68c1715'
    """
    return sha256(f"{before}\n{line}".encode()).hexdigest()


def read_line(number: int, line: str | bytes, digest: str) -> Entry:
    """Give the entry of a stored line, brought up to the present version of its kind.

    Raises
    ------
    RecordTooNew
        Its kind, or the version of its body, is unknown here.
    """
    # Here, and not above: who only opens a record and asks its tables needs no kind of entry.
    from store.events import KINDS, Entry, load

    content = json.loads(line)
    kind, version = content["kind"], content["v"]
    known = KINDS.get(kind)
    if known is None or version > known.version:
        raise RecordTooNew(
            f"Entry {number} ({kind}, version {version}) was written by a newer Tarebook: use that one."
        )
    return Entry(
        entry=number,
        at=content["at"],
        offset=content["offset"],
        terminal=content["terminal"],
        person=content["person"],
        subject=content["subject"],
        event=load(kind, version, content["body"]),
        digest=digest,
    )


def local_day(entry: Entry) -> str:
    """Give the local day of an entry, where it was written."""
    return _local_day(entry.at, entry.offset)


@lru_cache(maxsize=8)
def _local_day(utc: str, offset: str) -> str:
    at = datetime.fromisoformat(utc)
    return at.astimezone(datetime.fromisoformat(f"{at.date()}T00:00{offset}").tzinfo).date().isoformat()
