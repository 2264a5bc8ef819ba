"""What makes a hazard family as classified then the one of now, where its sums tell."""

import json

from store.queries.asked import LISTED, Asked
from store.queries.rolled import SNAPSHOTS
from store.record.record import Record

_OTHERWISE = f"""
    SELECT substance, snapshot, snapshot IN ({SNAPSHOTS}) AS was, substance IN ({LISTED}) AS is_now
    FROM (SELECT DISTINCT substance, snapshot FROM yearly_substance WHERE person = '')
    WHERE was <> is_now
"""
_WITH_OTHERS = f"""
    SELECT 1 FROM together AS t
    WHERE EXISTS (SELECT 1 FROM json_each(t.substances) AS s JOIN json_each(:new) AS n ON n.value = s.value)
    AND (SELECT count(*) FROM json_each(t.substances) AS s WHERE s.value IN ({LISTED})) > 1 LIMIT 1
"""


def added(record: Record, which: Asked) -> str | None:
    """Give the substances, each with a snapshot, that are in the family now and were not then, as JSON.

    The sums of the family as classified then and theirs together are those of the family as classified now.
    None where they are not: something left the family, or what came to it was open with others of it.
    """
    if not which.now or which.named:
        return None
    substances = json.dumps(which.substances)
    found = record.query(_OTHERWISE, family=which.now, substances=substances)
    if any(r["was"] for r in found):
        return None
    new = sorted({r["substance"] for r in found})
    if new and record.query(_WITH_OTHERS, new=json.dumps(new), substances=substances):
        return None
    return json.dumps([[r["substance"], r["snapshot"]] for r in found])
