"""Which certificates were revised after a prep took them, its own and those of what it was made of."""

from collections.abc import Iterator

from store.procedure.state import PrepState
from store.queries import registers, revised_lots, stale
from store.record.record import Record


def of(record: Record, state: PrepState) -> tuple[str, ...]:
    """Say what stands otherwise now in a lot that a prep rests on; empty where nothing does.

    What was written stays until a keeper writes it anew: whoever reads or signs it has to know.
    """
    said = dict.fromkeys(_own(record, state))
    for prep in _above(record, state):
        said |= dict.fromkeys(f"{line}, through {prep}" for line in _own(record, record.prep_state(prep)))
    return tuple(said)


def _own(record: Record, state: PrepState) -> Iterator[str]:
    for lot, had in revised_lots.certificates(state).items():
        now = revised_lots.certificate(registers.row(record, "lot", lot).row)
        differs = [
            f"{name.replace('_', ' ')} {had[name] or 'empty'}, now {now[name] or 'empty'}"
            for name in revised_lots.CERTIFICATE
            if had[name] != now[name]
        ]
        if differs:
            yield f"lot {lot} was revised since: {'; '.join(differs)}"


def _above(record: Record, state: PrepState) -> tuple[str, ...]:
    """Give the preps that made what went into it, at any depth, the nearest first."""
    lots = [lot for lot in revised_lots.certificates(state) if lot]
    links = (link for lot in lots for link in record.query(stale.UP, lot=lot, most=stale.DEPTH))
    return tuple(dict.fromkeys(str(link["prep"]) for link in links if link["prep"] != state.prep))
