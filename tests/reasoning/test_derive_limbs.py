"""Limbs of one tree beside each other, first seasons, dieback, and what a pinched fig still needs. All invented."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product
from math import cos, pi
from typing import Any

import pytest
from small_garden import SmallGarden

from advisor.calc.degree_days import single_sine_degree_days
from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.facts import Derived, Fact, Recorded
from advisor.language.understand import Understood
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 6, 20)


def facts_of(garden: SmallGarden, kind: str, plant: str = "", today: date = TODAY) -> list[Fact]:
    facts = derive(Scene(garden, LORE, today, "what-to-pinch", plant), [kind], KINDS).of(kind)
    for fact in facts:
        fields = KINDS[kind].fields
        assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
        assert all(name in fact.values for name, field in fields.items() if field.required), fact
    return facts


def by_plant(garden: SmallGarden, kind: str, today: date = TODAY) -> dict[str, Fact]:
    return {fact.text("plant"): fact for fact in facts_of(garden, kind, today=today)}


def day(text: str) -> date:
    return date.fromisoformat(text)


def family(**more: Any) -> SmallGarden:
    """Return a fig with two limbs grafted on it."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("family fig", planted=day("2012-04-01"), **more)
    for limb in ("high limb", "low limb"):
        garden.tell("plant", name=limb, species="fig", grafted_on="family fig", planted=day("2018-04-10"))
    return garden


def grew(garden: SmallGarden, plant: str, on: str, **figures: Any) -> SmallGarden:
    return garden.tell("growth", plant=plant, on=day(on), **figures)


def did(garden: SmallGarden, plant: str, on: str, what: str = "pinched") -> SmallGarden:
    return garden.tell("work", plant=plant, on=day(on), what=what)


# ---- limbs


def test_limbs_of_one_tree_are_compared_by_their_longest_shoots() -> None:
    """The longest shoot of each limb counts; a shoot of another tree does not."""
    garden = grew(family(), "high limb", "2026-06-18", shoot_cm=60.0).plant("other fig")
    grew(garden, "low limb", "2026-06-18", shoot_cm=20.0)
    grew(garden, "low limb", "2026-06-18", shoot_cm=30.0)
    grew(garden, "other fig", "2026-06-18", shoot_cm=90.0)
    found = by_plant(garden, "limb_strength")
    low, high, other = found["low limb"], found["high limb"], found["other fig"]
    assert (low.number("of_strongest_share"), low.text("strongest"), low.get("leads")) == (0.5, "high limb", False)
    assert (high.number("of_strongest_share"), high.number("weakest_share"), high.get("leads")) == (1.0, 0.5, True)
    assert (other.number("of_strongest_share"), other.number("limbs"), other.text("strongest")) == (1.0, 1, "")
    assert low.number("limbs") == 3 and low.text("tree") == "family fig"


def test_leaves_stand_in_where_a_length_is_lacking() -> None:
    """One limb was only counted: the leaves of both are compared."""
    garden = grew(family(), "high limb", "2026-06-18", shoot_cm=60.0, leaves=8)
    grew(garden, "low limb", "2026-06-18", leaves=4)
    low = by_plant(garden, "limb_strength")["low limb"]
    assert (low.text("by"), low.number("of_strongest_share")) == ("leaves", 0.5)


def test_looks_a_week_apart_compare_and_later_ones_do_not() -> None:
    """An old look at the one limb says nothing beside a new look at the other."""
    garden = grew(family(), "high limb", "2026-06-11", shoot_cm=60.0)
    assert by_plant(grew(garden, "low limb", "2026-06-18", shoot_cm=30.0), "limb_strength")["low limb"].get("by")
    garden = grew(family(), "high limb", "2026-06-10", shoot_cm=60.0)
    found = by_plant(grew(garden, "low limb", "2026-06-18", shoot_cm=30.0), "limb_strength")
    assert [found[name].number("of_strongest_share") for name in ("low limb", "high limb")] == [None, None]


def test_a_pinched_limb_stands_still_and_keeps_its_look() -> None:
    """The strong limb was stopped on 1 June at 60 cm; the weak one has come to 48 cm since."""
    garden = did(grew(family(), "high limb", "2026-06-01", shoot_cm=60.0), "high limb", "2026-06-01")
    grew(garden, "low limb", "2026-06-18", shoot_cm=48.0)
    assert by_plant(garden, "limb_strength")["low limb"].number("of_strongest_share") == 0.8


def test_a_dead_limb_a_side_shoot_and_last_year_are_left_out() -> None:
    """What died this year is no rival; side shoots and last year's looks are no measure of a limb."""
    garden = grew(family(), "high limb", "2026-06-18", shoot_cm=60.0)
    grew(garden, "low limb", "2026-06-18", shoot_cm=30.0)
    garden.tell("harm", plant="high limb", on=day("2026-06-19"), cause="wind", extent="killed")
    low = by_plant(garden, "limb_strength")["low limb"]
    assert (low.number("of_strongest_share"), low.number("limbs")) == (None, 2)
    garden = grew(family(), "high limb", "2025-06-18", shoot_cm=60.0)
    grew(garden, "low limb", "2026-06-18", shoot_cm=30.0)
    grew(garden, "family fig", "2026-06-18", shoot_cm=80.0, side_shoot=True)
    assert list(by_plant(garden, "limb_strength")) == ["low limb"]


# ---- shoots


def test_side_shoots_are_told_apart_from_shoots() -> None:
    """After a pinching the side shoots are looked at; the first shoots keep their own looks."""
    garden = SmallGarden().plant("f")
    grew(garden, "f", "2026-06-01", shoot_cm=40.0, leaves=6, thickness_rank=1)
    did(garden, "f", "2026-06-02")
    grew(garden, "f", "2026-06-18", shoot_cm=12.0, leaves=3, side_shoot=True)
    first, side = facts_of(garden, "shoot_now")
    assert (first.text("shoot"), first.get("pinched"), first.get("pinched_before")) == (
        "shoot no. 1 by thickness", True, False,
    )  # fmt: skip
    assert (side.text("shoot"), side.get("side_shoot"), side.get("pinched"), side.get("pinched_before")) == (
        "the side shoot seen", True, False, True,
    )  # fmt: skip


def test_shoots_without_a_rank_are_named_by_length() -> None:
    """Of three shoots seen on a day the longest is the first."""
    garden = SmallGarden().plant("f")
    for length in (20.0, 50.0, 35.0):
        grew(garden, "f", "2026-06-18", shoot_cm=length)
    named = {fact.text("shoot"): fact.number("shoot_cm") for fact in facts_of(garden, "shoot_now")}
    assert named == {"shoot no. 1 by length": 50.0, "shoot no. 2 by length": 35.0, "shoot no. 3 by length": 20.0}


@pytest.mark.parametrize(
    ("earlier", "length", "week_cm"),
    [
        ("2026-06-08", 10.0, 21.0),  # 30 cm in ten days
        ("2026-06-14", 10.0, None),  # four days: reading the tape counts for as much
        ("2026-06-13", 25.0, 21.0),  # five days are enough
        ("2026-05-27", 10.0, None),  # three weeks and a day: it slowed since
        ("2026-06-08", 50.0, None),  # shorter than before: another shoot, or cut
    ],
)
def test_how_a_shoot_runs_follows_from_two_looks(earlier: str, length: float, week_cm: float | None) -> None:
    """Two looks at one shoot, a week to three apart, tell what it grows in a week."""
    garden = grew(SmallGarden().plant("f"), "f", earlier, shoot_cm=length, thickness_rank=1)
    grew(garden, "f", "2026-06-18", shoot_cm=40.0, thickness_rank=1)
    (fact,) = facts_of(garden, "shoot_now")
    assert fact.number("week_cm") == week_cm


def test_a_stop_between_two_looks_leaves_no_pace() -> None:
    """A pinched shoot stands still, which says nothing of how it runs."""
    garden = grew(SmallGarden().plant("f"), "f", "2026-06-08", shoot_cm=10.0, thickness_rank=1)
    grew(did(garden, "f", "2026-06-10"), "f", "2026-06-18", shoot_cm=40.0, thickness_rank=1)
    (fact,) = facts_of(garden, "shoot_now")
    assert fact.number("week_cm") is None


def test_like_shoots_are_paired_on_their_own_tree() -> None:
    """Two of 40 and 38 cm make a pair; one of 20 cm, one on another tree and one with a single bud do not."""
    garden = SmallGarden().plant("f").plant("g").plant("a", species="apricot")
    for plant, length, buds in (("f", 40.0, 2), ("f", 38.0, 2), ("f", 20.0, 2), ("f", 39.0, 1), ("g", 40.0, 2)):
        grew(garden, plant, "2026-06-18", shoot_cm=length, leaves=7, node_buds=buds)
    for _ in range(2):
        grew(garden, "a", "2026-06-18", shoot_cm=40.0, leaves=7, node_buds=2)
    (fact,) = facts_of(garden, "shoot_pairs")
    assert (fact.number("pairs"), fact.number("trees"), fact.get("trial_on")) == (1, 1, False)
    garden.tell("trial", name="tips", question="does it pay to pinch?", differs="tip nipped", from_day=TODAY)
    assert facts_of(garden, "shoot_pairs")[0].get("trial_on") is True
    assert facts_of(garden, "shoot_pairs", "g") == []


# ---- a first season


@pytest.mark.parametrize(
    ("planted", "today", "new"),
    [
        ("2026-04-11", "2026-06-20", True),
        ("2025-10-20", "2026-06-20", True),  # planted in autumn, this is its first spring
        ("2025-04-11", "2026-06-20", False),
        ("2026-06-10", "2026-06-20", True),  # after the last spring month
        ("2026-06-25", "2026-06-20", False),  # not there yet
    ],
)
def test_a_first_season_counts_springs(planted: str, today: str, new: bool) -> None:
    """A plant is new until its second spring in place."""
    garden = SmallGarden().plant("f", planted=day(planted))
    assert bool(facts_of(garden, "first_season", today=day(today))) is new


def test_a_move_counts_in_the_ground_and_potting_on_nowhere() -> None:
    """A tree dug up is new again; a pot that is carried or potted on keeps its roots; a limb is as new as its graft."""
    garden = SmallGarden().spot("bed").spot("yard").plant("dug", planted=day("2015-04-01"))
    garden.plant("pot", growing="pot", planted=day("2015-04-01")).move("dug", "yard", "2026-03-20")
    garden.move("pot", "yard", "2026-03-20")
    did(garden, "pot", "2026-03-21", "potted on")
    garden.tell("plant", name="limb", species="fig", grafted_on="pot", planted=day("2026-04-12"))
    found = by_plant(garden, "first_season")
    assert {name: fact.text("what") for name, fact in found.items()} == {"dug": "moved", "limb": "grafted"}


# ---- dieback


@pytest.mark.parametrize(
    ("stock", "union"),
    [
        ({}, "not told"), ({"rootstock": "quince"}, "grafted"), ({"rootstock": "seedling"}, "grafted"),
        ({"rootstock": "own roots"}, "own roots"), ({"rootstock": "a cutting"}, "own roots"),
    ],
)  # fmt: skip
def test_what_stands_below_a_graft_is_what_was_told(stock: dict[str, str], union: str) -> None:
    """A stock that was named is a graft; own roots are told in several ways; nothing told is not known."""
    garden = SmallGarden().plant("p", species="pear", **stock)
    garden.tell("harm", plant="p", on=day("2026-03-02"), cause="winter", extent="killed")
    (fact,) = facts_of(garden, "dieback")
    assert (fact.text("union"), fact.text("lost")) == (union, "all of its top")
    assert fact.text("below") == (stock["rootstock"] if union == "grafted" else "")


def test_below_a_limb_stands_its_tree() -> None:
    """What grows below a dead limb's graft is the tree that carries it."""
    garden = family().tell("harm", plant="low limb", on=day("2026-03-02"), cause="winter", extent="most")
    (fact,) = facts_of(garden, "dieback")
    assert (fact.text("plant"), fact.text("union"), fact.text("below")) == ("low limb", "grafted", "family fig")


def test_the_last_word_on_a_top_counts() -> None:
    """Bark found green to the tip takes a harm back; a slight frost later does not; half a top is no dieback."""
    garden = SmallGarden().plant("p", species="pear")
    garden.tell("harm", plant="p", on=day("2026-03-02"), cause="winter", extent="most")
    garden.tell("harm", plant="p", on=day("2026-05-02"), cause="frost", extent="slight")
    assert facts_of(garden, "dieback")[0].text("lost") == "most of its top"
    garden.tell("inspection", plant="p", on=day("2026-05-20"), scratch="green", height="tip")
    assert facts_of(garden, "dieback") == []
    garden.tell("inspection", plant="p", on=day("2026-06-02"), scratch="brown", height="base")
    assert facts_of(garden, "dieback")[0].text("lost") == "all of its top"
    half = SmallGarden().plant("p").tell("harm", plant="p", on=day("2026-03-02"), cause="winter", extent="half")
    assert facts_of(half, "dieback") == []


def test_low_shoots_are_cleared_by_a_later_cut() -> None:
    """The last look tells where they start; work of that day or later tells that they are off."""
    garden = SmallGarden().plant("p", species="pear")
    garden.tell("inspection", plant="p", on=day("2026-06-10"), shoots_from="below the graft")
    did(garden, "p", "2026-06-01", "pruned")
    (fact,) = facts_of(garden, "low_shoots")
    assert (fact.text("start"), fact.get("cleared"), fact.number("age_days")) == ("below the graft", False, 10)
    assert facts_of(did(garden, "p", "2026-06-10", "other"), "low_shoots")[0].get("cleared") is True


# ---- the season that is left


def years_of_weather(garden: SmallGarden, first: date, last: date) -> SmallGarden:
    """Tell days of a year's wave, coldest in mid January, wide enough to freeze in October."""
    for n in range((last - first).days + 1):
        on = first + timedelta(days=n)
        mean = 10.0 - 12.0 * cos(2 * pi * (on.timetuple().tm_yday - 15) / 365.25) + (n % 5) * 0.4
        garden.weather(on.isoformat(), round(mean - 7, 1), round(mean + 7, 1))
    return garden


def with_own_years(*spans: tuple[str, str]) -> SmallGarden:
    """Return a fig that was pinched, and its first main crop picked, on these days."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("f").plant("g")
    for pinched, ripe in spans:
        did(garden, "f", pinched)
        garden.tell("crop", plant="f", on=day(ripe), crop="main", first_ripe=True)
    return garden


def test_two_own_years_of_ripe_figs_outrank_the_published_days() -> None:
    """Own spans of 70 and 76 days from fruitlets, five days wider each way; a fig without them keeps 90 to 120."""
    own = with_own_years(("2024-06-10", "2024-09-02"), ("2025-06-14", "2025-09-12"))
    garden = years_of_weather(own, date(2013, 11, 1), TODAY)
    found = by_plant(garden, "pinch_window")
    f, g = found["f"], found["g"]
    freeze = f.day("freeze")
    assert freeze is not None and freeze == g.day("freeze")
    assert (f.text("rests_on"), g.text("rests_on")) == ("own years", "published days")
    assert f.day("latest") == freeze - timedelta(days=14 + 65) and f.day("safe") == freeze - timedelta(days=14 + 81)
    assert g.day("latest") == freeze - timedelta(days=14 + 90) and g.day("safe") == freeze - timedelta(days=14 + 120)


def test_one_own_year_changes_nothing_and_early_figs_count_for_nothing() -> None:
    """One year is one year; a breba does not tell what the main crop takes."""
    own = with_own_years(("2025-06-14", "2025-09-12"))
    own.tell("crop", plant="f", on=day("2024-07-20"), crop="breba", first_ripe=True)
    did(own, "f", "2024-06-10")
    garden = years_of_weather(own, date(2013, 11, 1), TODAY)
    assert by_plant(garden, "pinch_window")["f"].text("rests_on") == "published days"
    assert facts_of(garden, "heat_left") == []


def test_the_heat_left_is_reckoned_beside_what_its_own_figs_took() -> None:
    """Degree-days above 10 °C from two weeks on to the freeze, in earlier years; and of its own spans."""
    garden = years_of_weather(
        with_own_years(("2024-06-10", "2024-09-02"), ("2025-06-14", "2025-09-12")), date(2013, 11, 1), TODAY
    )
    (fact,) = facts_of(garden, "heat_left")
    days = {row.day("on"): (row.number("min_c") or 0.0, row.number("max_c") or 0.0) for row in garden.of("weather_day")}

    def heat(first: date, last: date) -> float:
        return sum(
            single_sine_degree_days(*days[first + timedelta(days=n)], 10.0) for n in range((last - first).days + 1)
        )

    own = [heat(date(2024, 6, 24), date(2024, 9, 2)), heat(date(2025, 6, 28), date(2025, 9, 12))]
    assert fact.number("needed_dd") == pytest.approx(sum(own) / 2, abs=0.6)
    freeze = fact.day("freeze")
    assert freeze is not None and fact.day("first") == date(2026, 7, 4)
    left = heat(date(2025, 7, 4), freeze.replace(year=2025))
    assert fact.number("left_dd") == pytest.approx(left, rel=0.03)
    assert fact.number("enough_share") == pytest.approx(
        (fact.number("left_dd") or 0) / (fact.number("needed_dd") or 1), abs=0.01
    )
    assert (fact.number("own_years"), fact.number("years")) == (2, 12)
    assert facts_of(garden, "heat_left", today=date(2026, 10, 20)) == []


def test_under_glass_the_station_says_nothing_of_the_heat() -> None:
    """A fig in the glasshouse has another warmth than the station's."""
    garden = with_own_years(("2024-06-10", "2024-09-02"), ("2025-06-14", "2025-09-12"))
    years_of_weather(garden.spot("glasshouse", under_cover="unheated glass"), date(2013, 11, 1), TODAY)
    assert facts_of(garden.move("f", "glasshouse", "2026-03-01"), "heat_left") == []


@pytest.mark.parametrize(
    ("plant", "roofs", "roof", "days"),
    [
        ({"growing": "ground"}, ("shelter", "unheated glass"), None, None),
        ({"growing": "pot"}, (), None, None),
        ({"growing": "pot"}, ("shelter",), "shelter", 14),
        ({"growing": "pot"}, ("shelter", "unheated glass"), "unheated glass", 28),
        ({"growing": "pot", "pot_litres": 100.0}, ("unheated glass", "heated glass"), "heated glass", 56),
        ({"growing": "pot", "pot_litres": 120.0}, ("unheated glass",), None, None),
        ({"growing": "ground", "spot": "unheated glass"}, ("unheated glass",), "unheated glass", 28),
        ({"growing": "ground", "spot": "shelter"}, ("shelter",), None, None),
    ],
)
def test_a_roof_gives_longer(plant: dict[str, Any], roofs: tuple[str, ...], roof: str | None, days: int | None) -> None:
    """A movable pot counts the best roof recorded, a tree in the ground only the glass above it."""
    garden = SmallGarden().spot("bed", under_cover="none").plant("f", **{"spot": "bed", **plant})
    for name in roofs:
        garden.spot(name, under_cover=name)
    (fact,) = facts_of(years_of_weather(garden, date(2013, 11, 1), TODAY), "pinch_window")
    latest = fact.day("latest")
    assert latest is not None and fact.get("roof") == roof
    assert fact.day("roof_latest") == (latest + timedelta(days=days) if days else None)
    state = "no roof" if days is None else "open" if latest + timedelta(days=days) >= TODAY else "closed"
    assert fact.text("roof_state") == state


# ---- after a pinching, and which crop


def test_fruitlets_are_looked_for_ten_days_after_the_last_pinching() -> None:
    """The last pinching of this year counts; a look is due from the tenth day on; fruit seen after it ends the wait."""
    garden = did(did(did(SmallGarden().plant("f"), "f", "2025-06-08"), "f", "2026-06-01"), "f", "2026-06-10")
    garden.stage("f", "2026-06-05", 71)
    (fact,) = facts_of(garden, "after_pinch")
    assert (fact.day("on"), fact.day("first_look"), fact.day("by")) == (
        date(2026, 6, 10), date(2026, 6, 20), date(2026, 6, 24),
    )  # fmt: skip
    assert (fact.get("due"), fact.get("seen")) == (True, False)
    assert facts_of(garden, "after_pinch", today=date(2026, 6, 19))[0].get("due") is False
    assert facts_of(garden.stage("f", "2026-06-19", 71), "after_pinch")[0].get("seen") is True


@pytest.mark.parametrize(
    ("cultivar", "picked", "crops", "shown_by"),
    [
        ("San Pedro", (), "breba", "its cultivar"),
        ("san pedro", ("main",), "both", "both"),
        ("Brown Turkey", (), "both", "its cultivar"),
        ("Brown Turkey", ("main",), "both", "both"),
        ("", ("breba",), "breba", "own records"),
        ("", ("breba", "main"), "both", "own records"),
        ("Invented Purple", ("main",), "main", "own records"),
        ("Invented Purple", (), None, None),
    ],
)
def test_own_crops_add_to_what_a_cultivar_is_known_for(
    cultivar: str, picked: tuple[str, ...], crops: str | None, shown_by: str | None
) -> None:
    """What was picked counts; a name says what else to expect, and nothing where it is not known."""
    garden = SmallGarden().plant("f", cultivar=cultivar)
    for crop in picked:
        garden.tell("crop", plant="f", on=day("2025-08-20"), crop=crop, fruits=3)
    found = [(fact.text("crops"), fact.text("shown_by")) for fact in facts_of(garden, "crop_type")]
    assert found == ([(crops, shown_by)] if crops else [])


def test_every_cultivar_says_a_crop_that_rules_know() -> None:
    """A slip in the species file would silence its rules."""
    crops = {str(spec.get("crops")) for spec in LORE.species["fig"].cultivars.values()}
    assert crops <= {"breba", "main", "both"} and crops


def test_derived_facts_name_what_they_rest_on() -> None:
    """The limbs' looks stand behind a comparison of limbs, and the pinching that holds one of them still."""
    garden = did(grew(family(), "high limb", "2026-06-18", shoot_cm=60.0), "high limb", "2026-06-18")
    (low,) = facts_of(grew(garden, "low limb", "2026-06-18", shoot_cm=30.0), "limb_strength", "low limb")
    assert isinstance(low.origin, Derived)
    kinds = {below.origin.kind for below in low.origin.facts if isinstance(below.origin, Recorded)}
    assert kinds == {"plant", "growth", "work"}


# ---- the answer as a whole


def ask(adviser: Adviser, garden: SmallGarden, plant: str = "", today: date = TODAY) -> list[tuple[str, str, str]]:
    answer = adviser.answer(garden, Understood("what-to-pinch", plant=plant), today)
    return [(one.kind, one.claim, one.about.get("plant", "")) for one in answer.conclusions]


def test_a_tree_that_is_named_is_asked_with_its_limbs(adviser: Adviser) -> None:
    """Asked of the family fig: its high limb is to be pinched, its low limb left; another fig stays out."""
    garden = grew(family(), "high limb", "2026-06-18", shoot_cm=60.0, leaves=7, node_buds=2).plant("other fig")
    grew(garden, "low limb", "2026-06-18", shoot_cm=30.0, leaves=6, node_buds=2)
    grew(garden, "other fig", "2026-06-18", shoot_cm=60.0, leaves=7, node_buds=2)
    told = ask(adviser, garden, "family fig")
    assert ("task", "pinch-the-shoot", "high limb") in told and ("keep_tips", "limb-catches-up", "low limb") in told
    assert not any(plant == "other fig" or (kind, plant) == ("task", "low limb") for kind, _, plant in told)


@pytest.mark.parametrize("today", [date(2026, 5, 20), date(2026, 6, 20), date(2026, 7, 10), date(2026, 9, 1)])
def test_no_shoot_is_both_to_be_pinched_and_to_be_left(adviser: Adviser, today: date) -> None:
    """Over shoots of every size on figs of every standing no task to pinch stands beside a word to keep that tip."""
    garden = SmallGarden().spot("bed", under_cover="none").spot("glasshouse", under_cover="unheated glass")
    new, pot = {"planted": date(2026, 4, 1)}, {"growing": "pot", "pot_litres": 30.0}
    kinds = {"plain": {}, "new": new, "pot": pot, "wasp": {"cultivar": "San Pedro"}, "glass": {"spot": "glasshouse"}}
    for name, more in kinds.items():
        garden.plant(name, **more)
        garden.tell("plant", name=f"{name} limb", species="fig", grafted_on=name)
    seen = (today - timedelta(days=3)).isoformat()
    for (plant, limb), (n, (leaves, buds, length)) in product(
        product(kinds, ("", " limb")),
        enumerate(product((3, 5, 6, 9), (0, 1, 2), (10.0, 15.0, 40.0)), start=1),
    ):
        grew(garden, plant + limb, seen, shoot_cm=length / (1 + bool(limb)), leaves=leaves, node_buds=buds,
             thickness_rank=n)  # fmt: skip
        grew(garden, plant + limb, seen, shoot_cm=length, leaves=leaves, node_buds=1, side_shoot=True)
    years_of_weather(garden, date(2013, 11, 1), today)
    answer = adviser.answer(garden, Understood("what-to-pinch"), today)
    left, to_pinch = set(), set()
    for one in answer.conclusions:
        for because in one.because:
            shoot = because.told.bound.get("shoot")
            name = shoot.text("shoot") if shoot else ""
            if one.kind == "task" and one.claim.startswith("pinch"):
                to_pinch.add((one.about["plant"], name))
            elif one.kind in ("keep_tip", "keep_tips"):
                left.add((one.about["plant"], name if one.kind == "keep_tip" else ""))
    whole = {plant for plant, shoot in left if not shoot}
    assert not to_pinch & left and not {plant for plant, _ in to_pinch} & whole
    assert left
    assert bool(to_pinch) is (today < date(2026, 8, 1))
