"""The night to come at a spot: the falling air with its range, and the temperatures at which plants there are hurt."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from advisor.calc.daylight import daylight_h
from advisor.calc.night_hours import hours_to_sunrise_h, trend_c
from advisor.facts import Fact
from advisor.reasoning.derive import DERIVATIONS
from advisor.reasoning.derive.frosts import Night, night_at
from advisor.reasoning.derive.nights import critical_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.pictures.base import Choice, Nothing, spot_of

AT_RISK = ("likely", "possible", "watch")
MOST_LINES = 4
NEAREST_SAFE = 2
"""Lines drawn where nobody is at risk: enough to show how far off harm is."""
STEPS = 24


@dataclass(frozen=True, slots=True)
class CriticalLine:
    """A temperature that hurts plants at this spot: what suffers, at which stage, and whom.

    ``kill90_c`` is where nine tenths of the buds die, None where that is not published, differs among them, or is no
    matter of buds.
    """

    hurts_at_c: float
    kill90_c: float | None
    organ: str
    stage: str
    plants: tuple[str, ...]
    risk: str


@dataclass(frozen=True, slots=True)
class TonightShown:
    """The night at one spot. ``curve`` are (time, expected, low, high); by the forecast alone all times are alike.

    ``others`` are spots with plants whose night differs, each with its expected low. ``unknown`` are plants of which no
    level is known, ``closed`` those whose buds are closed and which stand the night.
    """

    spot: str
    by: str
    expected_c: float
    low_c: float
    high_c: float
    offset: str
    rough: bool
    evening_c: float | None
    evening_told: bool
    curve: tuple[tuple[datetime, float, float, float], ...]
    lines: tuple[CriticalLine, ...]
    left_out: tuple[CriticalLine, ...]
    others: tuple[tuple[str, float], ...]
    closed: tuple[str, ...]
    unknown: tuple[str, ...]

    @property
    def at_risk(self) -> list[CriticalLine]:
        return [line for line in (*self.lines, *self.left_out) if line.risk in AT_RISK]


def tonight_shown(scene: Scene, choice: Choice) -> TonightShown | Nothing:
    """Return the night at the spot chosen, the chosen plant's, or the one whose plants are nearest to harm."""
    if night_at(scene, "") is None:
        return Nothing("neither an evening's reading nor a forecast of tonight's low is recorded", "evening")
    risks = list(DERIVATIONS["frost_risk"](scene))
    spot = choice.spots[0] if choice.spots else spot_of(scene, choice.plant) if choice.plant else _worst(risks)
    night = night_at(scene, spot)
    assert night is not None
    here = [fact for fact in risks if fact.text("spot") == spot] if spot else risks
    if choice.plant:
        here = [fact for fact in here if fact.text("plant") == choice.plant]
    lines = _lines(scene, here)
    at_risk = [line for line in lines if line.risk in AT_RISK]
    shown = at_risk[:MOST_LINES] or lines[:NEAREST_SAFE]
    others: dict[str, float] = {}
    for fact in risks:
        name, expected = fact.text("spot"), fact.number("expected_c")
        if name and name != spot and expected is not None and round(expected - night.expected_c, 1):
            others[name] = expected
    return TonightShown(
        spot,
        night.by,
        night.expected_c,
        night.low_c,
        night.high_c,
        night.offset,
        night.rough,
        night.evening_c,
        any(row.day("on") == scene.today and not row.get("spot") for row in scene.told_by_today("evening")),
        tuple(_curve(scene, night)),
        tuple(shown),
        tuple(line for line in lines if line not in shown),
        tuple(sorted(others.items(), key=lambda item: item[1])),
        tuple(sorted(fact.text("plant") for fact in here if fact.text("risk").startswith("closed"))),
        tuple(sorted(fact.text("plant") for fact in here if fact.text("risk") == "not known")),
    )


def _worst(risks: list[Fact]) -> str:
    """Return the spot whose night comes nearest to hurting a plant there, "" where no level of any is known."""
    known = [fact for fact in risks if fact.number("hurts_at_c") is not None]
    if not known:
        return ""
    worst = min(known, key=lambda fact: (fact.number("low_c") or 0.0) - (fact.number("hurts_at_c") or 0.0))
    return worst.text("spot")


def _lines(scene: Scene, risks: list[Fact]) -> list[CriticalLine]:
    """Return the levels of some plants, those hurt first on top; plants that are hurt alike share a line."""
    grouped: dict[tuple[float, str], list[tuple[Fact, Fact]]] = {}
    for fact in risks:
        hurts, stands = fact.number("hurts_at_c"), critical_of(scene, fact.text("plant"))
        if hurts is not None and stands is not None:
            grouped.setdefault((hurts, stands.text("organ")), []).append((fact, stands))
    order = {risk: n for n, risk in enumerate((*AT_RISK, "unlikely"))}
    lines = []
    for (hurts, organ), found in grouped.items():
        risk = min((fact.text("risk") for fact, _ in found), key=lambda one: order.get(one, 9))
        names = tuple(sorted(fact.text("plant") for fact, _ in found))
        stage = " or ".join(sorted({stands.text("stage") for _, stands in found}))
        kill90 = {stands.number("kill90_c") for _, stands in found}
        lines.append(CriticalLine(hurts, kill90.pop() if len(kill90) == 1 else None, organ, stage, names, risk))
    return sorted(lines, key=lambda line: (-line.hurts_at_c, line.plants))


def _curve(scene: Scene, night: Night) -> list[tuple[datetime, float, float, float]]:
    """Return the night from two hours after sunset to sunrise; level by the forecast, which tells the low alone."""
    _, down = daylight_h(scene.today, scene.latitude_deg)
    try:
        length = hours_to_sunrise_h(scene.today, scene.latitude_deg)
    except ValueError:  # a polar summer has no such night
        return []
    longitude_h = (scene.place.number("longitude_deg") or 0.0) / 15
    midnight = datetime(scene.today.year, scene.today.month, scene.today.day, tzinfo=UTC)
    start = midnight + timedelta(hours=down + 2 - longitude_h)
    found = []
    for step in range(STEPS + 1):
        after = length * (step / STEPS) ** 2  # the air falls fastest at first
        when = (start + timedelta(hours=after)).astimezone(scene.zone)
        expected, low, high = (
            _then(night, end, length, after) for end in (night.expected_c, night.low_c, night.high_c)
        )
        found.append((when, expected, low, high))
    return found


def _then(night: Night, low_c: float, length_h: float, after_h: float) -> float:
    """Return the air some hours after the evening's reading on its way to a low; the low itself by a forecast."""
    if night.evening_c is None:
        return low_c
    return trend_c(night.evening_c, min(low_c, night.evening_c), length_h, after_h)
