"""What entries left behind in a prep: dose, reading, handling, acknowledgement, each as it stands now."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

STANDS, CORRECTED, DISCARDED, NEVER = "stands", "corrected", "discarded", "never happened"


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseDone:
    """One weighed addition as it stands now."""

    entry: int
    at: str
    person: str
    step: int
    act: str
    content: str
    container: str
    vessel: str
    shown: str
    net_mg: float
    total_mg: float
    """Of this content in the vessel, with this dose."""
    source: str
    usable: bool
    inside: bool
    ends: bool
    reason: str
    state: str = STANDS
    part: str = ""
    """The part whose vessel it fell into."""
    contains: Mapping[str, str] = field(default_factory=dict)
    """Mass fraction of each substance in what was dosed, as computed then; empty: the lot's substance."""

    @property
    def counts(self) -> bool:
        """Whether it is in the vessel."""
        return self.state in (STANDS, CORRECTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadDone:
    """One reading that is not a dose."""

    entry: int
    at: str
    step: int
    act: str
    what: str
    shown: str
    mass_mg: float
    within: bool
    conditions: Mapping[str, Any]
    let_through: bool = False
    """Outside its limit, and a second person let it stand."""
    part: str = ""
    """The part whose vessel stood on the pan."""

    @property
    def stands(self) -> bool:
        """Whether the prep goes on from it."""
        return self.within or self.let_through


@dataclass(frozen=True, slots=True, kw_only=True)
class HandlingDone:
    """One handling; `closed` is 0 while it is open, `noted` is 0 while it owes its exposure note."""

    entry: int
    at: str
    person: str
    step: int
    act: str
    what: str
    container: str
    vessel: str
    enclosure: str
    substances: tuple[str, ...]
    closed: int = 0
    open_s: float = 0.0
    estimated: bool = False
    noted: int = 0
    state: str = STANDS


@dataclass(frozen=True, slots=True, kw_only=True)
class AckDone:
    """One acknowledgement."""

    entry: int
    at: str
    person: str
    step: int
    step_name: str
    digest: str
    how: str
    container: str
    families: tuple[str, ...] = ()
