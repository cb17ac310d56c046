"""What a winter did to a plant: where it was kept, its chill beside its need, a freeze after warmth, its last crop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta
from functools import partial
from statistics import fmean, median

from advisor.calc.calendar import spring_start
from advisor.calc.kept_years import CHILL
from advisor.facts import Fact
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived, together
from advisor.reasoning.derive.season_days import years_of
from advisor.reasoning.derive.stages import RECENT_DAYS, REST, way_of
from advisor.reasoning.derive.weather import as_one, weather_of
from advisor.records.requirements import PublishedRequirement

KEPT = {"none": "outdoors", "shelter": "store", "unheated glass": "unheated glass", "heated glass": "heated glass"}
MOST_SHARE = 0.8
"""A plant that was kept one way on this share of the winter was kept that way (house judgement)."""
STEP_DAYS = 7
"""Where a plant stood is looked up once a week of the winter; no move of a few days counts."""
WARM_C = 15.0
SPELL_DAYS = 14
WARM_DAYS = 5
"""Five days that reach 15 °C within two weeks are a warm spell that takes hardiness (house judgement, after persimmon
buds that lost up to 4 °C of it in warmth: Kang et al. 1998, abstract)."""
CALENDAR_REST_DAYS = 81
"""Where no chill need is published, rest is taken to be over 81 days into the growing year: 21 January in the north, a
month after midwinter (house judgement)."""
CROP_LEAD_DAYS = 60
"""Fruit is picked up to the turn of the year: a crop counts to the year that it grew in (house judgement)."""


# ---- where it was kept


@derivation
def winter_keep(scene: Scene) -> Iterable[Fact]:
    """Derive where the plant asked about spent the winter so far, and the mean of the air there where that was read."""
    focus = scene.focus
    if focus is None:
        return
    days = _winter_days(scene)
    planted = focus.day("planted")
    if planted and (planted - scene.year_start).days > (1 - MOST_SHARE) * len(days):
        return  # nobody here knows how it was kept before
    stands = [stand_of(scene, focus, day) for day in days[::STEP_DAYS]]
    known = [KEPT[stand.under_cover] for stand in stands if stand.under_cover in KEPT]
    if not stands or len(known) < len(stands):
        return
    kept, count = Counter(known).most_common(1)[0]
    kept = kept if count >= MOST_SHARE * len(stands) else "moved about"
    read = _air_beside(scene, focus, days) if kept != "outdoors" else []
    means = [((row.number("min_c") or 0.0) + (row.number("max_c") or 0.0)) / 2 for row in read]
    yield derived(
        "winter_keep",
        "winter_keep",
        dict.fromkeys([row for stand in stands for row in stand.because] + as_one(read)),
        plant=scene.plant,
        kept=kept,
        read_days=len(read) or None,
        mean_c=round(fmean(means), 1) if means else None,
    )


def _winter_days(scene: Scene) -> list[date]:
    """Return the days from the start of rest to the end of winter, or to today."""
    end = min(scene.today, spring_start(scene.year, scene.latitude_deg) - timedelta(days=1))
    return [scene.year_start + timedelta(days=n) for n in range((end - scene.year_start).days + 1)]


def _air_beside(scene: Scene, plant: Fact, days: list[date]) -> list[Fact]:
    """Return the days of air read at the spot where a plant stood on them."""
    by_spot: dict[tuple[str, date], Fact] = {}
    for row in scene.rows("weather_day"):
        day = row.day("on")
        if day is not None and row.text("spot"):
            by_spot[row.text("spot"), day] = row
    if not by_spot:
        return []
    stood = ((stand_of(scene, plant, day).spot, day) for day in days)
    return [by_spot[key] for key in stood if key in by_spot]


# ---- chill beside the need, and the end of rest


@derivation
def chill_need(scene: Scene) -> Iterable[Fact]:
    """Derive how the station's chill stands beside what the kind of the plant asked about is published to need."""
    need = _need_of(scene)
    sums = next(iter(scene.derived("chill_so_far")), None)
    if need is None or sums is None or scene.focus is None:
        return
    portions = need.chill_metric == "chill portions"
    gathered = sums.number("sum_portions" if portions else "sum_h") or 0.0
    yield derived(
        "chill_need",
        "chill_need",
        (scene.focus, sums),
        plant=scene.plant,
        of="its cultivar" if need.cultivar else "its kind",
        metric=need.chill_metric,
        sum_portions=gathered if portions else None,
        low_portions=need.chill_low if portions else None,
        high_portions=need.chill_high if portions else None,
        beyond_portions=round(gathered - need.chill_high, 1) if portions else None,
        short_portions=round(need.chill_low - gathered, 1) if portions else None,
        sum_h=None if portions else gathered,
        high_h=None if portions else need.chill_high,
        high_share=None if portions else round(gathered / need.chill_high, 2),
        source=need.told_source,
    )


def _need_of(scene: Scene) -> PublishedRequirement | None:
    """Return the published need that counts for the plant asked about: portions before hours, its cultivar first."""
    if scene.focus is None:
        return None
    told = scene.lore.needs.requirements_of(scene.focus.text("species"), scene.focus.text("cultivar"))
    for metric in ("chill portions", "chilling hours"):
        found = next((entry for entry in told if entry.chill_metric == metric), None)
        if found:
            return found
    return None


def rest_over_on(scene: Scene) -> tuple[date, str, list[Fact]] | None:
    """Return the day by which the rest of the plant asked about was over, by what, and the weather behind it."""
    need = _need_of(scene)
    if need is None:
        return scene.year_start + timedelta(days=CALENDAR_REST_DAYS), "the calendar", []
    key = (need.chill_metric, need.chill_high)
    return scene.remember(("rest over", key), lambda: _chilled_on(scene, *key))


def _chilled_on(scene: Scene, metric: str, chill: float) -> tuple[date, str, list[Fact]] | None:
    """Return the day on which this winter's chill came to so much."""
    year = years_of(scene).get(scene.year)
    if year is None or year.days[0][0] != scene.year_start:
        return None
    total = 0.0
    for n, share in enumerate(getattr(year.each, CHILL[metric])):
        total += float(share)
        if total >= chill:
            rows = [weather_of(scene).days[day] for day, _, _ in year.days[: n + 1]]
            return year.days[n][0], "its published need of chill", as_one(rows)
    return None


@derivation
def winter_rest(scene: Scene) -> Iterable[Fact]:
    """Derive whether the rest of the plant asked about is over, so that warmth counts."""
    found = rest_over_on(scene) if scene.focus else None
    if found is None or scene.focus is None or found[0] > scene.today:
        return
    over, by, rows = found
    yield derived("winter_rest", "winter_rest", (scene.focus, *rows), plant=scene.plant, over_on=over, by=by)


@derivation
def freeze_after_warmth(scene: Scene) -> Iterable[Fact]:
    """Derive the coldest night that followed a warm spell after rest, before the plant asked about was seen awake.

    Only nights count on which it stood in the open.
    """
    found = rest_over_on(scene) if scene.focus else None
    if found is None or scene.focus is None:
        return
    over, by, _ = found
    over = max(over, scene.focus.day("planted") or over)
    way = way_of(scene, scene.plant, scene.year, "waking")
    end = way.day if way and way.day else scene.today + timedelta(days=1)
    days = weather_of(scene).days
    warm = {day for day, row in days.items() if day >= over and (row.number("max_c") or 0.0) >= WARM_C}
    nights: list[tuple[float, date, int]] = []
    for n in range((end - over).days):
        day = over + timedelta(days=n)
        low = days[day].number("min_c") if day in days else None
        before = sum(day - timedelta(days=k) in warm for k in range(1, SPELL_DAYS + 1))
        if low is not None and low <= 0 and before >= WARM_DAYS:
            nights.append((low, day, before))
    nights = [night for night in nights if stand_of(scene, scene.focus, night[1]).under_cover == "none"]
    if not nights:
        return
    low, on, before = min(nights)
    first = on - timedelta(days=SPELL_DAYS)
    yield derived(
        "freeze_after_warmth",
        "freeze_after_warmth",
        (scene.focus, *as_one(weather_of(scene).span(first, on))),
        plant=scene.plant,
        warm_days=before,
        low_c=low,
        on=on,
        rest_by=by,
    )


@derivation
def cold_ahead(scene: Scene) -> Iterable[Fact]:
    """Derive the coldest night that a told forecast has ahead: what no forecast told of is not held against a task."""
    for ahead in scene.derived("forecast_ahead"):
        if (low := ahead.number("lowest_c")) is not None:
            yield derived("cold_ahead", "cold_ahead", (ahead,), place=ahead.text("place"), lowest_c=low)


# ---- how it opened, what it bore, and how its kind stands elsewhere


@derivation
def opening_spread(scene: Scene) -> Iterable[Fact]:
    """Derive the days from the first open flower of the plant asked about to full bloom, or to the last look before."""
    if scene.focus is None:
        return
    rows = [row for row in scene.of_plant("stage", scene.plant) if (row.day("on") or date.min) >= scene.year_start]
    open_ = [row for row in rows if 60 <= (row.number("bbch") or 0) < REST]
    if not open_ or (open_[0].number("bbch") or 0) >= 65:
        return
    full = next((row for row in open_ if (row.number("bbch") or 0) >= 65), None)
    first, last = open_[0], full or open_[-1]
    yield derived(
        "opening_spread",
        "opening_spread",
        dict.fromkeys((first, last)),
        plant=scene.plant,
        first_on=first.day("on"),
        spread_days=((last.day("on") or scene.today) - (first.day("on") or scene.today)).days,
        full=full is not None,
    )


@derivation
def crop_before(scene: Scene) -> Iterable[Fact]:
    """Derive last year's crop of the plant asked about beside the middle one of its other years, by weight or count."""
    if scene.focus is None:
        return
    for name in ("weight_kg", "fruits"):
        sums: dict[int, float] = {}
        rows: list[Fact] = []
        for row in scene.of_plant("crop", scene.plant):
            day, amount = row.day("on"), row.number(name)
            if day is not None and amount is not None:
                year = scene.year_of(day - timedelta(days=CROP_LEAD_DAYS))
                sums[year] = sums.get(year, 0.0) + amount
                rows.append(row)
        others = [amount for year, amount in sums.items() if year < scene.year - 1]
        if scene.year - 1 in sums and others and median(others) > 0:
            yield derived(
                "crop_before",
                "crop_before",
                rows,
                plant=scene.plant,
                by=name.split("_")[0],
                usual_share=round(sums[scene.year - 1] / median(others), 2),
                years=len(others),
            )
            return


@derivation
def grown_otherwise(scene: Scene) -> Iterable[Fact]:
    """Derive how far others of the asked plant's kind are that are grown another way: ground, pot, glass or store."""
    if scene.focus is None:
        return
    here = stand_of(scene, scene.focus, scene.today)
    species = scene.focus.text("species")
    seen, counts = scene.remember(("ways of growing", species), lambda: _ways_of_growing(scene, species))

    def behind(like: str) -> list[Fact]:
        stands = [row for one, _, _, because in seen if one != here.like for row in because]
        return [*(fact for one, _, fact, _ in seen if one == like), *together([*here.because, *stands])]

    for like in sorted({like for like, _ in counts} - {"", here.like}):
        yield derived(
            "grown_otherwise",
            "grown_otherwise",
            partial(behind, like),
            plant=scene.plant,
            like=like,
            others=counts[like, True] + counts[like, False],
            awake=counts[like, True],
        )


def _ways_of_growing(
    scene: Scene, species: str
) -> tuple[list[tuple[str, bool, Fact, tuple[Fact, ...]]], Counter[tuple[str, bool]]]:
    """Return of each plant of a kind how it is grown, whether it is awake, and the rows that say so; and the counts.

    Those are left out that were not looked at this year, or not for two weeks while they were asleep.
    """
    found = []
    for plant in scene.plants.values():
        way = way_of(scene, plant.text("name"), scene.year, "waking")
        stand = stand_of(scene, plant, scene.today)
        if plant.text("species") != species or not stand.like or way is None:
            continue
        seen = way.last.day("on") or scene.today
        if way.day is not None or (scene.today - seen).days <= RECENT_DAYS:
            found.append((stand.like, way.day is not None, way.fact, stand.because))
    return found, Counter((like, there) for like, there, *_ in found)
