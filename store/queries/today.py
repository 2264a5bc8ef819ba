"""What a person has had open today."""

from store.record.record import Record


def open_s(record: Record, person: str) -> float:
    """Give the seconds that this person had something open today.

    What is still open is not in it, nor is a rehearsal.
    """
    found = record.query(
        """
        SELECT COALESCE(SUM(h.open_s), 0.0) AS open_s
        FROM handling_person p JOIN handling h ON h.entry = p.handling LEFT JOIN prep r ON r.prep = h.prep
        WHERE p.person = :person AND p.day = :day AND h.state <> 'never happened'
            AND NOT coalesce(r.rehearsal, 0)
        """,
        person=person,
        day=record.now().date().isoformat(),
    )
    return float(found[0]["open_s"])


def open_s_of(
    record: Record, person: str, *, substances: tuple[str, ...] = (), families: tuple[str, ...] = ()
) -> float:
    """Give the seconds that this person had one of these substances or families open today; empty for all."""
    import json

    found = record.query(
        """
        SELECT coalesce(sum(open_s), 0.0) AS open_s FROM (
            SELECT DISTINCT s.handling, s.open_s FROM handling_substance AS s
            WHERE s.person = :person AND s.day = :day AND s.counts
                AND (:substances = '[]' OR s.substance IN (SELECT value FROM json_each(:substances)))
                AND (:families = '[]' OR s.handling IN (
                    SELECT f.handling FROM handling_family AS f WHERE f.person = :person AND f.day = :day
                        AND f.family IN (SELECT value FROM json_each(:families))))
        )
        """,
        person=person,
        day=record.now().date().isoformat(),
        substances=json.dumps(substances),
        families=json.dumps(families),
    )
    return float(found[0]["open_s"])
