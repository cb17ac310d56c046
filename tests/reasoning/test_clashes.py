"""Records that cannot both be true are found and told, with which was taken; rules that advise opposites likewise."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any, cast

import pytest
from small_garden import LORE, ZONE, SmallGarden

from advisor.answers import Because, Conclusion, Told
from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.errors import BadRules
from advisor.language.render import Speech
from advisor.language.reply import answer_reply
from advisor.language.understand import Understood
from advisor.reasoning.derive.clashes import record_clash
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.disputes import Opposite, load_opposites, settled
from advisor.records.store import Garden

TODAY = date(2026, 4, 28)


def garden() -> SmallGarden:
    return SmallGarden().spot("bed").spot("shed", under_cover="shelter").plant("old fig").plant("new fig")


def clashes(told: SmallGarden, plant: str = "old fig") -> list[str]:
    return [fact.text("clash") for fact in record_clash(Scene(told, LORE, TODAY, "why-late", plant))]


def answer(adviser: Adviser, told: SmallGarden, question: str, **named: Any) -> dict[str, Any]:
    names = frozenset(fact.text("name") for kind in ("spot", "plant") for fact in told.of(kind))
    speech = Speech("metric", ZONE, TODAY, adviser.base.kinds, names, {"fig": "fig"})
    return answer_reply(adviser.answer(cast(Garden, told), Understood(question, **named), TODAY), speech)


def test_a_plant_awake_and_later_asleep_is_a_clash() -> None:
    """Green tips on the 12th and asleep on the 20th cannot both be true of one plant."""
    told = garden().stage("old fig", "2026-04-12", 9).stage("old fig", "2026-04-20", 0)

    assert clashes(told) == ["stage ran backwards"]
    assert clashes(told, "new fig") == []


@pytest.mark.parametrize(
    ("first", "second", "harm", "found"),
    [
        (0, 9, "", []),  # it woke
        (11, 9, "", []),  # a leaf seen, then called green tips: two words for one look
        (9, 0, "frost", []),  # frosted between the looks
        (9, 0, "unknown", ["stage ran backwards"]),
        (9, 95, "", []),  # the leaves fell
    ],
)
def test_only_growth_that_vanished_without_a_cause_is_one(first: int, second: int, harm: str, found: list[str]) -> None:
    """What explains a bare plant is no clash."""
    told = garden().stage("old fig", "2026-04-12", first).stage("old fig", "2026-04-20", second)
    if harm:
        told.tell("harm", plant="old fig", on=date(2026, 4, 15), cause=harm)

    assert clashes(told) == found


def test_harm_before_both_looks_explains_nothing() -> None:
    """A frost in March is no reason for what vanished in late April."""
    told = garden().stage("old fig", "2026-04-12", 9).stage("old fig", "2026-04-20", 0)
    told.tell("harm", plant="old fig", on=date(2026, 3, 15), cause="frost")

    assert clashes(told) == ["stage ran backwards"]


def test_two_places_on_one_day() -> None:
    """Carried to two spots on one day is one too many; on two days, or twice to one spot, is not."""
    assert clashes(garden().move("old fig", "shed", "2026-04-12").move("old fig", "bed", "2026-04-12")) == [
        "two places in one day"
    ]
    assert clashes(garden().move("old fig", "shed", "2026-04-12").move("old fig", "bed", "2026-04-13")) == []
    assert clashes(garden().move("old fig", "shed", "2026-04-12").move("old fig", "shed", "2026-04-12")) == []


@pytest.mark.parametrize(
    ("heights", "days", "found"),
    [
        (("tip", "tip"), (12, 12), ["bark told two ways"]),
        (("all", "tip"), (12, 12), ["bark told two ways"]),
        (("tip", "base"), (12, 12), []),
        (("tip", "tip"), (12, 15), []),
    ],
)
def test_bark_green_and_brown(heights: tuple[str, str], days: tuple[int, int], found: list[str]) -> None:
    """At one height on one day it is one of them; brown tips over a green base are no clash."""
    told = garden()
    for height, day, scratch in zip(heights, days, ("brown", "green"), strict=True):
        told.tell("inspection", plant="old fig", on=date(2026, 4, day), scratch=scratch, height=height)

    assert clashes(told) == found


def test_seen_before_it_was_planted() -> None:
    """A stage of this spring before this spring's planting."""
    told = garden().plant("late fig", planted=date(2026, 4, 20)).stage("late fig", "2026-04-12", 9)
    assert clashes(told, "late fig") == ["seen before it was planted"]

    told = garden().plant("late fig", planted=date(2026, 4, 12)).stage("late fig", "2026-04-12", 9)
    assert clashes(told, "late fig") == []


@pytest.mark.parametrize(
    ("later", "temp_c", "depth_cm", "found"),
    [
        ("2026-04-20T08:40", 12.1, 10, ["one soil read two ways"]),
        ("2026-04-20T08:40", 12.0, 10, []),
        ("2026-04-20T09:01", 14.0, 10, []),
        ("2026-04-20T08:40", 14.0, 5, []),
    ],
)
def test_one_soil_read_two_ways(later: str, temp_c: float, depth_cm: float, found: list[str]) -> None:
    """More than four degrees apart at one depth within the hour."""
    told = garden().soil("bed", "2026-04-20T08:00", 8.0).soil("bed", later, temp_c, depth_cm=depth_cm)

    assert clashes(told) == found


def test_bare_and_covered_at_once() -> None:
    """Chips still lying when the soil is told as bare; taken off first, or on another spot, is no clash."""
    told = garden().cover("bed", "wood chips", "2025-10-20").cover("bed", "bare", "2026-03-20")
    assert clashes(told) == ["bare and covered at once"]

    told = garden().cover("bed", "wood chips", "2025-10-20", "2026-03-20").cover("bed", "bare", "2026-03-20")
    assert clashes(told) == []

    told = garden().cover("shed", "wood chips", "2025-10-20").cover("shed", "bare", "2026-03-20")
    assert clashes(told) == []


def test_the_reply_names_the_clash_and_which_record_was_taken(adviser: Adviser) -> None:
    """A grower reads both records with their dates, and what the answer went by."""
    told = garden().stage("old fig", "2026-04-12", 9).stage("old fig", "2026-04-20", 0)

    reply = answer(adviser, told, "why-late", plant="old fig")

    assert (
        "Your records disagree: The old fig is told as awake on 12 April and as still asleep on 20 April"
        in reply["reply"]
    )
    assert "I went by the later look" in reply["reply"]
    assert {("stage", 1), ("stage", 2)} <= {(one["kind"], one["id"]) for one in reply["records"]}


def concluded(claim: str, plant: str = "a", kind: str = "task", **about: str) -> Conclusion:
    because = Because(f"rule-{claim}", "", "", "usual-practice", (), (), Told(claim, {}), ())
    return Conclusion(kind, {"plant": plant, **about} if plant else about, claim, "usual-practice", "known", (because,))


PAIR = (Opposite("keep-in", "go-out", "frost is not undone"),)


def test_of_two_opposite_pieces_of_advice_for_one_plant_the_safe_one_is_taken() -> None:
    """The other is dropped and the dispute kept; another plant's advice is not touched."""
    kept, disputes = settled([concluded("go-out"), concluded("keep-in"), concluded("go-out", "b")], PAIR)

    assert [(one.claim, one.about["plant"]) for one in kept] == [("keep-in", "a"), ("go-out", "b")]
    assert [(one.taken.claim, one.left.claim, one.why) for one in disputes] == [
        ("keep-in", "go-out", "frost is not undone")
    ]


def test_advice_for_a_spot_is_not_advice_for_a_plant() -> None:
    """A plant's task does not stand against a spot's; two of one spot do."""
    kept, _ = settled([concluded("go-out", spot="bed"), concluded("keep-in", "", spot="bed")], PAIR)
    assert len(kept) == 2

    kept, _ = settled([concluded("go-out", "", spot="bed"), concluded("keep-in", "", spot="bed")], PAIR)
    assert [one.claim for one in kept] == ["keep-in"]


def test_every_pair_names_advice_that_some_rule_gives(adviser: Adviser) -> None:
    """A pair of a claim that nothing makes would settle nothing."""
    made = {str(rule.gives.get("claim") or rule.gives.get("what")) for rule in adviser.base.rules.values()}

    assert [name for one in load_opposites(find_rules()) for name in (one.take, one.leave) if name not in made] == []


def test_a_pair_the_other_way_round_is_refused(tmp_path: Path) -> None:
    """Two entries that take opposite sides would settle by their order in the file."""
    text = '[[opposite]]\ntake = "a"\nleave = "b"\nwhy = "x"\n'
    (tmp_path / "opposites.toml").write_text(
        text + text.replace('"a"', '"c"').replace('"b"', '"a"').replace('"c"', '"b"')
    )

    with pytest.raises(BadRules, match="twice"):
        load_opposites(tmp_path)
