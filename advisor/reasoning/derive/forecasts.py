"""Chill so far, when a plant will wake or bloom, and when its fruit will ripen, from this place's own weather."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Literal

from advisor.calc.calendar import median_date
from advisor.calc.chill_then_heat import DatedStage, Season
from advisor.calc.forecast import StageForecast, forecast_from_fit, forecast_stage
from advisor.calc.kept_years import CHILL, DEGREE_DAYS, GROWING_DEGREE_HOURS
from advisor.calc.requirement import Requirement
from advisor.calc.requirement_fit import RequirementFit, fit_requirement
from advisor.calc.ripening import DaysToRipe, last_pinch_day, ripe_by_days
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.freezes import first_autumn_freeze
from advisor.reasoning.derive.kin import grown_as
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.season_days import season_of_year, years_of
from advisor.reasoning.derive.stages import way_of
from advisor.reasoning.derive.weather import MOST_MISSING_SHARE, as_one, weather_of
from advisor.records.requirements import PublishedRequirement

PORTIONS_WIDTH = 7.0
"""Portions of hours made from daily extremes are not told apart within this: 4 for the model's all-or-nothing
transfer and 3 for the hours (house judgement; see advisor.calc.chill)."""
FRUIT_SET, RIPE = 71, 81
"""BBCH codes from which fruitlets are there and from which they colour (Meier (ed.), BBCH Monograph, 2nd ed., 2001)."""


@derivation
def chill_so_far(scene: Scene) -> Iterable[Fact]:
    """Derive this winter's chill up to the question, beside the same span of earlier winters."""
    years = years_of(scene)
    this = years.get(scene.year)
    length = (scene.today - scene.year_start).days + 1
    if this is None or length < 1 or length - len(this.days) > MOST_MISSING_SHARE * length:
        return
    usual, used = [], [day for day, _, _ in this.days]
    for year, found in years.items():
        same = [n for n, (day, _, _) in enumerate(found.days) if (day - found.days[0][0]).days < length]
        starts = found.days[0][0] == _start_of(scene, year)
        if year != scene.year and starts and len(same) >= (1 - MOST_MISSING_SHARE) * length:
            usual.append(float(found.each.portions[same].sum()))
            used += [found.days[n][0] for n in same]
    days = weather_of(scene).days
    yield derived(
        "chill_so_far",
        "chill_so_far",
        as_one([days[day] for day in sorted(used)]),
        since=scene.year_start,
        sum_portions=round(float(this.each.portions.sum()), 1),
        plus_minus_portions=PORTIONS_WIDTH,
        usual_portions=round(median(usual), 1) if usual else None,
        sum_h=round(float(this.each.chilling_hours.sum())),
        years=len(usual),
        missing_days=length - len(this.days),
    )


def _start_of(scene: Scene, year: int) -> date:
    return scene.year_start.replace(year=scene.year_start.year + year - scene.year)


# ---- waking and bloom


@dataclass(frozen=True)
class Needs:
    """What a plant's stage is published to need, in which measures, and the stage that is foretold."""

    milestone: Literal["waking", "bloom"]
    requirement: Requirement
    published: PublishedRequirement | None


def needs_of(scene: Scene, plant: Fact) -> Needs | None:
    """Return what a plant needs before it blooms, or wakes where its leaves come first; None where nothing is known."""
    species = scene.lore_of(plant)
    if species is None:
        return None
    flowers = species.trait(plant.text("cultivar"), "flowers_first")
    wanted = ("bloom", "not said") if flowers else ("wake", "not said")
    told = [
        entry
        for entry in scene.lore.needs.requirements_of(species.id, plant.text("cultivar"))
        if entry.stage in wanted and entry.chill_metric in CHILL
    ]
    with_heat = [entry for entry in told if entry.heat_metric in (None, GROWING_DEGREE_HOURS)]
    if not with_heat:
        return None
    entry = with_heat[0]
    by_days = DEGREE_DAYS.format(f"{species.base_c:g}")
    heat_metric = entry.heat_metric or (by_days if species.base_c >= 5 else GROWING_DEGREE_HOURS)
    requirement = Requirement(
        entry.chill_low, entry.chill_high, entry.heat_low, entry.heat_high, entry.chill_metric, heat_metric,
        entry.told_source,
    )  # fmt: skip
    return Needs("bloom" if flowers else "waking", requirement, entry)


@each_plant
def wake_forecast(scene: Scene, name: str) -> Fact | None:
    """Derive when the plant asked about, or each plant, wakes or blooms this year, where that is still to come."""
    plant = scene.plants[name]
    needs = needs_of(scene, plant)
    if needs is None:
        return None
    way = way_of(scene, name, scene.year, needs.milestone)
    return None if way is not None and way.there is not None else _forecast(scene, plant, needs)


@dataclass(frozen=True)
class _Foretold:
    """What is foretold of all plants of a group that need the same, and by which looks of which earlier years."""

    shown: StageForecast | None
    fit: RequirementFit | None
    chill_share: float
    chill_plus_minus: float
    years: tuple[int, ...]
    looks: Mapping[str, Mapping[int, Fact]]

    def rows(self, first: str) -> list[Fact]:
        """Return the looks, year by year, one plant's before the others'."""
        names = sorted(self.looks, key=lambda name: name != first)
        return [self.looks[name][year] for year in self.years for name in names if year in self.looks[name]]


def _forecast(scene: Scene, plant: Fact, needs: Needs) -> Fact | None:
    metrics = (needs.requirement.chill_metric, needs.requirement.heat_metric)
    kin, name = _like(scene, plant), plant.text("name")
    key = (kin[0].text("name"), needs.milestone, needs.requirement)
    found = scene.remember(("foretold", key), lambda: _foretell(scene, _like(scene, plant), needs))
    if found is None:
        return None
    shown = found.shown
    earlier, days = scene.remember(("days of", metrics), lambda: _days_of(scene, metrics))
    return derived(
        "wake_forecast",
        "wake_forecast",
        lambda: [plant, *found.rows(name), *days],
        plant=name,
        milestone=needs.milestone,
        chill_share=round(found.chill_share, 2),
        chill_plus_minus_share=round(found.chill_plus_minus, 2),
        heat_share=round(shown.heat_share, 2) if shown else None,
        earliest=shown.low if shown else None,
        likely=shown.median if shown else None,
        latest=shown.high if shown else None,
        years=earlier,
        own_years=len(found.years),
        rests_on=_footing(shown, found.fit),
        chill_metric=metrics[0],
        heat_metric=metrics[1],
        source=needs.requirement.source,
        caution=(shown.caution or None)
        if shown
        else "no heat requirement is published; three dated years here give one",
    )


def _days_of(scene: Scene, metrics: tuple[str, str]) -> tuple[int, list[Fact]]:
    """Return how many earlier years can be reckoned with, and the days of those and of this one."""
    earlier, days = _earlier(scene, metrics), weather_of(scene).days
    return len(earlier), as_one([days[day] for day in sorted(days) if scene.year_of(day) in {scene.year, *earlier}])


def _like(scene: Scene, plant: Fact) -> Sequence[Fact]:
    """Return the plants that are grown as this one, or it alone where that is not known."""
    return grown_as(scene, plant, scene.today) or (plant,)


def _foretell(scene: Scene, plants: Sequence[Fact], needs: Needs) -> _Foretold | None:
    """Return what is foretold of plants; None where this growing year's weather says too little."""
    metrics = (needs.requirement.chill_metric, needs.requirement.heat_metric)
    season = season_of_year(scene, scene.year, *metrics)
    if season is None:
        return None
    earlier = _earlier(scene, metrics)
    dated, looks = _dates(scene, plants, needs, earlier)
    fit = _fit(list(dated.values()), needs.requirement)
    requirement = fit.requirement if fit else needs.requirement
    shown: StageForecast | None = None
    if fit is not None:
        shown = forecast_from_fit(season, fit, list(earlier.values()))
    elif requirement.heat_low is not None:
        shown = forecast_stage(season, requirement, list(earlier.values()))
    return _Foretold(shown, fit, *_chill_share(season, requirement), tuple(dated), looks)


def _dates(
    scene: Scene, plants: Sequence[Fact], needs: Needs, earlier: Mapping[int, Season]
) -> tuple[dict[int, DatedStage], dict[str, dict[int, Fact]]]:
    """Return the stage's date in each earlier year, the median of a plant and of its kin, and the looks behind that."""
    looks: dict[str, dict[int, Fact]] = {plant.text("name"): {} for plant in plants}
    days: dict[int, list[date]] = {}
    for year in earlier:
        for plant in plants:
            way = way_of(scene, plant.text("name"), year, needs.milestone)
            if way is not None and way.day is not None:
                looks[plant.text("name")][year] = way.fact
                days.setdefault(year, []).append(way.day)
    middle = {year: median_date(found) for year, found in days.items()}
    dated = {
        year: DatedStage(earlier[year], day)
        for year, day in middle.items()
        if earlier[year].first_day <= day <= earlier[year].last_day
    }
    return dated, looks


def _footing(shown: StageForecast | None, fit: RequirementFit | None) -> str:
    if shown is None:
        return "chill alone"
    if fit is None:
        return "published ranges"
    return "own dates" if shown.method == "chill then heat" else "mean of own dates"


def _fit(dated: list[DatedStage], requirement: Requirement) -> RequirementFit | None:
    try:
        return fit_requirement(dated, requirement) if dated else None
    except ValueError:  # too few own years and nothing published to lean on
        return None


def _earlier(scene: Scene, metrics: tuple[str, str]) -> dict[int, Season]:
    def read() -> dict[int, Season]:
        found = ((year, season_of_year(scene, year, *metrics)) for year in sorted(years_of(scene)) if year < scene.year)
        return {year: season for year, season in found if season is not None}

    return scene.remember(("seasons", metrics), read)


def _chill_share(season: Season, requirement: Requirement) -> tuple[float, float]:
    low, middle, high = requirement.chill_range
    gathered = max(sum(season.chill), 0.0)
    shares = [min(1.0, gathered / need) if need > 0 else 1.0 for need in (low, middle, high)]
    return shares[1], (shares[0] - shares[2]) / 2


# ---- ripening


@each_plant
def ripe_forecast(scene: Scene, name: str) -> Fact | None:
    """Derive when the first fruit of the plant asked about, or of each, ripens: from fruit set, or from pinching."""
    start = _start_of_fruit(scene, name)
    plant = scene.plants[name]
    told = scene.lore.needs.days_to_ripe(plant.text("species"), "main") if start else None
    if told is None or start is None:
        return None
    days = DaysToRipe("main", told.days_low, told.days_high, told.told_source)
    first_freeze = first_autumn_freeze(scene)
    row, pinched = start
    on = row.day("on") or scene.today
    freeze = first_freeze if first_freeze and first_freeze >= on else None
    found = ripe_by_days(on, days, pinched=pinched, first_freeze=freeze)
    last = last_pinch_day(freeze, days)
    return derived(
        "ripe_forecast",
        "ripe_forecast",
        (plant, row),
        plant=name,
        crop="main",
        start="pinched" if pinched else "fruit set",
        on=on,
        earliest=found.earliest,
        likely=found.likely,
        latest=found.latest,
        before_freeze=found.before_freeze,
        last_pinch=last.safe if last else None,
        source=told.told_source,
    )


def _start_of_fruit(scene: Scene, plant: str) -> tuple[Fact, bool] | None:
    """Return the row from which a plant's fruit is counted this year, and whether it is a pinching."""
    for row in scene.of_plant_since("stage", plant, scene.year_start):
        if FRUIT_SET <= int(row.number("bbch") or 0) < RIPE:
            return row, False
    for row in scene.of_plant_since("work", plant, scene.year_start):
        if row.text("what") == "pinched":
            return row, True
    return None
