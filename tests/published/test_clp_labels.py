"""Label elements by the rules of precedence.

Sources: CLP, Regulation (EC) No 1272/2008, Art. 20(3), 26, 27; UN GHS 1.4.10.5.3. None was read in the
original for these checks: the rules are as reference tables give them, with numbers. The classifications
of the substances and the pictograms printed for them in CLP Annex VI Table 3 are from memory.
"""

import pytest

from store.hazards.classification import check_set, classifications
from store.hazards.label import combined, elements

SUBSTANCES = {
    "potassium dichromate": (
        "Ox. Sol. 2 H272; Carc. 1B H350; Muta. 1B H340; Repr. 1B H360FD; Acute Tox. 2* H330; "
        "Acute Tox. 3* H301; "
        "Acute Tox. 4* H312; STOT RE 1 H372; Skin Corr. 1B H314; Resp. Sens. 1 H334; Skin Sens. 1 H317; "
        "Aquatic Acute 1 H400; Aquatic Chronic 1 H410",
        "Danger", "GHS03 GHS05 GHS06 GHS08 GHS09", "GHS07 H400",
    ),
    "sodium azide": (
        "Acute Tox. 2* H300; Aquatic Acute 1 H400; Aquatic Chronic 1 H410; EUH032",
        "Danger", "GHS06 GHS09", "H400",
    ),
    "colchicine": ("Muta. 1B H340; Acute Tox. 2 H300", "Danger", "GHS06 GHS08", ""),
    "acrylamide": (
        "Carc. 1B H350; Muta. 1B H340; Repr. 2 H361f; Acute Tox. 3* H301; Acute Tox. 4* H312; "
        "Acute Tox. 4* H332; "
        "STOT RE 1 H372; Skin Irrit. 2 H315; Eye Irrit. 2 H319; Skin Sens. 1 H317",
        "Danger", "GHS06 GHS08", "GHS07",
    ),
    "methotrexate, self-classified": (
        "Acute Tox. 3 H301; Skin Irrit. 2 H315; Eye Irrit. 2 H319; Muta. 1B H340; Repr. 1A H360FD",
        "Danger", "GHS06 GHS08", "GHS07",
    ),
    "cadmium chloride": (
        "Carc. 1B H350; Muta. 1B H340; Repr. 1B H360FD; Acute Tox. 2* H330; Acute Tox. 3* H301; "
        "STOT RE 1 H372; "
        "Aquatic Acute 1 H400; Aquatic Chronic 1 H410",
        "Danger", "GHS06 GHS08 GHS09", "H400",
    ),
    "mercury(II) chloride": (
        "Muta. 2 H341; Repr. 2 H361f; Acute Tox. 2* H300; STOT RE 1 H372; Skin Corr. 1B H314; "
        "Aquatic Acute 1 H400; "
        "Aquatic Chronic 1 H410",
        "Danger", "GHS05 GHS06 GHS08 GHS09", "H400",
    ),
    "aflatoxin B1, self-classified": (
        "Acute Tox. 2 H300; Acute Tox. 1 H310; Acute Tox. 2 H330; Carc. 1A H350", "Danger", "GHS06 GHS08", "",
    ),
    "benzo[a]pyrene": (
        "Carc. 1B H350; Muta. 1B H340; Repr. 1B H360FD; Skin Sens. 1 H317; Aquatic Acute 1 H400; "
        "Aquatic Chronic 1 H410",
        "Danger", "GHS07 GHS08 GHS09", "H400",
    ),
    "phenol": (
        "Muta. 2 H341; Acute Tox. 3* H301; Acute Tox. 3* H311; Acute Tox. 3* H331; STOT RE 2* H373; "
        "Skin Corr. 1B H314",
        "Danger", "GHS05 GHS06 GHS08", "",
    ),
    "hydrazine sulfate": (
        "Carc. 1B H350; Acute Tox. 3* H301; Acute Tox. 3* H311; Acute Tox. 3* H331; Skin Sens. 1 H317; "
        "Aquatic Acute 1 H400; Aquatic Chronic 1 H410",
        "Danger", "GHS06 GHS08 GHS09", "GHS07 H400",
    ),
    "sodium cyanide": (
        "Acute Tox. 2* H300; Acute Tox. 1 H310; Acute Tox. 2* H330; Aquatic Acute 1 H400; "
        "Aquatic Chronic 1 H410; "
        "EUH032",
        "Danger", "GHS06 GHS09", "H400",
    ),
    "warfarin": (
        "Repr. 1A H360D; Acute Tox. 1 H330; Acute Tox. 1 H310; Acute Tox. 2 H300; STOT RE 1 H372 (blood); "
        "Aquatic Chronic 3 H412",
        "Danger", "GHS06 GHS08", "",
    ),
    "nicotine": (
        "Acute Tox. 2 H300; Acute Tox. 2 H310; Acute Tox. 2 H330; Aquatic Chronic 2 H411",
        "Danger", "GHS06 GHS09", "",
    ),
    "thiourea": (
        "Carc. 2 H351; Repr. 2 H361d; Acute Tox. 4* H302; Aquatic Chronic 2 H411",
        "Warning", "GHS07 GHS08 GHS09", "",
    ),
    "methanol": (
        "Flam. Liq. 2 H225; Acute Tox. 3* H301; Acute Tox. 3* H311; Acute Tox. 3* H331; STOT SE 1 H370",
        "Danger", "GHS02 GHS06 GHS08", "",
    ),
    "acetonitrile": (
        "Flam. Liq. 2 H225; Acute Tox. 4* H302; Acute Tox. 4* H312; Acute Tox. 4* H332; Eye Irrit. 2 H319",
        "Danger", "GHS02 GHS07", "",
    ),
    "toluene": (
        "Flam. Liq. 2 H225; Repr. 2 H361d; Asp. Tox. 1 H304; STOT RE 2* H373; "
        "Skin Irrit. 2 H315; STOT SE 3 H336",
        "Danger", "GHS02 GHS07 GHS08", "",
    ),
    "dichloromethane": ("Carc. 2 H351", "Warning", "GHS08", ""),
    "nitric acid 65 %": (
        "Ox. Liq. 3 H272; Acute Tox. 3 H331; Skin Corr. 1A H314; EUH071", "Danger", "GHS03 GHS05 GHS06", "",
    ),
    "N,N-dimethylformamide": (
        "Repr. 1B H360D; Acute Tox. 4* H312; Acute Tox. 4* H332; "
        "Eye Irrit. 2 H319", "Danger", "GHS07 GHS08", "",
    ),
    "chloroform": (
        "Carc. 2 H351; Repr. 2 H361d; Acute Tox. 3 H331; Acute Tox. 4 H302; STOT RE 1 H372; "
        "Skin Irrit. 2 H315; "
        "Eye Irrit. 2 H319",
        "Danger", "GHS06 GHS08", "GHS07",
    ),
    "diethyl ether": (
        "Flam. Liq. 1 H224; Acute Tox. 4* H302; STOT SE 3 H336; EUH019; EUH066", "Danger", "GHS02 GHS07", "",
    ),
    "glutaraldehyde": (
        "Acute Tox. 2 H330; Acute Tox. 3 H301; Skin Corr. 1B H314; Resp. Sens. 1 H334; Skin Sens. 1A H317; "
        "STOT SE 3 H335; Aquatic Acute 1 H400; Aquatic Chronic 2 H411; EUH071",
        "Danger", "GHS05 GHS06 GHS08 GHS09", "GHS07",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SUBSTANCES)
def test_a_substance_of_annex_vi_gets_its_label(name: str) -> None:
    texts, signal, pictograms, omitted = SUBSTANCES[name]
    read = classifications(texts.split("; "))
    shown = elements(read)
    assert shown.signal_word == signal
    assert set(shown.pictograms) == set(pictograms.split())
    assert {one.code for one in shown.omitted} == set(omitted.split())
    assert all(one.why for one in shown.omitted)
    assert check_set(read) == ()


def pictograms_of(*texts: str) -> set[str]:
    return set(elements(classifications(texts)).pictograms)


GHS07_STANDS = [
    ("narcotic beside corrosive", "Skin Corr. 1B H314", "STOT SE 3 H336"),
    ("skin allergy beside eye damage", "Eye Dam. 1 H318", "Skin Sens. 1 H317"),
    ("harmful beside corrosive", "Skin Corr. 1B H314", "Acute Tox. 4 H302"),
    ("airway irritation beside breathing allergy", "Resp. Sens. 1 H334", "STOT SE 3 H335"),
    ("harmful beside breathing allergy", "Resp. Sens. 1 H334", "Acute Tox. 4 H302"),
    ("skin allergy beside a carcinogen", "Carc. 1B H350", "Skin Sens. 1 H317"),
    ("irritation beside organ damage", "STOT RE 1 H372", "Skin Irrit. 2 H315"),
    ("irritation beside aspiration", "Asp. Tox. 1 H304", "Skin Irrit. 2 H315"),
    ("harmful beside flammable", "Flam. Liq. 2 H225", "Acute Tox. 4 H302"),
]
GHS07_GOES = [
    ("Art. 26(1)(b): harmful beside toxic", "Acute Tox. 3 H301", "Acute Tox. 4 H312"),
    ("Art. 26(1)(b): irritant beside toxic", "Acute Tox. 3 H301", "Skin Irrit. 2 H315"),
    ("Art. 26(1)(b): narcotic beside toxic", "Acute Tox. 2 H330", "STOT SE 3 H336"),
    ("Art. 26(1)(b): skin allergy beside toxic", "Acute Tox. 1 H310", "Skin Sens. 1 H317"),
    ("Art. 26(1)(c): skin irritation beside eye damage", "Eye Dam. 1 H318", "Skin Irrit. 2 H315"),
    ("Art. 26(1)(c) as it reads, GHS05 for metals", "Met. Corr. 1 H290", "Skin Irrit. 2 H315"),
    ("Art. 26(1)(d): skin allergy beside breathing allergy", "Resp. Sens. 1 H334", "Skin Sens. 1 H317"),
    ("Art. 26(1)(d): eye irritation beside breathing allergy", "Resp. Sens. 1A H334", "Eye Irrit. 2 H319"),
]


@pytest.mark.parametrize(("why", "strong", "mild"), GHS07_STANDS, ids=[case[0] for case in GHS07_STANDS])
def test_the_exclamation_mark_stays_for_another_reason(why: str, strong: str, mild: str) -> None:
    assert "GHS07" in pictograms_of(strong, mild), why


@pytest.mark.parametrize(("why", "strong", "mild"), GHS07_GOES, ids=[case[0] for case in GHS07_GOES])
def test_the_exclamation_mark_goes_with_the_rule_that_says_so(why: str, strong: str, mild: str) -> None:
    shown = elements(classifications([strong, mild]))
    assert "GHS07" not in shown.pictograms
    (gone,) = shown.omitted
    assert gone.code == "GHS07"
    assert why[:13] in gone.why


def test_corrosive_and_breathing_allergy_take_the_exclamation_mark_off_together() -> None:
    shown = elements(
        classifications(["Eye Dam. 1 H318", "Skin Irrit. 2 H315", "Resp. Sens. 1 H334", "Skin Sens. 1 H317"])
    )
    assert set(shown.pictograms) == {"GHS05", "GHS08"}
    (gone,) = shown.omitted
    assert "26(1)(c)" in gone.why
    assert "26(1)(d)" in gone.why


def test_one_reason_that_stands_keeps_the_exclamation_mark_for_all() -> None:
    assert "GHS07" in pictograms_of("Skin Corr. 1B H314", "Skin Sens. 1 H317", "Acute Tox. 4 H302")


def test_within_one_class_the_most_severe_category_gives_the_pictogram() -> None:
    """CLP Art. 26(2)."""
    assert pictograms_of("Skin Corr. 1B H314", "Skin Irrit. 2 H315") == {"GHS05"}
    assert pictograms_of("Eye Dam. 1 H318", "Eye Irrit. 2 H319") == {"GHS05"}


@pytest.mark.parametrize(
    ("texts", "optional"),
    [
        (["Unst. Expl. H200", "Flam. Liq. 2 H225", "Ox. Sol. 2 H272"], {"GHS02", "GHS03"}),
        (["Self-react. B H241"], set()),
        (["Org. Perox. B H241", "Ox. Sol. 2 H272"], set()),
        (["Flam. Gas 1A H220", "Press. Gas (Comp.) H280"], {"GHS04"}),
        (["Acute Tox. 3 H331", "Press. Gas (Liq.) H280"], {"GHS04"}),
        (["Ox. Gas 1 H270", "Press. Gas (Comp.) H280"], set()),
    ],
)
def test_what_may_be_left_out_stays_and_is_named(texts: list[str], optional: set[str]) -> None:
    """CLP Art. 26(1)(a) and (e): permissions, so nothing is taken off."""
    shown = elements(classifications(texts))
    assert {one.code for one in shown.optional} == optional
    assert optional <= set(shown.pictograms)


@pytest.mark.parametrize(
    ("texts", "signal"),
    [
        (["Skin Irrit. 2 H315"], "Warning"),
        (["Skin Irrit. 2 H315", "Carc. 1A H350"], "Danger"),
        (["Aquatic Chronic 2 H411"], None),
        (["Aquatic Chronic 3 H412"], None),
        (["Lact. H362"], None),
        (["EUH066"], None),
        (["Lact. H362", "STOT SE 3 H335"], "Warning"),
        (["Flam. Sol. 2 H228"], "Warning"),
        (["Flam. Sol. 1 H228"], "Danger"),
        (["Self-react. EF H242"], "Warning"),
        (["Self-react. CD H242"], "Danger"),
        ([], None),
    ],
)
def test_the_signal_word_is_that_of_the_class_and_danger_wins(texts: list[str], signal: str | None) -> None:
    """CLP Art. 20(3), GHS 1.4.10.5.3.2."""
    assert elements(classifications(texts)).signal_word == signal


@pytest.mark.parametrize(("kept", "gone"), [("H314", "H318"), ("H410", "H400")])
def test_a_statement_that_another_contains_may_go(kept: str, gone: str) -> None:
    """GHS 1.4.10.5.3.3, CLP Art. 27: a permission, so it is named with its reason."""
    classes = {
        "H314": "Skin Corr. 1A",
        "H318": "Eye Dam. 1",
        "H410": "Aquatic Chronic 1",
        "H400": "Aquatic Acute 1",
    }
    shown = elements(classifications([f"{classes[gone]} {gone}", f"{classes[kept]} {kept}"]))
    assert shown.statements == (kept,)
    assert [(one.code, kept in one.why) for one in shown.omitted] == [(gone, True)]
    assert elements(classifications([f"{classes[gone]} {gone}"])).statements == (gone,)


def test_h411_lets_no_h400_go() -> None:
    assert "H400" in elements(classifications(["Aquatic Acute 1 H400", "Aquatic Chronic 2 H411"])).statements


def test_a_class_that_does_not_fit_never_softens_the_label() -> None:
    shown = elements(classifications(["Carc. 2 H350"]))
    assert (shown.signal_word, shown.pictograms) == ("Danger", ("GHS08",))


@pytest.mark.parametrize(
    ("texts", "joined"),
    [
        (["Acute Tox. 3 H301", "Acute Tox. 3 H311", "Acute Tox. 3 H331"], ("H301+H311+H331",)),
        (["Acute Tox. 2 H300", "Acute Tox. 1 H310"], ("H300", "H310")),
        (["Acute Tox. 4 H302", "Carc. 2 H351", "Acute Tox. 4 H332"], ("H302+H332", "H351")),
        (["Acute Tox. 3 H301", "Acute Tox. 4 H312"], ("H301", "H312")),
    ],
)
def test_only_acute_toxicity_of_one_category_is_joined(texts: list[str], joined: tuple[str, ...]) -> None:
    """GHS Annex 3, A3.1.2.5; CLP Annex III."""
    assert combined(classifications(texts)) == joined
