"""The sun at a spot through the day and the year: hours of direct sun by month, and what of its path is hidden."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from advisor.calc.daylight import sun_grid
from advisor.calc.horizon import Outlook, directions, light_share
from advisor.calc.sun import DEFAULT_YEAR, monthly_direct_sun_h, sun_spells
from advisor.facts import Fact
from advisor.reasoning.derive.places import BEARING_DEG, outlook_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.pictures.base import Choice, Nothing, spot_of

PATHS = (("21 June", (6, 21)), ("21 March", (3, 21)), ("21 December", (12, 21)))
"""The longest and shortest day, and the one between, by which the paths of all other days lie."""
PATH_STEPS = 288
BEARINGS = range(0, 361, 3)
HEIGHTS = range(0, 91)


@dataclass(frozen=True, slots=True)
class SunPath:
    """The sun's way over one day: (bearing, height over the horizon, local time), cut where it comes or goes."""

    name: str
    day: date
    lit: tuple[tuple[tuple[float, float, datetime], ...], ...]
    hidden: tuple[tuple[tuple[float, float, datetime], ...], ...]
    spells: tuple[tuple[datetime, datetime], ...]

    @property
    def hours(self) -> float:
        return sum((end - start).total_seconds() for start, end in self.spells) / 3600


@dataclass(frozen=True, slots=True)
class SunShown:
    """The sun at one spot. ``hours``, ``width`` and ``possible`` are by month, January first. [h a day]

    ``skyline`` are (bearing, hidden up to this height). ``told`` is whether what hides the sky was told; where it was
    not, only wall and slope are counted and the hours are the most there can be. ``counted_h`` is the grower's own.
    """

    spot: str
    told: bool
    things: tuple[str, ...]
    hours: tuple[float, ...]
    width: tuple[float, ...]
    possible: tuple[float, ...]
    skyline: tuple[tuple[float, float], ...]
    paths: tuple[SunPath, ...]
    counted_h: float | None
    other_spots: tuple[str, ...]


def sun_shown(scene: Scene, choice: Choice) -> SunShown | Nothing:
    """Return the sun at the spot chosen, at the chosen plant's, or at the first spot of which most is told."""
    known = [name for name in scene.spots if outlook_of(scene, name) is not None]
    partly = [name for name in scene.spots if name not in known and _by_wall_and_slope(scene.spots[name])]
    spot = choice.spots[0] if choice.spots else spot_of(scene, choice.plant)
    if not spot and not choice.plant:
        spot = next(iter([*known, *partly]), "")
    if not spot:
        of = f"where {choice.plant} stands" if choice.plant else "of any spot what hides the sun, a wall or a slope"
        return Nothing(f"it is not told {of}", "obstruction")
    found = outlook_of(scene, spot)
    outlook = found[0] if found else _by_wall_and_slope(scene.spots[spot])
    if outlook is None:
        return Nothing(f"it is not told what hides the sun from {spot}, nor of a wall or a slope there", "obstruction")
    where = (scene.latitude_deg, scene.place.number("longitude_deg") or 0.0)
    by_month = monthly_direct_sun_h(outlook, *where)
    return SunShown(
        spot,
        found is not None,
        tuple(_thing(fact) for fact in (found[1][1:] if found else ())),
        tuple(figure.value for figure in by_month),
        tuple(figure.plus_minus or 0.0 for figure in by_month),
        tuple(figure.value for figure in monthly_direct_sun_h(Outlook(), *where)),
        tuple(_skyline(outlook)),
        tuple(_path(scene, outlook, name, date(DEFAULT_YEAR, *at), where) for name, at in PATHS),
        scene.spots[spot].number("sun_h"),
        tuple(name for name in (*known, *partly) if name != spot),
    )


def _by_wall_and_slope(row: Fact) -> Outlook | None:
    """Return what a wall at the spot and its slope hide, None where neither is told."""
    aspect, wall = BEARING_DEG.get(row.text("aspect")), BEARING_DEG.get(row.text("wall_side"))
    slope_deg = (row.number("slope_deg") or 0.0) if aspect is not None else 0.0
    if row.text("under_cover") == "shelter" or (wall is None and not slope_deg):
        return None
    return Outlook((), wall, slope_deg, aspect)


def _thing(fact: Fact) -> str:
    return fact.text("what") or "something not named"


def _skyline(outlook: Outlook) -> list[tuple[float, float]]:
    """Return up to which height the sky is hidden at each bearing, from the horizon up without a gap."""
    found = []
    for bearing in BEARINGS:
        heights = [height + 0.5 for height in HEIGHTS[:-1]]
        share = light_share(outlook, directions(heights, [float(bearing % 360)] * len(heights)), 6).tolist()
        hidden = next((n for n, light in enumerate(share) if light > 0), len(share))
        found.append((float(bearing), float(hidden)))
    return found


def _path(scene: Scene, outlook: Outlook, name: str, day: date, where: tuple[float, float]) -> SunPath:
    grid = sun_grid((day,), *where, PATH_STEPS)
    bearings, heights, hours = (values.tolist() for values in (grid.azimuth_deg, grid.elevation_deg, grid.utc_h))
    light = light_share(outlook, directions(heights, bearings), day.month).tolist()
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    pieces: dict[bool, list[list[tuple[float, float, datetime]]]] = {True: [], False: []}
    before: bool | None = None
    for bearing, height, utc_h, share in zip(bearings, heights, hours, light, strict=True):
        when = (midnight + timedelta(hours=utc_h)).astimezone(scene.zone)
        lit = bool(share > 0)
        if lit is not before:
            pieces[lit].append([])
        pieces[lit][-1].append((bearing, height, when))
        before = lit
    spells = tuple(
        (start.astimezone(scene.zone), end.astimezone(scene.zone)) for start, end in sun_spells(outlook, day, *where)
    )
    lit_parts, hidden_parts = (tuple(tuple(piece) for piece in pieces[lit]) for lit in (True, False))
    return SunPath(name, day, lit_parts, hidden_parts, spells)
