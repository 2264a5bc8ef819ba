"""A classification: hazard class, category and statement, such as `Carc. 1B H350`."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

from store.errors import BadInput
from store.hazards.statements import EDITION, ClassEntry, Statement, edition_named, statement, statements

_CODE = re.compile(r"(?:EUH\d{3}[A-Z]?|H\d{3}[A-Za-z]{0,2})(?:\s*\+\s*H\d{3})*(?![0-9A-Za-z])", re.IGNORECASE)
_M_FACTOR = re.compile(r"\(?\s*(?:acute|chronic)?\s*\bM(?:-factor)?\s*[=:]?\s*(\d+)\s*\)?", re.IGNORECASE)
_STARS = re.compile(r"\*+")
_ROUTES = {"oral": "H30", "dermal": "H31", "inhalation": "H33", "inh": "H33"}


@dataclass(frozen=True)
class Classification:
    """Class, category and statement of one edition; built by `classification`."""

    class_code: str
    """As in CLP Annex VI, such as `Carc. 1B`; empty for EUH statements without a class."""
    code: str
    edition: str = EDITION
    minimum: bool = False
    """Marked * in Annex VI: a minimum classification, the data may call for more."""
    m_factor: int | None = None
    detail: str = ""
    """Organs or route, as written."""

    @cached_property
    def statement(self) -> Statement:
        """The statement with its wording."""
        return statement(self.code, self.edition)

    @cached_property
    def entries(self) -> tuple[ClassEntry, ...]:
        """The class entry; all of the statement where the two do not fit, so that none is lost."""
        fitting = tuple(entry for entry in self.statement.classes if entry.code == self.class_code)
        return fitting or self.statement.classes

    @property
    def fits(self) -> bool:
        """Whether the statement belongs to the class."""
        return not self.statement.classes or any(e.code == self.class_code for e in self.statement.classes)

    @property
    def codes(self) -> tuple[str, ...]:
        """Single codes; a combined statement counts through each part."""
        return self.statement.codes

    @property
    def category(self) -> str:
        """Category such as `1B`; empty where the class has none."""
        return next((entry.category for entry in self.entries if entry.code == self.class_code), "")

    @property
    def stem(self) -> str:
        """Class without category, such as `Carc.`."""
        own = next((entry.stem for entry in self.entries if entry.code == self.class_code), "")
        return own or re.sub(r"\s+\d[A-C.\d]*$", "", self.class_code)

    def __str__(self) -> str:
        """As it is written in a register: class, category, statement, then what else was given."""
        star = "*" if self.minimum else ""
        text = f"{self.class_code}{star} {self.code}".strip()
        text += f" ({self.detail})" if self.detail else ""
        return text + (f" M={self.m_factor}" if self.m_factor else "")


def classification(text: str, edition: str = EDITION) -> Classification:
    """Read one classification, such as `Carc. 1B H350`, `Acute Tox. 2* H330` or `Aquatic Acute 1 H400 M=10`.

    A bare statement is completed where only one class and category can carry it; where several can, it is
    refused with the choice, since H350 alone does not tell category 1A from 1B.

    Raises
    ------
    BadInput
        No statement in it, no class where one is needed, or a class that there is not.
    UnknownCode
        The edition has no such statement.

    Examples
    --------
    >>> str(classification("carc 1b h350"))
    'Carc. 1B H350'
    >>> classification("Skin Corr. 1B H314").entries[0].pictograms
    ('GHS05',)
    """
    edition = edition_named(edition)
    found = _CODE.findall(text)
    if len(found) != 1:
        raise BadInput(
            f"{text!r} has {len(found) or 'no'} statements: write one class, category and statement, "
            "such as Carc. 1B H350."
        )
    stated = statement(found[0], edition)
    rest = text.replace(found[0], " ")
    m_factor = None
    if factor := _M_FACTOR.search(rest):
        m_factor, rest = int(factor[1]), rest.replace(factor[0], " ")
    details = re.findall(r"\(([^()]*)\)", rest)
    named, detail = _class_and_detail(rest, details)
    minimum = bool(_STARS.search(named))
    named = _STARS.sub("", named).strip(" ,;:")
    class_code = _class_code(text, named, stated, edition)
    return Classification(class_code, stated.code, edition, minimum, m_factor, detail)


def classifications(texts: Iterable[str], edition: str = EDITION) -> tuple[Classification, ...]:
    """Read a list of classifications.

    Raises
    ------
    BadInput, UnknownCode
        As `classification`.
    """
    return tuple(classification(text, edition) for text in texts)


def check_set(of: Sequence[Classification]) -> tuple[str, ...]:
    """Point out what does not fit together, each in one sentence; an empty result means nothing was found."""
    return (*_misfits(of), *_pairs(of), *_doubles(of), *_missing(of))


def _class_and_detail(rest: str, details: Sequence[str]) -> tuple[str, str]:
    """A bracket belongs to the class in `Press. Gas (Comp.)`; else it is a detail."""
    if re.match(r"\s*press", rest, re.IGNORECASE):
        return rest, ""
    return re.sub(r"\([^()]*\)", " ", rest), "; ".join(d.strip() for d in details if d.strip())


def _squeeze(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", text.casefold()).strip()


@cache
def _class_codes(edition: str) -> Mapping[str, str]:
    return {_squeeze(e.code): e.code for s in statements(edition).values() for e in s.classes}


def _class_code(text: str, named: str, stated: Statement, edition: str) -> str:
    choice = tuple(dict.fromkeys(entry.code for entry in stated.classes))
    if not named:
        if len(choice) > 1:
            ways = " or ".join(f"{one} {stated.code}" for one in choice)
            raise BadInput(f"{text!r} does not tell the category: write {ways}.")
        return choice[0] if choice else ""
    if (code := _class_codes(edition).get(_squeeze(named))) is not None:
        return code
    fitting = f"{stated.code} goes with {', '.join(choice)}" if choice else f"{stated.code} stands alone"
    raise BadInput(f"{named!r} is no class and category of {edition}: {fitting}.")


def _misfits(of: Sequence[Classification]) -> list[str]:
    out = []
    for one in of:
        if not one.fits:
            choice = ", ".join(dict.fromkeys(e.code for e in one.statement.classes))
            out.append(f"{one.class_code} does not go with {one.code}: {one.code} belongs to {choice}.")
        if one.statement.deleted:
            out.append(f"{one.code} is no longer in force: {one.statement.deleted}.")
        wrong = [r for r, stem in _ROUTES.items() if one.detail.casefold() == r and one.stem == "Acute Tox."]
        if wrong and not any(code.startswith(_ROUTES[wrong[0]]) for code in one.codes):
            out.append(f"{one.code} is not the statement for the route {one.detail}.")
    return out


_NOT_BESIDE = (
    ("H314", "H315", "H314 is the burn itself; the irritation H315 does not stand beside it."),
    ("H314", "H319", "H314 holds eye damage; the eye irritation H319 does not stand beside it."),
    ("H318", "H319", "H318 is the damage itself; the irritation H319 does not stand beside it."),
    ("EUH031", "EUH032", "EUH031 and EUH032 are two degrees of one gas release: one of them is wrong."),
    ("H350", "H350i", "H350i is H350 for breathing only: one of them is wrong."),
)
_DEGREES = (
    ("H350", "H350i", "H351"), ("H340", "H341"),
    ("H360", "H360F", "H360D", "H360FD", "H360Fd", "H360Df", "H361", "H361f", "H361d", "H361fd"),
    ("H300", "H301", "H302"), ("H310", "H311", "H312"), ("H330", "H331", "H332"),
    ("H224", "H225", "H226"), ("H270", "H271", "H272"), ("H410", "H411", "H412", "H413"),
    ("H240", "H241", "H242"), ("H260", "H261"), ("H251", "H252"), ("H206", "H207", "H208"),
    ("H200", "H201", "H202", "H203", "H204", "H205"),
)  # fmt: skip
_NEEDS = (("H230", "H220"), ("H231", "H220"), ("H232", "H220"), ("H222", "H229"), ("H223", "H229"))


def _pairs(of: Sequence[Classification]) -> list[str]:
    codes = {code for one in of for code in one.codes}
    out = [why for a, b, why in _NOT_BESIDE if a in codes and b in codes]
    for degrees in _DEGREES:
        held = [code for code in degrees if code in codes]
        if len(held) > 1 and held != ["H350", "H350i"]:
            out.append(
                f"{' and '.join(held)} are degrees of one hazard: one statement is enough, check which."
            )
    organs = {
        code: {o.detail.casefold() for o in of if code in o.codes}
        for code in ("H370", "H371", "H372", "H373")
    }
    for severe, mild in (("H370", "H371"), ("H372", "H373")):
        if organs[severe] & organs[mild]:
            out.append(f"{severe} and {mild} for the same organs: one of them is wrong, or name the organs.")
    return out


def _doubles(of: Sequence[Classification]) -> list[str]:
    out, seen = [], set()
    for one in of:
        for code in one.codes:
            key = (code, one.detail.casefold())
            if key in seen:
                out.append(f"{code} stands twice.")
            seen.add(key)
    categories: dict[tuple[str, str], set[str]] = {}
    for one in of:
        for code in one.codes:
            categories.setdefault((one.stem, code), set()).add(one.class_code)
    for (_, code), found in categories.items():
        if len(found) > 1:
            out.append(f"{code} with {' and '.join(sorted(found))}: one category is wrong.")
    return list(dict.fromkeys(out))


def _missing(of: Sequence[Classification]) -> list[str]:
    codes = {code for one in of for code in one.codes}
    return [f"{a} is given beside {b}, which is missing." for a, b in _NEEDS if a in codes and b not in codes]
