"""Views for whoever asks with SQL of their own: joined, named, one row a thing; nothing here is stored.

Each register is a view as well, under its own name. They are for reading: the journal refuses other writers.
"""

from collections.abc import Mapping

VIEWS: Mapping[str, tuple[str, str]] = {
    "handling_list": (
        "each handling once for everybody present; sums over `counts` rows only, or what never happened and "
        "rehearsals are in them",
        """
    SELECT h.entry, hp.person, hp.person = h.person AS did_it, h.day, h.at, h.what, h.step_name, h.prep,
        h.substances,
        (SELECT json_group_array(f.family) FROM handling_family AS f
         WHERE f.person = h.person AND f.day = h.day AND f.handling = h.entry) AS families,
        h.container, h.lot, h.net_mg, h.open_s, h.estimated, h.enclosure, h.gloves, h.unusual, h.note,
        h.state, h.state <> 'never happened'
            AND NOT coalesce((SELECT rehearsal FROM prep AS p WHERE p.prep = h.prep), 0) AS counts
    FROM handling AS h JOIN handling_person AS hp ON hp.handling = h.entry""",
    ),
    "dose_list": (
        "each dose with the reading as shown, and the hazards as they were classified then",
        """
    SELECT d.entry, d.prep, d.part, d.day, d.at, d.person, d.content, d.substance, s.name AS substance_name,
        s.cas, d.lot, d.container, d.vessel, d.balance, d.enclosure, d.shown, d.net_mg, d.usable, d.state,
        coalesce(z.signal_word, '') AS signal_word, coalesce(z.statements, '[]') AS statements,
        coalesce(z.families, '[]') AS families, coalesce(z.edition, '') AS edition, p.rehearsal
    FROM dose AS d JOIN prep AS p ON p.prep = d.prep
    LEFT JOIN hazard_snapshot AS z ON z.id = d.snapshot
    LEFT JOIN substance AS s ON s.id = d.substance""",
    ),
    "result_list": (
        "each lot that a prep made, with the lot it was made of: target, value with standard uncertainty, "
        "verdict; `stale` says why it rests on something withdrawn",
        """
    SELECT m.prep, m.part, p.closed_day, p.kind, p.substance, s.name AS substance_name, s.cas,
        iif(m.part = '', p.lot, coalesce((
            SELECT max(d.lot) FROM dose AS d WHERE d.prep = m.prep AND d.part = m.part
            AND d.content <> 'solvent' AND d.state = 'stands'), '')) AS lot,
        p.solvent, p.solvent_lot, m.target, m.value, m.unit, m.u, m.k, m.deviation, p.complete,
        m.lot AS made_lot, m.container, m.expiry, p.balance, p.enclosure, p.planned_by, p.status,
        p.verdict, p.reviewed_by, p.stale
    FROM made AS m JOIN prep AS p ON p.prep = m.prep LEFT JOIN substance AS s ON s.id = p.substance
    WHERE NOT p.rehearsal""",
    ),
    "entry_list": (
        "the journal with the fields of a line as columns; `body` is JSON, each kind with its own fields",
        """
    SELECT entry, at, line ->> '$.offset' AS utc_offset, terminal, person, kind, subject,
        line ->> '$.v' AS body_version, line -> '$.body' AS body, digest
    FROM journal""",
    ),
}
"""Name -> what a row is, and its question."""


def statements() -> tuple[str, ...]:
    """Give what makes the views."""
    return tuple(f"CREATE VIEW {name} AS {sql.strip()}" for name, (_, sql) in VIEWS.items())
