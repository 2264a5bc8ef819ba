"""The settings of a site, each with its meaning and the value that holds while the site has set none."""

from collections.abc import Mapping
from dataclasses import dataclass

GROUPS = ("lot", "place", "person", "mass", "mixing", "rule")
"""What an act may be refused for: its material, balance, enclosure, person, what is weighed or meets, or a
limit of a local rule."""

BELLS = ("steady", "inside", "refused", "time")
TAKEN = ("readings", "doses")


LOCAL = "local"
"""Times in the zone of the computer."""


@dataclass(frozen=True, slots=True)
class SettingKind:
    """One setting: what it means, and its default."""

    id: str
    default: str
    what: str
    kind: str = "number"
    """number, whole, yesno, choice (one of `words`), words (parted by commas) or text"""
    low: str = ""
    """Least and greatest value that fit; a number only."""
    high: str = ""
    words: tuple[str, ...] = ()
    """What may stand in `words`."""

    @staticmethod
    def words_of(value: str) -> tuple[str, ...]:
        """Give the words of a value; `none` is none of them."""
        return tuple(w for part in value.split(",") if (w := part.strip()) and w != "none")


SETTINGS: Mapping[str, SettingKind] = {
    s.id: s
    for s in (
        SettingKind("site", "", "name of the site, as on labels", "text"),
        SettingKind(
            "tolerance_percent",
            "5",
            "half-width of the window around the mass aimed at, in % of it",
            low="0.1",
            high="50",
        ),
        SettingKind(
            "solvent_tolerance_percent",
            "1",
            "the same around the mass of solvent aimed at, in % of it",
            low="0.01",
            high="50",
        ),
        SettingKind(
            "minimum_weight_limit",
            "0.10",
            "greatest relative repeatability error of a net sample, in %",
            low="0.01",
            high="10",
        ),
        SettingKind(
            "minimum_weight_factor", "2", "coverage factor of the minimum weight", low="1", high="10"
        ),
        SettingKind(
            "enough_percent",
            "1",
            "expanded uncertainty (k = 2) of a solution that is enough, in %: less powder is proposed for it",
            low="0.01",
            high="50",
        ),
        SettingKind(
            "zero_return_factor",
            "3",
            "the empty pan must come back to what it should show within this many s",
            low="1",
            high="20",
        ),
        SettingKind(
            "zero_every",
            "10",
            "places of a rack after which the empty pan is looked at, as well as at the end; 0: only then",
            "whole",
            "0",
            "60",
        ),
        SettingKind(
            "steady_seconds",
            "2",
            "a live display is steady when it has rested for so many seconds",
            low="0.5",
            high="30",
        ),
        SettingKind(
            "steady_spread",
            "2",
            "rested: its readings lie within so many s, or within a step and a half of the display",
            low="0.5",
            high="20",
        ),
        SettingKind(
            "tare_minutes", "30", "minutes that a tare holds before it is warned of", low="1", high="480"
        ),
        SettingKind(
            "tare_pressure_pa",
            "50",
            "change of the enclosure's pressure since the tare, in Pa, that is warned of",
            low="1",
            high="5000",
        ),
        SettingKind(
            "tare_set_mg",
            "5",
            "how far an empty vessel may be off the mass of its tare set, in mg",
            low="0.1",
            high="1000",
        ),
        SettingKind(
            "lock_minutes",
            "5",
            "minutes without a key until the screen locks; never while something is open",
            low="1",
            high="120",
        ),
        SettingKind(
            "break_minutes",
            "15",
            "minutes of a break after which cautions are shown in full again",
            low="1",
            high="480",
        ),
        SettingKind("quarantine", "yes", "a prepared lot waits for review before use", "yesno"),
        SettingKind("second_person", "yes", "a named second person may let a refused act through", "yesno"),
        SettingKind(
            "never_let_through",
            "none",
            "what no second person lets through: lot, place, person, mass, mixing, rule; parted by commas",
            "words",
            words=GROUPS,
        ),
        SettingKind(
            "step_training",
            "no",
            "each step that opens something asks for training in that step too, not only in its substance",
            "yesno",
        ),
        SettingKind(
            "expiry_days",
            "30",
            "days that a prepared solution may be used, unless a parent expires earlier",
            "whole",
            "1",
            "3650",
        ),
        SettingKind(
            "act_gap_ms", "400", "a key that acts counts once within this time", "whole", "100", "2000"
        ),
        SettingKind(
            "temperature_c", "20", "temperature of the enclosure, where none is told", low="5", high="40"
        ),
        SettingKind("pressure_hpa", "1013.25", "air pressure, where none is told", low="600", high="1100"),
        SettingKind("humidity_percent", "50", "relative humidity, where none is told", low="0", high="100"),
        SettingKind("emergency", "", "the site's own emergency numbers, on top of the spill card", "text"),
        SettingKind(
            "times",
            LOCAL,
            "clock times on screens and in the shell: local, or UTC as they are stored; days stay local",
            "choice",
            words=(LOCAL, "UTC"),
        ),
        SettingKind(
            "decimal_sign",
            "point",
            "sign of decimals on screens, labels and prints, point or comma: both may be typed, files for "
            "programs keep the point",
            "choice",
            words=("point", "comma"),
        ),
        SettingKind("bell", "yes", "ring the terminal bell", "yesno"),
        SettingKind(
            "bell_for",
            "steady, inside, refused, time",
            "what the bell tells: steady once, steady and inside twice, refused three times quickly, time "
            "(gloves nearly through, a wait over) four times slowly; parted by commas, or none",
            "words",
            words=BELLS,
        ),
        SettingKind(
            "take_by_itself",
            "none",
            "what a live, steady display may take without a key after a count-down that any key stops: "
            "readings (zero, check, return), doses (inside); parted by commas",
            "words",
            words=TAKEN,
        ),
        SettingKind("take_seconds", "5", "seconds of that count-down", low="3", high="60"),
    )
}
"""Every setting there is."""


def value(settings: Mapping[str, str], name: str) -> str:
    """Give a setting in force, or its default."""
    return settings.get(name) or SETTINGS[name].default
