"""What is known of each kind of tree: every file whole, every trait with a source, names that do not collide."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from advisor.config import find_rules
from advisor.errors import BadRules
from advisor.records.species import Species, load_lore

RULES = find_rules()
LORE = load_lore(RULES)


@pytest.mark.parametrize("species", LORE.species.values(), ids=lambda one: one.id)
def test_every_trait_has_a_source_that_says_what_it_backs(species: Species) -> None:
    """Spread, base temperature and partner are named in what the sources back, and a work says how far it was read."""
    backed = " ".join(source["backs"] for source in species.sources)
    assert f"base {species.base_c:g}" in backed or "over base 4" in backed
    assert " m" in backed and any(word in backed for word in ("partner", "alone", "pollen"))
    for source in species.sources:
        assert ("read" in source) == (source["cite"] != "common practice, no source")


def test_a_stock_decides_how_wide_a_tree_grows() -> None:
    """A pear on quince is a small tree and one on an unknown stock a large one; a half-dwarf apple is the usual one."""
    pear, apple = LORE.species["pear"], LORE.species["apple"]
    assert [pear.spread_m(stock) for stock in ("", "Quince", "wild pear")] == [9.0, 3.5, 9.0]
    stocks = ("semi-dwarf", "Semi dwarf", "dwarfing", "seedling", "")
    assert [apple.spread_m(stock) for stock in stocks] == [4.5, 4.5, 2.1, 7.5, 4.5]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('self_fertile     = "yes"', 'self_fertile     = "maybe"', "self_fertile 'maybe'"),
        ("mature_spread_m  = 5.0", "mature_spread_m  = 0", "mature_spread_m 0"),
        ("mature_spread_m  = 5.0", "mature_spread_m  = 30", "mature_spread_m 30"),
        ("damp_hater", "damp_liker", "no key 'damp_hater'"),
        ('"medlar",', '"quince",', "medlar and quince both claim 'quince'"),
    ],
)
def test_a_species_that_does_not_hold_together_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    """A word that means nothing, a tree without a width, a name that another kind has: each is named."""
    rules = Path(shutil.copytree(RULES, tmp_path / "rules"))
    file = rules / "species" / "medlar.toml"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")
    with pytest.raises(BadRules, match=said):
        load_lore(rules)
