"""Slips of the thumb put right: what can be no other word, and never a word that is one."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from spellchecker import SpellChecker

from advisor.config import find_rules
from advisor.language.said.spelling import Spelling
from advisor.records.stage_words import load_stage_words
from advisor.records.talk_words import load_talk_words

RULES = find_rules()
TALK = load_talk_words(RULES)
SPELLING = Spelling.of(TALK, load_stage_words(RULES), ["fig", "peach", "pear", "mulberry", "persimmon"])
NAMES = ["tub 1", "tub 2", "gate peach", "Boskoop", "old Boskoop"]
ENGLISH = sorted(word for word in SpellChecker() if word.isascii() and word.isalpha())
"""The English words that come with the spelling library: an outside list, none of it ours."""


def mended(text: str) -> str:
    return SPELLING.mended(text, TALK, NAMES)


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("watred tub 1", "watered tub 1"),
        ("fedd tub 1 yesteday", "fed tub 1 yesterday"),
        ("prunned the peech", "pruned the peach"),
        ("Awke today", "Awake today"),
        ("persimon and mulbery", "persimmon and mulberry"),
        ("-2 last nite", "-2 last night"),
        ("watered tub1, tub2", "watered tub 1, tub 2"),
        ("pruned on the fourteenth of march", "pruned on the 14 march"),
        ("y is teh peach late", "why is the peach late"),
    ],
)
def test_what_can_be_no_other_word_is_put_right(typed: str, meant: str) -> None:
    assert mended(typed) == meant


@pytest.mark.parametrize(
    "text",
    [
        "loved tub 1", "the aware bird", "Boskop pruned", "boskop", "tub3 watered", "a bug bit me", "stray strap chops",
        "pr. 12.5C @ 10 cm", "#figs", "",
    ],
)  # fmt: skip
def test_what_may_be_meant_is_left(text: str) -> None:
    """English words, slips in the garden's own names (names are matched elsewhere), pots there are none of."""
    assert mended(text) == text


@settings(max_examples=300, deadline=None)
@given(st.lists(st.sampled_from(ENGLISH), min_size=1, max_size=8))
def test_no_english_word_is_changed(words: list[str]) -> None:
    """Any word of the library's list stays, but for the shorthand that the word list names."""
    short = TALK.words["typed"] | {"y", "dp", "brk", "yest"}
    text = " ".join(word for word in words if word not in short)
    assert not text or mended(text) == text or any(p.search(text) for p in TALK.sections["typed"].values())


@given(st.text(max_size=400))
def test_any_text_comes_back(text: str) -> None:
    assert isinstance(mended(text), str)
