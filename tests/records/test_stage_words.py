"""The file of stage words: what it holds, how it agrees with the published tables, and which faults it refuses."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.errors import BadRules
from advisor.records.hardiness import load_hardiness
from advisor.records.stage_words import FILE, StageWords, load_stage_words

RULES = Path(__file__).resolve().parents[2] / "rules"
GOOD = (RULES / FILE).read_text(encoding="utf-8")
OTHER_NAMES = {"green fruit"}
"""Published stage words that growers say of fruit all summer, so that they are no stage word here."""


@pytest.fixture(scope="module")
def words() -> StageWords:
    """The rule base's own file."""
    return load_stage_words(RULES)


def code(words: StageWords, phrase: str, species: str) -> int | None:
    """Return what a whole phrase of the file means for a species."""
    stage = next(stage for stage in words.stages if tuple(phrase.replace("-", " ").split()) in stage.phrases)
    return stage.codes.get(species, stage.codes.get(words.group_of[species]))


def test_every_species_has_a_group(words: StageWords) -> None:
    """No species of the rule base is without stage words."""
    assert set(words.group_of) == {path.stem for path in (RULES / "species").glob("*.toml")}


def test_published_stages_stand_at_the_same_codes(words: StageWords) -> None:
    """A stage named as in the tables of critical temperatures gets a code that those tables take."""
    compared = 0
    for species, kind in load_hardiness(RULES).buds.items():
        for stage in kind.stages:
            if stage.words in OTHER_NAMES:
                continue
            found = code(words, stage.words, species)
            assert found is not None, (species, stage.words)
            assert stage.bbch_from <= found <= stage.bbch_to, (species, stage.words)
            compared += 1
    assert compared > 60


@pytest.mark.parametrize(
    ("phrase", "codes"),
    [
        # fig, peach, apple, mulberry
        ("dormant", (0, 0, 0, 0)),
        ("swelling", (1, 51, 51, 1)),
        ("elongating", (5, None, None, None)),
        ("silver tip", (None, None, 52, None)),
        ("bud break", (9, 53, 53, 7)),
        ("awake", (9, 53, 53, 9)),
        ("leaf bud break", (9, 7, 7, 7)),
        ("green tip", (9, 54, 53, 9)),
        ("leafing out", (11, 11, 11, 11)),
        ("full leaf", (19, 19, 19, 19)),
        ("pink bud", (None, 57, 57, None)),
        ("popcorn", (None, 59, 59, 59)),
        ("first flowers", (None, 60, 60, 60)),
        ("in bloom", (None, 63, 63, 63)),
        ("full bloom", (None, 65, 65, 65)),
        ("petal fall", (None, 67, 67, 67)),
        ("petals down", (None, 69, 69, 69)),
        ("fruit set", (71, 71, 71, 71)),
        ("embryo figs", (71, None, None, None)),
        ("shuck split", (None, 72, None, None)),
        ("half size", (75, 75, 75, 75)),
        ("colouring", (81, 81, 81, 81)),
        ("ripe", (87, 87, 87, 89)),
        ("in leaf", (None, None, None, None)),
    ],
)
def test_codes_by_group(words: StageWords, phrase: str, codes: tuple[int | None, ...]) -> None:
    """A phrase stands at each group's own code, and at none where the group has no such stage."""
    assert tuple(code(words, phrase, species) for species in ("fig", "peach", "apple", "mulberry")) == codes


def test_shares_of_bloom(words: StageWords) -> None:
    """A share of open flowers stands at the tenth it has reached, and at full bloom from half on."""
    shares = [(0, None), (1, 60), (9.9, 60), (10, 61), (29, 62), (30, 63), (49, 64), (50, 65), (100, 65), (101, None)]
    assert [(percent, words.share.code(percent)) for percent, _ in shares] == shares


SILVER = "codes   = { pome = 52 }"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (SILVER, "codes   = { pome = 52, stone = 52 }", "code 52 for stone, which its scale has not"),
        (SILVER, "codes   = { fig = 8 }", "code 8 for fig"),
        (SILVER, "codes   = { pome = 100 }", "code 100 for pome"),
        (SILVER, 'codes   = { pome = "52" }', "code '52' for pome"),
        (SILVER, "codes   = { pome = true }", "code True for pome"),
        (SILVER, "codes   = { citrus = 52 }", "a code for 'citrus'"),
        (SILVER, SILVER + "\nnot_afer = []", "a key 'not_afer'"),
        (SILVER, "", "no key 'codes'"),
        (SILVER, SILVER + '\nnot_after = ["two words"]', "'two words' .* Single words only"),
        ('"silver tip",', '"silver-tip",', "'silver-tip'. Write phrases in lower case"),
        ('"silver tip",', '"Silver tip",', "'Silver tip'"),
        ('"silver tip",', '"silver  tip",', "'silver  tip'"),
        ('"silver tip",', '"dormant",', "'dormant', which is also among dormant. Keep one"),
        (
            'species = ["mulberry", "persimmon", ',
            'species = ["mulberry", ',
            "persimmon: in a group or a species, not both",
        ),
        ('species = ["apple", "pear", ', 'species = ["apple", "pear", "fig", ', "fig: in fig and in pome. Drop one"),
        ('"asian-pear"]\nwithout = []', '"asian-pear"]', "pome: no scale"),
        ("10 = 61, 20 = 62", "20 = 62, 10 = 61", "out of order"),
        ("10 = 61, 20 = 62", "10 = 62, 20 = 61", "out of order"),
        ('groups     = ["stone"', 'groups     = ["fig", "stone"', "code 60 for fig"),
        ('groups     = ["stone"', 'groups     = ["nut", "stone"', "a group 'nut'"),
        ('joiners      = ["or",', 'joiners      = ["or else",', "joiners: 'or else'. Single words only"),
        ("dividers     =", "dividing     =", "no key 'dividers'"),
        ("other_words  = [", 'other_words  = ["asleep",', "'asleep', which is a word of a phrase"),
        ('read = "excerpt"', 'read = "somewhat"', "read 'somewhat'"),
    ],
)
def test_what_does_not_hold_together_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    """Each fault is refused with the entry it is in and what to do."""
    assert old in GOOD
    species = tmp_path / "species"
    species.mkdir()
    for path in (RULES / "species").glob("*.toml"):
        (species / path.name).write_text("", encoding="utf-8")
    (tmp_path / FILE).write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadRules, match=said):
        load_stage_words(tmp_path)


def test_an_entry_without_phrases_is_refused(tmp_path: Path) -> None:
    """A stage that nobody can say is no stage word."""
    start = GOOD.index('phrases = ["silver tip"')
    text = GOOD[:start] + "phrases = []\n" + GOOD[GOOD.index("codes   = { pome = 52 }") :]
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    with pytest.raises(BadRules, match="silver tip: no phrases"):
        load_stage_words(tmp_path)
