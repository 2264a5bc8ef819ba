"""The reduced label of a small inner vessel: what must stay on it, and what is left for the outer label.

CLP Article 29 with Annex I, 1.5.2.4, from memory: where no more than 10 mL are supplied for research or
quality control, inside an outer package that carries the whole label, the inner one needs the product
identifier and of the pictograms GHS01, GHS05, GHS06 and GHS08; of more than two, GHS06 and GHS08 come before
the others. We keep strength, signal word, date and record number as well: without them a vial is of no use.
"""

from tui.paper.label import NOT_STATED, LabelData

MOST_ML = 10.0
KEPT = ("GHS06", "GHS08", "GHS05", "GHS01")
"""The pictograms that stay, in the order of precedence."""
MOST_SYMBOLS = 2
RULE = (
    "CLP Annex I, 1.5.2.4, from memory: no more than 10 mL, for research or quality control, kept inside an "
    "outer package that carries the whole label"
)
OUTER = "Whole label: outer package"


def may_be_reduced(data: LabelData) -> bool:
    """Say whether the vessel is so small that a reduced label is allowed on it."""
    return data.capacity_ml is not None and 0 < data.capacity_ml <= MOST_ML


def symbols(data: LabelData) -> tuple[str, ...]:
    """Give the pictograms that stay, in the order of the label."""
    kept = [code for code in KEPT if code in data.pictograms][:MOST_SYMBOLS]
    return tuple(code for code in data.pictograms if code in kept)


def paragraphs(data: LabelData) -> list[tuple[str, str]]:
    """Give class and text of each paragraph, few, since each begins a line of its own."""
    wanted = data.kind == "pre-label"
    signal = "HAZARDS NOT ALL KNOWN" if data.no_data else (data.signal_word or "").upper()
    strength = f"wanted {data.strength or NOT_STATED}" if wanted else data.strength or NOT_STATED
    first = ("NOT FOR USE," if wanted else "", signal, f"{data.identity}, {strength} {data.carried}")
    date = f"begun {data.made}" if wanted else f"expires {data.expires or NOT_STATED}"
    record = " ".join(part for part in (data.number, data.vessel) if part)
    return [
        ("least", " ".join(part for part in first if part)),
        ("plain", f"{date}; {record}. {OUTER}."),
    ]


def left_off(data: LabelData, *, code: bool) -> tuple[str, ...]:
    """Name what a reduced label leaves for the outer one.

    Parameters
    ----------
    code
        The square code stands on the label.
    """
    gone = [c for c in data.pictograms if c not in symbols(data)]
    said = (
        (f"pictogram {', '.join(gone)}", bool(gone)),
        (f"statements {data.codes}", bool(data.statements)),
        (
            data.contains_line[0].lower() + data.contains_line[1:] if data.contains else "",
            bool(data.contains),
        ),
        (f"uncertainty ± {data.uncertainty}", bool(data.uncertainty)),
        ("amount", bool(data.amount)),
        ("date of making" if data.kind == "final" else "", data.kind == "final"),
        ("what expiry rests on", bool(data.expiry_rests_on)),
        ("storage", bool(data.storage)),
        ("waste stream", bool(data.waste_stream)),
        ("preparer", bool(data.preparer)),
        ("edition of the classification", bool(data.edition)),
        ("square code with entry and digest", not code),
    )
    return tuple(what for what, there in said if there)
