"""What happens to the record, its registers and the people at it."""

from dataclasses import field

from store.events.base import Body, Event, fact


@fact
class RecordBegun(Event):
    """The first entry of a record."""

    kind = "begun"
    site: str
    program: str
    libraries: Body = field(default_factory=dict)


@fact
class Registered(Event):
    """A register row was entered or changed; the whole row as it stands from now on."""

    kind = "registered"
    register: str
    id: str
    row: Body
    reason: str = ""


@fact
class Retired(Event):
    """A register row is not to be used any more; what used it keeps it."""

    kind = "retired"
    register: str
    id: str
    reason: str


@fact
class PinSet(Event):
    """A person's PIN was set; the PIN itself is not in the journal."""

    kind = "pin_set"
    who: str
    digest: str = ""
    """SHA-256 over the credential, whose salt is not in the journal: tells a changed one, and no PIN."""


@fact
class PinRefused(Event):
    """A PIN for a known person did not fit."""

    kind = "pin_refused"
    who: str
    purpose: str = "sign in"


@fact
class SignedIn(Event):
    """A person signed in, or unlocked the screen."""

    kind = "signed_in"
    who: str
    how: str = "sign in"


@fact
class SignedOut(Event):
    """A person signed out, or the screen locked itself."""

    kind = "signed_out"
    who: str
    how: str = "sign out"


@fact
class ClockStepped(Event):
    """The clock stood over a minute before the entry before."""

    kind = "clock_stepped"
    back_s: str


@fact
class Restored(Event):
    """The record was restored from a backup."""

    kind = "restored"
    source: str
    source_entry: int
    source_digest: str
    aside: str
    aside_entry: int
    aside_digest: str


@fact
class TextKept(Event):
    """A text that was shown to a person, written once; `digest` is SHA-256 of it."""

    kind = "text_kept"
    digest: str
    text: str
    what: str
