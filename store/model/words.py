"""The closed lists of words that stand in the record: steps, acts, roles, states."""

from enum import StrEnum


class StepName(StrEnum):
    """The acts of a prep that cautions guard."""

    TRANSFER_IN = "transfer_in"
    CHECK_BALANCE = "check_balance"
    TARE = "tare"
    WEIGH_SOLID = "weigh_solid"
    DOSE_LIQUID = "dose_liquid"
    ADD_SOLVENT = "add_solvent"
    DISSOLVE = "dissolve"
    SEAL_LABEL = "seal_label"
    TRANSFER_OUT = "transfer_out"
    DECONTAMINATE = "decontaminate"
    WASTE = "waste"


class ActKind(StrEnum):
    """What one act of a step asks of the person."""

    CONFIRM = "confirm"
    """Do it, then press Enter."""
    ANSWER = "answer"
    """Choose by digit."""
    TELL = "tell"
    """Type a number that an instrument other than the balance shows."""
    READ = "read"
    """Take one reading of the balance."""
    OPEN = "open"
    """From here on something hazardous is open."""
    DOSE = "dose"
    """Add until what is in the vessel is inside the tolerance, or taken as it is."""
    CLOSE = "close"
    """Closed again."""
    HANDLE = "handle"
    """A handling without an opening: contaminated outside, waste bag, port."""
    NOTE = "note"
    """The exposure note that the handlings before it owe."""


class Role(StrEnum):
    """What a person may do; a person holds one or more."""

    OPERATOR = "operator"
    SAFETY_OFFICER = "safety officer"
    REVIEWER = "reviewer"
    KEEPER = "keeper"


class LotStatus(StrEnum):
    """Whether a lot may be used."""

    QUARANTINE = "quarantine"
    RELEASED = "released"
    BLOCKED = "blocked"
    RECALLED = "recalled"


class PrepStatus(StrEnum):
    """Where a prep stands."""

    OPEN = "open"
    CLOSED = "closed"
    ABANDONED = "abandoned"
    ACCEPTED = "accepted"
    RETURNED = "returned"

    @property
    def done(self) -> bool:
        """Whether it came to its end with a result."""
        return self in (PrepStatus.CLOSED, PrepStatus.ACCEPTED, PrepStatus.RETURNED)


class IncidentKind(StrEnum):
    """What went wrong."""

    SPILL = "spill"
    BREACH = "breach"
    CONTACT = "contact"
    ALARM = "alarm"
    NEAR_MISS = "near miss"


FORMS = ("powder", "crystals", "pellets", "liquid", "solution")
BASES = ("as-is", "anhydrous", "dried")
NOT_CLASSIFIED = "not classified"
"""A substance that was assessed and carries no statement; an empty classification means no data."""

WORN = ("put on", "fixed to the port")
"""Gloves put on are new each day; those of a port count from the day they were fitted, or changed."""
WARM, DARK, MIX = "to room temperature, closed", "protect from light", "mix before use"
CONDITIONING = (WARM, DARK, MIX)
"""Conditioning that a step asks for in words of its own; anything else is asked for as it is written."""
GLOVE_CHANGE = "glove change"
"""The handling that starts the clock of gloves anew."""
GLOVES_CHANGED = "outer gloves changed"
"""The same, said in the exposure note of the handling before."""
