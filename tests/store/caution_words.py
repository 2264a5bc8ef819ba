"""What the words of a caution commit it to: patterns that the rules on caution texts go by."""

import re

STEPS = (
    "transfer_in", "check_balance", "tare", "weigh_solid", "dose_liquid", "add_solvent", "dissolve",
    "seal_label", "transfer_out", "decontaminate", "waste", "spill",
)  # fmt: skip
OPEN = ("weigh_solid", "dose_liquid", "add_solvent", "dissolve", "decontaminate", "waste", "spill")
"""Steps in which something is open: families that harm unnoticed must speak in each."""
FAMILIES = {
    "EXPLOSIVE", "PYROPHORIC", "WATER_REACTIVE", "ACID_GAS", "ACUTE_1_2", "ACUTE_3", "CMR_1", "CMR_2",
    "LACTATION", "RESP_SENS", "SKIN_SENS", "STOT_1", "CORROSIVE", "SKIN_ABSORPTION", "HAZARDOUS_DRUG",
    "OXIDISER", "FLAMMABLE", "PEROXIDE_FORMER", "IRRITANT_NARCOTIC", "ACUTE_4", "ENVIRONMENT", "UNKNOWN",
    "INERT_GAS",
}  # fmt: skip
ALWAYS = (
    "CMR_1", "CMR_2", "RESP_SENS", "SKIN_SENS", "STOT_1", "ACUTE_1_2", "HAZARDOUS_DRUG", "UNKNOWN",
)  # fmt: skip
SECOND_PERSON = {"ACUTE_1_2", "PYROPHORIC", "EXPLOSIVE", "ACID_GAS"}
"""Where a second person is asked for; elsewhere it would be asked for so often that nobody came."""
DICHROMATE = {
    "CMR_1",
    "RESP_SENS",
    "ACUTE_1_2",
    "CORROSIVE",
    "OXIDISER",
    "SKIN_SENS",
    "STOT_1",
    "ENVIRONMENT",
}

SAFE = re.compile(
    r"\b(safe|safely|safer|harmless|riskless|non-?hazardous|non-?toxic|no (risk|danger|hazard)|"
    r"without (risk|danger)|not (dangerous|hazardous|harmful|toxic)|no need to worry|fully protected)\b",
    re.I,
)
ABBREVIATION = re.compile(r"\b([A-Z]{2,}\w*|pH|e\.g|i\.e|etc|approx|conc|temp|resp|incl|max|min|vs)\b")
COMPANY = re.compile(
    r"\b(second person|two (people|persons)|someone else|another person|colleague|co-?worker|buddy|partner|"
    r"(never|not|do not work) alone|in pairs)\b",
    re.I,
)
YOU = re.compile(r"\b(you|your|yours|yourself)\b", re.I)

LEXICON = {
    r"damp wipe": {"damp_wipe"},
    r"dry wipe": {"dry_wipe"},
    r"dry sand": {"dry_sand", "dry_powder_kit"},
    r"paper": {"paper_wipe", "clear_grease", "clear_solvent"},
    r"\bwater\b(?! life)": {
        "water", "keep_dry", "acid_into_water", "rinse_eyes", "rinse_skin", "damp_wipe", "label_hazard",
        "drain",
    },
    r"\bacid\b": {"acid", "acid_into_water", "label_hazard", "mix_waste"},
    r"bleach": {"bleach"},
    r"alcohol": {"alcohol"},
    r"organic solvent": {"organic_solvent"},
    r"cap loose": {"cap_loose"},
    r"\btight(?! chest)": {"cap_tight"},
    r"sweep": {"dry_sweep"},
    r"scrap(e|ing)": {"scrape"},
    r"\bmetal (tool|needle|cap|spatula)|no metal\b(?! can)": {"metal_tools"},
    r"ioniser|hot plate|no spark": {"unrated_ignition"},
    r"shaking|ultrasound": {"shake", "ultrasound"},
    r"drain": {"drain"},
    r"approved procedure": {"approved_procedure"},
    r"both port doors|one port door": {"both_doors"},
    r"\bleave(?! it| room| the cleaning)(,|\.| at)|\ball out\b": {"leave_room"},
    r"treat it as a spill": {"treat_as_spill"},
    r"(change|changed?) (the )?(outer )?gloves|gloves changed": {"change_gloves"},
    r"dry (down|out)|dries|dried (down|out)": {"dry_out", "hands_off", "keep_dry"},
    r"without oxygen|no oxygen": {"head_in_port", "flush_port", "enter_cloud"},
}  # fmt: skip
"""What is said must be what is tagged: a pattern, and the tags of which a sentence with it carries one."""


def words(text: str) -> frozenset[str]:
    """The words of a sentence, each once."""
    return frozenset(re.findall(r"[a-z]+", text.lower()))


def plain(text: str) -> str:
    """A sentence without case and points."""
    return re.sub(r"[^a-z0-9]+", " ", text.lower()).strip()
