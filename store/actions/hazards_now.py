"""The hazards of substances as the register classifies them now, as an entry carries them for ever."""

from collections.abc import Iterable, Mapping
from typing import Any

from store.hazards import snapshot
from store.model.registers import Substance
from store.queries import registers
from store.record.record import Record


def hazards_now(record: Record, ids: Iterable[str]) -> dict[str, dict[str, Any]]:
    """Give the hazard snapshot of each substance.

    Raises
    ------
    NotFound
        There is no such substance.
    """
    return {id: of_row(registers.row(record, "substance", id).row) for id in ids}


def of_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """Give the hazard snapshot of one register row."""
    of = Substance.from_body(row)
    return dict(
        snapshot.take(
            of.classification,
            skin_notation=of.skin_notation,
            hazardous_drug=of.hazardous_drug,
            peroxide_former=of.peroxide_former,
            edition=of.edition,
        )
    )
