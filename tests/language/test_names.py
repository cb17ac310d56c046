"""Which plant or kind a message names: sure only where it can mean one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.language.names import Found, NamedPlant, find_plant, find_species, tokens

PLANTS = [
    NamedPlant("shed fig", "fig", "shed bed"),
    NamedPlant("porch fig", "fig", "porch"),
    NamedPlant("porch fig two", "fig", "porch"),
    NamedPlant("wall fig", "fig", "south wall", "Brown Turkey"),
    NamedPlant("pot 3", "fig", "yard"),
    NamedPlant("pot 13", "fig", "yard"),
    NamedPlant("gate apricot", "apricot", "lane"),
    NamedPlant("long pear", "pear", "slope"),
]
SPECIES = [
    ("fig", ("fig", "figs")),
    ("apricot", ("apricot", "apricots")),
    ("pear", ("pear", "pears")),
    ("sweet-cherry", ("sweet cherry", "sweet cherries")),
    ("tart-cherry", ("tart cherry", "tart cherries")),
]


@pytest.mark.parametrize(
    ("message", "names", "sure"),
    [
        ("why is the shed fig late", ["shed fig"], True),
        ("Shed-Fig still asleep?", ["shed fig"], True),
        ("why is the porch fig late", ["porch fig"], True),
        ("why is porch fig two late", ["porch fig two"], True),
        ("the fig by the shed bed", ["shed fig"], True),
        ("why is the fig at the shed late", ["shed fig"], True),
        ("is the brown turkey awake", ["wall fig"], True),
        ("why is the apricot late", ["gate apricot"], True),
        ("why is the shde fig late", ["shed fig"], True),
        ("why is the shd fig late", ["shed fig"], True),
        ("why is the hall fig late", ["wall fig"], False),
        ("why is the porc fig late", ["porch fig", "porch fig two"], False),
        ("the gate apricto", ["gate apricot"], True),
        ("pot 3 asleep", ["pot 3"], True),
        ("pot 13 asleep", ["pot 13"], True),
        ("shed fig or wall fig", ["shed fig", "wall fig"], False),
        ("why is the fig late", [p.name for p in PLANTS if p.species == "fig"], False),
        ("pot 4 asleep", [], False),
        ("why is the lemon late", [], False),
    ],
)
def test_plants(message: str, names: list[str], sure: bool) -> None:
    """Whole names, words of a name, a kind with its spot or cultivar, small slips; never a guess between two."""
    found = find_plant(message, PLANTS, SPECIES)
    assert found.sure is sure
    assert list(found.names)[: len(names)] == names if sure or names else not found.sure


@pytest.mark.parametrize(
    ("message", "keys", "sure"),
    [
        ("where do I put a new apricot", ["apricot"], True),
        ("place for sweet cherries", ["sweet-cherry"], True),
        ("where does a cherry go", ["sweet-cherry", "tart-cherry"], False),
        ("where do I put an apricto", ["apricot"], True),
        ("where do I put an aprikot", ["apricot"], False),
        ("where do I plant a Japanese maple", [], False),
        ("where do I plant sweet corn", [], False),
        ("where does the apple mint go", [], False),
        ("where do I plant peas", [], False),
        ("where do I put a walnut", [], False),
    ],
)
def test_kinds_of_tree(message: str, keys: list[str], sure: bool) -> None:
    """A kind by its names; a word that two kinds share is left open."""
    found = find_species(message, SPECIES)
    assert (list(found.names), found.sure) == (keys, sure)


def test_words_are_spelt_out() -> None:
    """Contractions, written with or without their apostrophe, come to the same words."""
    assert tokens("Why hasn’t it woken") == tokens("why hasnt it woken") == ["why", "has", "not", "it", "woken"]


@given(st.text(max_size=200))
def test_any_text_is_survived(text: str) -> None:
    """Whatever is typed, names are looked for and nothing breaks; a sure answer is always a single plant."""
    found = find_plant(text, PLANTS, SPECIES)
    assert not found.sure or len(found.names) >= 1
    find_species(text, SPECIES)


@given(st.sampled_from(PLANTS), st.data())
def test_one_slip_of_the_thumb_never_names_another_plant(plant: NamedPlant, data: st.DataObject) -> None:
    """One letter dropped from a name may leave it open, but is never taken for another plant without asking."""
    letters = [place for place, letter in enumerate(plant.name) if letter.isalpha()]
    place = data.draw(st.sampled_from(letters))
    found = find_plant(plant.name[:place] + plant.name[place + 1 :], PLANTS, SPECIES)
    assert not found.sure or found.names[0] == plant.name


def test_a_long_name_may_go_without_its_kind() -> None:
    """ "The tall pot" is the tall pot fig where nothing else is called so; of two such names neither is taken."""
    plants = [NamedPlant("tall pot fig", "fig"), NamedPlant("wall fig", "fig")]
    species = [("fig", ("fig", "figs")), ("peach", ("peach",))]
    assert find_plant("should I water the tall pot", plants, species) == Found(("tall pot fig",), True, "name")
    both = [*plants, NamedPlant("tall pot peach", "peach")]
    assert not find_plant("should I water the tall pot", both, species).sure
