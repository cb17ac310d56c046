"""Sentences that tell a new plant without the words for it: "celeste is a fig in a 15 gal pot", "... call it ronde"."""

from __future__ import annotations

import re
from functools import lru_cache

from advisor.language.names import tokens
from advisor.language.said.unit import Ears

LONGEST_NAME = 4
BETWEEN_NAMES = re.compile(r"\s*,\s*(?:and\s+)?|\s+and\s+|\s+n\s+", re.IGNORECASE)
FIGURE = re.compile(r"\d[.,]?\d*\s*(?:cm|in|°|f|c|lea\w+)\b|\d[.,]\d", re.IGNORECASE)
CALL_IT = re.compile(r"\b(?:call it|calling it|i call it|named it)\s+\w", re.IGNORECASE)
STANDS = re.compile(
    r"\b(?:in|into) (?:an? |its |the )?(?:[\w.-]+ ){0,3}(?:pot|tub|container|ground)\b|\b(?:at|in|by|on) the\b", re.I
)


@lru_cache(maxsize=8)
def _kinds(species: tuple[tuple[str, tuple[str, ...]], ...]) -> str:
    names = sorted({name for _, every in species for name in every}, key=len, reverse=True)
    return "|".join(re.escape(name) for name in names)


def _kinds_of(ears: Ears) -> str:
    return _kinds(tuple((key, tuple(names)) for key, names in ears.yard.species))


def named_first(text: str, ears: Ears) -> str:
    """Return the name of a plant that a sentence says to be of some kind and that the garden does not have; "" for
    none: the celeste of "celeste is a fig in a 15 gal pot"."""
    found = re.match(
        rf"\s*(?:the\s+)?([\w'][\w' -]{{1,30}}?)\s+is\s+(?:an?|my)\s+(?:[\w'-]+\s+){{0,3}}?(?:{_kinds_of(ears)})\b",
        text,
        re.I,
    )
    if found is None or not STANDS.search(text[found.end() :]):
        return ""
    known = {tuple(tokens(name)) for name in ears.names}
    words = tuple(tokens(found[1]))
    return "" if words in known or words[0] in ("it", "this", "that", "there", "what", "which") else found[1].strip()


def several_named(text: str, ears: Ears) -> tuple[str, list[str]] | None:
    """Return what a sentence says of several new plants of one kind, and their names; None where it lists none:
    "2 figs in 15 gal pots on the driveway: celeste and ronde"."""
    many = r"(?:got |have |planted |there are )?(?:[2-9]|two|three|four|five|six)"
    kind = rf"(?:[\w'-]+ ){{0,2}}?(?:{_kinds_of(ears)})s?\b"
    found = re.match(rf"(\s*(?:i |we )?{many} {kind}[^:]*):\s*(\w[^:]*)$", text, re.IGNORECASE)
    names = [name.strip(" .") for name in BETWEEN_NAMES.split(found[2])] if found else []
    fit = len(names) > 1 and all(name and len(name.split()) <= LONGEST_NAME for name in names)
    fit = fit and not any(FIGURE.search(name) for name in names)
    return (found[1], names) if found and fit else None


def tells_two(text: str, ears: Ears) -> bool:
    """Return whether a sentence tells one new plant and another: "a peach at the fence and an apricot at the wall"."""
    return re.search(rf"\band (?:an?|my) (?:[\w'-]+ ){{0,2}}?(?:{_kinds_of(ears)})\b", text, re.IGNORECASE) is not None


def tells_plant(text: str, ears: Ears) -> bool:
    """Return whether a sentence tells a new plant: by a kind and a name, or by a kind that was planted somewhere.

    Not where it names a plant that the garden has.
    """
    if any(f" {' '.join(tokens(plant.name))} " in f" {' '.join(tokens(text))} " for plant in ears.yard.plants):
        return False
    kinds = _kinds_of(ears)
    if not re.search(rf"\b(?:{kinds})\b", text, re.IGNORECASE):
        return False
    if named_first(text, ears) or several_named(text, ears) or (CALL_IT.search(text) and STANDS.search(text)):
        return True
    planted = re.match(rf"\s*(?:i |we )?planted (?:out )?(?:[\w'-]+ ){{0,4}}?(?:{kinds})\b", text, re.IGNORECASE)
    got = re.match(
        rf"\s*(?:i |we )?(?:got|have) an? (?:[\w'-]+ ){{0,3}}?(?:{kinds})\b.*\bplanted\b", text, re.IGNORECASE
    )
    return bool(planted or got)
