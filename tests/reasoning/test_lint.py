"""Each check of the rule base refuses the rule made for it, and says so; a sound rule passes."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadRules
from advisor.reasoning.lint import lint, one_work_cited_two_ways
from advisor.reasoning.rulebase import RuleBase, load_rules, rule_from

BAD = Path(__file__).resolve().parents[2] / "fixtures" / "bad_rules"
FILES = sorted(path for path in BAD.glob("*.toml") if path.stem != "_sound")
GOOD = (BAD / "_sound.toml").read_text(encoding="utf-8")


def found(text: str, adviser: Adviser) -> list[str]:
    """Return what the checks say of one rule on its own."""
    rule = rule_from(tomllib.loads(text), "soil", "reading a test rule")
    return lint(RuleBase({rule.id: rule}, adviser.base.kinds), adviser.questions)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_bad_rule_is_refused_in_these_words(path: Path, adviser: Adviser) -> None:
    """The check's sentence is the one that stands in the file's first line."""
    text = path.read_text(encoding="utf-8")
    wanted = text.splitlines()[0].removeprefix("# refused with: ")
    said = found(text, adviser)
    assert any(wanted in sentence for sentence in said), said


def test_the_sound_rule_passes(adviser: Adviser) -> None:
    """The rule that the bad ones are made from has nothing wrong with it."""
    assert found(GOOD, adviser) == []


def test_every_bad_rule_differs_from_the_sound_one_only_where_meant() -> None:
    """The fixtures stay readable: each shares most of its lines with the sound rule."""
    good = set(GOOD.strip().splitlines())
    for path in FILES:
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines()[1:]
        assert len([line for line in lines if line not in good]) <= 12, path.name


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("late_days = { at_least = 5 }", "late_days = { over = 5 }", "Give one value or one of at_least"),
        ("late_days = { at_least = 5 }", "late_days = { at_least = 5, below = 9 }", "Give one value or one of"),
        ('{ same_as = "lag.plant" }', '{ same_as = "plant" }', "Write it as block.field"),
        ('kind  = "spot_cover"\n', "", "block cover without a kind"),
        ('how_it_works = "Chips shade the soil, so the sun warms it late."\n', "", "no key 'how_it_works'"),
    ],
)
def test_what_cannot_be_read_as_a_rule_is_refused(old: str, new: str, said: str) -> None:
    """Reading stops at what has no meaning, with the place and the remedy."""
    assert old in GOOD
    with pytest.raises(BadRules, match=said):
        rule_from(tomllib.loads(GOOD.replace(old, new)), "soil", "reading a test rule")


def test_file_and_id_must_agree(tmp_path: Path, adviser: Adviser) -> None:
    """A rule is found by its file's name, so both are the same."""
    for folder in ("kinds", "soil"):
        (tmp_path / folder).mkdir()
    (tmp_path / "kinds" / "season.toml").write_bytes((adviser.settings.rules / "kinds" / "season.toml").read_bytes())
    (tmp_path / "soil" / "other-name.toml").write_text(GOOD)
    with pytest.raises(BadRules, match="Give file and id the same name"):
        load_rules(tmp_path)


def test_citations_of_one_work_agree() -> None:
    """Two works of one author in different years, or house judgement, are no double."""
    assert (
        one_work_cited_two_ways(["Hill 1999, Soils", "Hill 2003, Soils", "house judgement", "Hill 1999, Soils"]) == []
    )
    assert len(one_work_cited_two_ways(["Hill 1999, Soils", "Hill, Soils, 1999"])) == 1
