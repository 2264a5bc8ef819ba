"""What a record still needs before its first prep, in words."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from store.model.registers import Person
from store.model.words import Role
from store.queries import registers
from store.record.record import Record


@dataclass(frozen=True, slots=True)
class Need:
    """One thing that a first prep needs."""

    register: str
    """Where it is entered."""
    what: str
    """In words."""
    there: tuple[str, ...] = ()
    """Ids that are there."""
    missing: str = ""
    """What is still missing of it, in words; empty when it is there."""
    id: str = ""
    """The row that lacks something, where it is one."""
    needed: bool = True
    """Whether a prep cannot begin without it."""
    given: Mapping[str, str] = field(default_factory=dict)
    """What stands in a new row of it already."""


def needs(record: Record) -> tuple[Need, ...]:
    """Give everything that a first prep needs, in the order in which it is entered."""
    return (
        _simple(record, "enclosure", "an isolator, glovebox or cabinet"),
        _balance(record),
        _two(record, "substance", "the substance to weigh, and its solvent", "substance"),
        _two(record, "lot", "a lot of each", "lot"),
        _two(record, "container", "a container of each", "container"),
        _simple(record, "vessel", "a vessel to weigh into"),
        _operator(record),
        _simple(record, "rule", "a local rule, shown with the cautions", needed=False),
        _simple(record, "glove", "the gloves worn, for their clock", needed=False),
        _second(record),
    )


def missing(record: Record) -> tuple[Need, ...]:
    """Give what a first prep cannot begin without, and is not there."""
    return tuple(n for n in needs(record) if n.missing and n.needed)


def _simple(record: Record, register: str, what: str, *, needed: bool = True) -> Need:
    there = tuple(r.id for r in registers.rows(record, register))
    return Need(register, what, there, "" if there else what, needed=needed)


def _balance(record: Record) -> Need:
    what, rows = "a balance, with its check weight", registers.rows(record, "balance")
    there = tuple(r.id for r in rows)
    if not rows:
        return Need("balance", what, missing=what)
    if not any(r.row.get("check_mass") for r in rows):
        return Need("balance", what, there, f"a check weight for balance {there[0]}", id=there[0])
    return Need("balance", what, there)


def _two(record: Record, register: str, what: str, word: str) -> Need:
    """A prep takes two substances: rows of one alone are half of what is needed."""
    there = tuple(r.id for r in registers.rows(record, register))
    many = {
        "substance": "SELECT count(*) AS n FROM substance WHERE NOT retired",
        "lot": "SELECT count(DISTINCT substance) AS n FROM lot WHERE NOT retired",
        "container": """
            SELECT count(DISTINCT l.substance) AS n FROM container AS c JOIN lot AS l ON l.id = c.lot
            WHERE NOT c.retired AND NOT l.retired
        """,
    }[register]
    found = int(record.query(many)[0]["n"])
    if found >= 2:
        return Need(register, what, there)
    if not found:
        return Need(register, what, there, what)
    lacking = _without(record, register)
    of = f" of {' or '.join(lacking[:2])}" if lacking else " for the other of the two"
    return Need(register, what, there, f"a {word}{of}" if register != "substance" else "the other of the two")


def _without(record: Record, register: str) -> tuple[str, ...]:
    """Give the substances that have no row of the register yet."""
    below = "SELECT substance FROM lot WHERE NOT retired"
    if register == "container":
        below = """
            SELECT l.substance FROM container AS c JOIN lot AS l ON l.id = c.lot
            WHERE NOT c.retired AND NOT l.retired
        """
    found = record.query(f"SELECT id FROM substance WHERE NOT retired AND id NOT IN ({below}) ORDER BY entry")
    return tuple(str(row["id"]) for row in found)


def _second(record: Record) -> Need:
    """Who reviews what was made, and lets through what is refused, is another than who made it."""
    what = "a reviewer, who releases what is made"
    people = [Person.from_body(r.row) for r in registers.rows(record, "person")]
    there = tuple(p.id for p in people if Role.REVIEWER in p.roles)
    if not there:
        return Need("person", what, missing=what, needed=False, given={"roles": Role.REVIEWER})
    if not any(record.credential(id) for id in there):
        return Need("person", what, there, f"a PIN for {there[0]}", id=there[0], needed=False)
    return Need("person", what, there)


def _operator(record: Record) -> Need:
    what = "an operator, trained, with a PIN"
    people = [Person.from_body(r.row) for r in registers.rows(record, "person")]
    operators = [p for p in people if Role.OPERATOR in p.roles]
    there = tuple(p.id for p in operators)
    if not operators:
        return Need("person", what, missing=what)
    trained = [p for p in operators if p.trained_for or p.training]
    if not trained:
        return Need("person", what, there, f"what {there[0]} is trained for", id=there[0])
    if not any(record.credential(p.id) for p in trained):
        return Need("person", what, there, f"a PIN for {trained[0].id}", id=trained[0].id)
    return Need("person", what, there)
