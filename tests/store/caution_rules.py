"""The rules that every caution text keeps, as a program: each fault is a sentence."""

import itertools
import re
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from tests.store.caution_words import (
    ABBREVIATION,
    ALWAYS,
    COMPANY,
    FAMILIES,
    LEXICON,
    OPEN,
    SAFE,
    SECOND_PERSON,
    STEPS,
    YOU,
    plain,
    words,
)

Data = Mapping[str, Any]
Text = Mapping[str, Any]


def texts(data: Data, step: str) -> Iterator[tuple[str, str, Text]]:
    """Every text of a step: kind, family or nothing, table."""
    for kind in ("base", "first_aid"):
        if kind in data["steps"][step]:
            yield kind, "", data["steps"][step][kind]
    for family, cell in data["steps"][step]["overlays"].items():
        if "sentences" in cell:
            yield "overlay", family, cell


def faults(data: Data) -> Iterator[str]:
    """Everything wrong with the texts, before any page is composed."""
    yield from _of_shape(data)
    used: set[str] = set()
    seen: set[str] = set()
    for step in STEPS:
        if step in data["steps"]:
            yield from _of_cells(data, step)
            for kind, family, text in texts(data, step):
                yield from _of_text(data, step, kind, family, text, seen)
                for sentence in text["sentences"]:
                    used.update(sentence.get("orders", ()), sentence.get("forbids", ()))
                    yield from _of_sentence(data, family, text, sentence, seen)
            yield from _of_repetition(data, step)
    needs, pairs = data.get("needs", {}), data.get("clashes", {}).get("pairs", ())
    by_rule = {*needs, *itertools.chain(*needs.values()), *itertools.chain(*pairs)}
    for tag in data["tags"]:
        if tag not in used | by_rule:
            yield f"tag {tag} is used nowhere"
    for tag in by_rule - set(data["tags"]):
        yield f"tag {tag} has no meaning in [tags]"


def _of_shape(data: Data) -> Iterator[str]:
    if set(data["families"]) != FAMILIES:
        yield f"families differ from the list: {sorted(set(data['families']) ^ FAMILIES)}"
    if tuple(data["steps"]) != STEPS:
        yield "steps differ from the list, or from its order"
    ranks = [f["rank"] for f in data["families"].values()]
    if ranks != sorted(set(ranks)):
        yield "family ranks are not strictly rising in file order"
    for name, family in data["families"].items():
        if not 0 < len(family["short"]) <= 40:
            yield f"{name}: short form has {len(family['short'])} characters, 40 at most"
        for covered in family.get("covers", ()):
            if data["families"].get(covered, {"rank": 0})["rank"] <= family["rank"]:
                yield f"{name}: covers {covered}, which is unknown or more severe"
        for text in (family["short"], family["name"]):
            if SAFE.search(text) or ABBREVIATION.search(text):
                yield f"{name}: calls something safe, or abbreviates: {text}"
    for key in ("note", "fold", "note_short"):
        if "safety data sheet" not in data[key]:
            yield f"{key}: does not point to the safety data sheet"
    if "site" not in data["note"] or "ask" not in data["note"]:
        yield "note: does not defer to the site's rules, or does not say to ask"


def _of_cells(data: Data, step: str) -> Iterator[str]:
    table = data["steps"][step]
    if (
        not 0 < len(table["short"]) <= 76
        or SAFE.search(table["short"])
        or ABBREVIATION.search(table["short"])
    ):
        yield f"{step}: short form over 76 characters, calls something safe or abbreviates"
    if "base" not in table or (step == "spill") != ("first_aid" in table):
        yield f"{step}: a base text everywhere, first-aid lines on the spill card only"
    if set(table["overlays"]) != FAMILIES:
        yield f"{step}: cells missing or unknown: {sorted(set(table['overlays']) ^ FAMILIES)}"
    ranks = [cell["rank"] for cell in table["overlays"].values() if "rank" in cell]
    if len(ranks) != len(set(ranks)):
        yield f"{step}: two families have one rank"
    for family, cell in table["overlays"].items():
        if ("sentences" in cell) == ("none" in cell):
            yield f"{step} x {family}: either a text or a reason for none"
        if "none" in cell:
            if len(cell["none"].strip()) < 15:
                yield f"{step} x {family}: the reason for none says nothing"
            if step in OPEN and family in ALWAYS:
                yield f"{step} x {family}: must have a text, something is open"


def _of_text(data: Data, step: str, kind: str, family: str, text: Text, seen: set[str]) -> Iterator[str]:
    layout = data["layout"]
    where = f"{step}.{family or kind}"
    if text.get("id") != where or where in seen:
        yield f"{where}: id is not step and family, or is there twice"
    seen.add(where)
    if not isinstance(text.get("version"), int) or text["version"] < 1:
        yield f"{where}: version is not a number from 1"
    if not text.get("idea_from") or set(text["idea_from"]) - set(data["sources"]):
        yield f"{where}: no source of the idea, or one that is not in [sources]"
    sentences = text["sentences"]
    if family and (
        text.get("rank") != data["families"][family]["rank"] or not isinstance(text.get("core"), bool)
    ):
        yield f"{where}: core missing, or rank missing or not that of the family"
    width = layout["width"] - layout["indent"]
    if kind == "first_aid":
        lines, most = max(len(textwrap.wrap(s["text"], width)) for s in sentences), 1
    else:
        lines, most = len(textwrap.wrap(" ".join(s["text"] for s in sentences), width)), layout["text_lines"]
    if lines > most:
        yield f"{where}: {lines} lines of {width} characters"
    roles = [s["role"] for s in sentences]
    if "act" not in roles:
        yield f"{where}: no act"
    if step != "spill" and ("stop" in roles) == ("no_stop" in text):
        yield f"{where}: either a stop condition or a reason for none"
    yield from _of_replacing(data, step, family, text)


def _of_replacing(data: Data, step: str, family: str, text: Text) -> Iterator[str]:
    base = {
        s["id"]
        for kind in ("base", "first_aid")
        for s in data["steps"][step].get(kind, {}).get("sentences", ())
    }
    taken = [s["replaces"] for s in text["sentences"] if "replaces" in s]
    if not taken:
        return
    if not family or not text["core"]:
        yield f"{text['id']}: replaces a base sentence but is not core"
    if len(taken) != len(set(taken)) or set(taken) - base:
        yield f"{text['id']}: replaces a sentence twice, or one that is not there"
    if len(taken) == len(text["sentences"]):
        yield f"{text['id']}: has no sentence of its own beside the replacing one"
    if any(family in f.get("covers", ()) for f in data["families"].values()):
        yield f"{text['id']}: replaces a base sentence but can be covered"


def _of_sentence(data: Data, family: str, text: Text, sentence: Text, seen: set[str]) -> Iterator[str]:
    id, line = sentence["id"], sentence["text"]
    tags = {*sentence.get("orders", ()), *sentence.get("forbids", ())}
    if id in seen or not id.startswith(text["id"] + "."):
        yield f"{id}: sentence id twice, or not under its text"
    seen.add(id)
    if sentence["role"] not in ("act", "stop") or not tags or tags - set(data["tags"]):
        yield f"{id}: role is not act or stop, or no tag, or one without a meaning"
    if SAFE.search(line):
        yield f"{id}: calls something safe: {line}"
    if ABBREVIATION.search(line):
        yield f"{id}: abbreviation: {line}"
    if not line.isascii() or not line[0].isupper() or line[-1] != "." or "  " in line:
        yield f"{id}: not a plain sentence: {line}"
    for pattern, any_of in LEXICON.items():
        if re.search(pattern, line, re.I) and not any_of & tags:
            yield f"{id}: {line!r} is tagged with none of {sorted(any_of)}"
    if max(map(len, line.split())) > 16:
        yield f"{id}: a word of more than 16 letters"
    company = bool(COMPANY.search(line)) or "second_person" in tags
    if (company or YOU.search(line)) and family not in SECOND_PERSON:
        yield f"{id}: second-person line outside its four families"
    if bool(re.search("second person", line, re.I)) != ("second_person" in tags):
        yield f"{id}: words and tag differ about the second person"


def _of_repetition(data: Data, step: str) -> Iterator[str]:
    """Nothing is said twice, or nearly, by two texts that can share a page."""
    families = data["families"]
    listed = [(f, s) for _, f, t in texts(data, step) for s in t["sentences"]]
    listed += [("", {"id": "note", "text": t}) for t in re.split(r"(?<=\.) ", data["note"])]
    for (f, one), (g, two) in itertools.combinations(listed, 2):
        if f and g and (g in families[f].get("covers", ()) or f in families[g].get("covers", ())):
            continue
        if one.get("replaces") and one.get("replaces") == two.get("replaces"):
            continue
        if two["id"] == one.get("replaces") or one["id"] == two.get("replaces"):
            continue
        a, b = words(one["text"]), words(two["text"])
        if plain(one["text"]) == plain(two["text"]) or len(a & b) / len(a | b) > 0.8:
            yield f"{one['id']} and {two['id']} say the same: {two['text']}"
