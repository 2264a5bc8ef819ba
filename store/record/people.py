"""PINs. They guard screens, not the file: whoever can read the file can try every PIN at leisure.

The credential table stands outside the chain, so that an export of the journal carries no PIN; the journal
keeps a digest of each credential row, which tells a changed one and, for the salt in it, nothing else.
"""

import hmac
import secrets
from collections.abc import Sequence
from datetime import datetime
from hashlib import scrypt, sha256

from store.errors import BadInput, NotFound, PinRefused
from store.record.record import Record

N, R, P = 2**14, 8, 1
"""scrypt cost: about 75 ms; twice N would pass the default memory limit of OpenSSL."""

LONGEST_WAIT_S = 30.0


def digest_of_credential(person: str, salt: bytes, n: int, r: int, p: int, hashed: bytes) -> str:
    """Give what the journal keeps of a credential row."""
    return sha256(f"{person}\n{salt.hex()}\n{n}\n{r}\n{p}\n{hashed.hex()}".encode()).hexdigest()


def set_pin(record: Record, person: str, pin: str, *, by: str, n: int = N) -> None:
    """Set a person's PIN; a new one starts without a wait.

    Raises
    ------
    BadInput
        Not 4 to 12 digits.
    NotFound
        Nobody of this id in the register.
    """
    from store.events import PinSet

    if not (4 <= len(pin) <= 12 and pin.isascii() and pin.isdigit()):
        raise BadInput("A PIN is 4 to 12 digits: type it again.")
    if not _works_here(record, person):
        raise NotFound(f"There is nobody {person!r} in the register.")
    salt = secrets.token_bytes(16)
    hashed = scrypt(pin.encode(), salt=salt, n=n, r=R, p=P)
    with record.immediate():
        digest = digest_of_credential(person, salt, n, R, P, hashed)
        entry = record.append(PinSet(who=person, digest=digest), person=by, subject=f"person:{person}")
        record.keep_credential(person, salt, n, R, P, hashed, entry.entry)


def check_pin(record: Record, person: str, pin: str, purpose: str = "sign in") -> None:
    """Let the person pass, or refuse; the text never says whether the id or the PIN was wrong.

    A refusal is written down for a known id only: an unknown one may be a PIN typed into the wrong field.

    Raises
    ------
    PinRefused
        It does not fit, or the wait after the last refusals is not over; `wait_s` says how long it is.
    """
    wait_s = waits_s(record, person)
    if wait_s > 0:
        raise PinRefused(f"Too soon after a refused PIN: wait {wait_s:.0f} s, then type it again.", wait_s)
    found = record.credential(person)
    salt, n, r, p, hashed = found or (b"\0" * 16, N, R, P, b"")
    # An unknown id costs the same time, so that the wait does not tell who works here.
    typed = scrypt(pin.encode(), salt=salt, n=n, r=r, p=p)
    if found is not None and _works_here(record, person):
        if hmac.compare_digest(typed, hashed):
            return
        from store.events import PinRefused as Refusal

        record.append(Refusal(who=person, purpose=purpose), person=person, subject=f"person:{person}")
    wait_s = waits_s(record, person)
    then = f" in {wait_s:.0f} s" if wait_s > 0 else ""
    raise PinRefused(f"This id and PIN do not fit: type the id again{then}.", wait_s)


def waits_s(record: Record, person: str) -> float:
    """Give how long the person's PIN is still refused unseen: 1, 2, 4 ... 30 s after the last refusal."""
    refused = _refused_in_a_row(record, person)
    if not refused:
        return 0.0
    wait_s = min(2.0 ** min(len(refused) - 1, 10), LONGEST_WAIT_S)
    since_s = (record.now() - datetime.fromisoformat(refused[0])).total_seconds()
    return min(max(wait_s - since_s, 0.0), wait_s)


def _refused_in_a_row(record: Record, person: str) -> Sequence[str]:
    """Give the times of the refusals since the person last got in, newest first."""
    rows = record.query(
        """
        SELECT at FROM sign_in
        WHERE person = :person AND what = 'refused' AND entry > (
            SELECT coalesce(max(entry), 0) FROM sign_in WHERE person = :person AND what IN ('in', 'pin set')
        )
        ORDER BY entry DESC
        """,
        person=person,
    )
    return [row["at"] for row in rows]


def _works_here(record: Record, person: str) -> bool:
    return bool(
        record.query(
            "SELECT 1 FROM register_row WHERE register = 'person' AND id = :person AND NOT retired",
            person=person,
        )
    )
