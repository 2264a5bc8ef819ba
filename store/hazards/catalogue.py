"""Statements and classifications in one place: what the rest of the program asks for by name."""

from store.hazards.classification import Classification, check_set, classification, classifications
from store.hazards.statements import (
    EDITION,
    ClassEntry,
    Precaution,
    Statement,
    edition_named,
    editions,
    precaution,
    precautions,
    statement,
    statements,
    text_of,
)

__all__ = [
    "EDITION",
    "ClassEntry",
    "Classification",
    "Precaution",
    "Statement",
    "check_set",
    "classification",
    "classifications",
    "edition_named",
    "editions",
    "precaution",
    "precautions",
    "statement",
    "statements",
    "text_of",
]
