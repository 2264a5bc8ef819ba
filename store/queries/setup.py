"""What a record still needs before its first prep, in words."""

from dataclasses import dataclass

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
    return Need(register, what, there, what if not found else f"a {word} for the other of the two")


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
