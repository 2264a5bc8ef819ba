"""The tables that find words: whole words anywhere in the record, and any text in the list of preps."""

SEARCH = "search"
"""What is searched, by words and their beginnings."""

PREP_TEXT = "prep_text"
"""One text a prep, at the entry that planned it, found by any three letters in a row."""

PREP_LETTERS = "prep_letters"
"""The three letters in a row that these texts have, in order."""

TEXT = " || ' ' || ".join(
    (
        *("prep", "target", "amount", "substance", "solvent", "lot", "container", "vessel"),
        *("planned_by", "made_lot", "label", "' '"),
    )
)
"""The SQL that gives this text from the row of a prep; two blanks at its end, so that one letter or two are
the beginning of three wherever they stand."""

# The kind is among what is looked up, or a word of every lot would be read where lots are not wanted. All
# that begins with one, two or four signs is kept together: `1` begins words of nearly every row, and the name
# of a terminal, four signs, stands in every number.
FINDABLE: tuple[str, ...] = (
    f"""CREATE VIRTUAL TABLE {SEARCH} USING fts5(
    kind, id, words, tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 4'
)""",
    f"CREATE VIRTUAL TABLE {PREP_TEXT} USING fts5(text, tokenize = 'trigram', detail = none, columnsize = 0)",
    f"CREATE VIRTUAL TABLE {PREP_LETTERS} USING fts5vocab({PREP_TEXT}, instance)",
)

FOUND: dict[str, tuple[str, ...]] = {SEARCH: ("rowid", "kind", "id", "words"), PREP_TEXT: ("rowid", "text")}
"""Their columns."""


def _behind(table: str) -> dict[str, str]:
    contents = ", ".join(f"c{n}" for n in range(len(FOUND[table]) - 1))
    return {
        f"{table}_data": f"CREATE TABLE '{table}_data'(id INTEGER PRIMARY KEY, block BLOB)",
        f"{table}_idx": (
            f"CREATE TABLE '{table}_idx'(segid, term, pgno, PRIMARY KEY(segid, term)) WITHOUT ROWID"
        ),
        f"{table}_content": f"CREATE TABLE '{table}_content'(id INTEGER PRIMARY KEY, {contents})",
        f"{table}_config": f"CREATE TABLE '{table}_config'(k PRIMARY KEY, v) WITHOUT ROWID",
    }


BEHIND: dict[str, str] = {
    **_behind(SEARCH),
    f"{SEARCH}_docsize": f"CREATE TABLE '{SEARCH}_docsize'(id INTEGER PRIMARY KEY, sz BLOB)",
    **_behind(PREP_TEXT),
}
"""What SQLite lays out behind these tables, word for word; it goes when they go."""
