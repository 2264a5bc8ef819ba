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
