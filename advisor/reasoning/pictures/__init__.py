"""What pictures show: series, marks and the figures that their words are made of, with no drawing and no units."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from advisor.calc.calendar import northern_month
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.pictures.base import Choice, Nothing
from advisor.reasoning.pictures.frost_years import FrostYearsShown, frost_years_shown
from advisor.reasoning.pictures.season import SeasonShown, season_shown
from advisor.reasoning.pictures.soil import SoilShown, soil_shown
from advisor.reasoning.pictures.stages import StagesShown, stages_shown
from advisor.reasoning.pictures.sun import SunShown, sun_shown
from advisor.reasoning.pictures.tonight import TonightShown, tonight_shown

Shown = SoilShown | SeasonShown | StagesShown | FrostYearsShown | TonightShown | SunShown | Nothing

SHOW: Mapping[str, Callable[[Scene, Choice], Shown]] = {
    "tonight": tonight_shown,
    "soil": soil_shown,
    "stages": stages_shown,
    "season": season_shown,
    "frost-years": frost_years_shown,
    "sun": sun_shown,
}
"""Every picture by its name, in the order of spring."""

SPRING, GROWING, FALL = range(3, 7), range(7, 11), (11, 12, 1, 2)
ORDERS = (
    (SPRING, ("soil", "stages", "season", "frost-years", "tonight", "sun")),
    (GROWING, ("stages", "season", "tonight", "soil", "sun", "frost-years")),
    (FALL, ("frost-years", "sun", "season", "stages", "soil", "tonight")),
)
"""What a grower looks at in which months, as in the north: soils and stages in spring, places to plant in winter, when
there is time to think (house judgement)."""


def in_order(scene: Scene, shown: Mapping[str, Shown]) -> list[str]:
    """Return the pictures with what matters today first: a night that may hurt a plant, then the season's own order.

    Those with nothing to show come last.
    """
    month = northern_month(scene.today, scene.latitude_deg)
    order = next(names for months, names in ORDERS if month in months)
    tonight = shown.get("tonight")
    urgent = isinstance(tonight, TonightShown) and bool(tonight.at_risk)

    def rank(name: str) -> tuple[bool, bool, int]:
        return (isinstance(shown[name], Nothing), not (urgent and name == "tonight"), order.index(name))

    return sorted(shown, key=rank)


__all__ = ["SHOW", "Choice", "Nothing", "Shown", "in_order"]
