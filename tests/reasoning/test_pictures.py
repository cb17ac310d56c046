"""What pictures show, held to the derivations that answers use and to small gardens reckoned by hand; all invented."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from math import cos, pi
from statistics import median

import pytest
from small_garden import ZONE, SmallGarden

from advisor.calc.kept_years import GROWING_DEGREE_HOURS
from advisor.config import find_rules
from advisor.facts import Fact
from advisor.reasoning.derive import DERIVATIONS, Scene
from advisor.reasoning.derive.season_days import season_of_year
from advisor.reasoning.pictures import SHOW, Choice, Nothing, Shown, in_order
from advisor.reasoning.pictures.season import SeasonShown, season_shown
from advisor.reasoning.pictures.soil import SoilShown, soil_shown
from advisor.reasoning.pictures.stages import StagesShown, stages_shown
from advisor.records.species import load_lore

LORE = load_lore(find_rules())
TODAY = date(2026, 4, 24)


def scene(garden: SmallGarden, today: date = TODAY, plant: str = "") -> Scene:
    return Scene(garden, LORE, today, "", plant)


def soil(garden: SmallGarden, choice: Choice = Choice(), today: date = TODAY) -> SoilShown:  # noqa: B008
    found = soil_shown(scene(garden, today), choice)
    assert isinstance(found, SoilShown)
    return found


# ---- soil


def test_no_line_runs_over_weeks_without_readings() -> None:
    """Days up to two weeks apart are joined, days further apart are not, and a day alone stays a dot."""
    garden = SmallGarden().spot("bed").soil("bed", "2026-03-01T12:00", 4.0).soil("bed", "2026-03-15T12:00", 6.0)
    garden.soil("bed", "2026-03-30T12:00", 9.0)
    shown = soil(garden)
    assert [[when.date().day for when, _ in run.days] for run in shown.runs] == [[1, 15]]
    assert len(shown.points) == 3


def test_a_line_keeps_to_one_depth_and_to_the_mean_of_a_day() -> None:
    """Two depths are two lines, and a day read twice counts by its mean."""
    garden = SmallGarden().spot("bed").soil("bed", "2026-04-01T08:00", 4.0).soil("bed", "2026-04-01T16:00", 8.0)
    garden.soil("bed", "2026-04-03T12:00", 7.0).soil("bed", "2026-04-03T12:05", 5.0, depth_cm=20)
    (run,) = soil(garden).runs
    assert (run.depth_cm, [temp for _, temp in run.days]) == (10, [6.0, 7.0])
    assert run.days[0][0] == datetime(2026, 4, 1, 12, tzinfo=ZONE)


def test_a_cover_lies_until_it_is_taken_off_or_another_is_put_on() -> None:
    """Each cover between the first and the last reading is shown with its ends; one long gone is not."""
    garden = SmallGarden().spot("bed").soil("bed", "2026-04-01T12:00", 6.0).soil("bed", "2026-04-20T12:00", 9.0)
    garden.cover("bed", "stones", "2020-01-01", "2021-01-01").cover("bed", "wood chips", "2025-11-01", depth_cm=8.0)
    garden.cover("bed", "bare", "2026-04-10")
    told = [(one.material, one.put_on, one.taken_off) for one in soil(garden).lain]
    assert told == [
        ("wood chips", date(2025, 11, 1), date(2026, 4, 10)),
        ("bare", date(2026, 4, 10), None),
    ]


def test_the_last_season_with_readings_is_shown_unless_another_is_chosen() -> None:
    """A season is a growing year, from November on in the north."""
    garden = SmallGarden().spot("bed").soil("bed", "2025-10-30T12:00", 9.0).soil("bed", "2025-11-02T12:00", 8.0)
    assert (soil(garden).year, soil(garden).years, len(soil(garden).points)) == (2026, (2025, 2026), 1)
    assert [one.temp_c for one in soil(garden, Choice(year=2025)).points] == [9.0]


def test_a_plant_brings_its_pot_and_its_spot() -> None:
    """Readings in a plant's pot and of the spot where it stands are its own; others are not."""
    garden = SmallGarden().spot("yard").spot("bed").plant("pot fig", "yard", growing="pot")
    garden.soil("", "2026-04-01T12:00", 12.0, plant="pot fig").soil("yard", "2026-04-01T12:00", 8.0)
    garden.soil("bed", "2026-04-01T12:00", 7.0)
    assert [(one.soil, one.pot) for one in soil(garden, Choice(plant="pot fig")).points] == [
        ("pot fig", True),
        ("yard", False),
    ]


def test_what_is_called_warmest_is_what_answers_call_so() -> None:
    """Warmest and coldest are those of the fair comparison, of this season alone."""
    garden = SmallGarden().spot("wall").spot("bed")
    for day in (10, 14, 18):
        garden.soil("wall", f"2026-04-{day}T13:00", 12.0).soil("bed", f"2026-04-{day}T13:10", 9.0)
    shown = soil(garden)
    ranks = {fact.text("place"): fact for fact in DERIVATIONS["soil_rank"](scene(garden))}
    assert shown.warmest == ("wall", ranks["warmest"].number("lead_k"), 3) == ("wall", 3.0, 3)
    assert shown.coldest == ("bed", -3.0, 3)


def test_soils_that_were_not_compared_are_not_called_alike() -> None:
    """Fair pairs without a leader, no fair pair, and a choice for which none was sought are three different things."""
    alike = SmallGarden().spot("wall").spot("bed")
    alike.soil("wall", "2026-04-10T13:00", 9.1).soil("bed", "2026-04-10T13:10", 9.0)
    apart = SmallGarden().spot("wall").spot("bed")
    apart.soil("wall", "2026-04-10T08:00", 9.1).soil("bed", "2026-04-10T13:10", 12.0)
    assert [soil(garden).compared for garden in (alike, apart)] == [True, False]
    assert soil(alike).warmest is None and soil(alike, Choice(spots=("bed",))).compared is None


def test_more_soils_than_can_be_told_apart_stay_in_the_table() -> None:
    """The six read most often are drawn; no reading is lost."""
    garden = SmallGarden()
    for n in range(8):
        for day in range(1, n + 2):
            garden.soil(f"bed {n}", f"2026-04-0{day}T12:00", 8.0)
    shown = soil(garden)
    assert (shown.drawn[0], len(shown.drawn), shown.left_out, len(shown.points)) == ("bed 2", 6, ("bed 0", "bed 1"), 36)


def test_a_reading_of_tomorrow_is_not_there_yet() -> None:
    """A picture of a day shows what was told to hold by that day."""
    garden = SmallGarden().soil("bed", "2026-04-25T12:00", 8.0)
    assert soil_shown(scene(garden), Choice()) == Nothing("no soil reading is recorded", "soil_reading")


# ---- season


def years_of_weather(first: int, last: date, warmer_k: float = 0.0) -> SmallGarden:
    """A garden with plain weather from 1 November of a year on; the last growing year warmer by so much."""
    garden, day = SmallGarden(), date(first, 11, 1)
    while day <= last:
        mean = 8 - 10 * cos(2 * pi * (day.timetuple().tm_yday - 15) / 365.25)
        mean += warmer_k if day >= date(last.year - 1, 11, 1) else 0.0
        garden.weather(day.isoformat(), round(mean - 5, 2), round(mean + 6, 2))
        day += timedelta(days=1)
    return garden


def season(garden: SmallGarden, choice: Choice = Choice(), today: date = TODAY) -> SeasonShown:  # noqa: B008
    found = season_shown(scene(garden, today), choice)
    assert isinstance(found, SeasonShown)
    return found


def test_sums_are_those_of_the_answers() -> None:
    """Chill by today, warmth by today and their usual amounts are what the derivations give to answers."""
    garden = years_of_weather(2021, TODAY, 1.5).spot("bed").plant("tree", species="apricot")
    shown = season(garden, Choice(species="apricot"))
    (chill,) = DERIVATIONS["chill_so_far"](scene(garden))
    (heat,) = DERIVATIONS["heat_so_far"](scene(garden, plant="tree"))
    assert shown.chill_metric == "chill portions"
    assert shown.this.chill[-1][1] == pytest.approx(chill.number("sum_portions"), abs=0.06)
    assert shown.usual_chill == pytest.approx(chill.number("usual_portions"), abs=0.06)
    assert shown.this.heat[-1][1] == pytest.approx(heat.number("sum_dd"), abs=0.6)
    assert (shown.years, shown.last_day) == (4, TODAY)


def test_the_need_is_met_on_the_day_that_a_count_by_hand_gives() -> None:
    """The day on which chill reached the upper end is the first whose running sum is no less."""
    garden = years_of_weather(2023, TODAY).plant("tree", species="fig")
    shown = season(garden, Choice(species="fig"))
    assert shown.need is not None and shown.need.high_on is not None
    days = season_of_year(scene(garden), 2026, shown.chill_metric, "degree-days above 10 °C")
    assert days is not None
    total, n = 0.0, -1
    while total < shown.need.chill_high:
        n += 1
        total += days.chill[n]
    assert shown.need.high_on == date(2025, 11, 1) + timedelta(days=n)
    assert shown.need.low_on is not None and shown.need.low_on < shown.need.high_on


def test_warmth_toward_bloom_counts_from_the_chill_on() -> None:
    """What is reached of a published warmth is the sum of hours since the middle of the chill was met, by hand."""
    garden = years_of_weather(2023, TODAY, 2.0).plant("tree", species="apricot")
    need = season(garden, Choice(species="apricot")).need
    days = season_of_year(scene(garden), 2026, "chill portions", GROWING_DEGREE_HOURS)
    assert need is not None and days is not None and need.heat_now is not None
    total, since = 0.0, 0.0
    for chill, heat in zip(days.chill, days.heat, strict=True):
        since += heat if total >= (need.chill_low + need.chill_high) / 2 - 1e-6 else 0.0
        total += chill
    assert need.heat_now == pytest.approx(since)


def test_the_middle_is_the_middle_of_the_earlier_years() -> None:
    """Day by day it is the median of the years before, this one left out."""
    shown = season(years_of_weather(2022, TODAY, 3.0).plant("tree", species="fig"))
    assert shown.middle is not None
    by_year = [dict(one.chill) for one in shown.earlier]
    assert len(by_year) == 3
    for place, value in shown.middle.chill[::7]:
        assert value == pytest.approx(median(one[place] for one in by_year if place in one))


def test_a_season_with_a_hole_is_not_summed() -> None:
    """Where a week of this season is missing nothing is shown, and daily weather is what would bring it."""
    garden = years_of_weather(2024, TODAY)
    garden.rows["weather_day"] = [row for row in garden.of("weather_day") if not _in_gap(row)]
    found = season_shown(scene(garden), Choice())
    assert isinstance(found, Nothing) and (found.record, "gaps" in found.reason) == ("weather_day", True)
    assert season_shown(scene(SmallGarden()), Choice()) == Nothing("no daily weather is recorded", "weather_day")


def _in_gap(row: Fact) -> bool:
    return date(2026, 2, 1) <= (row.day("on") or date.min) <= date(2026, 2, 8)


# ---- stages


def stages(garden: SmallGarden, choice: Choice = Choice(), today: date = TODAY) -> StagesShown:  # noqa: B008
    found = stages_shown(scene(garden, today), choice)
    assert isinstance(found, StagesShown)
    return found


@pytest.fixture
def looked_at() -> SmallGarden:
    """Two figs and an apricot over three springs."""
    garden = SmallGarden().spot("bed").plant("early fig").plant("late fig").plant("apricot", species="apricot")
    for year, shift in ((2024, 0), (2025, 6)):
        garden.stage("early fig", f"{year}-03-28", 3).stage("early fig", f"{year}-04-{1 + shift:02d}", 7)
        garden.stage("late fig", f"{year}-04-{20 + shift}", 8)
        garden.stage("apricot", f"{year}-03-20", 57).stage("apricot", f"{year}-03-{24 + shift}", 61)
    return garden.stage("early fig", "2026-04-05", 9).stage("late fig", "2026-04-22", 3)


def test_a_plant_is_dated_by_the_first_look_that_found_it_there(looked_at: SmallGarden) -> None:
    """Bud break is BBCH 07 of a fig, the first open flower 60 of an apricot, each on the first day it was seen."""
    told = {one.plant: one for one in stages(looked_at).plants}
    assert [day for _, day in told["early fig"].days] == [date(2024, 4, 1), date(2025, 4, 7), date(2026, 4, 5)]
    assert [day for _, day in told["apricot"].days] == [date(2024, 3, 24), date(2025, 3, 30)]


def test_figs_stand_apart_from_what_flowers_first(looked_at: SmallGarden) -> None:
    """Bud break and bloom are two groups, each with the earliest plant first."""
    groups = [(milestone, [one.plant for one in group]) for milestone, group in stages(looked_at).groups]
    assert groups == [("waking", ["early fig", "late fig"]), ("bloom", ["apricot"])]


def test_a_plant_that_is_not_there_yet_waits(looked_at: SmallGarden) -> None:
    """The last look of this year that found it closed is told as such, and not as a date."""
    late = stages(looked_at).groups[0][1][1]
    assert late.waiting == date(2026, 4, 22) and 2026 not in dict(late.days)


def test_leap_years_do_not_shift_a_date() -> None:
    """The same day of the year stands at the same place in every year, with 29 February or without."""
    garden = SmallGarden().plant("fig").stage("fig", "2024-04-10", 9).stage("fig", "2025-04-10", 9)
    (one,) = stages(garden).plants
    assert len({place for _, place in one.places}) == 1


def test_only_what_is_chosen_is_shown(looked_at: SmallGarden) -> None:
    """A kind, a spot and a name each narrow the plants; where nothing is left that is said."""
    assert [one.plant for one in stages(looked_at, Choice(species="apricot")).plants] == ["apricot"]
    assert [one.plant for one in stages(looked_at, Choice(plant="late fig")).plants] == ["late fig"]
    found = stages_shown(scene(looked_at.spot("far")), Choice(spots=("far",)))
    assert found == Nothing("no bud break or bloom of any plant at far is recorded", "stage")


# ---- the order


def test_what_has_nothing_to_show_comes_last() -> None:
    """An order by season, with the empty pictures behind all others."""
    empty: dict[str, Shown] = {name: Nothing("none", "stage") for name in SHOW}
    spring = in_order(scene(SmallGarden()), empty)
    assert spring[:2] == ["soil", "stages"]
    full = {**empty, "sun": stages(SmallGarden().plant("fig").stage("fig", "2026-04-01", 9))}
    assert in_order(scene(SmallGarden()), full)[0] == "sun"


def test_the_seasons_are_those_of_the_place() -> None:
    """In October it is spring in the south, and the time to think of places to plant in the north."""
    empty: dict[str, Shown] = {name: Nothing("none", "stage") for name in SHOW}
    october = date(2026, 10, 20)
    assert in_order(scene(SmallGarden(-38.0), october), empty)[0] == "soil"
    assert in_order(scene(SmallGarden(47.0), date(2026, 12, 20)), empty)[0] == "frost-years"
