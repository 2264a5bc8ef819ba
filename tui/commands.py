"""Every key, its label and its help, once: bindings, footer, palette, help and the README's table."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from textual.binding import Binding

Where = Literal["keypad", "desk", "list", "register", "set up", "page", "form"]


@dataclass(frozen=True, slots=True)
class Command:
    """One action of the person."""

    id: str
    key: str
    """As it stands on the key."""
    label: str
    help: str
    where: Where = "keypad"
    textual: str = ""
    """Textual's names of the key, where they differ."""

    def binding(self) -> "Binding":
        """Give the binding of a screen that has an `action_` of this id."""
        from textual.binding import Binding

        return Binding(self.textual or self.key, self.id, self.label, id=self.id, tooltip=self.help)


TAKE = Command(
    "take", "Enter", "take it", "Do or accept what stands there. A foot switch that sends Enter does it too."
)
DIGIT = Command(
    "digit",
    "1 to 9",
    "the digit shown",
    "On a caution page the digit it shows: I have read this page. At a choice: this one.",
)
READING = Command(
    "reading", "0-9 . ,", "a reading", "Type every digit the display shows, then Enter. A device may type it."
)
MINUS = Command("minus", "- after digits", "below zero", "Turns the sign of the number being typed.")
NOTE = Command("note", "+", "note or incident", "Write an exposure note or an incident, at any time.")
BACK = Command("back", "-", "back", "Back, or correct what was entered; nothing is ever deleted.")
HELP = Command("help", "*", "help", "What this screen wants and what its keys do.")
PAUSE = Command("pause", "/", "pause", "Leave the prep where it stands; not while something is open.")
SPILL = Command(
    "spill", "9", "spill card", "At the bench and the lock: what to do at a spill, without a PIN."
)
SPILL_ANYWHERE = Command(
    "spill_anywhere",
    "F9",
    "spill card",
    "The spill card from every screen that takes keys by themselves, each step of a prep among them; by "
    "keypad it is a choice under +.",
)
ERASE = Command("erase", "Backspace", "erase", "Takes back the last sign; Escape takes back the line.")

NEW = Command("new", "n", "new prep", "Plan a preparation and have it checked.", "desk")
PAST = Command("past", "p", "past preps", "Every prep, by substance, lot, person and state.", "desk")
EXPOSURES = Command(
    "exposures", "e", "exposure log", "Who handled what, for how long, and what went wrong.", "desk"
)
REGISTERS = Command(
    "registers",
    "r",
    "registers",
    "The site's substances, lots, containers, balances, people and rules.",
    "desk",
)
SEARCH = Command(
    "search", "f", "find", "Preps, lots, substances, notes and people by number, name, CAS or word.", "desk"
)
SET_UP = Command("set_up", "u", "set up", "What a first prep still needs, one thing after the other.", "desk")
SEVERAL = Command(
    "several", "s", "dilution, series", "Plan a dilution in steps, or a series of levels with blanks.", "desk"
)
RACK = Command(
    "rack", "k", "rack", "Plan equal portions into many vessels, as powder or as solutions.", "desk"
)
ROUTES = Command(
    "routes", "d", "dilution routes", "Design a dilution: steps, uncertainty, waste, openings.", "desk"
)
ME = Command("me", "m", "about me", "Everything that the record holds about oneself.", "desk")
CHECK = Command("check", "c", "record check", "Prove that the record is whole.", "desk")
LOCK = Command("lock", "l", "lock", "Sign out; the next person signs in.", "desk")
THEME = Command("theme", "t", "colours", "Dark, light, high contrast, without colour.", "desk")
QUIT = Command("quit", "q", "leave", "Leave Tarebook; everything accepted is in the record.", "desk")

OPEN = Command(
    "open", "Enter", "open", "Open the row; a number and Enter opens the row of that number.", "list"
)
PAGE = Command("page", "PgUp PgDn", "page", "A screen up or down; Home and End go to the ends.", "list")
FIND = Command(
    "find", "f", "find", "Show only rows that hold the typed words; Escape shows all again.", "list"
)
WHICH = Command("which", "w", "which rows", "Choose by substance, person, lot, period and so on.", "list")
ORDER = Command("order", "o", "order", "Newest, oldest, by substance, uncertainty and so on.", "list")
HANDLINGS = Command("handlings", "h", "handlings", "Every handling, one a row.", "list")
INCIDENTS = Command("incidents", "i", "incidents", "What went wrong, or was unusual.", "list")
SUMS = Command(
    "sums", "s", "sums", "Added up by month, substance, hazard family, person; again: the next.", "list"
)
WEEKS = Command("weeks", "b", "weeks", "Minutes open, week by week, as a bar.", "list")
CHART = Command(
    "chart", "c", "chart", "Achieved over target of the row's substance, prep after prep.", "list"
)
ENTER = Command(
    "enter",
    "a",
    "enter",
    "A handling without a prep: glove or filter change, wipe-down, a visit. In the view of what was "
    "measured: a result.",
    "list",
)
MEASURED = Command("measured", "m", "measured", "Results of air and wipe samples, as reported.", "list")
NAMELESS = Command(
    "nameless", "n", "without names", "Everybody's handlings by hazard family, without names.", "list"
)

ADD = Command("add", "a", "add", "A keeper enters a new row.", "register")
CHANGE = Command(
    "change",
    "c",
    "change",
    "A keeper changes the row, with a reason; earlier preps keep what stood.",
    "register",
)
RETIRE = Command(
    "retire", "x", "retire", "A keeper takes the row out of use; nothing is deleted.", "register"
)
STATUS = Command(
    "status", "s", "status", "Block, recall, quarantine or release a lot, with a reason.", "register"
)
PIN = Command("pin", "p", "PIN", "Set one's own PIN, or as a keeper somebody's.", "register")
HEALTH = Command(
    "health", "h", "health", "A balance's checks, weighings and minimum weight, and its chart.", "register"
)
TEACH = Command(
    "teach", "l", "its lines", "Record a balance's lines and have its settings proposed.", "register"
)
STOCKTAKE = Command(
    "stocktake", "k", "stocktake", "What was found left in a container, beside the record.", "register"
)
SEALED = Command(
    "sealed", "g", "sealed gross", "Weigh a sealed container: its loss, its concentration now.", "register"
)
VERIFY = Command(
    "verify", "y", "verification", "A lot held against the one before, or an independent check.", "register"
)
TRACE_LOT = Command(
    "trace_lot",
    "t",
    "trace",
    "What the lot of this row was made of, and all that was made of it.",
    "register",
)
EVERYTHING = Command(
    "everything",
    "e",
    "everything",
    "All that is held about a person; another's, as an officer.",
    "register",
)

SAMPLES = Command(
    "samples", "s", "load samples", "Fill an empty record with the samples, to try it.", "set up"
)

DETAILS = Command(
    "details", "d", "details", "Write what is known of the incident by now; no diagnosis.", "page"
)
END = Command("end", "c", "close it", "A safety officer closes the incident, with a reason.", "page")
TRACE = Command("trace", "t", "trace", "What a lot was made of, and all that was made of it.", "page")
AGAIN = Command("again", "n", "plan again", "A new plan with what this one had, checked afresh.", "page")
BESIDE = Command("beside", "b", "beside another", "This prep and another, side by side.", "page")
ASSAY = Command(
    "assay", "s", "assay", "Of a closed rack: enter what a laboratory found in its portions.", "page"
)
MISREAD = Command(
    "misread",
    "m",
    "misread",
    "Of a closed prep: what the display showed; the result is written anew.",
    "page",
)
REVISE = Command(
    "revise", "v", "certificate", "A keeper enters what a revised certificate says of the lot.", "page"
)
ANEW = Command(
    "anew", "w", "write anew", "Write results anew with the revised certificate; old ones stay.", "page"
)
SECTION = Command("section", "1 to 9", "section", "Go to the section of that number.", "page")
ACCEPT = Command("accept", "a", "accept", "A reviewer accepts the prep; its lot is released.", "page")
RETURN = Command(
    "return", "r", "return", "A reviewer returns the prep with a reason; its lot is blocked.", "page"
)
PRINT = Command("print", "p", "for print", "Write it whole as a page for print, beside the record.", "page")

NEXT = Command(
    "next",
    "Enter",
    "next",
    "Take this field and go on; an empty line keeps what stands there. Tab does the same.",
    "form",
)
FIELDS = Command("fields", "↑ ↓", "fields", "Go to another field, or through the suggestions.", "form")
EDIT = Command(
    "edit",
    "→",
    "suggestion",
    "Take the suggestion shown, or edit what stands in the field at its end.",
    "form",
)
WRITE = Command(
    "write",
    "ctrl+s",
    "write",
    "In the form of a register row: write it from any field, the rest as it is.",
    "form",
)
DESIGN = Command("design", "/", "routes", "From the plan: routes to a weaker solution.", "form")
WHOLE = Command(
    "whole", "+", "all of it", "From the plan: everything that it comes to, on a screen of its own.", "form"
)

CHOSEN = Command("chosen", "g", "plan one", "Plan a dilution by the route of a number.", "list")

ALL: tuple[Command, ...] = tuple(each for each in tuple(globals().values()) if isinstance(each, Command))
"""Every command there is, in the order they stand above."""

PLACES: dict[Where, str] = {
    "keypad": "everywhere, by a numeric keypad alone",
    "desk": "at the bench",
    "list": "in lists",
    "register": "in registers",
    "set up": "at the set-up",
    "page": "on the page of a prep or an incident",
    "form": "in forms",
}


def of(where: Where) -> tuple[Command, ...]:
    """Give the commands of one place."""
    return tuple(c for c in ALL if c.where == where)


def readme_table() -> str:
    """Give the key table of the README."""
    lines = ["| where | key | does |", "|---|---|---|"]
    for where, place in PLACES.items():
        for n, command in enumerate(of(where)):
            lines.append(
                f"| {place if n == 0 else ''} | `{command.key}` | **{command.label}**: {command.help} |"
            )
    return "\n".join(lines) + "\n"
