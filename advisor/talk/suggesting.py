"""What is worth asking or telling today, from the garden's own state: whole questions, and log lines to complete.

Only cheap looks at the records: the last row of each plant or spot, never a whole derivation, since this stands on
the page that opens first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from advisor.calc import calendar
from advisor.facts import Fact
from advisor.language.render import Speech, counted
from advisor.reasoning.derive.kin import FEWEST_KIN
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import REST, reached
from advisor.records.questions import QuestionKinds
from advisor.records.store import Garden

MOST = 5
FROST_C = 3.0
"""A night forecast at this or lower is worth a question: beside a forecast of 3 °C the hollow freezes (house
judgement)."""
NO_READING_DAYS = 7
OVER_DAYS = 60
"""A trial that ended longer ago than this is no news."""
FIRST_YEAR_DAYS = 300
"""A tree planted more lately than this is in its first spring, and late for that."""
GAP = "…"
"""Stands in a log line for what is to be typed."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A question to tap, or with ``starts`` a log line to complete; ``why`` says what in the garden calls for it."""

    text: str
    why: str
    starts: bool = False


@dataclass
class _Yard:
    """The garden as these looks see it."""

    scene: Scene
    garden: Garden
    speech: Speech
    questions: QuestionKinds
    now: datetime
    stages: Mapping[str, Fact]
    season: str

    def asks(self, question: str, plant: str = "") -> str:
        """Return a question in its own words, of a plant of this garden."""
        text = self.questions[question].suggest
        return text.format(plant=self.speech.name(plant)) if plant else text

    def bbch(self, plant: str) -> int | None:
        """Return the last stage of a plant in this growing year."""
        row = self.stages.get(plant)
        code = row.get("bbch") if row else None
        return code if isinstance(code, int) else None

    def like(self, plant: str) -> str:
        return stand_of(self.scene, self.scene.plants[plant], self.scene.today).like


def suggestions(
    garden: Garden, scene: Scene, questions: QuestionKinds, speech: Speech, now: datetime, asked: Collection[str] = ()
) -> list[Suggestion]:
    """Return at most five suggestions for a scene's day, what matters most first; none of what was ``asked`` lately.

    ``now`` is aware. A garden without a plant and a spot has none.
    """
    at = now.astimezone(garden.zone())
    if not scene.plants and not scene.spots:
        return []
    season = calendar.season(at.date(), scene.latitude_deg)
    yard = _Yard(scene, garden, speech, questions, at, _stages(garden, scene, at), season)
    known = {text.casefold() for text in asked}
    found: dict[str, Suggestion] = {}
    for look in (_frost, _sleepers, _pots, _fruit, _pinching, _trial, _soil, _next):
        for one in look(yard):
            if one.text.casefold() not in known:
                found.setdefault(one.text, one)
    return list(found.values())[:MOST]


def _stages(garden: Garden, scene: Scene, at: datetime) -> dict[str, Fact]:
    """Return the last stage of each plant in this growing year; of several on one day the furthest."""
    found: dict[str, Fact] = {}
    for row in garden.latest("stage", "plant", at):
        on = row.day("on")
        if on and calendar.growing_year(on, scene.latitude_deg) == scene.year:
            before = found.get(row.text("plant"))
            if before is None or (before.number("bbch") or 0) < (row.number("bbch") or 0):
                found[row.text("plant")] = row
    return found


def _frost(yard: _Yard) -> Iterator[Suggestion]:
    """A cold night told for tonight; or blossom, and nothing told of the night."""
    today = yard.scene.today
    tonight = [today, today + timedelta(days=1)]
    told = [
        row for row in yard.garden.since("forecast_day", today - timedelta(days=3)) if row.day("for_day") in tonight
    ]
    lows = [low for row in told if (low := row.number("min_c")) is not None]
    if lows and min(lows) <= FROST_C:
        yield Suggestion(yard.asks("frost-tonight"), f"{yard.speech.number(min(lows), 'c')} is forecast")
        if any(yard.like(name) == "pot" for name in yard.scene.plants):
            yield Suggestion("what must I bring in tonight?", "pots stand outdoors")
        return
    flowering = [name for name, row in yard.stages.items() if 53 <= (row.number("bbch") or 0) <= 72]
    open_air = [name for name in flowering if name in yard.scene.plants and yard.like(name) in ("ground", "pot")]
    if open_air and yard.season == "spring" and not lows:
        why = f"{yard.speech.name(sorted(open_air)[0])} is in blossom or just past it"
        yield Suggestion(yard.asks("frost-tonight"), why)


def _sleepers(yard: _Yard) -> Iterator[Suggestion]:
    """Plants asleep while most others of their kind, grown the same way, are awake; the last to be looked at first."""
    if yard.season not in ("spring", "summer"):
        return
    alike: dict[tuple[str, str], list[str]] = {}
    for name, row in yard.scene.plants.items():
        if yard.bbch(name) is not None:
            alike.setdefault((row.text("species"), yard.like(name)), []).append(name)
    late = []
    for names in alike.values():
        awake = [name for name in names if reached(yard.bbch(name) or 0, "waking")]
        asleep = [name for name in names if name not in awake and (yard.bbch(name) or 0) < REST]
        if len(awake) >= FEWEST_KIN and len(awake) >= len(asleep):
            late += [(_is_new(yard, name), -len(awake), _seen(yard, name), name) for name in asleep]
    for new, awake_less, _, name in sorted(late)[:2]:
        if not new:
            why = f"asleep when last seen; {-awake_less} others of its kind are awake"
            yield Suggestion(yard.asks("why-late", name), why)


def _is_new(yard: _Yard, name: str) -> bool:
    planted = yard.scene.plants[name].day("planted")
    return planted is not None and (yard.scene.today - planted).days < FIRST_YEAR_DAYS


def _seen(yard: _Yard, name: str) -> int:
    """Return how many days ago a plant was last seen, so that what was looked at last comes first."""
    return (yard.scene.today - (yard.stages[name].day("on") or date.min)).days


def _pots(yard: _Yard) -> Iterator[Suggestion]:
    """Pots in the store in spring, or outdoors in autumn."""
    like = [yard.like(name) for name in yard.scene.plants]
    stored, outside = like.count("store"), like.count("pot")
    if stored and yard.season in ("spring", "summer"):
        yield Suggestion(yard.asks("pots-out"), f"{counted(stored, 'pot')} under cover")
    elif outside and yard.season == "autumn":
        yield Suggestion("is it time to bring the pots in?", f"{counted(outside, 'pot')} outdoors")


def _fruit(yard: _Yard) -> Iterator[Suggestion]:
    """Fruit on its way that is not ripe yet; the furthest first."""
    on_way = [(-code, name) for name in yard.stages if (code := yard.bbch(name)) is not None and 71 <= code < 87]
    for _, name in sorted(on_way)[:1]:
        yield Suggestion(yard.asks("when-ripe", name), "its fruit is on the way")


def _pinching(yard: _Yard) -> Iterator[Suggestion]:
    """Figs in leaf in the weeks of pinching, May to July in the north (common practice, no source)."""
    figs = [name for name, row in yard.scene.plants.items() if row.text("species") == "fig"]
    growing = [name for name in figs if 11 <= (yard.bbch(name) or 0) < 81]
    if growing and 5 <= calendar.northern_month(yard.scene.today, yard.scene.latitude_deg) <= 7:
        yield Suggestion(yard.asks("what-to-pinch"), "figs are in leaf")


def _trial(yard: _Yard) -> Iterator[Suggestion]:
    """A trial that runs, or has just ended."""
    for row in reversed(yard.garden.of("trial")):
        begun, over = row.day("from_day"), row.day("to_day")
        if begun and begun <= yard.scene.today and (over is None or (yard.scene.today - over).days <= OVER_DAYS):
            yield Suggestion(yard.asks("trial-result"), f"the trial {row.text('name')} runs")
            return


def _soil(yard: _Yard) -> Iterator[Suggestion]:
    """A spring week without a reading of the soil: a line to complete, for the spot that was read last."""
    if yard.season != "spring" or not yard.scene.spots:
        return
    read = [row for row in yard.garden.latest("soil_reading", "spot", yard.now) if row.text("spot") in yard.scene.spots]
    lately = [row for row in read if (yard.scene.today - yard.scene.local_day(_at(row))).days < NO_READING_DAYS]
    if lately:
        return
    newest = max(read, key=_at, default=None)
    spot = newest.text("spot") if newest else _planted_spot(yard)
    unit, depth = ("°F", "4 in") if yard.speech.units == "us" else ("°C", "10 cm")
    if spot:
        yield Suggestion(f"soil {spot} {GAP} {unit} at {depth}", "no soil was read for a week", starts=True)


def _at(row: Fact) -> datetime:
    at = row.get("at")
    assert isinstance(at, datetime)
    return at


def _planted_spot(yard: _Yard) -> str:
    spots = [stand_of(yard.scene, row, yard.scene.today).spot for row in yard.scene.plants.values()]
    return next((spot for spot in spots if spot), "")


def _next(yard: _Yard) -> Iterator[Suggestion]:
    """What to do and what to look at, on any day."""
    if yard.scene.plants:
        yield Suggestion(yard.asks("what-next"), "this week's work")
        seen = len(yard.stages)
        if seen < len(yard.scene.plants):
            why = f"{counted(len(yard.scene.plants) - seen, 'plant')} not looked at yet"
            yield Suggestion(yard.asks("what-to-measure"), why)
    else:
        yield Suggestion("help", "what can be told and asked")
