"""Every error a person can meet, in one tree.

Screens and commands catch `StoreError` and show its text; anything else is a bug and may crash.
Each text is one sentence that says what is wrong and what to do next.

::

    StoreError
    ├── BadInput                what was typed or read cannot be used
    │   ├── BadNumber           not a plain number
    │   ├── BadQuantity         not a number with a unit of the kind asked for
    │   ├── AmbiguousUnit       bare % or ppm: the choice is named
    │   ├── BadReading          a balance line that is not a reading
    │   ├── BadFormula          not a chemical formula
    │   ├── BadCas              not a CAS number, or its check digit is wrong
    │   ├── BadDate             not a date in ISO form
    │   └── BadField            a field of a register row, with its name
    ├── OutOfRange              outside the range of a published formula or of a setting
    ├── UnknownCode             no such statement, family, unit or solvent in the reference
    ├── NotFound                no such prep, lot, person ... in the record
    ├── Refused                 an act refused before it was done
    │   ├── NotAllowed          the person may not do this
    │   ├── PinRefused          the PIN does not fit, or must wait
    │   ├── NeedsSecondPerson   may go on if a named second person lets it through
    │   ├── NotAcknowledged     its cautions have not been acknowledged
    │   ├── MovedOn             the prep changed since it was seen
    │   └── Owed                something else must be done first
    ├── RecordError             the record file
    │   ├── RecordMissing       no record there
    │   ├── RecordBusy          another process holds it too long
    │   ├── RecordFull          no space left
    │   ├── RecordReadOnly      cannot be written
    │   ├── RecordDamaged       does not verify, or is not a record
    │   ├── RecordTooNew        written by a newer Tarebook
    │   └── OldSqlite           the SQLite library is older than 3.38
    ├── ImportRefused           a file with faults, each with line and column
    ├── FileRefused             a file that cannot be read, or would be overwritten
    └── BalanceError            the link to a balance
"""

from collections.abc import Sequence
from dataclasses import dataclass


class StoreError(Exception):
    """Something a person can act on; its text is one sentence."""


class BadInput(StoreError):
    """What was typed or read cannot be used."""


class BadNumber(BadInput):
    """Not a plain number."""


class BadQuantity(BadInput):
    """Not a number with a unit of the kind asked for."""


class AmbiguousUnit(BadInput):
    """A unit that means several things, such as bare % or ppm."""


class BadReading(BadInput):
    """A balance line that is not a reading."""


class BadFormula(BadInput):
    """Not a chemical formula."""


class BadCas(BadInput):
    """Not a CAS number, or its check digit is wrong."""


class BadDate(BadInput):
    """Not a date in ISO form."""


class BadField(BadInput):
    """A field of a register row that cannot be used."""

    def __init__(self, field: str, what: str) -> None:
        super().__init__(f"{field}: {what}")
        self.field, self.what = field, what


class OutOfRange(StoreError):
    """Outside the range of a published formula or of a setting."""


class UnknownCode(StoreError):
    """No such statement, family, unit or solvent in the reference."""


class NotFound(StoreError):
    """No such prep, lot, person and so on in the record."""


class Refused(StoreError):
    """An act refused before it was done."""


class NotAllowed(Refused):
    """The person may not do this."""


class PinRefused(Refused):
    """The PIN does not fit, or must wait."""

    def __init__(self, text: str, wait_s: float = 0.0) -> None:
        super().__init__(text)
        self.wait_s = wait_s


class NeedsSecondPerson(Refused):
    """May go on if a named second person lets it through with a reason."""

    def __init__(self, what: Sequence[str], *, demanded: bool = False) -> None:
        super().__init__("A second person must let this through: " + "; ".join(what) + ".")
        self.what = tuple(what)
        self.demanded = demanded
        """A local rule asks for the second person; nothing is excepted by it."""


class NotAcknowledged(Refused):
    """The cautions of the step have not been acknowledged by this person."""


class MovedOn(Refused):
    """The prep changed since it was seen."""


class Owed(Refused):
    """Something else must be done first."""


class RecordError(StoreError):
    """The record file."""


class RecordMissing(RecordError):
    """No record at that place."""


class RecordBusy(RecordError):
    """Another process holds the record too long."""


class RecordFull(RecordError):
    """No space left for the record."""


class RecordReadOnly(RecordError):
    """The record cannot be written."""


class RecordDamaged(RecordError):
    """The file does not verify, or is not a record."""


class RecordTooNew(RecordError):
    """Written by a newer Tarebook."""


class OldSqlite(RecordError):
    """The SQLite library is older than 3.38."""


@dataclass(frozen=True)
class Fault:
    """One fault of an import file: line and column as a person counts them, from 1."""

    line: int
    column: str
    what: str


class ImportRefused(StoreError):
    """A file with faults; nothing of it was taken."""

    def __init__(self, file: str, faults: Sequence[Fault]) -> None:
        lines = "".join(f"\n  line {f.line}, {f.column}: {f.what}" for f in faults)
        super().__init__(f"{file}: nothing was taken, mend these and import again.{lines}")
        self.file, self.faults = file, tuple(faults)


class FileRefused(StoreError):
    """A file that cannot be read, or would be overwritten."""


class BalanceError(StoreError):
    """The link to a balance."""
