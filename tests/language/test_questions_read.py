"""Messages into questions: what growers may ask, in their own words, and what must not be taken for it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.config import find_rules
from advisor.errors import BadRules
from advisor.language.names import NamedPlant, find_spots
from advisor.language.understand import Words, answering, chosen, understand
from advisor.records.questions import load_questions

QUESTIONS = load_questions(find_rules())
PLANTS = [
    NamedPlant("shed fig", "fig", "shed bed"),
    NamedPlant("porch fig", "fig", "porch"),
    NamedPlant("porch fig two", "fig", "porch"),
    NamedPlant("wall fig", "fig", "south wall", "Brown Turkey"),
    NamedPlant("gate apricot", "apricot", "lane"),
]
SPECIES = [("fig", ("fig", "figs")), ("apricot", ("apricot", "apricots")), ("pear", ("pear", "pears"))]
CALLED = {"fig": "fig", "apricot": "apricot", "pear": "pear"}
SPOTS = ["shed bed", "porch", "south wall", "lane", "north bank", "hollow"]
WORDS = Words(QUESTIONS, PLANTS, SPECIES, CALLED, SPOTS)


@pytest.mark.parametrize(
    ("question", "message"),
    [
        ("frost-tonight", "will we get a frost tonite"),
        ("frost-tonight", "how cold is it gonna get"),
        ("frost-tonight", "is the gate apricot ok tonight?"),
        ("frost-tonight", "should i cover the apricot"),
        ("pots-out", "can the pots come out yet"),
        ("pots-out", "is it safe to put the figs out"),
        ("pots-out", "when do the pots go out"),
        ("what-to-pinch", "anything to pinch?"),
        ("what-to-pinch", "shed fig ready to pinch?"),
        ("what-to-pinch", "is it too late to pinch"),
        ("compare-spots", "is the hollow colder than the porch"),
        ("compare-spots", "which bed is warmest"),
        ("compare-spots", "shed bed vs south wall"),
        ("when-wake", "whens the shed fig gonna wake"),
        ("when-wake", "when will the apricot bloom"),
        ("when-wake", "how long until the wall fig leafs out"),
        ("when-ripe", "when can i pick the wall fig"),
        ("when-ripe", "will the shed fig ripen"),
        ("when-ripe", "when are figs ripe"),
        ("season-so-far", "hows the season"),
        ("season-so-far", "degree days so far"),
        ("season-so-far", "are we behind"),
        ("what-next", "whats next"),
        ("what-next", "what should i do this week"),
        ("what-next", "any jobs for the shed fig"),
        ("trial-result", "how did my trial do"),
        ("trial-result", "did the mulch help"),
        ("trial-result", "trial results?"),
        ("what-to-measure", "what should i log"),
        ("what-to-measure", "which readings do you want"),
        ("what-to-measure", "where do i measure next"),
        ("show-records", "show me the last readings"),
        ("show-records", "what did i log for the shed fig"),
        ("show-records", "when did i last pinch the wall fig"),
        ("why-late", "why is the shed fig still asleep"),
        ("where-to-plant", "where do i put a new fig"),
        ("what-to-plant", "what could i plant in the shed bed"),
        ("what-to-plant", "what would grow at the south wall"),
        ("what-to-plant", "whats a good idea, which tree would suit the hollow?"),
        ("what-to-plant", "what can i grow beside the wall fig"),
        ("wrong-spot", "which of my trees is in the wrong place"),
        ("wrong-spot", "is the gate apricot in the wrong spot"),
        ("wrong-spot", "any trees that would be better off somewhere else?"),
    ],
)
def test_a_question_is_heard(question: str, message: str) -> None:
    """Each kind of question is understood in the words of the yard."""
    meant = understand(message, WORDS)
    assert (meant.question, meant.unclear) == (question, "")


@pytest.mark.parametrize(
    "message",
    [
        "wall fig awake today", "soil 11.2 at shed bed 10 cm sun", "moved store fig out to the yard", "pots out today",
        "put fleece on the apricot", "gate apricot first flowers", "picked 3 ripe figs from wall fig",
        "frost last night -2.3", "evening 5.4 dew -2", "forecast -1 clear", "pinched wall fig", "watered the porch fig",
        "shed fig shoots 34 cm, 6 leaves, 2 buds", "opened the mulch at shed bed", "first ripe fig on porch fig",
        "trial open mulch side a shed fig", "scratch green at tip of wall fig", "thanks", "cold tonight, 2.3 at hollow",
    ],
)  # fmt: skip
def test_what_is_told_is_no_question(message: str) -> None:
    """What a grower tells of the day is not taken for a question."""
    meant = understand(message, WORDS)
    assert (meant.question, meant.unclear, meant.several) == ("", "question", ())


@pytest.mark.parametrize(
    ("message", "named"),
    [
        ("will it freeze tonight", {}),
        ("is the shed fig safe tonight", {"plant": "shed fig"}),
        ("are the figs safe tonight", {"species": "fig"}),
        ("are the apricots safe tonight", {"plant": "gate apricot"}),
        ("how cold will it get in the hollow", {"spots": ("hollow",)}),
        ("is the porch fig safe tonight", {"plant": "porch fig"}),
        ("when will the figs wake", {"species": "fig"}),
        ("when will the pear bloom", {"species": "pear"}),
        ("compare the shed bed and the south wall", {"spots": ("shed bed", "south wall")}),
        ("is the sout wall warmer than the shed bed", {"spots": ("south wall", "shed bed")}),
        ("which is warmer, the wall fig or the shed fig", {"spots": ("shed bed", "south wall")}),
        ("which spot is warmest", {}),
    ],
)
def test_what_may_be_named_is_taken_where_it_is_sure(message: str, named: dict[str, object]) -> None:
    """A plant, a kind or spots narrow a question; nothing is asked where none is named."""
    meant = understand(message, WORDS)
    assert meant.unclear == ""
    found = {name: getattr(meant, name) for name in ("plant", "species", "spots") if getattr(meant, name)}
    if "spots" in found and "spots" in named:
        assert set(found.pop("spots")) == set(named["spots"])  # type: ignore[call-overload]
        named = {name: value for name, value in named.items() if name != "spots"}
    assert found == named


def test_two_candidates_are_asked_back() -> None:
    """An optional plant that may be either of two is not guessed at; the choice made answers the question."""
    meant = understand("is the shed fig or the wall fig safe tonight", WORDS)
    assert (meant.question, meant.unclear) == ("frost-tonight", "plant")
    assert {choice.plant for choice in meant.choices} == {"shed fig", "wall fig"}
    near = understand("is the porch warmer than the sooth wall", WORDS)
    assert (near.question, near.unclear) == ("compare-spots", "spot")
    means = near.choices[0].as_dict(1)["means"]
    assert means == {"kind": "compare-spots", "spots": ["porch", "south wall"]}
    assert chosen("1", [near.choices[0].as_dict(1)]) is not None


def test_a_name_nobody_knows_is_asked_back() -> None:
    """A date is about one plant or kind, so an unknown name is not answered with all others."""
    assert understand("when will the kiwi wake", WORDS).unclear == "plant"


def test_a_bare_name_answers_what_was_open() -> None:
    """After a question put back, a plant named alone completes a question that may name one."""
    meant = answering(understand("shed fig", WORDS), "frost-tonight", QUESTIONS)
    assert meant is not None and (meant.question, meant.plant) == ("frost-tonight", "shed fig")


@pytest.mark.parametrize(
    ("message", "names", "sure"),
    [
        ("soil at the shed bed", ["shed bed"], True),
        ("the hollow and the lane", ["hollow", "lane"], True),
        ("the lane and the hollow", ["lane", "hollow"], True),
        ("the porch fig two", [], False),
        ("the porch beside the porch fig", ["porch"], True),
        ("at the norht bank", ["north bank"], True),
        ("at the forth bank", ["north bank"], False),
        ("in the kitchen", [], False),
    ],
)
def test_spots(message: str, names: list[str], sure: bool) -> None:
    """Whole names in the order said, one slip; a spot inside a plant's name is none; a near one stays open."""
    found = find_spots(message, SPOTS, [plant.name for plant in PLANTS])
    assert (list(found.names), found.sure) == (names, sure)


@given(st.text(max_size=120))
@settings(max_examples=200, deadline=None)
def test_any_text_is_read_without_a_guess(text: str) -> None:
    """Random text never raises, and what it is taken to name is in the garden."""
    meant = understand(text, WORDS)
    assert meant.plant in ("", *(plant.name for plant in PLANTS)) and set(meant.spots) <= set(SPOTS)


@pytest.mark.parametrize(
    ("line", "said"),
    [('may_name  = ["bed"]', "may_name bed"), ("answered_by = []", "answered_by is empty")],
)
def test_a_question_that_does_not_hold_is_refused(tmp_path: Path, line: str, said: str) -> None:
    """A subject that nobody can name, or a question that nothing answers, is a fault of its file."""
    folder = tmp_path / "questions"
    folder.mkdir()
    by = "" if line.startswith("answered_by") else '\n[[answered_by]]\nkind = "finding"\n'
    folder.joinpath("odd.toml").write_text(
        'id = "odd"\nsays = "Odd?"\nmust_name = "none"\nask_for = "?"\nsuggest = "?"\nphrases = ["odd"]\n'
        f'examples = ["odd"]\nnot_examples = ["even"]\n{line}\n{by}',
        encoding="utf-8",
    )
    with pytest.raises(BadRules, match=said):
        load_questions(tmp_path)


def test_a_spot_that_must_be_named_is_asked_for() -> None:
    """What to plant wants one spot: none named offers those of the garden, two named ask which; a plant is its spot."""
    none, two, by_plant = (
        understand(text, WORDS)
        for text in (
            "what could I plant?",
            "what could I plant at the porch or the hollow?",
            "what could I plant beside the gate apricot?",
        )
    )
    assert none.unclear == "spot" and [one.spots for one in none.choices] == [(name,) for name in SPOTS]
    assert two.unclear == "spot" and {one.spots for one in two.choices} == {("porch",), ("hollow",)}
    assert (by_plant.unclear, by_plant.spots) == ("", ("lane",))
