"""What a person has had open today."""

from store.record.record import Record


def open_s(record: Record, person: str) -> float:
    """Give the seconds that this person had something open today; what is still open is not in it."""
    found = record.query(
        """
        SELECT COALESCE(SUM(h.open_s), 0.0) AS open_s
        FROM handling_person p JOIN handling h ON h.entry = p.handling
        WHERE p.person = :person AND p.day = :day AND h.state <> 'never happened'
        """,
        person=person,
        day=record.now().date().isoformat(),
    )
    return float(found[0]["open_s"])
