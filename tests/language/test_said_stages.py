"""Stages read out of messages: what is told, in several voices; what is denied, doubtful, or no stage at all."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.language.said.stages import SaidStage, code_for, find_stages
from advisor.records.stage_words import load_stage_words

RULES = Path(__file__).resolve().parents[2] / "rules"
WORDS = load_stage_words(RULES)


def sure(text: str, species: str) -> list[int]:
    """Return the codes that may be logged for a species: neither denied nor doubtful."""
    codes = [code_for(said, species, WORDS) for said in find_stages(text, WORDS) if not said.hedged]
    return [code for code in codes if code is not None]


TERSE = [
    ("wall fig swelling", "fig", 1),
    ("shed fig asleep", "fig", 0),
    ("shed fig still nothing", "fig", 0),
    ("tall pot: no sign of life", "fig", 0),
    ("wall fig tight", "fig", 0),
    ("porch fig bud break", "fig", 9),
    ("Porch fig BUDBREAK!!", "fig", 9),
    ("bud-break porch fig", "fig", 9),
    ("fig elongating", "fig", 5),
    ("wall fig green tips out", "fig", 9),
    ("wall fig leafing out", "fig", 11),
    ("wall fig full leaf", "fig", 19),
    ("wall fig figlets", "fig", 71),
    ("wall fig colouring up", "fig", 81),
    ("wall fig coloring", "fig", 81),
    ("gate peach pink bud", "peach", 57),
    ("gate peach first pink", "peach", 57),
    ("apricot first white", "apricot", 57),
    ("apricot popcorn", "apricot", 59),
    ("gate peach first flowers", "peach", 60),
    ("gate peach full bloom", "peach", 65),
    ("plum petal fall", "european-plum", 67),
    ("plum petals down", "european-plum", 69),
    ("cherry side green", "sweet-cherry", 53),
    ("cherry open cluster", "sweet-cherry", 56),
    ("tart cherry white bud", "tart-cherry", 59),
    ("apricot in the shuck", "apricot", 71),
    ("peach shuck split", "peach", 72),
    ("apple silver tip", "apple", 52),
    ("apple silver-tip", "apple", 52),
    ('apple 1/2" green', "apple", 54),
    ("apple ½ inch green", "apple", 54),
    ("apple ½″ green", "apple", 54),
    ('apple 1/4" green', "apple", 53),
    ("nothing on there yet", "fig", 0),
    ("plum tip green", "european-plum", 54),
    ("porch fig breaking in the sun", "fig", 9),
    ("apple half-inch  green", "apple", 54),
    ("apple mouse-ear", "apple", 54),
    ("apple tight cluster", "apple", 55),
    ("apple at pink", "apple", 57),
    ("apple full pink", "apple", 59),
    ("apple king bloom", "apple", 60),
    ("pear balloon", "pear", 59),
    ("pear first white", "pear", 57),
    ("pear leaf buds breaking", "pear", 7),
    ("mulberry bud break", "mulberry", 7),
    ("persimmon green tips", "persimmon", 9),
    ("persimmon ripe", "persimmon", 89),
    ("figs ripe", "fig", 87),
]
CHATTY = [
    ("The buds on the wall fig are swelling nicely, lovely morning too", "fig", 1),
    ("good news - the porch fig has finally woken up!", "fig", 9),
    ("Well, the shed fig's still fast asleep, bless it.", "fig", 0),
    ("buds a little fatter on the leaf fig, nothing more", "fig", 1),
    ("Went round with my coffee: the gate peach is in full bloom and humming with bees", "peach", 65),
    ("the apricot has just started to open its first flowers... so pretty", "apricot", 60),
    ("About 30% of the flowers are open on the apricot today", "apricot", 63),
    ("the old pear is white all over", "pear", 65),
    ("petals are falling on the plum like snow", "japanese-plum", 67),
    ("all the petals have fallen from the cherry", "sweet-cherry", 69),
    ("a few blossoms are open on the apple", "apple", 60),
    ("I see the first petals falling on the peach", "peach", 65),
    ("the mulberry's leaves are just unfolding", "mulberry", 11),
    ("the fig is still sleeping, it isn't awake yet", "fig", 0),
]
VOICE = [
    ("um so the wall fig is awake and i took the cover off", "fig", 9),
    ("ok the apple is at half inch green now", "apple", 54),
    ("peach ten percent bloom", "peach", 61),
    ("peach about thirty per cent open", "peach", 63),
    ("apricot half open", "apricot", 65),
    ("cherry one in ten open", "sweet-cherry", 61),
    ("plum a third open", "european-plum", 63),
    ("pear three quarters in bloom", "pear", 65),
    ("apple in bloom at twenty percent", "apple", 62),
    ("so the shed fig no movement yet", "fig", 0),
    ("wall fig hasnt woken up", "fig", 0),
]
NON_NATIVE = [
    ("my fig the buds is swelling", "fig", 1),
    ("peach tree have full flower now", "peach", 65),
    ("the apricot begin to bloom today", "apricot", 60),
    ("apple tree is flowering", "apple", 63),
    ("fig tree he make first leaf", "fig", 11),
    ("the flowers is finished on plum", "european-plum", 69),
    ("fig sleep is over it start to swell", "fig", 1),
]
MISSPELT = [
    ("wall fig sweling", "fig", 1),
    ("wall fig swellling", "fig", 1),
    ("wall fig swellign", "fig", 1),
    ("fig alseep", "fig", 0),
    ("fig dormnt", "fig", 0),
    ("peach flowring", "peach", 63),
    ("peach in ful bloom, first blosoms", "peach", 60),
    ("peach baloon", "peach", 59),
    ("apple tight clustr", "apple", 55),
    ("mulberry leves unfolding, leaves unfoldng", "mulberry", 11),
]


@pytest.mark.parametrize(("text", "species", "code"), [*TERSE, *CHATTY, *VOICE, *NON_NATIVE, *MISSPELT])
def test_a_stage_told_is_read(text: str, species: str, code: int) -> None:
    """Terse, chatty, dictated, non-native and misspelt messages give one stage, the one they tell."""
    assert set(sure(text, species)) == {code}


@pytest.mark.parametrize(
    ("text", "species"),
    [
        ("silver tip", "peach"),
        ("full bloom", "fig"),
        ("30% open", "fig"),
        ("embryo figs", "apple"),
        ("shuck split", "apple"),
        ("tight", "apple"),
        ("elongating", "mulberry"),
        ("white bud", "apple"),
        ("in full bloom", "no-such-kind"),
    ],
)
def test_no_stage_of_this_kind(text: str, species: str) -> None:
    """A stage that a kind of tree has not is found, without a code for it."""
    (said,) = find_stages(text, WORDS)
    assert said.codes
    assert code_for(said, species, WORDS) is None


@pytest.mark.parametrize(
    "text",
    [
        "peach not in bloom yet",
        "the wall fig isn't swelling",
        "wall fig not swelling",
        "no sign of swelling on the wall fig",
        "no signs of bloom yet",
        "not out yet",
        "no leaves yet",
        "no flowers on the peach",
        "bud break: not yet",
        "bud break, not yet",
        "figs not ripe yet",
        "nothing in bloom yet",
        "still nothing swelling",
        "neither swelling nor breaking",
        "no swelling or bud break",
        "never in bloom",
        "no longer dormant",
        "not fully awake",
        "not all awake",
        "the peach hasn't started to bloom",
        "wall fig is not asleep",
        "without bloom yet",
        "didnt wake up, not awake enough, no leaves",
    ],
)
def test_what_is_denied_carries_no_code(text: str) -> None:
    """A stage denied is found and marked, so that it can be noted, and nothing of it can be logged."""
    found = find_stages(text, WORDS)
    assert found
    assert all(said.negated and not said.codes and not said.unclear for said in found)


@pytest.mark.parametrize(
    "text",
    [
        "nothing yet", "still nothing", "no sign of life", "no movement", "no sign of buds", "not awake", "isn't awake yet",
        "Nothing so far.", "no signs of life on the tall pot", "not woken up", "nothing happening", "hasn't woken up yet",
    ],
)  # fmt: skip
def test_no_sign_at_all_is_asleep(text: str) -> None:
    """Only words that say that nothing has begun stand for dormancy."""
    assert [sure(text, species) for species in ("fig", "peach", "apple", "persimmon")] == [[0]] * 4


@pytest.mark.parametrize(
    "text",
    [
        "peach nearly in bloom",
        "almost full bloom",
        "should be in bloom soon",
        "in bloom any day now",
        "full bloom by the weekend",
        "full bloom next week",
        "I think the wall fig is awake",
        "maybe swelling",
        "wall fig might be swelling",
        "looks like the fig is waking up",
        "wall fig awake i think",
        "hope the peach is in bloom tomorrow",
        "close to petal fall",
        "past full bloom",
        "half awake fig, half swelling",
        "is the peach in bloom yet",
        "is the peach in bloom?",
        "peach in bloom, isn't it?",
        "wall fig bud break?",
        "pruned the apple before bud break",
        "after petal fall I feed the apple",
        "will water until bud break",
        "when the plum is in bloom we spray",
        "if it freezes at pink bud, or in full bloom",
        "last year in full bloom on 4 April",
        "usually in full bloom by now",
        "less than 10% open",
        "10-20% bloom",
        "10 to 20 percent bloom",
        "I think the wall fig is awake and the porch fig swelling",
        "waiting for the fig to wake, waiting for bud break",
        "expecting full bloom on Friday",
        "still nothing, checked for mice",
        "woke up early, watered the figs",
        "we missed the first flowers",
        "took the chips off so that the fig can be awake sooner",
        "pulled the chips so that it can start waking up",
        "chips to keep the fig asleep",
        "white paint to delay blooming",
        "fed at bud break",
        "frost at full bloom killed half",
        "later than full bloom",
        "full bloom last spring",
        "fruit on the wall fig, swelling well",
    ],
)
def test_what_is_doubtful_is_marked(text: str) -> None:
    """What is nearly so, thought, expected, asked, past or under a condition is never sure."""
    found = find_stages(text, WORDS)
    assert any(said.hedged for said in found)
    assert all(said.hedged or said.unclear for said in found)


@pytest.mark.parametrize(
    "text",
    [
        "about to bloom", "wall fig leafed out", "the leaves are out", "buds pushing", "budding out", "in leaf", "delayed dormant",
        "showing color", "leaf drop", "fruits swelling", "0% bloom", "150% bloom",
        "small leaves on the fig", "the peach bloomed", "petals on the ground", "buds green", "green at the tips",
    ],
)  # fmt: skip
def test_words_that_say_too_little_are_unclear(text: str) -> None:
    """Words about a stage that fit several are found without a code, so that they can be asked back."""
    assert [said.unclear for said in find_stages(text, WORDS)] == [True]


@pytest.mark.parametrize(
    "text",
    [
        "raking the chips off the wall fig",
        "walking past the shed fig",
        "making a frame",
        "leaking hose at the peach",
        "smelling of rain",
        "dormant oil on the apple today",
        "dormant pruning done",
        "I woke up at five",
        "we were wide awake",
        "tied tight to the stake",
        "tight against the wall",
        "wind breaking branches",
        "breaking the ice on the barrel",
        "a flowering quince is lovely",
        "the neighbours crab is flowering, and roses in bloom",
        "dandelions in full bloom everywhere",
        "left the vent half open",
        "shed door opening badly",
        "an opening in the fence",
        "picked nothing yet",
        "still nothing from the nursery",
        "nothing yet about the order",
        "no sign of mice",
        "no sign of frost damage",
        "the trunk is swelling at the union",
        "swollen fingers from the cold",
        "ripe for pruning",
        "took the chips off so the fig wakes up",
        "picked 12 ripe figs",
        "first ripe fig off the wall fig",
        "the pears are half green",
        "figs starting to look well",
        "scratched it, green tip alive",
        "lost half the flowers to frost",
        "30% of the blossoms killed",
        "fillets for dinner",
        "half the pots are out",
        "moved the two small figs",
        "first pinkish light of dawn",
        "a swell day",
        "in full sun",
        "all out",
        "not yet",
        "",
        "?",
        "%",
        "10%",
        "half",
    ],
)
def test_other_matters_are_no_stage(text: str) -> None:
    """Words that look like stages and mean something else give nothing."""
    assert find_stages(text, WORDS) == []


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("porch fig just woke up, shed fig still nothing", [("just woke up", 9), ("still nothing", 0)]),
        ("not swelling wall fig bud break porch fig", [("swelling", None), ("bud break", 9)]),
        ("not awake, but buds swelling", [("not awake", 0), ("buds swelling", 1)]),
        ("swelling, not yet breaking", [("swelling", 1), ("breaking", None)]),
        ("no longer asleep, leafing out", [("asleep", None), ("leafing out", 11)]),
        ("first   LEAVES-unfolding; figlets", [("first   LEAVES-unfolding", 11), ("figlets", 71)]),
    ],
)
def test_several_stages_keep_their_order(text: str, told: list[tuple[str, int | None]]) -> None:
    """Each stage of a message is found by itself, and a denial reaches the next one only."""
    assert [(said.phrase, code_for(said, "fig", WORDS)) for said in find_stages(text, WORDS)] == told


def test_a_doubt_reaches_one_clause() -> None:
    """What is nearly so does not make the next clause doubtful."""
    assert [said.hedged for said in find_stages("shed fig almost awake, porch fig awake", WORDS)] == [True, False]


def test_the_longest_phrase_counts() -> None:
    """A phrase inside a longer one is no stage of its own."""
    for stage in WORDS.stages:
        for phrase in stage.phrases:
            said = find_stages(" ".join(phrase), WORDS)
            assert len(said) <= 1 or len(phrase) > 2, phrase
    assert [said.words for said in find_stages("all petals fallen", WORDS)] == ["bloom over"]
    assert [said.words for said in find_stages("leaf buds swelling", WORDS)] == ["leaf buds swelling"]


def test_every_phrase_of_the_file_is_found() -> None:
    """Said alone, each phrase gives its own stage, or none where it says that it is denied."""
    lost = []
    for stage in WORDS.stages:
        for phrase in stage.phrases:
            said = find_stages("it " + " ".join(phrase), WORDS)
            if [one.words for one in said] != [stage.words]:
                lost.append((phrase, [one.words for one in said]))
            elif dict(said[0].codes) != dict(stage.codes):
                lost.append((phrase, dict(said[0].codes)))
    assert lost == []


def test_how_it_is_written_does_not_matter() -> None:
    """Case, hyphens, doubled spaces and typed apostrophes change nothing but the places."""
    plain = find_stages("isn't awake, first leaves unfolding", WORDS)
    written = find_stages("Isn’t  AWAKE ,  First-leaves\tunfolding!", WORDS)
    assert [(said.words, said.codes, said.negated) for said in plain] == [
        (said.words, said.codes, said.negated) for said in written
    ]


def holds(text: str, found: list[SaidStage]) -> bool:
    """Return whether what was found lies in the text, in order, none over another, and agrees with itself."""
    ends = [0, *(said.end for said in found)]
    return all(
        text[said.start : said.end] == said.phrase != ""
        and end <= said.start
        and not (said.negated and (said.codes or said.hedged))
        for said, end in zip(found, ends, strict=False)
    )


VOCABULARY = sorted(
    WORDS.known | WORDS.manner.fillers | WORDS.manner.denials | {"fig", "peach", "%", "10", "1/2", ",", ".", "?"}
)


@given(st.text(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_text_is_read_without_fault(text: str) -> None:
    """Random text never raises, and places refer to it."""
    assert holds(text, find_stages(text, WORDS))


def test_random_messages_of_stage_words_are_read_without_fault() -> None:
    """Stage words in any order, with what denies or doubts them, never raise."""
    chance = random.Random(20260424)
    for _ in range(300):
        text = chance.choice([" ", "  ", "-"]).join(chance.choices(VOCABULARY, k=chance.randint(1, 25)))
        assert holds(text, find_stages(text, WORDS))


@given(st.sampled_from(sorted(WORDS.known)), st.sampled_from(["not ", "no ", "isn't ", "never "]))
@settings(max_examples=100, deadline=None)
def test_a_denial_right_before_logs_no_progress(word: str, denial: str) -> None:
    """Directly denied, no word of a phrase gives a stage that has begun."""
    assert all(code == 0 for code in sure(denial + word, "fig"))


@pytest.mark.parametrize(
    "text",
    [
        "ripe " * 2000, "a" * 10_000, "still nothing swelling half open 30 % open if " * 217, "buds all just " * 715,
        "swelilng, " * 1000, "nothing yet if when ripe and " * 345, "?" * 10_000, "not " * 2500, "éﬁ½" * 3333,
    ],
)  # fmt: skip
def test_long_texts_come_back(text: str) -> None:
    """Ten thousand letters of the worst kind are read; a pattern that ran away would hang here."""
    assert holds(text, find_stages(text[:10_000], WORDS))
