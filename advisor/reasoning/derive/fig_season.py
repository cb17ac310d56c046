"""What a pinched fig still needs: its own earlier years, heat and a roof, its fruitlets; and which crop it bears."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from statistics import median

from advisor.calc.calendar import growing_year_start
from advisor.calc.degree_days import single_sine_degree_days
from advisor.calc.ripening import PINCH_TO_FRUITLET_DAYS, DaysToRipe
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.forecasts import FRUIT_SET, RIPE
from advisor.reasoning.derive.freezes import first_autumn_freeze
from advisor.reasoning.derive.limbs import pinched_days
from advisor.reasoning.derive.plants import stand_of, trunk_of
from advisor.reasoning.derive.scene import Scene, derived
from advisor.reasoning.derive.weather import MOST_MISSING_SHARE, as_one, weather_of

FEWEST_OWN_YEARS = 2
OWN_YEARS_WIDTH_DAYS = 5
"""What own spans are widened by to either side, for looks a few days apart and years not seen yet (house judgement)."""
SPAN_DAYS = (30, 200)
"""From fruitlets to ripe figs nothing outside this is one crop (house judgement)."""
FEWEST_HEAT_YEARS = 3
FIRST_FRUITLETS_DAYS = 10
"""The quickest fruitlets after a pinching; most are there at two weeks (common practice, no source)."""
ROOF_DAYS = {"shelter": 14, "unheated glass": 28, "heated glass": 56}
"""By how long a roof puts off the end of ripening: taken in on frosty nights, under glass, under heated glass. House
judgement: no figure was found, and short days ripen slowly."""
LARGEST_MOVED_LITRES = 100.0
"""A larger pot stays where it is (house judgement)."""


# ---- own earlier years


@dataclass(frozen=True)
class FruitSpan:
    """One earlier year of a plant's main crop: fruitlets there, first ripe figs, and the rows that say so."""

    start: date
    ripe: date
    rows: tuple[Fact, ...]

    @property
    def days(self) -> int:
        return (self.ripe - self.start).days


def own_spans(scene: Scene, plant: str) -> list[FruitSpan]:
    """Return a plant's earlier years from fruitlets to the first ripe figs of its main crop, oldest first.

    Fruitlets count from two weeks after the first pinching of that year, else from the day they were first seen.
    """
    return scene.remember(("own spans", plant), lambda: _own_spans(scene, plant))


def _own_spans(scene: Scene, plant: str) -> list[FruitSpan]:
    kinds = ("crop", "work", "stage") if scene.of_plant("crop", plant) else ("crop",)
    rows = tuple(scene.of_plant_before(kind, plant, scene.year_start) for kind in kinds)
    return scene.from_same(("own spans", plant), (scene.place, *rows), partial(_spans_in, scene, *rows))


def _spans_in(
    scene: Scene, crop_rows: Sequence[Fact], work: Sequence[Fact] = (), stages: Sequence[Fact] = ()
) -> list[FruitSpan]:
    found = []
    picked, worked, seen = (_by_year(scene, rows) for rows in (crop_rows, work, stages))
    for year in sorted(picked):
        crops = [row for row in picked[year] if row.text("crop") == "main"]
        pinched = [row for row in worked.get(year, ()) if row.text("what") == "pinched"]
        fruit = [row for row in seen.get(year, ()) if FRUIT_SET <= (row.number("bbch") or 0) < RIPE]
        first = (pinched or fruit)[:1]
        if not crops or not first:
            continue
        lag = PINCH_TO_FRUITLET_DAYS if pinched else 0
        start = (first[0].day("on") or date.min) + timedelta(days=lag)
        span = FruitSpan(start, crops[0].day("on") or date.min, (first[0], crops[0]))
        if SPAN_DAYS[0] <= span.days <= SPAN_DAYS[1]:
            found.append(span)
    return found


def _by_year(scene: Scene, rows: Iterable[Fact]) -> dict[int, list[Fact]]:
    found: dict[int, list[Fact]] = {}
    for row in rows:
        if day := row.day("on"):
            found.setdefault(scene.year_of(day), []).append(row)
    return found


def days_to_ripe(scene: Scene, plant: Fact) -> tuple[DaysToRipe, tuple[Fact, ...]] | None:
    """Return the days from fruitlets to ripe figs, and rows behind them: of two own years, else as published."""
    spans = own_spans(scene, plant.text("name"))
    if len(spans) >= FEWEST_OWN_YEARS:
        days = [span.days for span in spans]
        low, high = min(days) - OWN_YEARS_WIDTH_DAYS, max(days) + OWN_YEARS_WIDTH_DAYS
        return DaysToRipe("main", low, high, "its own years"), tuple(row for span in spans for row in span.rows)
    told = scene.lore.needs.days_to_ripe(plant.text("species"), "main")
    return (DaysToRipe("main", told.days_low, told.days_high, told.told_source), ()) if told else None


@each_plant
def heat_left(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive the heat that usually comes between the fruitlets of a shoot pinched today and frost, beside its own need.

    Its need is the middle of its own earlier years from fruitlets to ripe figs. Nothing for plants under glass, whose
    warmth the station does not know, nor once that span is over.
    """
    freeze = first_autumn_freeze(scene)
    plant = scene.plants[name]
    species, spans = scene.lore_of(plant), own_spans(scene, name)
    glass = stand_of(scene, plant, scene.today).like == "glass"
    if freeze is None or species is None or glass or len(spans) < FEWEST_OWN_YEARS:
        return
    took = [heat for span in spans if (heat := _heat(scene, span.start, span.ripe, species.base_c)) is not None]
    first = scene.today + timedelta(days=PINCH_TO_FRUITLET_DAYS)
    usual = _usual_heat(scene, first, freeze, species.base_c) if first < freeze else []
    if len(took) < FEWEST_OWN_YEARS or len(usual) < FEWEST_HEAT_YEARS:
        return
    needed, left = median(took), median(usual)
    yield derived(
        "heat_left",
        "heat_left",
        (plant, *(row for span in spans for row in span.rows), *_days_behind(scene)),
        plant=name,
        needed_dd=round(needed, 0),
        left_dd=round(left, 0),
        enough_share=round(left / needed, 2),
        own_years=len(took),
        years=len(usual),
        first=first,
        freeze=freeze,
    )


def _usual_heat(scene: Scene, first: date, last: date, base_c: float) -> list[float]:
    """Return the heat of the same span in each earlier year that has its days."""
    sums = []
    for year in sorted({scene.year_of(day) for day in weather_of(scene).days} - {scene.year}):
        start = growing_year_start(year, scene.latitude_deg) + (first - scene.year_start)
        heat = _heat(scene, start, start + (last - first), base_c)
        if heat is not None:
            sums.append(heat)
    return sums


def _heat(scene: Scene, first: date, last: date, base_c: float) -> float | None:
    length = (last - first).days + 1
    days = weather_of(scene).span(first, last)
    if length < 1 or len(days) < (1 - MOST_MISSING_SHARE) * length:
        return None
    total = sum(single_sine_degree_days(d.number("min_c") or 0.0, d.number("max_c") or 0.0, base_c) for d in days)
    return total * length / len(days)


def _days_behind(scene: Scene) -> list[Fact]:
    days = weather_of(scene).days
    return as_one([days[day] for day in sorted(days)])


# ---- a roof, fruitlets, the crop


def roof_of(scene: Scene, plant: Fact) -> tuple[str, Fact] | None:
    """Return the roof under which a plant's figs can finish, and its spot: its own glass, or a pot's best shelter."""
    stand = stand_of(scene, plant, scene.today)
    spots = scene.remember(
        ("roofs", "all"), lambda: [row for row in scene.spots.values() if row.text("under_cover") in ROOF_DAYS]
    )
    litres = (trunk_of(scene, plant) or plant).number("pot_litres") or 0.0
    if stand.growing != "pot" or litres > LARGEST_MOVED_LITRES:
        spots = [row for row in spots if row.text("name") == stand.spot and row.text("under_cover") != "shelter"]
    best = max(spots, key=lambda row: ROOF_DAYS[row.text("under_cover")], default=None)
    return (best.text("under_cover"), best) if best else None


@each_plant
def after_pinch(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive for each plant pinched this year when its fruitlets are to be looked for, and whether they were seen."""
    pinched = pinched_days(scene, name)
    if not pinched:
        return
    on, row = pinched[-1]
    first = on + timedelta(days=FIRST_FRUITLETS_DAYS)
    fruit = [
        stage
        for stage in scene.of_plant("stage", name)
        if (stage.day("on") or on) > on and (stage.number("bbch") or 0) >= FRUIT_SET
    ]
    yield derived(
        "after_pinch",
        "after_pinch",
        (scene.plants[name], row, *fruit[:1]),
        plant=name,
        on=on,
        age_days=(scene.today - on).days,
        first_look=first,
        by=on + timedelta(days=PINCH_TO_FRUITLET_DAYS),
        due=scene.today >= first,
        seen=bool(fruit),
    )


@each_plant
def crop_type(scene: Scene, name: str) -> Iterable[Fact]:
    """Derive which crops a plant bears: those picked from it, and those its cultivar is known for."""
    plant = scene.plants[name]
    species = scene.lore_of(plant)
    known = str(species.cultivars.get(plant.text("cultivar").casefold(), {}).get("crops", "")) if species else ""
    rows = [row for row in scene.of_plant("crop", name) if row.text("crop")]
    picked = {row.text("crop") for row in rows}
    crops = picked | ({"breba", "main"} if known == "both" else {known} - {""})
    if not crops:
        return
    last = [next(row for row in reversed(rows) if row.text("crop") == crop) for crop in sorted(picked)]
    yield derived(
        "crop_type",
        "crop_type",
        (plant, *last),
        plant=name,
        crops="both" if len(crops) > 1 else min(crops),
        cultivar_crops=known or None,
        shown_by="own records" if picked >= crops else "its cultivar" if not picked else "both",
    )
