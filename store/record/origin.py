"""What is in a container, as the record knew it when the entry was written."""

import sqlite3

from store.procedure.state import PrepState


def origin(conn: sqlite3.Connection, state: PrepState, container: str) -> tuple[str, str]:
    """Give lot and substance of a container: as the plan has it, else as the registers have it."""
    for named, of in (("container", "lot"), ("solvent_container", "solvent_lot")):
        lot = state.basis.get(of)
        if lot and getattr(state.plan, named) == container:
            return str(lot.get("id", "")), str(lot.get("substance", ""))
        for rows in state.basis.get("parts", {}).values():
            lot = rows.get(of, {})
            if lot and rows.get(named, {}).get("id") == container:
                return str(lot.get("id", "")), str(lot.get("substance", ""))
    if not container:
        return "", ""
    found = conn.execute(
        """
        SELECT lot.id, coalesce(lot.row ->> '$.substance', '')
        FROM register_row AS container
        JOIN register_row AS lot ON lot.register = 'lot' AND lot.id = container.row ->> '$.lot'
        WHERE container.register = 'container' AND container.id = ?
        """,
        (container,),
    ).fetchone()
    return (str(found[0]), str(found[1])) if found is not None else ("", "")
