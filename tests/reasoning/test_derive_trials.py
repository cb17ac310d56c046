"""How trials are set up, who noted them, pairs, and what was changed outside any trial. All gardens are invented."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

import pytest
from scipy.stats import wilcoxon
from small_garden import SmallGarden

from advisor.config import find_rules
from advisor.facts import Fact
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 4, 24)
START = date(2026, 3, 1)


def facts_of(garden: SmallGarden, kind: str, today: date = TODAY) -> list[Fact]:
    facts = derive(Scene(garden, LORE, today, "trial-result"), [kind], KINDS).of(kind)
    for fact in facts:
        fields = KINDS[kind].fields
        assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
    return facts


def only(garden: SmallGarden, kind: str, today: date = TODAY) -> Mapping[str, Any]:
    (fact,) = facts_of(garden, kind, today)
    return fact.values


def trial(garden: SmallGarden | None = None, **more: Any) -> SmallGarden:
    told = {"question": "does it help?", "differs": "mulch raked back", "outcome": "date of bud break",
            "from_day": START}  # fmt: skip
    return (garden or SmallGarden().spot("bed")).tell("trial", name="open mulch", **{**told, **more})


def members(
    garden: SmallGarden, side_a: list[int], side_b: list[int], paired: bool = False, **more: Any
) -> SmallGarden:
    """Put figs on both sides that woke on these days of April."""
    for side, days in (("a", side_a), ("b", side_b)):
        for n, day in enumerate(days):
            garden.plant(f"{side}{n}", **more).stage(f"{side}{n}", date(2026, 4, day).isoformat(), 7)
            pair = {"pair": f"pair {n}"} if paired else {}
            garden.tell("trial_member", trial="open mulch", side=side, plant=f"{side}{n}", **pair)
    return garden


def test_a_setup_counts_plants_and_values_by_themselves() -> None:
    """Three against two, of which one woke before the trial began and has no value in it."""
    garden = members(trial(), [4, 6, 7], [12, 13])
    garden.tell("stage", plant="a0", on=date(2026, 2, 20), bbch=7)
    found = only(garden, "trial_setup")
    counts = ("count_a", "count_b", "fewest", "fewest_read", "readings", "most_of_one")
    assert [found[name] for name in counts] == [3, 2, 2, 2, 4, 1]
    assert (found["measured"], found["can_compare"], found["lots"]) == ("date of waking", True, "not told")
    assert found["differs"] == "mulch raked back"


def test_readings_of_a_soil_are_counted_and_never_make_a_spot_two() -> None:
    """One bed a side, each read five times: ten readings, one a side, and no outcome to speak of."""
    garden = trial(SmallGarden(), outcome="soil temperature", from_day=date(2026, 4, 1))
    for side in ("a", "b"):
        garden.spot(side)
        garden.tell("trial_member", trial="open mulch", side=side, spot=side)
        for day in range(10, 15):
            garden.soil(side, f"2026-04-{day}T13:00", 10.0)
    found = only(garden, "trial_setup")
    assert [found[name] for name in ("fewest", "fewest_read", "readings", "most_of_one")] == [1, 1, 10, 5]
    assert facts_of(garden, "trial_outcome") == []


def test_words_that_name_nothing_recorded_cannot_be_compared() -> None:
    """Happier is not noted anywhere."""
    found = only(trial(outcome="which is happier"), "trial_setup")
    assert found["can_compare"] is False and "measured" not in found


@pytest.mark.parametrize(
    ("spots", "apart"), [(("x", "x"), False), (("x", "y"), True), (("x", "x y"), False), (("x y", "x y"), False)]
)
def test_sides_stand_apart_where_each_has_a_spot_of_its_own(spots: tuple[str, str], apart: bool) -> None:
    """A shared spot, or several on a side, is another matter; a move counts."""
    garden = trial(SmallGarden().spot("x").spot("y"))
    for side, of_side in zip("ab", spots, strict=True):
        for n, spot in enumerate(of_side.split() * 2):
            garden.plant(f"{side}{n}", spot="old").move(f"{side}{n}", spot, "2026-03-02")
            garden.tell("trial_member", trial="open mulch", side=side, plant=f"{side}{n}")
    found = only(garden, "trial_setup")
    assert found["apart"] is apart
    assert ("where_a" in found) is apart and found.get("where_b", "y") == "y"


def test_members_that_are_spots_are_no_place_to_stand() -> None:
    """Beds compared with beds do not stand apart; they are what is compared."""
    garden = trial(SmallGarden().spot("x").spot("y"), outcome="soil temperature")
    for side, spot in (("a", "x"), ("b", "y")):
        garden.tell("trial_member", trial="open mulch", side=side, spot=spot)
    assert only(garden, "trial_setup")["apart"] is False


@pytest.mark.parametrize(("odd", "alike"), [({}, True), ({"species": "peach"}, False), ({"growing": "pot"}, False)])
def test_unlike_members_are_told(odd: dict[str, str], alike: bool) -> None:
    """Another kind, or a pot beside the ground."""
    garden = members(trial(), [4, 6], [12]).plant("b9", **odd)
    garden.tell("trial_member", trial="open mulch", side="b", plant="b9")
    assert only(garden, "trial_setup")["alike"] is alike


@pytest.mark.parametrize(("by_lot", "lots"), [(True, "drawn"), (False, "not drawn"), (None, "not told")])
def test_a_trial_to_come_is_set_up_already(by_lot: bool | None, lots: str) -> None:
    """Days to its start are counted; without members and values it has none."""
    garden = trial(from_day=TODAY + timedelta(days=5), by_lot=by_lot)
    found = only(garden, "trial_setup")
    assert (found["starts_in_days"], found["lots"], found["fewest"], found["alike"]) == (5, lots, 0, True)
    assert facts_of(garden, "trial_outcome") == []


def test_pairs_set_beforehand_are_compared_in_pairs() -> None:
    """Six pairs, each b two to seven days later: by scipy's exact signed ranks, and clearer than side against side."""
    a, b = [4, 9, 14, 7, 11, 2], [6, 12, 18, 12, 17, 9]
    paired = only(members(trial(), a, b, paired=True), "trial_outcome")
    apart = only(members(trial(), a, b), "trial_outcome")
    differences = [y - x for x, y in zip(a, b, strict=True)]
    assert paired["luck_share"] == pytest.approx(wilcoxon(differences, method="exact").pvalue, abs=1e-4)
    assert paired["settled"] is True and apart["settled"] is False
    half = members(trial(), a, b, paired=True)
    half.plant("b6").stage("b6", "2026-04-20", 7).tell("trial_member", trial="open mulch", side="b", plant="b6")
    assert only(half, "trial_outcome")["count_b"] == 7


def test_dates_of_two_sides_lie_apart_by_their_shift() -> None:
    """Nine days, noted by nobody named, by one, then by two people; a name is one in any case of letters."""
    garden = members(trial(), [3, 4, 5, 6], [12, 13, 14, 15])
    assert only(garden, "date_gap") == {"trial": "open mulch", "gap_days": 9.0, "observers": 1}
    for row in range(1, 8):
        garden.said_by["stage", row] = "HELPER" if row % 2 else "helper"
    assert only(garden, "date_gap")["observers"] == 1
    garden.by("stage", "grower")
    assert only(garden, "date_gap")["observers"] == 2


def test_what_is_no_date_has_no_gap_of_days() -> None:
    """Centimetres and degrees are another error."""
    garden = trial(SmallGarden().spot("bed"), outcome="length of shoots")
    for side in ("a", "b"):
        for n in range(2):
            garden.plant(f"{side}{n}").tell("growth", plant=f"{side}{n}", on=date(2026, 4, 20), shoot_cm=20.0 + n)
            garden.tell("trial_member", trial="open mulch", side=side, plant=f"{side}{n}")
    assert len(facts_of(garden, "trial_outcome")) == 1 and facts_of(garden, "date_gap") == []


# ---- changes


def test_the_newest_changes_are_told_with_how_many_got_them() -> None:
    """Each deed of a day once, the newest three; watering is daily care, and last year's pruning is last year's."""
    garden = SmallGarden().spot("bed").cover("bed", "wood chips", "2025-05-01", "2026-04-10")
    garden.cover("bed", "bare", "2026-04-10")
    for name in ("one", "two", "three", "four"):
        garden.plant(name)
    for plant, what, on in (
        ("one", "pruned", date(2026, 3, 28)), ("two", "pruned", date(2026, 3, 28)), ("three", "fed", date(2026, 3, 1)),
        ("four", "wrapped", date(2025, 12, 6)), ("one", "watered", date(2026, 4, 20)), ("four", "pruned", date(2025, 3, 1)),
    ):  # fmt: skip
        garden.tell("work", plant=plant, what=what, on=on)
    found = [(one.text("what"), one.text("subject"), one.get("count")) for one in facts_of(garden, "change_made")]
    assert sorted(found) == [
        ("feeding", "three", 1),
        ("pruning", "one and 1 more", 2),
        ("wood chips taken off", "bed", 1),
    ]
    assert {one.get("in_trial") for one in facts_of(garden, "change_made")} == {False}
    assert facts_of(garden, "change_made", date(2026, 4, 9)) and not facts_of(SmallGarden(), "change_made")


def test_a_cover_put_in_another_s_place_is_one_change() -> None:
    """Chips off and straw on in one day is straw put on; the first cover ever told is how the bed was found."""
    garden = SmallGarden().spot("bed").cover("bed", "wood chips", "2025-12-01", "2026-04-10")
    assert [one.text("what") for one in facts_of(garden, "change_made")] == ["wood chips taken off"]
    garden.cover("bed", "straw", "2026-04-10")
    assert [one.text("what") for one in facts_of(garden, "change_made")] == ["straw put on"]


@pytest.mark.parametrize(
    ("on", "inside"),
    [(date(2026, 2, 22), True), (date(2026, 2, 21), False), (date(2026, 4, 1), True), (date(2026, 4, 2), False)],
)
def test_a_change_to_a_member_while_a_trial_runs_stands_in_it(on: date, inside: bool) -> None:
    """From a week before its first day, for the treatment itself, to its last."""
    garden = members(trial(to_day=date(2026, 4, 1)), [4], [12]).tell("work", plant="a0", what="pruned", on=on)
    assert only(garden, "change_made")["in_trial"] is inside
    other = members(trial(), [4], [12]).plant("x").tell("work", plant="x", what="pruned", on=on)
    assert only(other, "change_made")["in_trial"] is False
