"""Each spot's bloom against killing nights by year, for a kind of tree: which years it would have been caught.

By the replay of the garden's own weather where the kind can be replayed, else by recorded first flowers against the
nights that followed them at the station.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta

from advisor.calc.kind_course import Course
from advisor.calc.replay import YearDraws, replay_year
from advisor.calc.replay_years import ReplayYear
from advisor.calc.spot_climate import SpotClimate
from advisor.reasoning.derive import DERIVATIONS
from advisor.reasoning.derive.places import site
from advisor.reasoning.derive.replay_needs import Known, Unknown, climate_of, course_of, recorded_years
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.weather import BLOOM_DAYS, BLOOM_FROST_C, first_blooms, weather_of
from advisor.reasoning.pictures.base import Choice, Nothing, day_of_common_year, in_common_year, species_asked, spot_of
from advisor.records.species import Species

MOST_DRAWN = 14
"""Spots that a phone shows without endless scrolling."""
MAYBE_SHARE = 0.1
"""The share of draws from which a year counts as one that may have been caught; from half it was (house judgement)."""
A_TENTH = 0.1 - 1e-6
STATION = "the station"


@dataclass(frozen=True, slots=True)
class YearAtSpot:
    """One year at one spot. ``state`` is caught, maybe, hurt, free, or not reached.

    ``first`` and ``over`` are the first flower (or waking) and the end of the tender time as places in the common
    growing year, the middle of the draws; ``first_low`` and ``first_high`` hold eight in ten. ``night`` is the worst
    night of a year caught, maybe or hurt, with how cold it was at the spot and what stage it met.
    """

    year: int
    state: str
    first: int | None
    first_low: int | None
    first_high: int | None
    over: int | None
    night: date | None
    night_at: int | None
    night_c: float | None
    stage: str


@dataclass(frozen=True, slots=True)
class SpotYears:
    """All years of a spot. ``frost_years`` are low, middle and high over what is not known; equal where recorded."""

    spot: str
    years: tuple[YearAtSpot, ...]
    frost_years: tuple[int, int, int]

    @property
    def caught(self) -> list[int]:
        return [one.year for one in self.years if one.state == "caught"]


@dataclass(frozen=True, slots=True)
class FrostYearsShown:
    """Every spot's years for a kind, fewest frost years first; ``spot`` is the one whose blooms are told by date.

    ``by`` is "replay" or "records". ``harm`` says what a killing night does.
    """

    species: Species
    first_day: date
    waking: bool
    by: str
    harm: str
    spots: tuple[SpotYears, ...]
    drawn: tuple[str, ...]
    spot: SpotYears
    own_years: int
    caution: str
    source: str


def frost_years_shown(scene: Scene, choice: Choice) -> FrostYearsShown | Nothing:
    """Return each spot's years for the kind chosen, or else for one that is planted here."""
    if not weather_of(scene).days:
        return Nothing("no daily weather is recorded", "weather_day")
    lore = scene.lore
    kind = _kind_asked(scene, choice)
    species = lore.species.get(kind)
    if species is None:
        return Nothing("no kind of tree with published frost damage is planted here", "plant")
    scene = replace(scene, species=kind)  # what it remembers is shared
    years = [year for year in recorded_years(scene) if year.whole]
    known = course_of(scene, kind) if years else Unknown("no growing year is recorded as a whole", "weather_day")
    if isinstance(known, Unknown):
        return _by_records(scene, species, known)
    if known.course.tender is None:
        return Nothing(f"what cold {species.name} stands in spring is not published", "harm")
    spots = _replayed(scene, years, known.course)
    if not spots:
        return Nothing("no spot with open soil is recorded", "spot")
    chosen = _spot_asked(scene, choice, kind, spots)
    drawn = tuple(one.spot for one in spots if not choice.spots or one.spot in choice.spots)[:MOST_DRAWN]
    return FrostYearsShown(
        species,
        day_of_common_year(scene, 0),
        known.course.waking,
        "replay",
        known.harm,
        tuple(spots),
        drawn,
        chosen,
        known.own_years,
        known.caution,
        "; ".join(part for part in (known.course.tender.source, known.course.requirement.source) if part),
    )


def _kind_asked(scene: Scene, choice: Choice) -> str:
    """Return the kind chosen, else the most planted that can be replayed, else the most planted; blossom first."""
    lore = scene.lore
    planted = Counter(plant.text("species") for plant in scene.plants.values())
    order = [kind for kind, _ in planted.most_common() if kind in lore.hardiness.buds]
    order += [kind for kind, _ in planted.most_common() if kind in lore.hardiness.new_growth]
    if not choice.species and not choice.plant and any(year.whole for year in recorded_years(scene)):
        known = next((kind for kind in order if isinstance(course_of(scene, kind), Known)), "")
        order = [known, *order] if known else order
    return species_asked(scene, choice, ()) or next(iter(order), "")


def _spot_asked(scene: Scene, choice: Choice, kind: str, spots: list[SpotYears]) -> SpotYears:
    """Return the spot told by date: the one chosen, where the plant or most of the kind stand, else the best one."""
    stands = Counter(spot_of(scene, name) for name, row in scene.plants.items() if row.text("species") == kind)
    wanted = [*choice.spots, spot_of(scene, choice.plant), *(spot for spot, _ in stands.most_common())]
    by_name = {one.spot: one for one in spots}
    return next((by_name[name] for name in wanted if name in by_name), spots[0])


# ---- by the replay


def _replayed(scene: Scene, years: list[ReplayYear], course: Course) -> list[SpotYears]:
    totals = {fact.text("spot"): fact for fact in DERIVATIONS["spot_replay"](scene)}
    found = []
    for told in site(scene):
        spot = told.text("spot")
        total = totals.get(spot)
        if total is None:
            continue
        climate, _ = climate_of(scene, spot)
        each = tuple(_year_at(scene, year, climate, course) for year in years)
        low, middle, high = (int(total.number(name) or 0) for name in ("frost_low", "frost_years", "frost_high"))
        found.append(SpotYears(spot, each, (low, middle, high)))
    return sorted(found, key=lambda one: (one.frost_years[1], one.frost_years[2], one.spot))


def _year_at(scene: Scene, year: ReplayYear, climate: SpotClimate, course: Course) -> YearAtSpot:
    one = replay_year(year, climate, course)
    assert course.tender is not None and one.killed is not None
    enough = course.tender.lost_share - 1e-6
    killed = one.killed.tolist()
    lost = sum(share >= enough for share in killed) / len(killed)
    hurt = sum(share >= A_TENTH for share in killed) / len(killed)
    first = sorted(one.first_flower.tolist())
    reached = first[len(first) // 2] < year.days
    state = "caught" if lost >= 0.5 else "maybe" if lost >= MAYBE_SHARE else "hurt" if hurt >= 0.5 else "free"
    night = _worst_night(one) if state != "free" else -1
    places = [_place(scene, year, first[n]) for n in (len(first) // 10, len(first) // 2, -1 - len(first) // 10)]
    fruit = sorted(one.fruit.tolist())[len(first) // 2]
    cold_c = None
    if night >= 0:
        clear = float(year.clear_nights[night])
        cold_c = float(year.min_c[night]) - climate.colder.middle_k * clear
    return YearAtSpot(
        year.year,
        state if reached or night >= 0 else "not reached",
        places[1] if reached else None,
        places[0] if reached else None,
        places[2] if reached else None,
        _place(scene, year, fruit) if reached else None,
        year.day(night) if night >= 0 else None,
        _place(scene, year, night) if night >= 0 else None,
        cold_c,
        _stage(one, course, night),
    )


def _place(scene: Scene, year: ReplayYear, index: int) -> int | None:
    return in_common_year(scene, year.day(int(index))) if index < year.days else None


def _worst_night(one: YearDraws) -> int:
    """Return the night that was the worst in most draws, -1 where none killed."""
    assert one.night is not None
    nights = Counter(night for night in one.night.tolist() if night >= 0)
    return min(nights, key=lambda night: (-nights[night], night)) if nights else -1


def _stage(one: YearDraws, course: Course, night: int) -> str:
    """Return the stage that the worst night met in most of the draws."""
    assert one.night is not None and one.worst is not None and course.tender is not None
    met = Counter(
        span for at, span in zip(one.night.tolist(), one.worst.tolist(), strict=True) if at == night and span >= 0
    )
    return course.tender.words[met.most_common(1)[0][0]] if night >= 0 and met else ""


# ---- by records


def _by_records(scene: Scene, species: Species, why: Unknown) -> FrostYearsShown | Nothing:
    """Return recorded first flowers against the coldest night of the weeks after them, where the kind has any."""
    days = weather_of(scene).days
    years = []
    for bloom, _ in first_blooms(scene) if species.flowers_first else ():
        nights = [bloom + timedelta(days=n) for n in range(BLOOM_DAYS + 1)]
        lows = [(low, night) for night in nights if night in days and (low := days[night].number("min_c")) is not None]
        if not lows or len(lows) < 0.95 * min(len(nights), (scene.today - bloom).days + 1):
            continue
        low_c, night = min(lows)
        caught = low_c <= BLOOM_FROST_C
        place = in_common_year(scene, bloom)
        at = in_common_year(scene, night)
        years.append(
            YearAtSpot(scene.year_of(bloom), "hurt" if caught else "free", place, place, place, place + BLOOM_DAYS,
                       night, at, low_c, "after its first flowers")
        )  # fmt: skip
    if not years:
        return Nothing(why.reason, why.reading)
    hurt = sum(one.state == "hurt" for one in years)
    spot = SpotYears(STATION, tuple(years), (hurt, hurt, hurt))
    first = day_of_common_year(scene, 0)
    harm = "can kill a tenth of its flowers or small fruit"
    return FrostYearsShown(
        species, first, False, "records", harm, (spot,), (STATION,), spot, len(years), why.reason, ""
    )
