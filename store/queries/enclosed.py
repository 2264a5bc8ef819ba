"""Which containers stand in an enclosure, and what they hold, as far as the record knows."""

from store.errors import NotFound
from store.queries import lots
from store.record.record import Record


def containers(
    record: Record, enclosure: str, *, substance: str, brought: tuple[str, ...] = ()
) -> dict[str, float | None]:
    """Give the containers of a substance in an enclosure with what they hold [mg], None where not known.

    Parameters
    ----------
    brought
        Containers that are about to be brought in as well.

    Notes
    -----
    A container is in from the transfer in of an open prep until its transfer out. What was dosed out of it
    in such a prep is still in the enclosure and counts.
    """
    found = record.query(
        """
        SELECT p.prep, h.container FROM prep AS p JOIN handling AS h ON h.prep = p.prep
        WHERE p.enclosure = :enclosure AND p.status = 'open' AND NOT p.rehearsal
            AND h.what = 'transfer in' AND h.state <> 'never happened'
            AND NOT EXISTS (SELECT 1 FROM handling AS o WHERE o.prep = p.prep AND o.what = 'transfer out'
                            AND o.state <> 'never happened')
        """,
        enclosure=enclosure,
    )
    ids: dict[str, None] = dict.fromkeys(brought)
    preps = []
    for row in found:
        plan = record.prep_state(row["prep"]).plan
        preps.append(row["prep"])
        ids |= dict.fromkeys(plan.containers)
    out: dict[str, float | None] = {}
    for id in filter(None, ids):
        try:
            stock = lots.stock(record, id)
        except NotFound:
            continue
        if stock.substance == substance:
            out[id] = None if stock.left_mg is None else stock.left_mg + _dosed_mg(record, id, preps)
    return out


def _dosed_mg(record: Record, container: str, preps: list[str]) -> float:
    return sum(
        float(record.query(
            "SELECT coalesce(sum(net_mg), 0.0) AS mg FROM dose INDEXED BY dose_prep "
            "WHERE prep = :prep AND container = :container "
            "AND state <> 'never happened'", prep=prep, container=container,
        )[0]["mg"]) for prep in preps
    )  # fmt: skip
