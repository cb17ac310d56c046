"""Each spot put through the garden's own weather years for the kind that a place is sought for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from advisor.calc.calendar import set_in_year
from advisor.calc.replay import DAYS, NIGHTS
from advisor.calc.replay_years import ReplayYear
from advisor.calc.replays import Replay, replay
from advisor.calc.spot_climate import SpotClimate
from advisor.facts import Fact, Value
from advisor.reasoning.derive.places import site
from advisor.reasoning.derive.replay_needs import Known, Unknown, climate_of, course_of, recorded_years
from advisor.reasoning.derive.scene import Scene, derivation, derived, together
from advisor.reasoning.derive.weather import as_one, weather_of

COMMON_START = {True: date(2021, 11, 1), False: date(2021, 5, 1)}
"""The first day of a growing year without 29 February, in the north and in the south."""
OPEN_BY_YEARS = 0.5
"""An order of spots is open where their ranges could turn it by more than this many frost years (house judgement)."""


def _replays(scene: Scene) -> dict[str, tuple[Replay, Fact]]:
    return scene.remember(("replays", scene.species), lambda: _all_replays(scene))


def _all_replays(scene: Scene) -> dict[str, tuple[Replay, Fact]]:
    """Return each spot's replay for the kind asked about, and the fact that tells it; none where it cannot be told."""
    years = [year for year in recorded_years(scene) if year.whole]
    known = course_of(scene, scene.species, scene.sort) if scene.species and years else None
    if not isinstance(known, Known):
        return {}
    days = weather_of(scene).days
    used = as_one([days[day] for day in sorted(days) if years[0].first_day <= day <= _last_day(years[-1])])
    used += together(known.rows)
    found = {}
    for told in site(scene):
        spot = told.text("spot")
        if scene.spots[spot].text("under_cover") == "heated glass":
            continue  # how warm it is kept is not known
        climate, rows = climate_of(scene, spot)
        one = replay(years, climate, known.course)
        because = (scene.place, *rows, *used)
        values = _figures(scene, one, known) | _climate_figures(one, climate)
        found[spot] = (one, derived("spot_replay", "spot_replay", because, spot=spot, species=scene.species,
                                    outdoors=told.get("outdoors"), **values))  # fmt: skip
    return found


def _last_day(year: ReplayYear) -> date:
    return year.found.days[-1][0]


def _figures(scene: Scene, one: Replay, known: Known) -> dict[str, Value | None]:
    count = len(one.years)
    early, middle, late = (_day(scene, index) for index in one.bloom or (None, None, None))
    frost, hurt, ripe = one.frost_years, one.hurt_years, one.ripe_years
    return {
        "years": count,
        "first_year": one.years[0],
        "last_year": one.years[-1],
        "milestone": "waking" if known.course.waking else "bloom",
        "earliest": early,
        "middle": middle,
        "latest": late,
        "harm": known.harm or None,
        "frost_counted": frost is not None,
        "frost_years": frost[1] if frost else None,
        "frost_low": frost[0] if frost else None,
        "frost_high": frost[2] if frost else None,
        "frost_share": round(frost[1] / count, 3) if frost else None,
        "frost_low_share": round(frost[0] / count, 3) if frost else None,
        "hurt_years": hurt[1] if hurt else None,
        "hurt_share": round(hurt[1] / count, 3) if hurt else None,
        "at_stage": one.worst or None,
        "chill_metric": known.course.requirement.chill_metric,
        "chill_met_share": round(one.chill_met_share, 3),
        "ripe_years": ripe[1] if ripe else None,
        "ripe_of": one.ripe_of if ripe else None,
        "ripe_share": round(ripe[1] / one.ripe_of, 3) if ripe else None,
        "own_years": known.own_years,
        "source": known.course.requirement.source,
        "caution": known.caution or None,
    }


def _climate_figures(one: Replay, climate: SpotClimate) -> dict[str, Value | None]:
    colder, warmer = climate.colder, climate.warmer
    return {
        "colder_by_k": round(colder.middle_k, 1),
        "colder_low_k": round(colder.low_k, 1),
        "colder_high_k": round(colder.high_k, 1),
        "nights_from": colder.origin,
        "nights_measured": colder.measured,
        "nights_move_share": round(one.moved_by(NIGHTS) / len(one.years), 3),
        "warmer_by_k": round(warmer.middle_k, 1),
        "warmer_low_k": round(warmer.low_k, 1),
        "warmer_high_k": round(warmer.high_k, 1),
        "days_from": warmer.origin,
        "days_measured": warmer.measured,
        "days_move_share": round(one.moved_by(DAYS) / len(one.years), 3),
    }


def _day(scene: Scene, index: int | None) -> date | None:
    """Return a day of a common growing year as that day of the question's calendar year."""
    if index is None:
        return None
    day = COMMON_START[scene.latitude_deg >= 0] + timedelta(days=index)
    return set_in_year(day, date(scene.today.year, 1, 1))


@derivation
def spot_replay(scene: Scene) -> Iterable[Fact]:
    """Derive for each spot what the kind that a place is sought for would have done there in every recorded year."""
    for _, fact in _replays(scene).values():
        yield fact


@derivation
def replay_gap(scene: Scene) -> Iterable[Fact]:
    """Derive why nothing could be replayed for the kind that a place is sought for, and what record would change it."""
    species = scene.lore.species.get(scene.species)
    if species is None or _replays(scene):
        return
    known = course_of(scene, scene.species, scene.sort)
    if not any(year.whole for year in recorded_years(scene)):
        why = "no growing year is recorded from its start to the height of summer" if weather_of(scene).days else \
            "no weather is recorded here"  # fmt: skip
        gap = Unknown(why, "weather_day")
    elif isinstance(known, Unknown):
        gap = known
    else:
        return  # there is no spot to plant in
    yield derived("replay_gap", "replay_gap", (scene.place,), species=scene.species, reason=gap.reason,
                  reading=gap.reading)  # fmt: skip


def _outdoors(scene: Scene) -> list[tuple[str, Replay, Fact]]:
    """Return the outdoor spots whose frost years are known, fewest first, the later bloom first among equals."""
    told = [(spot, one, fact) for spot, (one, fact) in _replays(scene).items() if fact.get("outdoors")]
    counted = [entry for entry in told if entry[1].frost_years is not None]
    return sorted(counted, key=lambda entry: (entry[1].frost_mean, -(entry[1].bloom or (0, 0, 0))[1], entry[0]))


@derivation
def replay_contrast(scene: Scene) -> Iterable[Fact]:
    """Derive how the spot with the fewest frost years stands beside the one with the most."""
    ordered = _outdoors(scene)
    if len(ordered) < 2:
        return
    (spot, _, best), (than, _, worst) = ordered[0], ordered[-1]
    if best.get("earliest") is None or worst.get("earliest") is None:
        return
    values = {f"than_{name}": worst.get(name) for name in ("earliest", "latest", "frost_years")}
    values |= {name: best.get(name) for name in ("years", "milestone", "earliest", "latest", "harm", "frost_years")}
    apart = best.number("frost_years") != worst.number("frost_years")
    yield derived("replay_contrast", "replay_contrast", (best, worst), species=scene.species, spot=spot, than=than,
                  apart=apart, **values)  # fmt: skip


@derivation
def replay_order(scene: Scene) -> Iterable[Fact]:
    """Derive whether the order of the first two spots by frost holds over the ranges, and what reading settles it."""
    ordered = _outdoors(scene)
    if len(ordered) < 2:
        return
    (spot, first, one), (than, second, other) = ordered[:2]
    turned = {
        reading: first.frost_ends(which)[0] - second.frost_ends(which)[1]
        for reading, which in (("nights", NIGHTS), ("days", DAYS))
    }
    reading = max(turned, key=lambda name: turned[name])
    open_ = turned[reading] > OPEN_BY_YEARS and not (
        one.get(f"{reading}_measured") and other.get(f"{reading}_measured")
    )
    ends = [(fact.number(f"{reading}_move_share") or 0.0, name) for name, fact in ((spot, one), (than, other))
            if not fact.get(f"{reading}_measured")]  # fmt: skip
    yield derived(
        "replay_order",
        "replay_order",
        (one, other),
        species=scene.species,
        spot=spot,
        than=than,
        settled=not open_,
        reading=reading if open_ else None,
        read_at=max(ends)[1] if open_ and ends else None,
    )
