"""The acts that recipes share."""

from collections.abc import Mapping
from typing import Any

from store.model.prep import Act, Part, Step
from store.model.words import ActKind, StepName

COMPARE = "compare"
"""Key of the act that compares the label of the container with the plan; a scanned label answers it."""
AS_PLANNED = ("it is as planned", "it is not")
UNCAPPED = {"closure": "without its cap"}
"""How the vessel is on the pan, at its tare as at its gross: another closure would be weighed as powder."""
BEFORE_MORE = {
    "net": ", and zero the display.",
    "gross": ": take its gross.",
    "sum": ": the sum on the display goes on from where it was.",
}
OFF_THE_PAN = "Take the vessel off the pan, doors closed."
CLEAR = ("clear, all dissolved", "not yet", "it does not dissolve")


def act(
    key: str,
    kind: ActKind,
    text: str,
    what: str = "",
    *,
    choices: tuple[str, ...] = (),
    unit: str = "",
    part: Part | None = None,
) -> Act:
    """Give an act; of a part its key says so, since a step may ask the same of many vessels."""
    if part is not None:
        key = f"{key}:{part.key}"
    return Act(
        key=key,
        kind=kind,
        text=text,
        what=what,
        choices=choices,
        unit=unit,
        part=part.key if part is not None else "",
        vessel=part.vessel if part is not None else "",
    )


def note() -> Act:
    """Give the act that writes the exposure note of what was handled before it."""
    return act("note", ActKind.NOTE, "Exposure note: how did it go?")


def off_the_pan() -> Act:
    """Give the act that looks whether the empty pan shows after a dose what it should."""
    return act("return", ActKind.READ, OFF_THE_PAN, "return")


def pressure(basis: Mapping[str, Any], text: str) -> tuple[Act, ...]:
    """Ask for the pressure where the enclosure has limits for it."""
    enclosure = basis["enclosure"]
    if not (enclosure.get("pressure_low") or enclosure.get("pressure_high")):
        return ()
    return (act("pressure", ActKind.TELL, text, "pressure", unit="Pa"),)


def clean_and_waste(
    basis: Mapping[str, Any], substances: tuple[str, ...], rests: tuple[Act, ...] = ()
) -> tuple[Step, ...]:
    """Give the last two steps of every prep; `rests` are handled before the waste bag is closed."""
    cleaning = tuple(basis["enclosure"].get("cleaning", ())) or ("the liquid of the site's procedure",)
    return (
        Step(
            name=StepName.DECONTAMINATE,
            acts=(
                act("liquid", ActKind.ANSWER, "Clean with which liquid?", "cleaning", choices=cleaning),
                act("open", ActKind.OPEN, "Begin: tools, pan surroundings, floor, gloves.", "surfaces"),
                act(
                    "close", ActKind.CLOSE, "Done: every surface wiped, wipes in the closed bag.", "surfaces"
                ),
                note(),
            ),
            substances=substances,
        ),
        Step(
            name=StepName.WASTE,
            acts=(
                *rests,
                act(
                    "waste",
                    ActKind.HANDLE,
                    f"Close and label the waste bag; stream: {stream(basis)}. Bring it to its place.",
                    "waste",
                ),
                note(),
            ),
            substances=substances,
        ),
    )


def stream(basis: Mapping[str, Any]) -> str:
    """Give the waste stream of the solute, or say that none is set."""
    solute = basis["substances"][basis["lot"]["substance"]]
    return solute.get("waste_stream") or "ask, none is set for this substance"
