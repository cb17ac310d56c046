"""What a frost does to each plant: tonight, on the nights ahead, and in a night just gone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from advisor.calc.cold_spots import HOLLOW_K
from advisor.calc.critical_temperature import critical, share_killed
from advisor.calc.night import WINDY_M_S
from advisor.facts import Fact
from advisor.reasoning.derive.each import each_plant
from advisor.reasoning.derive.lately import AHEAD_DAYS
from advisor.reasoning.derive.nights import critical_of, low_at, offset_of, reached_h, sky_of, spot_days
from advisor.reasoning.derive.plants import stand_of, trunk_of
from advisor.reasoning.derive.scene import Scene, derived
from advisor.reasoning.derive.tonight import told_low
from advisor.reasoning.derive.weather import forecasts_told, weather_of

FORECAST_COLDER_K, STILL_CLEAR_COLDER_K = 2.0, 4.0
"""How much colder than forecast a garden's night is to be reckoned with; where the spot was not measured, a still clear
one falls further than the forecast's wide area. Nobody is to count on a milder one (house judgement)."""
NEAR_K = 2.0
"""A night forecast within this of what a plant stands is one to get ready for (house judgement)."""
PAST_NIGHTS = 4
"""Nights back in which a frost still wants a look (house judgement)."""
POT_ROOTS_C = -5.0
"""Air that the roots of a fig in a pot should not meet (common practice)."""
OUTDOORS = ("", "none")
BY_HAND, MORNING_H = "by hand", 9
"""What a reading that somebody told is known by, and until when one of a morning is of its night."""


@dataclass(frozen=True)
class Night:
    """The night to come at a spot: what is expected and between what, by the evening read or by the forecast.

    ``offset`` says how the spot's difference from the station is known: "measured", "supposed", "none".
    """

    by: str
    expected_c: float
    low_c: float
    high_c: float
    offset: str
    because: tuple[Fact, ...]
    rough: bool = False
    evening_c: float | None = None
    dew_point_c: float | None = None


def night_at(scene: Scene, spot: str) -> Night | None:
    """Return the night to come at a spot: by the evening read where that holds, else by the forecast.

    An evening tells the low of a still clear night only; where the wind brings the cold, the forecast knows better. So
    it does where too few of the place's own nights are on record to narrow what the evening tells.
    """
    return scene.remember(("night at", spot), lambda: _night_at(scene, spot))


def _night_at(scene: Scene, spot: str) -> Night | None:
    low, row = low_at(scene, spot), told_low(scene)
    if low is not None and low.sky != "advection" and not (low.rough and row):
        evening = low.because[0]
        return Night(
            "evening",
            low.figure.value,
            low.low_c,
            low.high_c,
            low.offset,
            low.because,
            low.rough,
            evening.number("temp_c"),
            evening.number("dew_point_c"),
        )
    if row is None:
        return None
    colder_k, doubt_k, offset, more = _offset(scene, spot, windy=_windy(row))
    there = (row.number("min_c") or 0.0) - colder_k
    falls = offset != "measured" and sky_of(scene, scene.today) == "radiation"
    return Night(
        "forecast",
        there,
        there - (STILL_CLEAR_COLDER_K if falls else FORECAST_COLDER_K),
        there + doubt_k,
        offset,
        (row, *more),
    )


def _windy(row: Fact) -> bool:
    return (row.number("wind_m_s") or 0.0) >= WINDY_M_S


def _offset(scene: Scene, spot: str, *, windy: bool) -> tuple[float, float, str, tuple[Fact, ...]]:
    """Return how much colder a spot is taken to be than the station, with the doubt, how that is known, and the rows.

    In wind no cold air gathers anywhere.
    """
    row = scene.spots.get(spot)
    if windy or row is None:
        return 0.0, 0.0, "none", ()
    found = offset_of(scene, spot)
    if found is not None:
        return found[0].colder_by_k, 0.0, "measured", found[1]
    return (HOLLOW_K, HOLLOW_K, "supposed", (row,)) if row.get("low_lying") else (0.0, 0.0, "none", ())


def hurts_at(stands: Fact) -> float | None:
    """Return where harm starts: a tenth of the flower buds, or damage to new growth; None where that is not known."""
    kill10_c = stands.number("kill10_c")
    return stands.number("damage_c") if kill10_c is None else kill10_c


# ---- tonight


@each_plant
def frost_risk(scene: Scene, plant: str) -> Fact | None:
    """Derive for each plant outdoors with a stage on record what the night to come may do to it."""
    stands = critical_of(scene, plant)
    stand = stand_of(scene, scene.plants[plant], scene.today)
    night = night_at(scene, stand.spot)
    if stands is None or night is None or stand.under_cover not in OUTDOORS:
        return None
    hurts, dew = hurts_at(stands), night.dew_point_c
    risk = _risk(stands, hurts, night)
    if stand.growing == "pot" and _by_its_roots(risk, night):
        return None
    return derived(
        "frost_risk",
        "frost_risk",
        (stands, *night.because, *stand.because),
        plant=plant,
        spot=stand.spot or None,
        by=night.by,
        expected_c=round(night.expected_c, 1),
        low_c=round(night.low_c, 1),
        high_c=round(night.high_c, 1),
        rough=night.rough,
        offset=night.offset,
        stage=_said(stands),
        assumed=bool(stands.get("assumed")),
        hurts_at_c=hurts,
        stands_c=stands.number("stands_c"),
        why=stands.text("unknown") or None if hurts is None else None,
        risk=risk,
        killed=_killed(scene, plant, stands, night),
        dew_below_k=round(hurts - dew, 1) if hurts is not None and dew is not None else None,
        reached_after_h=(
            reached_h(scene, night.evening_c, night.expected_c, hurts)
            if hurts is not None and night.evening_c is not None
            else None
        ),
    )


def _said(stands: Fact) -> str | None:
    stage = stands.text("stage")
    if stage and stands.get("assumed"):
        return f"perhaps {stage} by now, {stands.get('age_days')} days after the last look"
    return stage or None


def _risk(stands: Fact, hurts_c: float | None, night: Night) -> str:
    closed_c = stands.number("stands_c")
    if hurts_c is None:
        if closed_c is None:
            return "not known"
        return "closed" if night.expected_c >= closed_c else "closed and colder"
    if night.high_c <= hurts_c:
        return "likely"
    if night.low_c <= hurts_c:
        return "possible"
    alert_c = stands.number("alert_c")
    return "watch" if alert_c is not None and night.expected_c <= alert_c else "unlikely"


def _by_its_roots(risk: str, night: Night) -> bool:
    """Return whether a pot is to be judged by its roots, not by what is above them: that is no matter of its stage."""
    return risk not in ("likely", "possible", "watch", "unlikely") or (
        risk == "unlikely" and night.low_c <= POT_ROOTS_C
    )


def _killed(scene: Scene, plant: str, stands: Fact, night: Night) -> str | None:
    buds = scene.lore.hardiness.buds.get(scene.plants[plant].text("species"))
    if buds is None or stands.number("kill10_c") is None:
        return None
    at = critical(buds, int(stands.number("bbch") or 0))
    doubt_k = max(night.expected_c - night.low_c, night.high_c - night.expected_c)
    return share_killed(night.expected_c, at, temp_plus_minus_k=doubt_k).words


@each_plant
def whole_tree(scene: Scene, plant: str) -> Iterable[Fact]:
    """Derive which tree is handled for each plant: the one that its limb is grafted on, else itself."""
    row = scene.plants[plant]
    trunk = trunk_of(scene, row)
    rows = (row, trunk) if trunk else (row,)
    yield derived("whole_tree", "whole_tree", rows, plant=plant, tree=(trunk or row).text("name"))


# ---- the nights ahead


@each_plant
def coming_frost(scene: Scene, plant: str) -> Fact | None:
    """Derive for each plant outdoors the first forecast night after the coming one that is near what it stands."""
    nights = scene.remember(("forecast nights", ""), lambda: list(_forecast_nights(scene)))
    stands = critical_of(scene, plant) if nights else None
    stand = stand_of(scene, scene.plants[plant], scene.today)
    hurts = hurts_at(stands) if stands else None
    if stands is None or hurts is None or stand.under_cover not in OUTDOORS:
        return None
    for ahead, row in nights:
        colder_k, _, _, more = _offset(scene, stand.spot, windy=_windy(row))
        there = (row.number("min_c") or 0.0) - colder_k
        if there - hurts <= NEAR_K:
            evening = scene.today + timedelta(days=ahead)
            return derived(
                "coming_frost",
                "coming_frost",
                (row, stands, *stand.because, *more),
                plant=plant,
                spot=stand.spot or None,
                evening=evening,
                ahead_days=ahead,
                min_c=round(there, 1),
                stage=_said(stands),
                hurts_at_c=hurts,
                margin_k=round(there - hurts, 1),
                sky=sky_of(scene, evening),
            )
    return None


def _forecast_nights(scene: Scene) -> Iterator[tuple[int, Fact]]:
    """Yield the last forecast low of each night after the coming one, with how many days off its evening is.

    A day's low falls toward its morning, so that the night is that of the evening before.
    """
    last: dict[date, Fact] = {}
    for row in forecasts_told(scene):
        day = row.day("for_day")
        if day is not None and row.number("min_c") is not None:
            last[day] = row
    for ahead in range(1, AHEAD_DAYS):
        told = last.get(scene.today + timedelta(days=ahead + 1))
        if told is not None:
            yield ahead, told


# ---- a night just gone


@each_plant
def frost_past(scene: Scene, plant: str) -> Fact | None:
    """Derive for each plant outdoors the last night of these days that was colder than what it stood."""
    nights = (_past_night(scene, plant, scene.today - timedelta(days=age)) for age in range(PAST_NIGHTS))
    return next((night for night in nights if night is not None), None)


def _past_night(scene: Scene, plant: str, morning: date) -> Fact | None:
    stands = critical_of(scene, plant, morning)
    stand = stand_of(scene, scene.plants[plant], morning)
    hurts = hurts_at(stands) if stands else None
    low = scene.remember(("low of", (stand.spot, morning)), lambda: _low_of(scene, stand.spot, morning))
    if stands is None or hurts is None or low is None or stand.under_cover not in OUTDOORS:
        return None
    low_c, known, rows = low
    if low_c > hurts:
        return None
    looks = [row for row in scene.of_plant("inspection", plant) if row.number("buds_cut")]
    looks += [row for row in scene.of_plant("harm", plant) if row.text("cause") == "frost"]
    return derived(
        "frost_past",
        "frost_past",
        (stands, *rows, *stand.because),
        plant=plant,
        spot=stand.spot or None,
        on=morning,
        age_days=(scene.today - morning).days,
        low_c=round(low_c, 1),
        hurts_at_c=hurts,
        known=known,
        organ=stands.text("organ"),
        stage=stands.text("stage") or None,
        looked=any((row.day("on") or date.min) >= morning for row in looks),
    )


def _read_by_hand(scene: Scene, spot: str, morning: date) -> list[Fact]:
    """Return what was read of the air at a spot from midnight to a morning's ninth hour."""
    found = []
    for row in reversed(scene.of_spot("weather_hour", spot)):
        when = scene.when(row)
        if when.date() < morning:
            break
        if when.date() == morning and when.hour < MORNING_H and row.text("source") == BY_HAND:
            found.append(row)
    return found


def _low_of(scene: Scene, spot: str, morning: date) -> tuple[float, str, tuple[Fact, ...]] | None:
    """Return the low of the night to a morning at a spot, how it is known, and the rows; None where no low is in."""
    own = [row for row in spot_days(scene, spot) if row.day("on") == morning] if spot else []
    if own:
        return own[-1].number("min_c") or 0.0, "at the spot", (own[-1],)
    read = _read_by_hand(scene, spot, morning) if spot else []
    if read:  # it was as cold as that at least
        coldest = min(read, key=lambda row: (row.number("temp_c") or 0.0, row.key))
        return coldest.number("temp_c") or 0.0, "at the spot", (coldest,)
    row = weather_of(scene).days.get(morning)
    if row is None:
        return None
    windy = sky_of(scene, morning - timedelta(days=1)) == "advection"
    colder_k, _, offset, more = _offset(scene, spot, windy=windy)
    known = "at the station" if offset == "none" else "reckoned from the station"
    return (row.number("min_c") or 0.0) - colder_k, known, (row, *more)
