"""Labels: everything on the text label, what must be there on every stock, own pictograms, square code."""

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from store.errors import BadInput, OutOfRange, UnknownCode
from store.hazards.classification import classifications
from store.hazards.label import elements
from store.hazards.statements import EDITION, statement
from tui.paper import inner
from tui.paper.label import LabelData, label_html, label_text
from tui.paper.pictograms import NAMES, svg
from tui.paper.stock import page, size_of

CLASSES = [
    "Ox. Sol. 2 H272", "Carc. 1B H350", "Muta. 1B H340", "Repr. 1B H360FD", "Acute Tox. 2* H330",
    "Acute Tox. 3* H301", "Acute Tox. 4* H312", "STOT RE 1 H372", "Skin Corr. 1B H314", "Resp. Sens. 1 H334",
    "Skin Sens. 1 H317", "Aquatic Acute 1 H400", "Aquatic Chronic 1 H410",
]  # fmt: skip
SHOWN = elements(classifications(CLASSES))
FINAL = LabelData(
    kind="final",
    name="chromium(VI) standard, potassium dichromate",
    cas="7778-50-9",
    strength="1.0003 mg/g",
    uncertainty="0.0031 mg/g (k = 2)",
    solvent="water",
    amount="9.87 g",
    made="2026-03-05",
    expires="2026-09-05",
    expiry_rests_on="the site's limit of 6 months",
    storage="4 degC, dark",
    preparer="op-3",
    prep="P-7F3A-0012",
    vessel="V-17",
    entry=1432,
    digest="9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
    signal_word=SHOWN.signal_word,
    pictograms=SHOWN.pictograms,
    statements=tuple((code, statement(code).text) for code in SHOWN.statements),
    contains=("potassium dichromate",),
    waste_stream="heavy-metal waste",
    edition=EDITION,
)
PRE = replace(FINAL, kind="pre-label", strength="1.000 mg/g", uncertainty="", expires="")
SIZES = [(45.0, 18.0), (50.0, 25.0), (70.0, 37.0), (100.0, 60.0), (148.0, 105.0)]


def said(html: str) -> str:
    """The words of a page."""
    body = re.sub(r"<(svg|style|title)\b.*?</\1>", " ", html, flags=re.S)
    return " ".join(re.sub(r"<[^>]+>", " ", body).replace("&#x27;", "'").split())


def test_the_text_label_says_everything_in_76_columns() -> None:
    text = label_text(FINAL)
    assert max(map(len, text.splitlines())) == 76
    flat = " ".join(text.split())
    for part in (
        "7778-50-9", "1.0003 mg/g ± 0.0031 mg/g (k = 2)", "in water", "DANGER", "GHS06 skull and crossbones",
        "Contains: potassium dichromate", "9.87 g", "2026-03-05 by op-3",
        "2026-09-05 (the site's limit of 6 months)",
        "4 degC, dark", "heavy-metal waste", "P-7F3A-0012, entry 1432:9f86d081884c7d65", EDITION, "V-17",
    ):  # fmt: skip
        assert part in flat
    for code, wording in FINAL.statements:
        assert f"{code} {wording}" in flat


@pytest.mark.parametrize("width", [40, 60, 76, 120])
def test_a_text_label_fits_its_width_and_loses_no_word(width: int) -> None:
    text = label_text(FINAL, width)
    assert all(len(line) <= width for line in text.splitlines())
    assert "".join(text.split()).replace("-", "") == "".join(label_text(FINAL, 200).split()).replace("-", "")


def test_a_pre_label_is_never_taken_for_a_finished_solution() -> None:
    text = label_text(PRE)
    assert "NOT FOR USE" in text
    assert "not yet known" in text
    assert "expires" not in text
    for size in SIZES:
        assert "NOT FOR USE" in said(label_html(PRE, size))


def test_what_is_missing_is_said_and_never_left_blank() -> None:
    bare = replace(FINAL, cas="", uncertainty="", solvent="", amount="", storage="", waste_stream="")
    bare = replace(bare, expires="", expiry_rests_on="")
    text = label_text(bare)
    assert "uncertainty not stated" in text
    assert text.count("not stated") >= 8


def test_without_data_the_label_says_treat_as_the_worst_and_without_hazard_it_says_none_is_stated() -> None:
    unknown = replace(FINAL, signal_word=None, pictograms=(), statements=(), contains=(), no_data=True)
    assert "HAZARDS: NOT ALL HAZARDS ARE KNOWN, TREAT AS THE WORST" in label_text(unknown)
    assert "NOT ALL HAZARDS ARE KNOWN" in said(label_html(unknown, (45, 18)))
    plain = replace(unknown, no_data=False)
    assert "no signal word" in label_text(plain)
    assert "safe" not in label_text(plain).lower()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("data", [FINAL, PRE], ids=["final", "pre-label"])
def test_every_stock_carries_what_must_be_there(data: LabelData, size: tuple[float, float]) -> None:
    html = label_html(data, size)
    words = said(html)
    assert f"size: {size[0]:g}mm {size[1]:g}mm" in html
    for part in (
        "7778-50-9",
        "potassium dichromate",
        data.strength,
        "water",
        "DANGER",
        "P-7F3A-0012",
        "2026-03-05",
    ):
        assert part in words
    assert "2026-09-05" in words or data.kind == "pre-label"
    for code, _ in data.statements:
        assert code in words
    for pictogram in data.pictograms:
        assert f'aria-label="{pictogram} ' in html
    assert "overflow: hidden" not in html


def test_larger_stock_never_says_less() -> None:
    lengths = [len(said(label_html(FINAL, size))) for size in SIZES]
    assert lengths == sorted(lengths)
    assert "May cause cancer" in said(label_html(FINAL, SIZES[-1]))


@pytest.mark.parametrize("size", [(20.0, 10.0), (45.0, 9.0), (10.0, 100.0)])
def test_stock_too_small_is_refused_with_a_size_to_take(size: tuple[float, float]) -> None:
    with pytest.raises(OutOfRange, match="larger stock"):
        label_html(FINAL, size)


VIALS = [(38.0, 13.0), (37.0, 20.0), (40.0, 20.0), (30.0, 20.0), (38.0, 15.0)]
"""Stock for a vial of 2 mL, 12 mm across and 37.7 mm round (common practice)."""
VIAL = replace(FINAL, capacity_ml=2.0)


@pytest.mark.parametrize("size", VIALS)
@pytest.mark.parametrize("data", [VIAL, replace(PRE, capacity_ml=2.0)], ids=["final", "pre-label"])
def test_a_vial_of_two_millilitres_has_a_reduced_label_that_says_so(
    data: LabelData, size: tuple[float, float]
) -> None:
    """CLP Annex I, 1.5.2.4, from memory: identifier, and GHS06 and GHS08 before other pictograms."""
    made = page(data, size)
    printed = said(made.html.split('<p class="note">')[0])
    for part in ("potassium dichromate", "7778-50-9", data.strength, "in water", "DANGER", "P-7F3A-0012"):
        assert part in printed
    assert "Whole label: outer package" in printed
    assert ("NOT FOR USE" in printed) == (data.kind == "pre-label")
    assert re.findall(r'aria-label="(GHS\d+)', made.html) == ["GHS06", "GHS08"]
    assert made.points >= 4.5
    left = "; ".join(made.left)
    for gone in ("pictogram GHS03, GHS05, GHS09", "statements H272", "storage", "waste stream"):
        assert gone in left
    assert ("qrline" in made.html) != ("square code" in left)
    assert f"Left for the outer label: {left}" in said(made.html)
    assert ".note { display: none; }" in made.html


@pytest.mark.parametrize(("capacity_ml", "reduced"), [(10.0, True), (10.1, False), (None, False)])
def test_only_a_vessel_of_up_to_ten_millilitres_has_a_reduced_label(
    capacity_ml: float | None, reduced: bool
) -> None:
    data = replace(FINAL, capacity_ml=capacity_ml)
    if reduced:
        assert page(data, (38.0, 13.0)).left
        return
    with pytest.raises(OutOfRange, match="up to 10 mL"):
        page(data, (38.0, 13.0))


def test_a_vial_on_stock_that_carries_everything_has_the_whole_label() -> None:
    assert page(VIAL, (70.0, 37.0)).left == ()
    assert label_html(VIAL, (70.0, 37.0)) == label_html(FINAL, (70.0, 37.0))


@pytest.mark.parametrize(
    ("pictograms", "kept"),
    [
        (("GHS02", "GHS07"), ()),
        (("GHS05",), ("GHS05",)),
        (("GHS01", "GHS05", "GHS06"), ("GHS05", "GHS06")),
        (("GHS05", "GHS06", "GHS08"), ("GHS06", "GHS08")),
    ],
)
def test_on_a_reduced_label_the_graver_pictograms_stay(
    pictograms: tuple[str, ...], kept: tuple[str, ...]
) -> None:
    """CLP Annex I, 1.5.2.4.2, from memory."""
    assert inner.symbols(replace(VIAL, pictograms=pictograms)) == kept


def test_letters_that_are_hard_to_read_are_told() -> None:
    assert page(FINAL, (45.0, 18.0)).small
    assert not page(FINAL, (100.0, 60.0)).small


def test_the_square_code_carries_record_number_and_anchor() -> None:
    import segno

    assert FINAL.code == "P-7F3A-0012, 1432:9f86d081884c7d65"
    drawn = re.search(r'class="qrline"[^>]* d="([^"]+)"|d="([^"]+)" class="qrline"', label_html(FINAL))
    assert drawn is not None
    expected = segno.make(FINAL.code, error="m", micro=False).svg_inline(omitsize=True, border=1)
    assert (drawn[1] or drawn[2]) in expected


def test_outside_text_is_shown_as_it_is() -> None:
    html = label_html(replace(FINAL, name='<b>A[/x]</b> & "B"', contains=("<i>",)), (100, 60))
    assert "&lt;b&gt;A[/x]&lt;/b&gt; &amp;" in html
    assert "<b>A" not in html
    assert "<i>" not in html


@pytest.mark.parametrize("code", NAMES)
def test_every_pictogram_is_a_red_edged_square_on_its_point_with_a_symbol(code: str) -> None:
    """UN GHS 1.4.10.4.1, from memory."""
    drawn = ElementTree.fromstring(svg(code, size_mm=12))
    space = "{http://www.w3.org/2000/svg}"
    assert drawn.attrib["width"] == "12mm"
    (frame,) = drawn.findall(f"{space}polygon")
    assert frame.attrib["stroke"] == "#d00"
    assert frame.attrib["points"].split() == ["50,3", "97,50", "50,97", "3,50"]
    assert drawn.find(f"{space}title") is not None
    assert len(list(drawn.iter())) >= 4


def test_no_two_pictograms_are_alike_and_another_code_is_refused() -> None:
    assert len({re.sub(r"GHS0\d [a-z ]+", "", svg(code)) for code in NAMES}) == 9
    with pytest.raises(UnknownCode, match="GHS01"):
        svg("GHS10")


@pytest.mark.parametrize(("typed", "size"), [("70x37mm", (70.0, 37.0)), ("45,5 X 18 mm", (45.5, 18.0))])
def test_a_size_of_stock_is_read(typed: str, size: tuple[float, float]) -> None:
    assert size_of(typed) == size


@pytest.mark.parametrize("typed", ["70x37", "70mm", "70x37cm", "ax2mm", "-1x3mm", ""])
def test_a_size_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="70x37mm"):
        size_of(typed)
