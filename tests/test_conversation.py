"""One message through all of it: what is asked back, what a number picks, and what every answer keeps to."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests_shared import NOON, leaves

from advisor.conversation import Adviser
from advisor.language.text_message import segments
from advisor.records.corrections import retire
from advisor.records.store import Said

Ask = Callable[[str], dict[str, Any]]
PLANTS = ["shed fig", "lane fig", "new fig", "store fig", "crooked fig", "wall fig", "big persimmon", "gate apricot",
          "old plum", "family apple low limb", "black pot fig", "hollow peach"]  # fmt: skip
KINDS = ["fig", "apricot", "peach", "sweet cherry", "European plum", "pear", "apple", "persimmon", "mulberry"]


@pytest.mark.parametrize(
    "text", [f"why is the {p} late?" for p in PLANTS] + [f"where do I put a new {k}?" for k in KINDS]
)
def test_every_answer_keeps_to_the_contract(ask: Ask, adviser: Adviser, demo_copy: Path, text: str) -> None:
    """Answered, at most two asks and two text segments, ranks in order, and every reason leads to rows that exist."""
    reply = ask(text)
    assert reply["outcome"] == "answered"
    assert segments(reply["short"]) <= 2
    assert len(reply["lacking"]) <= 2
    assert [c["rank"] for c in reply["conclusions"]] == list(range(1, len(reply["conclusions"]) + 1))
    assert "(not known)" not in reply["reply"] and "{" not in reply["reply"] and "None" not in reply["reply"]
    with adviser.open(demo_copy) as garden:
        for conclusion in reply["conclusions"]:
            reasons = [reply["because"][place] for place in conclusion["because"]]
            assert reasons and reasons[0]["rule"] == conclusion["rule"]
            for reason in reasons:
                rows = leaves(reason["from"])
                assert rows
                for kind, row_id in rows:
                    garden.row(kind, row_id)
    named = {(r["kind"], n) for r in reply["records"] for n in range(r["id"], r.get("to", r["id"]) + 1)}
    behind = {row for reason in reply["because"] for row in leaves(reason["from"])}
    assert named == behind | leaves(reply["state"])


def test_the_demo_s_story_is_told(ask: Ask) -> None:
    """What a seasoned grower would say of the invented garden's late plants leads each answer."""
    leading = {
        "shed fig": ("cold-roots", "possible"),
        "new fig": ("new-planting", "likely"),
        "lane fig": ("winter-injury", "likely"),
        "store fig": ("dry-root-ball", "likely"),
        "crooked fig": ("late-by-habit", "possible"),
        "big persimmon": ("kind-wakes-late", "likely"),
    }
    for plant, (claim, grade) in leading.items():
        causes = [c for c in ask(f"why is the {plant} late?")["conclusions"] if c["kind"] == "cause"]
        assert (causes[0]["claim"], causes[0]["grade"]) == (claim, grade), plant
    assert ask("where do I put a new apricot?")["spots"][0]["spot"] == "north bank"
    assert ask("where does the next fig go?")["spots"][0]["spot"] == "south wall"
    peach = ask("where do I put a new peach?")
    assert {s["spot"] for s in peach["spots"] if s["place"] == 1} == {"raised bed", "shed bed"}
    assert "if somebody covers it on every frosty night in bloom" in peach["reply"]
    assert [s["spot"] for s in peach["spots"] if s["ruled_out"]] == ["hollow", "pot yard"]


def test_a_figure_says_how_it_was_reckoned(ask: Ask) -> None:
    """In the reply once, and in the data with each derived fact: the method's name and how far to trust it."""
    answer = ask("why is the shed fig late?")
    assert "The figures: Mean difference of readings paired within an hour" in answer["reply"]

    def derived(node: dict[str, Any]) -> Iterator[dict[str, Any]]:
        if node.get("origin") == "derived":
            yield node
        for below in node.get("from", []):
            yield from derived(below)

    facts = [fact for entry in answer["because"] for root in entry["from"] for fact in derived(root)]
    contrasts = [fact for fact in facts if fact["fact"]["kind"] == "soil_contrast"]
    assert contrasts and all("within an hour" in fact["method"] and fact["trust"] for fact in contrasts)


def test_a_plant_that_is_not_late_is_not_explained(ask: Ask) -> None:
    """ "It is not late for its kind" is an answer, and no cause is made up for it."""
    reply = ask("why is the wall fig so late?")
    assert "It is not late" in reply["reply"]
    assert [c for c in reply["conclusions"] if c["kind"] == "cause" and c["grade"] != "ruled out"] == []


def test_an_unclear_name_is_asked_back_and_a_number_answers(ask: Ask) -> None:
    """Fifteen figs fit; sleeping ones are offered first, and "2" or "the second" takes the second of them."""
    back = ask("why is the fig late?")
    assert back["outcome"] == "asked-back"
    assert {choice["text"] for choice in back["choices"][:4]} == {"shed fig", "lane fig", "new fig", "store fig"}
    second = back["choices"][1]["text"]
    assert ask("2")["question"]["plant"] == second
    ask("why is the fig late?")
    assert ask("the second one please")["question"]["plant"] == second
    ask("why is the fig late?")
    assert ask("store fig")["question"]["plant"] == "store fig"
    ask("why is the fig late?")
    assert ask("the crooked fig, please")["question"]["plant"] == "crooked fig"


def test_a_number_out_of_the_blue_picks_nothing(ask: Ask) -> None:
    """Without choices before it, or with one that was not offered, a number is not understood."""
    assert ask("2")["outcome"] == "not-understood"
    ask("why is the fig late?")
    assert ask("9")["outcome"] == "not-understood"


def test_choices_grow_old(adviser: Adviser, demo_copy: Path) -> None:
    """A number a day later answers nothing."""
    adviser.message({"text": "why is the fig late?"}, NOON, demo_copy)
    late = adviser.message({"text": "2"}, NOON + timedelta(hours=13), demo_copy)
    assert late["outcome"] == "not-understood"


@pytest.mark.parametrize(
    ("text", "outcome", "said"),
    [
        ("why is the lemon tree asleep?", "asked-back", "I find no plant that I know"),
        ("where do I put a walnut?", "asked-back", "I find no kind of tree that I know"),
        ("where do I put a cherry?", "asked-back", "2. tart cherry"),
        ("why is the porch fig to late?", "asked-back", "2. porch fig two"),
        ("why is the shde fig late?", "answered", "The shed fig"),
        ("why is the hall fig late?", "asked-back", "1. wall fig"),
        ("why doesn't the shed fig wake up?", "answered", "The shed fig"),
        ("shed fig is late, why?", "answered", "The shed fig"),
        ("is the lane fig dead?", "answered", "brown under the bark"),
        ("when will the shed fig be taller?", "not-understood", "I heard the shed fig"),
        ("when will the shed fig wake up?", "answered", "The shed fig is due"),
        ("where do I buy a fig?", "not-understood", "Did you want to ask"),
        ("where do I plant a Japanese maple?", "asked-back", "The kinds I know"),
        ("why is the fig late and where do I put a new pear?", "asked-back", "For a pear"),
        ("WHY IS THE SHED-FIG LATE", "answered", "The shed fig"),
        ("why is the fig by the shed bed late", "answered", "The shed fig"),
        ("shed fig: soil 9.5 C at 10 cm", "recorded", "soil at shed bed 9.5 °C, 10 cm deep"),
        ("?", "not-understood", "Did you want to ask"),
    ],
)
def test_what_is_unclear_is_said(ask: Ask, text: str, outcome: str, said: str) -> None:
    """A wrong guess is never acted on: unclear is asked back, and what cannot be read says so and shows what can."""
    reply = ask(text)
    assert (reply["outcome"], said in reply["reply"]) == (outcome, True), reply["reply"]


def test_a_cited_record_carries_its_conclusion(ask: Ask, adviser: Adviser, demo_copy: Path) -> None:
    """Retire the look at the dry root ball, and the cause that rests on it goes."""
    reply = ask("why is the store fig late?")
    first = reply["conclusions"][0]
    rows = leaves(reply["because"][first["because"][0]]["from"])
    (look,) = [row for row in rows if row[0] == "inspection"]
    with adviser.open(demo_copy) as garden:
        retire(garden, *look, Said("message", "test", NOON), reason="a slip")
    again = ask("why is the store fig late?")
    assert first["claim"] not in {c["claim"] for c in again["conclusions"]}


def test_an_uncited_record_changes_nothing(ask: Ask, adviser: Adviser, demo_copy: Path) -> None:
    """Retire a look at a tree that the answer does not speak of, and the answer stays word for word."""
    text = "why is the store fig late?"
    before = ask(text)
    with adviser.open(demo_copy) as garden:
        other = next(f for f in garden.of("stage") if f.text("plant") == "red apple")
        retire(garden, "stage", other.origin.row_ids[0], Said("message", "test", NOON), reason="a slip")
    after = ask(text)
    assert {**before, "id": ""} == {**after, "id": ""}


def test_the_answer_can_be_replayed_for_an_earlier_day(adviser: Adviser, demo_copy: Path) -> None:
    """Asked as of 8 April, nothing of what was told after it is used."""
    early = NOON - timedelta(days=16)
    reply = adviser.message({"text": "why is the shed fig late?"}, early, demo_copy)
    with adviser.open(demo_copy) as garden:
        for reason in reply["because"]:
            for kind, row_id in leaves(reason["from"]):
                row = garden.row(kind, row_id)
                assert str(row.get("on") or row.get("at") or "")[:10] <= early.date().isoformat()


def test_us_units_come_back_as_asked(adviser: Adviser, demo_copy: Path) -> None:
    """The same garden kept in US units answers in Fahrenheit and inches."""
    with adviser.open(demo_copy) as garden:
        garden.db.conn.execute("UPDATE place SET units = 'us'")
        garden.db.conn.commit()
    reply = adviser.message({"text": "why is the shed fig late?"}, NOON, demo_copy)["reply"]
    assert "°F colder" in reply and "°C" not in reply and "April 22" in reply


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(min_size=1, max_size=300).filter(lambda text: text.strip()))
def test_any_text_gets_an_honest_reply(adviser: Adviser, demo_copy: Path, text: str) -> None:
    """Whatever is typed, the reply is one of the outcomes and fits a text message."""
    reply = adviser.message({"text": text}, NOON, demo_copy)
    assert reply["outcome"] in {"answered", "asked-back", "not-understood", "noted", "declined"}
    assert segments(reply["short"]) <= 2


@pytest.mark.parametrize(
    "text",
    ["'; DROP TABLE plant; --", "<script>alert(1)</script> why is the shed fig late", "(a+)+$" * 300,
     "\u202ewhy is the shed fig late\u202c", "why \x00 is the shed fig late", "🌳" * 900, "why " * 499,
     "{standing.plant} {0} %s %(x)s"],
)  # fmt: skip
def test_hostile_text_is_only_text(ask: Ask, adviser: Adviser, demo_copy: Path, text: str) -> None:
    """Markup, direction marks, control characters and patterns are read as words or not at all; nothing is lost."""
    assert ask(text)["outcome"] in {"answered", "asked-back", "not-understood", "noted", "declined"}
    with adviser.open(demo_copy) as garden:
        assert len(garden.of("plant")) == 38


def test_a_call_for_help_shows_what_can_be_told_and_asked(ask: Ask) -> None:
    reply = ask("help")
    assert reply["outcome"] == "answered" and "undo takes it back" in reply["reply"]
    assert "how is the season so far?" in reply["reply"] and ask("thanks!")["reply"] == "Glad to help."


def test_what_is_not_understood_says_what_was_heard_and_what_it_is_near(ask: Ask) -> None:
    """The plant heard is in the questions offered, and the question most like the words comes first."""
    reply = ask("how chilly was february for the shed fig")
    assert reply["outcome"] == "not-understood" and reply["recorded"] == []
    assert "I heard the shed fig in it" in reply["reply"] and "shed fig is swelling" in reply["reply"]
    offered = reply["reply"].split("Did you want to ask:\n")[1].splitlines()
    assert len([line for line in offered if line.startswith("  ")]) == 2 and "season" in " ".join(offered[:2])


@pytest.mark.parametrize(
    "text",
    ["it was cold yesterday", "that was a nice day yesterday", "sorry I was away last week", "no frost damage on the gate apricot",
     "it was warm at the south wall", "it was windy on Tuesday and I stayed in"],
)  # fmt: skip
def test_what_speaks_of_something_else_corrects_nothing(ask: Ask, text: str) -> None:
    """A record just told stands, though the words begin as a correction would."""
    assert ask("shed fig buds swelling")["outcome"] == "recorded"
    assert ask(text)["recorded"] == []


@pytest.mark.parametrize(
    ("text", "now"),
    [
        ("that was yesterday", "23 April"),
        ("not the shed fig, the wall fig", "wall fig"),
        ("no, bud break", "bud break"),
    ],
)
def test_a_correction_puts_the_last_record_right(ask: Ask, text: str, now: str) -> None:
    ask("shed fig buds swelling")
    reply = ask(text)
    assert reply["outcome"] == "recorded" and now in reply["reply"]


def test_once_more_is_of_another_plant_and_only_that(ask: Ask) -> None:
    ask("shed fig 3 leaves, two buds at the node")
    assert "wall fig: 4 leaves, " in ask("and the wall fig 4 leaves")["reply"]
    assert "store fig: 4 leaves, " in ask("and the store fig too")["reply"]


def test_two_parts_not_read_are_said_once_and_recorded_is_only_what_was(ask: Ask) -> None:
    reply = ask("is the wall fig in leaf already? can't see from here")
    assert reply["outcome"] == "not-understood" and reply["recorded"] == []
    assert reply["reply"].count("I could not read that") == 1


def test_a_spot_that_was_heard_is_not_said_to_swell(ask: Ask) -> None:
    """The example of something seen is of a plant, also where only a spot was heard."""
    reply = ask("the hollow hums")["reply"]
    assert "I heard the hollow in it" in reply and "hollow is swelling" not in reply and "is swelling" in reply


def test_one_tree_told_as_awake_and_asleep_in_one_message_is_asked_about(
    ask: Ask, adviser: Adviser, demo_copy: Path
) -> None:
    """Two trees of nearly one name: nothing is recorded, and the reply says what to name."""
    with adviser.open(demo_copy) as garden:
        before = len(garden.of("stage"))

    reply = ask("wall fig bud break, and the fig is asleep")

    assert reply["outcome"] == "asked-back"
    with adviser.open(demo_copy) as garden:
        assert len(garden.of("stage")) == before


def test_what_was_recorded_is_not_said_to_be_unrecorded(ask: Ask) -> None:
    """One part recorded, another asked: nothing more is recorded, not nothing."""
    reply = ask("wall fig bud break today. 12.5 at the hollow")

    assert len(reply["recorded"]) == 1 and reply["choices"]
    assert "nothing more is recorded until it is clear" in reply["reply"]
    assert "nothing of this is recorded" not in reply["reply"]
