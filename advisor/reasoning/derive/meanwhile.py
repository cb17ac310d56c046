"""How far a plant may have come since it was last looked at, for what must be judged tonight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from advisor.calc.calendar import season as season_of
from advisor.calc.stage_pace import furthest_stage, growing_days
from advisor.facts import Fact
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import REST
from advisor.reasoning.derive.weather import weather_of

FRESH_DAYS = 7
"""In spring a stage seen longer ago than this no longer tells how far a plant is (house judgement)."""
SWELLING, GREEN = 1, 7
FLOWER_BUDS = 50
"""From this BBCH code on flower buds are told of, before it leaves and shoots."""
LEAVES_OUT, FRUIT_SET = 11, 71
PASSED_DAYS = 60
"""So long after a look of spring at buds or flowers a plant is at something else, and nobody knows at what (house
judgement)."""
GROWTH_CODES = (SWELLING, GREEN)
"""Stages of new growth that are told apart: buds swell, and green shows (BBCH 01 and 07)."""
USUAL_BASE_C = 5.0
"""Temperature below which a kind of which none is known is taken not to grow (house judgement)."""


@dataclass(frozen=True)
class Stage:
    """The stage to reckon a frost with: as it was seen, or where that is old the furthest since.

    ``bbch`` is to be reckoned with, ``row`` the last look and ``age_days`` its age.
    """

    bbch: int
    seen_bbch: int
    row: Fact
    age_days: int

    @property
    def assumed(self) -> bool:
        """Whether it is further than anybody saw it."""
        return self.bbch > self.seen_bbch


def stage_to_reckon_with(scene: Scene, plant: str, day: date | None = None) -> Stage | None:
    """Return the stage of a plant to reckon a frost with on a day: today, unless another is given.

    From a week on in spring that is the furthest that it may have reached since the look, by days warm enough to move
    its buds; at other seasons, and where no stages of its kind are told apart, it is the stage that was seen. None
    where no look is recorded in that growing year by then, or the last one saw its leaves colour and fall.
    """
    day = day or scene.today
    row = _last_look(scene, plant, day)
    if row is None:
        return None
    seen_on, seen = row.day("on") or day, int(row.number("bbch") or 0)
    age = (day - seen_on).days
    if age <= FRESH_DAYS:
        return Stage(seen, seen, row, age)
    if season_of(day, scene.latitude_deg) != "spring":
        budding = not LEAVES_OUT <= seen < FLOWER_BUDS and seen < FRUIT_SET
        passed = budding and age > PASSED_DAYS and season_of(seen_on, scene.latitude_deg) == "spring"
        return None if passed else Stage(seen, seen, row, age)  # April's blossom says nothing of October
    species = scene.lore_of(scene.plants[plant])
    base_c = species.base_c if species else USUAL_BASE_C
    since = [seen_on + timedelta(days=n) for n in range(1, age + 1)]
    grown = growing_days([_highest(scene, on, base_c) for on in since], base_c)
    codes = _codes(scene, scene.plants[plant].text("species"), seen)
    return Stage(furthest_stage(codes, seen, grown), seen, row, age)


def _highest(scene: Scene, day: date, base_c: float) -> float | None:
    """Return a day's highest temperature, None in spring where it is not recorded; before spring nothing grew then."""
    row = weather_of(scene).days.get(day)
    if row is not None:
        return row.number("max_c")
    return None if season_of(day, scene.latitude_deg) == "spring" else base_c


def _last_look(scene: Scene, plant: str, day: date) -> Fact | None:
    rows = reversed(scene.of_plant("stage", plant))
    last = next((row for row in rows if (on := row.day("on")) and on <= day), None)
    if last is None or scene.year_of(last.day("on") or day) != scene.year_of(day):
        return None
    return last if (last.number("bbch") or 0) < REST else None


def _codes(scene: Scene, species: str, seen: int) -> list[int]:
    """Return the stages of a kind that are told apart; none after a look at leaves, which tell nothing of flowers."""
    buds = scene.lore.hardiness.buds.get(species)
    if buds is not None:
        return [] if GREEN <= seen < FLOWER_BUDS else [stage.bbch_from for stage in buds.stages]
    return list(GROWTH_CODES) if species in scene.lore.hardiness.new_growth else []
