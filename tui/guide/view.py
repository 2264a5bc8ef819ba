"""What a step shows, as data: the screens, the plain prep and the unattended demo draw the same views."""

from dataclasses import dataclass

WIDTH = 76
"""Columns of a text line on a working screen of 80."""
ALWAYS = (("+", "note or incident"), ("-", "back"), ("*", "help"), ("/", "pause"))
"""Keys that every act has."""


@dataclass(frozen=True, slots=True)
class Live:
    """The display of the balance and what it means, for the big digits."""

    shown: str
    """Digits as shown, without unit; empty when nothing is known."""
    unit: str
    steady: bool | None
    """None where nobody knows: nothing is shown, or it was typed."""
    inside: bool | None = None
    """Whether it is what it should be; None where anything will do."""
    typed: bool = False
    """Typed by a person, and waits to be taken."""
    aim: str = ""
    window: str = ""
    where: str = ""
    """Which balance, net or gross, live or typed."""
    to_go: str = ""
    halvings: str = ""
    accepted: tuple[str, ...] = ()
    """If accepted now: one line each."""
    creep: str = ""
    """How the display creeps, a minute; empty while too little was seen."""
    rate: str = ""
    """How fast the display moves while something falls, and when it would be at the aim."""
    tare: tuple[str, ...] = ()
    """Why the tare should be taken again."""
    by_itself: str = ""
    """The count-down to taking it without a key; empty while none runs."""

    @property
    def word(self) -> str:
        """Say what kind of number stands there.

        >>> Live("1.00", "mg", True).word, Live("1.00", "mg", None, typed=True).word
        ('STEADY', 'typed')
        """
        if self.typed:
            return "typed"
        return {True: "STEADY", False: "moving", None: ""}[self.steady]


@dataclass(frozen=True, slots=True)
class StepView:
    """One moment of a prep.

    The order is the order on the screen: where am I, what can hurt me, what now, what would it give,
    which keys.
    """

    prep: str
    title: str
    place: str
    """For example `step 4 of 11`."""
    step: str
    """The step in capitals and what it is about; empty when no step is open."""
    hazards: tuple[str, ...] = ()
    """The hazard line in words, each phrase whole."""
    short: tuple[str, ...] = ()
    """The short form of the cautions; empty while the page is shown."""
    page: tuple[str, ...] = ()
    """One screen of the caution page; empty while an act is asked."""
    page_place: str = ""
    body: tuple[str, ...] = ()
    """What to do now, or what is asked."""
    choices: tuple[str, ...] = ()
    prompt: str = ""
    """Name of what is typed; empty when nothing is."""
    typing: str = ""
    """Name of what may be typed over a live display: it stands in the big digits while it is."""
    typed: str = ""
    secret: bool = False
    live: Live | None = None
    open_for: float | None = None
    """Seconds since it was opened, or None while nothing is open."""
    left_today: float | None = None
    """Seconds left of the shift limit, or None where none is set."""
    glove_left: float | None = None
    """Seconds until a liquid of the step is through the gloves, or None where no time is known."""
    alarm: str = ""
    """What rings while it stands: gloves nearly through, a wait that is over."""
    estimated: bool = False
    what_open: str = ""
    keys: tuple[tuple[str, str], ...] = ()
    said: str = ""
    """What the last key led to: a refusal, a remark."""
    answer: str = ""
    """What the last key wrote, in one line."""
    done: bool = False
    extra: tuple[str, ...] = ()
    """A text to be read whole, such as a label or the closed record."""


def fit(phrases: tuple[str, ...], width: int, *, lead: str = "", lines: int = 2) -> tuple[str, ...]:
    """Lay phrases out with a middle dot between, none split; what does not fit is counted, not hidden.

    >>> fit(("carcinogen 1B", "oxidiser"), 40, lead="DANGER  ")
    ('DANGER  carcinogen 1B · oxidiser',)
    >>> fit(("carcinogen 1B", "oxidiser", "corrosive", "toxic"), 50, lead="DANGER  ", lines=1)
    ('DANGER  carcinogen 1B · and 3 more, see the label',)
    >>> fit((), 50, lead="NO SIGNAL WORD  ")
    ('NO SIGNAL WORD',)
    """
    for many in range(len(phrases), 0, -1):
        rest = len(phrases) - many
        more = (f"and {rest} more, see the label",) if rest else ()
        laid = _laid((*phrases[:many], *more), width, lead)
        if len(laid) <= lines:
            return laid
    return ((lead + phrases[0]) if phrases else lead.rstrip(),)


def _laid(phrases: tuple[str, ...], width: int, lead: str) -> tuple[str, ...]:
    out: list[str] = []
    line, empty = lead, True
    for phrase in phrases:
        piece = phrase if empty else f" · {phrase}"
        if not empty and len(line) + len(piece) > width:
            out.append(line)
            line, piece = " " * len(lead), phrase
        line, empty = line + piece, False
    return (*out, line)
