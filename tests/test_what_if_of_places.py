"""What if, of a place for a tree: what is supposed, what of the counts moves by it, and what never can.

All gardens and their weather are invented.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache
from math import pi, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_garden import ZONE, SmallGarden

from advisor.answers import Answer
from advisor.calc.calendar import growing_year_start
from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.facts import Fact
from advisor.language.render import Speech
from advisor.language.replay_writer import beside, changes, judged_wall
from advisor.language.said.yard import Yard, YardSpot
from advisor.language.understand import Understood
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore
from advisor.records.talk_words import load_talk_words
from advisor.talk.supposing import Supposed, Supposition
from advisor.talk.supposing_sites import WHAT_CAN_BE_TRIED, suppose_site

KINDS, LORE, TALK = load_kinds(find_rules()), load_lore(find_rules()), load_talk_words(find_rules())
TODAY = date(2026, 9, 20)
MEANT = Understood("where-to-plant", species="apricot")
WALLED: dict[str, Any] = {"wall_side": "S", "aspect": "S", "low_lying": False, "sun_h": 9.0}
OPEN: dict[str, Any] = {"aspect": "flat", "low_lying": False, "sun_h": 8.0}
DATES = ("earliest", "middle", "latest")
COUNTS = ("frost_low", "frost_years", "frost_high", "hurt_years")


@lru_cache(maxsize=4)
def _days(latitude_deg: float) -> tuple[tuple[date, float, float], ...]:
    chance = np.random.default_rng(9)
    first = growing_year_start(2022, latitude_deg)
    spell, found = 0.0, []
    for n in range((TODAY - first).days + 1):
        day = first + timedelta(days=n)
        spell = 0.8 * spell + chance.normal(0, 2.8)
        coldest = 20 if latitude_deg >= 0 else 202
        mean = 8 - 11 * sin(2 * pi * (day.timetuple().tm_yday - coldest) / 365 + pi / 2) + spell
        half = chance.uniform(1.0, 8.0)
        found.append((day, round(mean - half, 1), round(mean + half, 1)))
    return tuple(found)


def garden(latitude_deg: float = 47.0, **spots: dict[str, Any]) -> SmallGarden:
    """Return a garden with five springs of weather and the spots named, else a walled and an open bed."""
    told = SmallGarden(latitude_deg)
    for name, more in (spots or {"south_wall": WALLED, "open_bed": OPEN}).items():
        told.spot(name.replace("_", " "), under_cover="none", **more)
    for day, low, high in _days(latitude_deg):
        told.weather(day.isoformat(), low, high)
    return told


def supposed(told: SmallGarden, text: str, species: str = "apricot", material: str = "") -> Supposition | str:
    names = [row.text("name") for row in told.of("spot")]
    spots = [YardSpot(name, material=material, cover_row=1 if material else 0) for name in names]
    materials = [(one.id, one.names) for one in LORE.materials.values()]
    yard = Yard([], spots, [(one.id, one.names) for one in LORE.species.values()], materials)
    return suppose_site(text, told, yard, TALK, LORE, species, names[0], TODAY)


def made(told: SmallGarden, text: str, species: str = "apricot") -> Supposition:
    found = supposed(told, text, species)
    assert isinstance(found, Supposition), found
    return found


def replays(told: SmallGarden, what: Supposition | None = None, species: str = "apricot") -> dict[str, Fact]:
    scene = Scene(told, LORE, TODAY, "where-to-plant", species=species)
    if what is not None:
        kind = what.species or species
        scene = Scene(Supposed(told, what), LORE, TODAY, "where-to-plant", species=kind, sort=what.sort,
                      as_told=told if what.from_now else None)  # fmt: skip
    return {fact.text("spot"): fact for fact in derive(scene, ["spot_replay"], KINDS).of("spot_replay")}


def figures(found: dict[str, Fact]) -> dict[str, dict[str, Any]]:
    return {spot: dict(fact.values) for spot, fact in found.items()}


def never_earlier(before: Fact, after: Fact) -> bool:
    """Return whether no date of the second is before the same date of the first; a date not reached comes last."""
    return all((after.day(name) or date.max) >= (before.day(name) or date.max) for name in DATES)


# ---- what is supposed


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("what if there were a wall behind the open bed", "a wall to the sun at the open bed"),
        ("what if there was a brick wall by the open bed?", "a wall to the sun at the open bed"),
        ("what if there were a north-facing wall at the open bed", "a north-facing wall at the open bed"),
        ("what if the wall were not there", "no wall at the south wall"),
        ("what if the south wall were taken down", "no wall at the south wall"),
        ("what if the south wall wasn't there", "no wall at the south wall"),
        ("what if there were no wall at the south wall", "no wall at the south wall"),
        ("what if I took the wall away", "no wall at the south wall"),
        ("what if I painted the trunk white", "the trunk painted white"),
        ("what if I whitewashed it", "the trunk painted white"),
        ("what if I covered it on frost nights", "a cover on every frost night"),
        ("what if I put a fleece over the open bed on frosty nights", "a cover on every frost night at the open bed"),
        ("what if I mulched the open bed", "wood chips on the open bed"),
        ("what if I put straw on the open bed", "straw on the open bed"),
        ("what if it were a late one", "a late apricot"),
        ("what if it were a late-flowering variety", "a late apricot"),
        ("what if it were an early apricot", "an early apricot"),
        ("what if it were Bergeron", "apricot Bergeron"),
        ("what if it were a sweet cherry", "a sweet cherry"),
        ("what if it were a late sweet cherry", "a late sweet cherry"),
    ],
)
def test_what_is_supposed_is_said_back(text: str, says: str) -> None:
    """Each thing that can be tried is understood, and at which spot."""
    assert made(garden(), text).says == says


@pytest.mark.parametrize(
    "text",
    [
        "what if a late frost came",
        "what if it did not freeze at the south wall",
        "what if I painted the wall white",
        "what if the moon were full",
        "what if I went away",
    ],
)
def test_what_cannot_be_tried_is_not_taken_for_what_can(text: str) -> None:
    """A late frost is no late tree, and a wall that is only named is not taken away: what can be tried is said."""
    assert supposed(garden(), text) == WHAT_CAN_BE_TRIED


def test_what_is_open_is_asked() -> None:
    """Two walls and none named, a kind of several, no wall to take: asked back, and nothing supposed."""
    two = garden(south_wall=WALLED, yard_wall=WALLED, open_bed=OPEN)
    assert supposed(two, "what if the wall were not there") == "At which spot? I know south wall, yard wall, open bed."
    assert supposed(garden(), "what if there were no wall at the open bed") == (
        "There is no wall at the open bed, as I have it."
    )
    assert str(supposed(garden(), "what if it were a cherry")).startswith("Which kind do you mean")


def test_a_wall_to_the_sun_faces_north_in_the_south() -> None:
    """Below the equator a wall that is only said to be there faces north, and hastens bloom there too."""
    told = garden(-47.0, open_bed=OPEN)
    what = made(told, "what if there were a wall behind the open bed")
    assert what.rows[0].text("wall_side") == "N"
    before, after = replays(told)["open bed"], replays(told, what)["open bed"]
    assert (after.day("middle") or TODAY) < (before.day("middle") or TODAY)


# ---- what of the counts moves


def test_built_and_taken_away_again_is_as_it_was() -> None:
    """A spot with a wall supposed has the figures of one that has it, and one without has those of an open one."""
    told = garden(south_wall=WALLED, bare=WALLED | {"wall_side": None}, open_bed=OPEN)
    plain = replays(told)
    gone = replays(told, made(told, "what if the south wall were gone"))
    built = replays(told, made(told, "what if there were a wall at the bare"))
    figures_of = {name: {**fact.values, "spot": ""} for name, fact in plain.items()}
    assert {**gone["south wall"].values, "spot": ""} == figures_of["bare"] != figures_of["south wall"]
    assert {**built["bare"].values, "spot": ""} == figures_of["south wall"]


WORDS_OF_NOTHING = [
    "what if I painted the trunk white",
    "what if I mulched the south wall",
    "what if I put a fleece over it on frost nights",
    "what if there were a wall at the south wall",
    "what if it were an apricot",
]


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(["", *WORDS_OF_NOTHING]), st.sampled_from(["apricot", "apple"]))
def test_what_if_of_nothing_changes_nothing(text: str, species: str) -> None:
    """Nothing supposed, or what moves no bloom, leaves every figure of every spot as it was."""
    told = garden()
    told.plant("apple", "south wall", "apple")
    for day in ("2023-04-20", "2024-04-14", "2025-04-25"):
        told.stage("apple", day, 60)
    what = made(told, text, species) if text else Supposition("nothing", from_now=True)
    plain = figures(replays(told, species=species))
    assert plain
    assert figures(replays(told, what, species)) == plain if not what.species else what.species == "apricot"


def test_nothing_supposed_leaves_the_answer_as_it_was(adviser: Adviser) -> None:
    """The whole answer stands: conclusions, verdicts and what is lacking."""
    told = garden()

    def whole(what: Supposition | None = None) -> list[object]:
        answer = adviser.answer(Supposed(told, what) if what else told, MEANT, TODAY)
        assert answer.verdicts and answer.lacking
        return [
            [(one.kind, one.claim, one.side, one.grade, dict(one.about)) for one in answer.conclusions],
            [(one.spot, one.place, one.score) for one in answer.verdicts],
            [(one.kind, one.ask.template, one.settles, one.others) for one in answer.lacking],
            [dict(fact.values) for fact in answer.replays],
        ]

    for from_now in (False, True):
        assert whole(Supposition("nothing", from_now=from_now)) == whole()


SPOT = st.fixed_dictionaries(
    {"wall_side": st.sampled_from(["N", "E", "SE", "S", "SW", "W"])},
    optional={
        "aspect": st.sampled_from(["N", "E", "S", "W", "flat"]),
        "slope_part": st.sampled_from(["foot", "middle", "upper", "top"]),
        "low_lying": st.booleans(),
        "sun_h": st.floats(2, 12),
        "spring_sun_h": st.floats(2, 12),
        "wall_distance_m": st.floats(0, 5),
    },
)


@settings(max_examples=25, deadline=None)
@given(SPOT.filter(lambda spot: spot["wall_side"] in ("SE", "S", "SW")), st.booleans())
def test_taking_a_sunny_wall_away_never_makes_bloom_earlier(spot: dict[str, Any], dated: bool) -> None:
    """However a spot lies, without its sunny wall no date is earlier, and no other spot's figure is another.

    So too where what the kind needs was read off a tree at that very wall: it stood there with the wall.
    """
    told = garden(walled=spot, open_bed=OPEN)
    species = "apple" if dated else "apricot"
    if dated:
        told.plant("apple", "walled", "apple")
        for day in ("2023-04-20", "2024-04-14", "2025-04-25"):
            told.stage("apple", day, 60)
    before = replays(told, species=species)
    after = replays(told, made(told, "what if there were no wall at the walled", species), species)
    assert never_earlier(before["walled"], after["walled"])
    assert after["open bed"].values == before["open bed"].values


def test_a_tree_dated_at_a_wall_was_dated_with_it() -> None:
    """An apple dated at the wall: without the wall it blooms days later there, and not on its old dates."""
    told = garden()
    told.plant("apple", "south wall", "apple")
    for day in ("2023-04-20", "2024-04-14", "2025-04-25"):
        told.stage("apple", day, 60)
    before = replays(told, species="apple")["south wall"]
    after = replays(told, made(told, "what if the wall were not there", "apple"), "apple")["south wall"]
    assert ((after.day("middle") or TODAY) - (before.day("middle") or TODAY)).days >= 5


@settings(max_examples=10, deadline=None)
@given(SPOT)
def test_building_a_sunny_wall_never_delays_bloom(spot: dict[str, Any]) -> None:
    """A wall to the sun behind a spot that has none makes no date later."""
    told = garden(bare={name: value for name, value in spot.items() if not name.startswith("wall_")})
    after = replays(told, made(told, "what if there were a wall at the bare"))
    assert never_earlier(after["bare"], replays(told)["bare"])


@settings(max_examples=10, deadline=None)
@given(SPOT, st.booleans())
def test_a_late_one_is_never_earlier_nor_in_more_frost_years(spot: dict[str, Any], dated: bool) -> None:
    """At any spot, by what is published or by own dates: late is later and spared more, early the other way round."""
    told = garden(here=spot)
    if dated:
        told.plant("old apricot", "here", "apricot")
        for day in ("2023-04-12", "2024-04-04", "2025-04-15"):
            told.stage("old apricot", day, 60)
    plain = replays(told)["here"]
    late = replays(told, made(told, "what if it were a late one"))["here"]
    early = replays(told, made(told, "what if it were an early one"))["here"]
    assert never_earlier(early, plain) and never_earlier(plain, late)
    for name in COUNTS:
        assert (late.number(name) or 0) <= (plain.number(name) or 0) <= (early.number(name) or 0)


def test_a_late_one_is_at_the_upper_end_that_is_published() -> None:
    """The figure is said, and bloom is later by days; where no heat is published, it is said that none can be told."""
    told = garden()
    what = made(told, "what if it were a late one")
    assert what.sort == "late" and "upper end" in what.notes[0] and "3469" in what.notes[0]
    gain = (replays(told, what)["open bed"].day("middle") or TODAY) - (replays(told)["open bed"].day("middle") or TODAY)
    assert 1 <= gain.days <= 14
    pear = made(told, "what if it were a late pear")
    assert (pear.sort, pear.species) == ("", "pear") and "published nowhere that was read" in pear.notes[0]


def test_another_kind_goes_by_its_own_dates() -> None:
    """Apple beside apricot at the same spots: later by its own dated years; a kind never dated has no figures."""
    told = garden()
    told.plant("apple", "open bed", "apple")
    for day in ("2023-05-06", "2024-05-02", "2025-05-09"):
        told.stage("apple", day, 60)
    apple = replays(told, made(told, "what if it were an apple"))
    assert all(never_earlier(fact, apple[spot]) for spot, fact in replays(told).items())
    assert replays(told, made(told, "what if it were a sweet cherry")) == {}


# ---- how it is told


def answered(told: SmallGarden, what: Supposition | None = None, species: str = "apricot") -> Answer:
    found = tuple(replays(told, what, species).values())
    if not found:
        found = tuple(derive(Scene(told, LORE, TODAY, "where-to-plant", species=species), ["replay_gap"], KINDS).of(
            "replay_gap"))  # fmt: skip
    return Answer("where-to-plant", species, (), about={"species": species}, replays=found)


def test_what_a_wall_does_is_said_to_be_judged_or_left_out() -> None:
    """A spot not measured: the range that is judged, colder or warmer. One measured: that its days stand as read."""
    speech = Speech("metric", ZONE, TODAY, KINDS, frozenset(["open bed"]))
    told = garden()

    def line(text: str) -> str:
        return " ".join(judged_wall("open bed", answered(told, made(told, text)), speech))

    assert "judged, not measured: 1 °C to 5 °C warmer than" in line("what if there were a wall behind the open bed")
    assert "judged, not measured: 0 °C to 3 °C colder than" in line(
        "what if there were a north-facing wall at the open bed"
    )
    for day, low, high in _days(47.0)[-200:]:
        told.tell("weather_day", on=day, spot="open bed", min_c=low, max_c=high + 1.0)
    before = replays(told)["open bed"]
    after = replays(told, made(told, "what if there were a wall behind the open bed"))["open bed"]
    assert before.get("days_measured") is True
    assert after.number("warmer_by_k") == before.number("warmer_by_k")
    assert "were measured as it is, and that stands" in line("what if there were a wall behind the open bed")


def test_what_cannot_be_replayed_is_said() -> None:
    """A kind never dated here: no counts, and the reason, beside another spot and beside another supposition."""
    speech = Speech("metric", ZONE, TODAY, KINDS)
    pear = answered(garden(), species="pear")
    for lines in (beside("open bed", "south wall", pear, speech), changes(pear, pear, speech)):
        assert len(lines) == 1
        assert lines[0].startswith("I cannot put it through your own springs: what heat pear needs is not published")
