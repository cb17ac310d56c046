"""Pictures of frost and of the sun, held to the derivations, to hand-made nights and to pvlib; all gardens invented."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from math import cos, pi

import pandas as pd
import pytest
from pvlib import solarposition
from small_garden import SmallGarden

from advisor.config import find_rules
from advisor.reasoning.derive import DERIVATIONS, Scene
from advisor.reasoning.pictures import SHOW, Choice, Nothing, in_order
from advisor.reasoning.pictures.frost_years import FrostYearsShown, frost_years_shown
from advisor.reasoning.pictures.sun import SunShown, sun_shown
from advisor.reasoning.pictures.tonight import TonightShown, tonight_shown
from advisor.records.species import load_lore

LORE = load_lore(find_rules())
TODAY = date(2026, 4, 24)


def scene(garden: SmallGarden, today: date = TODAY, species: str = "") -> Scene:
    return Scene(garden, LORE, today, "", species=species)


# ---- tonight


def night(garden: SmallGarden, choice: Choice = Choice(), today: date = TODAY) -> TonightShown:  # noqa: B008
    found = tonight_shown(scene(garden, today), choice)
    assert isinstance(found, TonightShown)
    return found


@pytest.fixture
def frosty() -> SmallGarden:
    """An evening that may end in frost, an apricot in bloom in the hollow and one on the bank."""
    garden = SmallGarden().spot("bank", low_lying=False).spot("hollow", low_lying=True)
    garden.plant("low apricot", "hollow", "apricot").plant("high apricot", "bank", "apricot")
    garden.stage("low apricot", "2026-04-23", 65).stage("high apricot", "2026-04-23", 65)
    return garden.tell("evening", on=TODAY, temp_c=5.0, dew_point_c=-1.0)


def test_the_curve_falls_from_the_evening_to_the_low(frosty: SmallGarden) -> None:
    """It starts at the evening's reading and ends at what answers expect, its range never crossing it."""
    shown = night(frosty)
    (risk,) = [fact for fact in DERIVATIONS["frost_risk"](scene(frosty)) if fact.text("plant") == "low apricot"]
    assert shown.curve[0][1:] == (5.0, 5.0, 5.0)
    assert round(shown.curve[-1][1], 1) == risk.number("expected_c") == -3.0
    assert all(low <= expected <= high for _, expected, low, high in shown.curve)
    times = [when for when, *_ in shown.curve]
    assert times == sorted(times) and times[0].date() == TODAY and times[-1].date() == TODAY + timedelta(days=1)


def test_the_spot_nearest_to_harm_is_shown_unless_one_is_chosen(frosty: SmallGarden) -> None:
    """The hollow comes first, with its own plants alone; the bank is told of beside it and can be asked for."""
    shown = night(frosty)
    assert (shown.spot, [line.plants for line in shown.lines]) == ("hollow", [("low apricot",)])
    assert [spot for spot, _ in shown.others] == ["bank"]
    assert night(frosty, Choice(spots=("bank",))).lines[0].plants == ("high apricot",)
    assert night(frosty, Choice(plant="high apricot")).spot == "bank"


def test_a_line_is_at_what_the_stage_stands(frosty: SmallGarden) -> None:
    """The level is the published tenth of buds at that stage, with the risk that answers tell."""
    (line,) = night(frosty).lines
    (stands,) = [one for one in DERIVATIONS["critical_now"](scene(frosty)) if one.text("plant") == "low apricot"]
    assert (line.hurts_at_c, line.kill90_c) == (stands.number("kill10_c"), stands.number("kill90_c"))
    assert line.risk == "possible" and night(frosty).at_risk == [line]


def test_plants_that_are_hurt_alike_share_a_line(frosty: SmallGarden) -> None:
    """Two trees of one level are one line with both names and both stages; another level is another line."""
    frosty.plant("second apricot", "hollow", "apricot").stage("second apricot", "2026-04-23", 67)
    frosty.plant("fig", "hollow").stage("fig", "2026-04-23", 10)
    shown = night(frosty)
    by_names = {line.plants: line for line in shown.lines}
    assert len({(line.hurts_at_c, line.kill90_c, line.organ) for line in shown.lines}) == len(shown.lines)
    assert {name for names in by_names for name in names} == {"low apricot", "second apricot", "fig"}


def test_a_forecast_alone_draws_no_fall() -> None:
    """A forecast tells the low and not when, so that all hours have the same values."""
    garden = SmallGarden().spot("bed").plant("tree", "bed", "apricot").stage("tree", "2026-04-23", 65)
    garden.tell("forecast_day", issued=TODAY, for_day=TODAY + timedelta(days=1), min_c=-1.0, sky="clear")
    shown = night(garden)
    assert (shown.by, shown.evening_told, len({row[1:] for row in shown.curve})) == ("forecast", False, 1)


def test_without_evening_or_forecast_there_is_nothing() -> None:
    """Then an evening's reading is what would bring it."""
    found = tonight_shown(scene(SmallGarden()), Choice())
    assert isinstance(found, Nothing) and found.record == "evening"


def test_a_night_that_may_hurt_comes_first(frosty: SmallGarden) -> None:
    """In a season whose own order has other pictures first, a frost night leads; a mild one does not."""
    mild = SmallGarden().spot("bed").plant("tree", "bed", "apricot").stage("tree", "2026-04-23", 65)
    mild.tell("evening", on=TODAY, temp_c=14.0, dew_point_c=9.0).soil("bed", "2026-04-20T12:00", 9.0)
    frosty.soil("bank", "2026-04-20T12:00", 9.0)
    for garden, first in ((frosty, "tonight"), (mild, "soil")):
        here = scene(garden)
        assert in_order(here, {name: show(here, Choice()) for name, show in SHOW.items()})[0] == first


# ---- frost by year


def weather(garden: SmallGarden, frosts: dict[date, float], last: date = date(2026, 9, 20)) -> SmallGarden:
    """Plain weather from November 2020 on, with the lows of some mornings set."""
    day = date(2020, 11, 1)
    while day <= last:
        mean = 9 - 11 * cos(2 * pi * (day.timetuple().tm_yday - 15) / 365.25)
        low = frosts.get(day, mean - 4)
        garden.weather(day.isoformat(), round(low, 1), round(max(mean + 6, low + 1), 1))
        day += timedelta(days=1)
    return garden


def frost_years(garden: SmallGarden, choice: Choice, today: date = date(2026, 9, 20)) -> FrostYearsShown:
    found = frost_years_shown(scene(garden, today), choice)
    assert isinstance(found, FrostYearsShown)
    return found


@pytest.fixture(scope="module")
def caught() -> FrostYearsShown:
    """Six springs of an apricot, one with a night that nothing in flower outlives."""
    garden = SmallGarden().spot("open", low_lying=False, aspect="flat").spot("hollow", low_lying=True, aspect="flat")
    garden.plant("tree", "open", "apricot")
    plain = frost_years(weather(garden, {}), Choice(species="apricot"))
    first = next(one.first for one in plain.spot.years if one.year == 2024)
    assert first is not None
    frosty = SmallGarden().spot("open", low_lying=False, aspect="flat").spot("hollow", low_lying=True, aspect="flat")
    frosty.plant("tree", "open", "apricot")
    night = plain.first_day.replace(year=2023) + timedelta(days=first + 9)  # 29 February is in 2024
    return frost_years(weather(frosty, {night: -9.0}), Choice(species="apricot"))


def test_the_year_of_the_killing_night_is_marked(caught: FrostYearsShown) -> None:
    """Nine degrees of frost in bloom catch that year at every spot, and no other year."""
    assert {spot.spot: spot.caught for spot in caught.spots} == {"open": [2024], "hollow": [2024]}
    (hit,) = [one for one in caught.spot.years if one.state == "caught"]
    assert hit.night is not None and hit.night.year == 2024 and hit.night_c == pytest.approx(-9.0, abs=0.7)
    assert hit.stage and hit.first is not None and hit.night_at is not None and hit.first <= hit.night_at


def test_counts_are_those_of_the_replay(caught: FrostYearsShown) -> None:
    """The count of frost years and its range are what answers about places tell, and the marks differ by one at most."""
    garden = SmallGarden().spot("open", low_lying=False, aspect="flat").spot("hollow", low_lying=True, aspect="flat")
    weather(garden.plant("tree", "open", "apricot"), {date(2025, 4, 12): -4.0, date(2023, 4, 10): -3.0})
    shown = frost_years(garden, Choice(species="apricot"))
    for fact in DERIVATIONS["spot_replay"](scene(garden, date(2026, 9, 20), "apricot")):
        (spot,) = [one for one in shown.spots if one.spot == fact.text("spot")]
        told = tuple(fact.number(name) for name in ("frost_low", "frost_years", "frost_high"))
        assert spot.frost_years == told
        assert abs(len(spot.caught) - spot.frost_years[1]) <= 1


def test_the_spot_told_by_date_is_where_the_kind_stands(caught: FrostYearsShown) -> None:
    """Unless another is chosen."""
    assert (caught.spot.spot, caught.by) == ("open", "replay")


@pytest.mark.parametrize(("low_c", "state"), [(-2.2, "hurt"), (-2.1, "free")])
def test_recorded_blooms_meet_recorded_nights(low_c: float, state: str) -> None:
    """Where a kind cannot be replayed, -2.2 °C within six weeks of its first flower counts, and -2.1 does not.

    -2.2 °C is 28 °F (Penn State Extension, Orchard Frost: critical temperatures).
    """
    garden = SmallGarden().spot("open").plant("tree", "open", "apple").stage("tree", "2025-04-20", 61)
    shown = frost_years(weather(garden, {date(2025, 5, 10): low_c}), Choice(species="apple"))
    assert (shown.by, [(one.year, one.state) for one in shown.spot.years]) == ("records", [(2025, state)])


def test_without_weather_there_is_nothing() -> None:
    """Then daily weather is what would bring it."""
    found = frost_years_shown(scene(SmallGarden().spot("bed")), Choice(species="apricot"))
    assert found == Nothing("no daily weather is recorded", "weather_day")


# ---- the sun


def sun(garden: SmallGarden, choice: Choice = Choice()) -> SunShown:  # noqa: B008
    found = sun_shown(scene(garden), choice)
    assert isinstance(found, SunShown)
    return found


def test_the_sun_goes_where_an_authority_has_it() -> None:
    """Bearing and height of every tenth point lie within a fifth of a degree of pvlib's (NREL's algorithm)."""
    shown = sun(SmallGarden(41.5).spot("wall", wall_side="S"))
    for path in shown.paths:
        points = [point for piece in (*path.lit, *path.hidden) for point in piece][::10]
        times = pd.DatetimeIndex([when.astimezone(UTC) for _, _, when in points])
        told = solarposition.get_solarposition(times, 41.5, 15.0)
        assert [p[0] for p in points] == pytest.approx(told["azimuth"].tolist(), abs=0.2)
        assert [p[1] for p in points] == pytest.approx(told["apparent_elevation"].tolist(), abs=0.2)


def test_what_is_hidden_lies_behind_the_skyline() -> None:
    """A hidden point of a path stands no higher than what hides the sky there, a lit one no lower."""
    garden = SmallGarden().spot("bed")
    garden.tell("obstruction", spot="bed", bearing_from_deg=90.0, bearing_to_deg=150.0, elevation_deg=30.0, what="barn")
    shown = sun(garden)
    sky = dict(shown.skyline)
    assert (sky[120.0], sky[180.0], shown.things) == (30.0, 0.0, ("barn",))
    for path in shown.paths:
        assert all(high <= 30 and 90 <= bearing <= 150 for piece in path.hidden for bearing, high, _ in piece)
        assert all(high >= 30 or not 90 <= bearing <= 150 for piece in path.lit for bearing, high, _ in piece)
    assert all(here <= there for here, there in zip(shown.hours, shown.possible, strict=True))


def test_only_a_wall_is_told_as_the_most_there_can_be() -> None:
    """Where nothing is told of what hides the sun, wall and slope are counted and the picture says so."""
    garden = SmallGarden().spot("open").spot("wall", wall_side="N")
    shown = sun(garden)
    assert (shown.spot, shown.told, shown.hours[11]) == ("wall", False, 0.0)
    assert shown.paths[2].spells == () and shown.paths[0].hours > 2
    found = sun_shown(scene(garden), Choice(spots=("open",)))
    assert isinstance(found, Nothing) and found.record == "obstruction"


def test_lit_pieces_and_spells_agree() -> None:
    """Hours by the pieces of a path and by its spells differ by no more than its steps of five minutes."""
    shown = sun(SmallGarden().spot("wall", wall_side="E", slope_deg=5.0, aspect="E"))
    for path in shown.paths:
        by_points = sum(len(piece) for piece in path.lit) * 5 / 60
        assert path.hours == pytest.approx(by_points, abs=0.2)
        assert all(isinstance(when, datetime) for piece in path.lit for _, _, when in piece)
