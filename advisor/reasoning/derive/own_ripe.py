"""When a plant's fruit ripens by its own earlier years: their dates, moved a little by a late or early bloom."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from statistics import median

from advisor.calc.calendar import median_date, set_in_year
from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene, derivation, derived
from advisor.reasoning.derive.season_days import years_of
from advisor.reasoning.derive.weather import as_one, weather_of

FEWEST_YEARS = 3
"""Fewer dates show no range (house judgement)."""
LEAST_WIDTH_DAYS = 7
"""No few years' dates tell the next one closer than a week: phenology models miss by five or six days (Drepper et al.
2020, Agronomy 10, abstract); the week is house judgement."""
CARRIED_SHARE = 1 / 3
"""How much of a shift of bloom is still seen at harvest: ten years of one peach spread 30 days in bloom and 9 in most
harvests (Blake 1930, as summarised by Penn State 2012, excerpt); the third is house judgement."""
FIRST_MONTH_DAYS = 30
WARMER_SHARE, COOLER_SHARE = 1.1, 0.9
"""Of the usual heat of the first month: within a tenth, sums from daily extremes tell nothing (house judgement)."""
BLOOM, RIPE, PAST = (60, 70), 87, 90
"""BBCH codes of bloom, of ripe fruit, and past both (Meier (ed.), BBCH Monograph, 2nd ed., 2001)."""

Years = dict[int, tuple[date, Fact]]


def ripe_years(scene: Scene, plant: str) -> Years:
    """Return the day on which a plant's main crop was first ripe in each growing year, as noted when it was picked or
    seen.
    """
    found: Years = {}
    for row in scene.of_plant("stage", plant):
        if RIPE <= (row.number("bbch") or 0) < PAST:
            _keep_first(scene, found, row)
    for row in scene.of_plant("crop", plant):
        if row.get("first_ripe") and row.text("crop") != "breba":
            _keep_first(scene, found, row)
    return found


def bloom_years(scene: Scene, plant: str) -> Years:
    """Return the first day on which a plant was seen in bloom in each growing year, its full bloom where told."""
    found: Years = {}
    for least in (65, BLOOM[0]):
        full: Years = {}
        for row in scene.of_plant("stage", plant):
            if least <= (row.number("bbch") or 0) < BLOOM[1]:
                _keep_first(scene, full, row)
        found = full | found
    return found


def _keep_first(scene: Scene, found: Years, row: Fact) -> None:
    day = row.day("on")
    if day is not None:
        year = scene.year_of(day)
        if year not in found or day < found[year][0]:
            found[year] = (day, row)


@derivation
def own_ripe(scene: Scene) -> Iterable[Fact]:
    """Derive when the fruit of the plant asked about ripens by its own earlier years, while that is still ahead."""
    if scene.focus is None:
        return
    species = scene.lore_of(scene.focus)
    ripe = ripe_years(scene, scene.plant)
    past = {year: entry for year, entry in ripe.items() if year < scene.year}
    if scene.year in ripe or len(past) < FEWEST_YEARS:
        return
    stone = species is not None and species.botanical.startswith("Prunus")
    in_year = sorted(set_in_year(day, scene.year_start) for day, _ in past.values())
    usual = median_date(in_year)
    bloom = bloom_years(scene, scene.plant)
    shift, rows = _shift(scene, bloom) if stone else (None, [])
    first_month, month_facts = _first_month(scene, bloom) if stone else (None, [])
    moved = timedelta(days=round((shift or 0) * CARRIED_SHARE))
    before = timedelta(days=max(LEAST_WIDTH_DAYS, (usual - in_year[0]).days))
    after = timedelta(days=max(LEAST_WIDTH_DAYS, (in_year[-1] - usual).days))
    if usual + moved + after < scene.today:
        return
    yield derived(
        "own_ripe",
        "own_ripe",
        dict.fromkeys([*(row for _, row in past.values()), *rows, *month_facts]),
        plant=scene.plant,
        years=len(past),
        usual=usual,
        earliest=usual + moved - before,
        likely=usual + moved,
        latest=usual + moved + after,
        bloom_shift_days=shift,
        moved_days=moved.days if shift is not None else None,
        first_month=first_month,
        lean={"warmer": "early", "cooler": "late"}.get(first_month or ""),
    )


def _shift(scene: Scene, bloom: Years) -> tuple[int | None, list[Fact]]:
    """Return how many days later than usual this year's bloom was, below nought for earlier, and what says so."""
    past = [entry for year, entry in bloom.items() if year < scene.year]
    if scene.year not in bloom or len(past) < FEWEST_YEARS:
        return None, []
    usual = median_date([set_in_year(day, scene.year_start) for day, _ in past])
    day, row = bloom[scene.year]
    return (day - usual).days, [row, *(row for _, row in past)]


def _first_month(scene: Scene, bloom: Years) -> tuple[str | None, list[Fact]]:
    """Return how warm the thirty days after bloom were beside those of the plant's earlier years."""
    sums: dict[int, float] = {}
    used: list[date] = []
    for year, (day, _) in bloom.items():
        found = years_of(scene).get(year)
        month = [day + timedelta(days=n) for n in range(FIRST_MONTH_DAYS)]
        place = {when: n for n, (when, _, _) in enumerate(found.days)} if found else {}
        if found and all(when in place for when in month):
            sums[year] = float(sum(found.each.growing_degree_hours[place[when]] for when in month))
            used += month
    past = [total for year, total in sums.items() if year < scene.year]
    if scene.year not in sums or len(past) < FEWEST_YEARS or not median(past):
        return None, []
    share = sums[scene.year] / median(past)
    word = "warmer" if share >= WARMER_SHARE else "cooler" if share <= COOLER_SHARE else "as usual"
    days = weather_of(scene).days
    return word, [*(row for _, row in bloom.values()), *as_one([days[day] for day in sorted(used)])]
