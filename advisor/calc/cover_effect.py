"""What a soil cover is published to do to soil temperature, and what a garden's own readings can show of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import fmean

from advisor.calc.figure import Figure
from advisor.calc.soil_pairs import MOST_CM_APART, MOST_MINUTES_APART, Reading, fair_pairs, soil_contrast
from advisor.calc.trials import TrialResult, compare_pairs

DIRECTIONS = ("warmer", "cooler", "same", "not published")


@dataclass(frozen=True, slots=True)
class CoverEffect:
    """One published comparison of a cover with another, or the explicit note that none is published.

    ``low_k`` to ``high_k`` is cover less other [°C], both None where a direction alone is printed. ``hours`` are the
    hours of reading, empty for a mean of whole days; None where the hour is not stated or does not matter
    (``any_hour``). Empty ``seasons`` and a None depth are not stated in what was read. ``climate`` is "dry", "humid"
    or "" for not stated. ``temp_c`` and ``against_c`` are the printed means, where they were.
    """

    materials: tuple[str, ...]
    group: str
    against: str
    direction: str
    source: str
    read: str
    caution: str
    named: str = ""
    shallowest_cm: float | None = None
    deepest_cm: float | None = None
    hours: tuple[float, ...] | None = None
    any_hour: bool = False
    seasons: tuple[str, ...] = ()
    climate: str = ""
    low_k: float | None = None
    high_k: float | None = None
    temp_c: float | None = None
    against_c: float | None = None

    def __post_init__(self) -> None:
        """Refuse an entry that contradicts itself."""
        whose = f"{self.named or self.group} against {self.against} ({self.source})"
        if self.direction not in DIRECTIONS:
            raise ValueError(f"{whose}: direction {self.direction!r} is none of {', '.join(DIRECTIONS)}")
        if (self.low_k is None) != (self.high_k is None):
            raise ValueError(f"{whose}: one end of the range is missing; give low_k and high_k, or neither")
        if self.low_k is not None and self.high_k is not None:
            signs = {"warmer": self.low_k >= 0, "cooler": self.high_k <= 0, "same": self.low_k <= 0 <= self.high_k}
            if not (self.low_k <= self.high_k and signs.get(self.direction, False)):
                raise ValueError(f"{whose}: {self.low_k} to {self.high_k} °C is not {self.direction}")
            if self.temp_c is not None and self.against_c is not None:
                apart = self.temp_c - self.against_c
                if not self.low_k - 0.051 <= apart <= self.high_k + 0.051:
                    raise ValueError(f"{whose}: its means are {apart:.1f} °C apart, outside its own range")
        if self.hours and not (len(self.hours) == 2 and 0 <= self.hours[0] < self.hours[1] <= 24):
            raise ValueError(f"{whose}: hours {self.hours} are not from one to a later hour of a day")


@dataclass(frozen=True, slots=True)
class CoverQuestion:
    """What is asked: a material (or "" for its whole group) against a group, where and when.

    ``hour`` None asks for the mean of whole days. ``climate`` is "dry", "humid", or "" where nobody said.
    """

    group: str
    depth_cm: float
    season: str
    hour: float | None
    material: str = ""
    against: str = "bare"
    climate: str = ""


@dataclass(frozen=True, slots=True)
class Published:
    """What is published for a question.

    ``verdict`` is "size", "direction only", "disputed" (sources that fit disagree), "not published" (looked for and
    not found) or "nothing" (no entry). The range holds all sizes that fit. ``near`` are comparisons of the same
    covers under other conditions, each with what is different: no answer to the question.
    """

    verdict: str
    low_k: float | None
    high_k: float | None
    fits: tuple[CoverEffect, ...]
    gaps: tuple[CoverEffect, ...]
    near: tuple[tuple[CoverEffect, tuple[str, ...]], ...]

    def figure(self) -> Figure | None:
        """Return the middle of the published range with its half-width, or None where no size fits. [°C]"""
        if self.verdict != "size" or self.low_k is None or self.high_k is None:
            return None
        cautions = dict.fromkeys(entry.caution for entry in self.fits if entry.low_k is not None)
        half = (self.high_k - self.low_k) / 2
        return Figure((self.low_k + self.high_k) / 2, "°C", "published range", half, " ".join(cautions))


def published_effect(entries: Sequence[CoverEffect], asked: CoverQuestion) -> Published:
    """Return what is published on a cover's effect under exactly these conditions, and what is near them.

    A size is only given where depth (±1 cm), season, hour and climate fit: an afternoon figure says nothing of the
    morning, nor a summer's of the spring.

    Raises
    ------
    ValueError
        For a depth that is not above 0, or an hour outside 0 to 24.

    Examples
    --------
    >>> bark = CoverEffect(("bark",), "organic", "bare", "cooler", "a trial", "table", "Afternoons only.",
    ...     shallowest_cm=10, deepest_cm=10, hours=(14, 16), seasons=("summer",), low_k=-6.1, high_k=-5.7)
    >>> published_effect([bark], CoverQuestion("organic", 10, "summer", 15, "bark")).figure().told()
    '-5.9 ± 0.2 °C (published range)'
    >>> morning = published_effect([bark], CoverQuestion("organic", 10, "summer", 8, "bark"))
    >>> morning.verdict, morning.near[0][1]
    ('nothing', ('read from 14 to 16 h',))
    """
    if not 0 < asked.depth_cm <= 200:
        raise ValueError(f"depth {asked.depth_cm} cm is not above 0 and at most 200 cm")
    if asked.hour is not None and not 0 <= asked.hour <= 24:
        raise ValueError(f"hour {asked.hour} is not within 0 to 24")
    alike = [(e, not_fitting(e, asked)) for e in entries if (e.group, e.against) == (asked.group, asked.against)]
    fits = tuple(e for e, reasons in alike if not reasons and e.direction != "not published")
    gaps = tuple(e for e, reasons in alike if not reasons and e.direction == "not published")
    near = [(e, reasons) for e, reasons in alike if reasons and e.direction != "not published"]
    near.sort(key=lambda pair: len(pair[1]))
    lows = [e.low_k for e in fits if e.low_k is not None]
    highs = [e.high_k for e in fits if e.high_k is not None]
    if len({e.direction for e in fits}) > 1:
        verdict = "disputed"
    elif fits:
        verdict = "size" if lows else "direction only"
    else:
        verdict = "not published" if gaps else "nothing"
    return Published(verdict, min(lows, default=None), max(highs, default=None), fits, gaps, tuple(near))


def not_fitting(entry: CoverEffect, asked: CoverQuestion) -> tuple[str, ...]:
    """Return in what an entry's conditions are not those asked about, one short phrase each."""
    reasons = []
    if asked.material and entry.materials and asked.material not in entry.materials:
        reasons.append(f"measured under {entry.named or ' or '.join(entry.materials)}")
    if entry.shallowest_cm is None or entry.deepest_cm is None:
        reasons.append("depth not stated")
    elif not entry.shallowest_cm - MOST_CM_APART <= asked.depth_cm <= entry.deepest_cm + MOST_CM_APART:
        same = entry.shallowest_cm == entry.deepest_cm
        to = "" if same else f" to {entry.deepest_cm:g}"
        reasons.append(f"measured at {entry.shallowest_cm:g}{to} cm")
    if not entry.seasons:
        reasons.append("season not stated")
    elif asked.season not in entry.seasons:
        reasons.append(f"measured in {' and '.join(entry.seasons)}")
    if not entry.any_hour:
        if entry.hours is None:
            reasons.append("hour not stated")
        elif not entry.hours and asked.hour is not None:
            reasons.append("a mean of whole days")
        elif entry.hours and (asked.hour is None or not entry.hours[0] <= asked.hour <= entry.hours[1]):
            reasons.append(f"read from {entry.hours[0]:g} to {entry.hours[1]:g} h")
    if entry.climate and entry.climate != asked.climate:
        reasons.append(f"measured in a {entry.climate} climate")
    return tuple(reasons)


@dataclass(frozen=True, slots=True)
class WantedReading:
    """One reading that would make a fair pair: on which side, beside which reading, how deep, when, under what sky."""

    side: str
    beside: Reading
    shallowest_cm: float
    deepest_cm: float
    from_at: datetime
    to_at: datetime
    sky: str


@dataclass(frozen=True, slots=True)
class FairGap:
    """Why no two readings can be compared: the two nearest to it, what parts them, and what would help.

    ``wanted`` holds at most one reading for each side, the one that can be taken latest first. It is empty where the
    hour for all of them has passed; then both sides have to be read again, within the hour.
    """

    nearest: tuple[Reading, Reading] | None
    apart: tuple[str, ...]
    wanted: tuple[WantedReading, ...]


def missing_for_fair(these: Sequence[Reading], those: Sequence[Reading], now: datetime | None = None) -> FairGap | None:
    """Return what is missing for a fair comparison of two soils, or None where a fair pair is there.

    The nearest pair is the one that breaks fewest of the conditions (hour, depth, sky, day), then breaks them least.
    Without ``now`` the readings wanted stand beside that pair; with it, beside each side's latest, as far as
    they can still be taken.
    """
    if fair_pairs(these, those):
        return None
    pairs = [(a, b) for a in these for b in those]
    nearest = min(pairs, key=lambda pair: _distance(*pair), default=None)
    if nearest and now is None:
        bases = [("those", nearest[0]), ("these", nearest[1])]
    else:
        sides = (("those", these), ("these", those))
        bases = [(side, max(readings, key=lambda r: (r.at, r.ref))) for side, readings in sides if readings]
    wanted = [_beside(side, reading) for side, reading in bases]
    open_still = [w for w in wanted if now is None or now <= w.to_at]
    open_still.sort(key=lambda w: w.to_at, reverse=True)
    return FairGap(nearest, _parts(*nearest) if nearest else (), tuple(open_still))


def contrast_trial(these: Sequence[Reading], those: Sequence[Reading], level: float = 0.95) -> TrialResult | None:
    """Return what the days of fair pairs show of these soils less those, one value a day; None without a fair pair.

    It takes the pairs that ``soil_contrast`` takes. Days of one spell of weather are alike, so that the chance told is
    too small rather than too large; and days at one pair of spots tell of these two spots, not of their covers.
    """
    contrast = soil_contrast(these, those)
    if contrast is None:
        return None
    days: dict[date, list[float]] = {}
    for a, b in fair_pairs(these, those):
        depth = float(round((a.depth_cm + b.depth_cm) / 2))
        if depth == contrast.depth_cm and (a.cover, b.cover) == contrast.covers:
            days.setdefault(a.day, []).append(a.temp_c - b.temp_c)
    return compare_pairs([fmean(values) for values in days.values()], level)


def _minutes(a: Reading, b: Reading) -> float:
    return abs((a.at - b.at).total_seconds()) / 60


def _distance(a: Reading, b: Reading) -> tuple[int, float, datetime, int, int]:
    over_time = max(0.0, _minutes(a, b) - MOST_MINUTES_APART) / MOST_MINUTES_APART
    over_depth = max(0.0, abs(a.depth_cm - b.depth_cm) - MOST_CM_APART) / MOST_CM_APART
    return (len(_parts(a, b)), over_time + over_depth, min(a.at, b.at), min(a.ref, b.ref), max(a.ref, b.ref))


def _parts(a: Reading, b: Reading) -> tuple[str, ...]:
    parts = []
    if _minutes(a, b) > MOST_MINUTES_APART:
        parts.append("hour")
    if abs(a.depth_cm - b.depth_cm) > MOST_CM_APART:
        parts.append("depth")
    if a.sky != b.sky:
        parts.append("sky")
    if a.day != b.day:
        parts.append("day")
    return tuple(parts)


def _beside(side: str, reading: Reading) -> WantedReading:
    hour = timedelta(minutes=MOST_MINUTES_APART)
    shallowest = max(0.0, reading.depth_cm - MOST_CM_APART)
    deepest = reading.depth_cm + MOST_CM_APART
    return WantedReading(side, reading, shallowest, deepest, reading.at - hour, reading.at + hour, reading.sky)
