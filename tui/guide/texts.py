"""The words of the guide: titles of steps, reasons to choose from, what each act's keys mean."""

from collections.abc import Mapping

from store.model.words import GLOVES_CHANGED, ActKind, StepName

TITLES: Mapping[StepName, str] = {
    StepName.TRANSFER_IN: "BRING IN",
    StepName.CHECK_BALANCE: "CHECK THE BALANCE",
    StepName.TARE: "TARE THE VESSEL",
    StepName.WEIGH_SOLID: "WEIGH THE SOLID",
    StepName.DOSE_LIQUID: "DOSE THE LIQUID",
    StepName.ADD_SOLVENT: "ADD THE SOLVENT",
    StepName.DISSOLVE: "DISSOLVE",
    StepName.SEAL_LABEL: "SEAL AND LABEL",
    StepName.TRANSFER_OUT: "BRING OUT",
    StepName.DECONTAMINATE: "DECONTAMINATE",
    StepName.WASTE: "WASTE",
}

OPEN_KEY: Mapping[str, str] = {
    "container": "it is open now",
    "vessel": "they are open now",
    "surfaces": "I begin now",
}
CLOSE_KEY: Mapping[str, str] = {
    "container": "it is closed now",
    "vessel": "they are closed now",
    "surfaces": "done, bag closed",
}

ENTER: Mapping[ActKind, str] = {
    ActKind.CONFIRM: "done",
    ActKind.READ: "take the reading",
    ActKind.DOSE: "take it",
    ActKind.HANDLE: "done",
    ActKind.TELL: "that is what it shows",
}

TAKE_REASONS = (
    "the powder clings or falls in lumps: enough as it is",
    "a little over: the solvent follows it",
    "the container is empty",
    "the display does not settle: static or draught suspected",
)
LIQUID_REASONS = (
    "it hangs at the tip: enough as it is",
    *TAKE_REASONS[1:3],
    "the display does not settle: draught or evaporation suspected",
)
SOLVENT_REASONS = (
    "a little over: the label follows what came out",
    "the vessel is full enough",
    "the display creeps: the solvent evaporates",
)
BACK_REASONS = (
    "pressed too early",
    "done in the wrong way: again",
    "the reading cannot be trusted",
    "the vessel or its place was touched",
)
DISCARD_REASONS = (
    "wrong substance or lot in the vessel",
    "spilled or splashed: what is in it is not known",
    "does not dissolve",
    "the weighing cannot be trusted",
)
REJECT_REASONS = (
    "too much or too little fell, and it is not wanted so",
    "spilled, or some of it on the rim",
    "the vessel is cracked, dirty or the wrong one",
    "the weighing cannot be trusted",
)
ABANDON_REASONS = (
    "stopped by an incident",
    "the balance or the enclosure failed its check",
    "the wrong container was brought",
    "not needed any more",
)
MATERIAL = (
    "all of it in the waste container, closed and labelled",
    "nothing was opened, nothing was used",
    "kept in the sealed, labelled vessel",
)
SECOND_REASONS = (
    "checked together, accepted for this prep",
    "checked against the certificate and the site's procedure",
    "repeated and confirmed",
)
STATIC = "static: powder jumped or clung"
LONGER = "longer open than planned"
UNUSUAL = (STATIC, GLOVES_CHANGED, "a drop or grain beside the vessel, wiped at once", LONGER)
UNUSUAL_POWDER = (STATIC, GLOVES_CHANGED, "a grain beside the vessel, wiped at once", LONGER)
UNUSUAL_LIQUID = (
    "it dripped or ran down outside the vessel",
    GLOVES_CHANGED,
    "a drop beside the vessel, wiped at once",
    LONGER,
)
INCIDENT_WORDS: Mapping[str, tuple[str, ...]] = {
    "spill": (
        "powder on the pan or floor of the enclosure",
        "liquid spilled in the enclosure",
        "spill outside",
    ),
    "breach": ("glove torn or pinholed", "sleeve or cuff leaked", "door or port opened by mistake"),
    "contact": ("on the skin", "in the eye", "breathed in"),
    "alarm": ("pressure alarm", "air flow alarm", "oxygen or gas alarm"),
    "near miss": ("container nearly fell", "wrong container picked up", "glove caught, not torn"),
}
OTHER_WORDS = "other words: type them at the keyboard"

STATIC_HELP = (
    "Keys on the numeric pad do everything:",
    "",
    "  Enter   does the act named at the foot of the screen",
    "  1 to 9  choose, or acknowledge the page that shows that digit",
    "  digits, point or comma   a reading, every digit that the display shows",
    "  +       a note or an incident; the spill card is there too (or F9)",
    "  -       back: do it again, correct, discard, give the prep up",
    "  *       this help",
    "  /       pause: leave the prep as it is (never while something is open)",
    "",
    "halvings left ■■■ ·   how often what is missing must be halved to be inside the",
    "window; behind the · it is over, and · alone is inside.",
    "",
    "A key that acts counts once, however long it is held. What you typed but did",
    "not finish with Enter is not kept; every accepted reading is.",
    "",
    "Follow your site's safety rules, the risk assessment and the safety data",
    "sheet; they come before this text. If they disagree or are missing, stop",
    "and ask.",
)
