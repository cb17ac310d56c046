"""How a plant was fed, and whether its roots are fit for more."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from advisor.calc.calendar import past_midsummer_days, springs_since
from advisor.facts import Fact
from advisor.reasoning.derive.growth_year import is_much
from advisor.reasoning.derive.plants import planted_there, stand_of
from advisor.reasoning.derive.scene import Scene, derivation, derived

STILL_DRY_DAYS = 14
"""How long a pot felt dry is taken to be dry where no water is noted; it is soaked first (house judgement)."""
FEED_UNTIL_DAYS = {"ground": 10, "pot": 42}
"""Days past midsummer on which feeding ends: about the start of July in the ground, of August in a pot (house
judgement on the practice of feeding early)."""
PARCHED_DAYS = 21
"""So long without a soaking, ground is too dry to feed on (house judgement)."""
FRESH_COMPOST_DAYS = 42
"""For about so long new compost feeds a pot by itself (house judgement)."""


@derivation
def feeding(scene: Scene) -> Iterable[Fact]:
    """Derive how the plant asked about was fed this growing year and the last, and until when it may be."""
    if scene.focus is None:
        return
    growing = stand_of(scene, scene.focus, scene.today).growing
    if growing not in FEED_UNTIL_DAYS:
        return
    fed = [row for row in scene.of_plant("work", scene.plant) if row.text("what") == "fed"]
    this = [row for row in fed if scene.year_of(row.day("on") or scene.today) == scene.year]
    earlier = [row for row in fed if row not in this]
    last_year = [day for row in earlier if (day := row.day("on")) and scene.year_of(day) == scene.year - 1]
    hurt = [row for row in scene.of_plant_since("harm", scene.plant, scene.year_start) if is_much(row)]
    planted, planting = planted_there(scene, scene.focus)
    past = past_midsummer_days(scene.today, scene.latitude_deg)
    until = FEED_UNTIL_DAYS[growing]
    unfit = [
        *(fact for fact in scene.derived("water_now") if _is_unfit(fact, growing)),
        *(fact for fact in scene.derived("pot_moisture") if _is_still_dry(fact)),
    ]
    yield derived(
        "feeding",
        "feeding",
        dict.fromkeys((scene.focus, *fed, *hurt, *planting, *unfit)),
        plant=scene.plant,
        times=len(this),
        last_on=this[-1].day("on") if this else None,
        age_days=(scene.today - (this[-1].day("on") or scene.today)).days if this else None,
        fed_before=bool(earlier),
        stop_on=scene.today + timedelta(days=until - past),
        stop_in_days=until - past,
        last_year_on=max(last_year) if last_year else None,
        last_year_past_days=past_midsummer_days(max(last_year), scene.latitude_deg) if last_year else None,
        fresh=planted is not None and _is_fresh(scene, growing, planted),
        hurt=bool(hurt),
        roots_unfit=bool(unfit),
    )


def _is_unfit(water: Fact, growing: str) -> bool:
    """Return whether roots are too dry or too wet to take up a feed."""
    parched = growing == "ground" and (water.number("dry_days") or 0) >= PARCHED_DAYS
    return parched or water.text("felt") in ("dry", "wet")


def _is_still_dry(moisture: Fact) -> bool:
    """Return whether a pot was felt dry of late, and neither a can nor rain has wet it since."""
    felt_days = moisture.number("felt_days")
    dry = moisture.text("felt") == "dry" and moisture.get("watered_since") is False
    return dry and felt_days is not None and felt_days <= STILL_DRY_DAYS


def _is_fresh(scene: Scene, growing: str, planted: date) -> bool:
    if growing == "pot":
        return (scene.today - planted).days < FRESH_COMPOST_DAYS
    return springs_since(planted, scene.today, scene.latitude_deg) <= 1
