"""How much colder a low spot runs than the station, from minima read at both on the same nights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import comb, isfinite
from statistics import median

from advisor.calc.figure import Figure

FEWEST_PAIRS = 5
"""The least number of pairs whose extremes hold the median with 90 % confidence: 1 - 2/2^5 = 0.94."""

CONFIDENCE = 0.9

CLEAR_RANGE_K = 10.0
"""The station's range from maximum to minimum from which a day stands for a clear night, where sky and wind are not
known: house judgement. In a typical year of an inland station (Greensboro, North Carolina) 78 % of calm clear nights
had it and 23 % of overcast ones; by the sea calm clear nights do not reach it."""

HOLLOW_K = 2.0
"""How much colder a spot that gathers cold is taken to be on a calm clear night while nobody measured it, give or take
as much: house judgement. Measured differences run from a degree to many."""


@dataclass(frozen=True, slots=True)
class MinimumPair:
    """The lowest temperature of one night at a spot and at the station. [°C]

    ``night_kind`` is what ``night.night_kind`` returned. Where that is "unknown", ``station_max_c``, the station's
    maximum of the day before the night, lets the day's range stand for the sky.
    """

    on: date
    spot_min_c: float
    station_min_c: float
    night_kind: str = "unknown"
    station_max_c: float | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.spot_min_c) and isfinite(self.station_min_c)):
            raise ValueError(f"minima of {self.on}: {self.spot_min_c} and {self.station_min_c} °C; two numbers wanted")
        if self.night_kind not in ("radiation", "advection", "mixed", "unknown"):
            raise ValueError(f"night of {self.on}: kind {self.night_kind!r}; radiation, advection, mixed or unknown")
        highest = self.station_max_c
        if highest is not None and not (isfinite(highest) and highest >= self.station_min_c):
            raise ValueError(f"night of {self.on}: maximum {highest} °C is below the minimum {self.station_min_c} °C")

    @property
    def colder_k(self) -> float:
        """How much colder the spot was. [K]"""
        return self.station_min_c - self.spot_min_c

    @property
    def sky(self) -> str:
        """Return "clear", "other" or "unknown": a calm clear night, another one, or neither known."""
        if self.night_kind != "unknown":
            return "clear" if self.night_kind == "radiation" else "other"
        if self.station_max_c is None:
            return "unknown"
        return "clear" if self.station_max_c - self.station_min_c >= CLEAR_RANGE_K else "other"


@dataclass(frozen=True, slots=True)
class SpotOffset:
    """How much colder a spot ran than the station over some nights; negative where it was warmer. [K]

    ``low_k`` and ``high_k`` hold the median of all such nights with the probability ``confidence``, whatever their
    distribution. ``least_k`` and ``most_k`` are the single nights furthest apart. ``of_nights`` says which nights.
    """

    colder_by_k: float
    low_k: float
    high_k: float
    confidence: float
    nights: int
    least_k: float
    most_k: float
    of_nights: str

    @property
    def differs(self) -> bool:
        """Whether the interval leaves no doubt that the spot runs colder, or warmer."""
        return self.low_k > 0 or self.high_k < 0

    def figure(self) -> Figure:
        """Return the median as a figure, its half-width the longer arm of the interval."""
        width_k = max(self.high_k - self.colder_by_k, self.colder_by_k - self.low_k)
        caution = f"From {self.nights} nights; single nights ran {self.least_k:.1f} to {self.most_k:.1f} K colder."
        return Figure(self.colder_by_k, "K", f"median offset, {self.of_nights}", plus_minus=width_k, caution=caution)


@dataclass(frozen=True, slots=True)
class TooFew:
    """Too few nights to say anything: how many there are, and how many are wanted."""

    nights: int
    of_nights: str
    wanted: int = FEWEST_PAIRS


def spot_offset(pairs: Sequence[MinimumPair], of_nights: str = "all nights") -> SpotOffset | TooFew:
    """Return the median offset of a spot with its exact interval, or that the pairs are too few.

    Parameters
    ----------
    pairs : sequence of MinimumPair
        One pair a night.
    of_nights : str, optional
        Which nights these are, in words.

    Returns
    -------
    SpotOffset or TooFew
        ``TooFew`` below five pairs.

    Raises
    ------
    ValueError
        If a night has two pairs.

    Notes
    -----
    The k-th smallest and k-th largest of n offsets hold the median with probability 1 - 2 P(B < k), B binomial
    (n, 1/2), the interval of the sign test (textbook result, from memory). The largest k that keeps 90 % is taken.
    It takes nights as independent; three nights of one clear spell are less than three.

    Examples
    --------
    >>> nights = [MinimumPair(date(2026, 4, n), -1.0 - n / 10, 0.5) for n in range(1, 8)]
    >>> found = spot_offset(nights)
    >>> round(found.colder_by_k, 1), round(found.low_k, 1), round(found.high_k, 1), round(found.confidence, 3)
    (1.9, 1.6, 2.2, 0.984)
    """
    twice = len(pairs) - len({pair.on for pair in pairs})
    if twice:
        raise ValueError(
            f"{twice} of {len(pairs)} pairs are of a night that has one already; one pair a night is wanted"
        )
    if len(pairs) < FEWEST_PAIRS:
        return TooFew(len(pairs), of_nights)
    offsets = sorted(pair.colder_k for pair in pairs)
    n = len(offsets)
    k = max(k for k in range(1, n // 2 + 1) if median_confidence(n, k) >= CONFIDENCE)
    return SpotOffset(
        colder_by_k=median(offsets),
        low_k=offsets[k - 1],
        high_k=offsets[n - k],
        confidence=median_confidence(n, k),
        nights=n,
        least_k=offsets[0],
        most_k=offsets[-1],
        of_nights=of_nights,
    )


def offsets_by_sky(pairs: Sequence[MinimumPair]) -> dict[str, SpotOffset | TooFew]:
    """Return the offset apart for calm clear nights, other nights, and nights of which neither is known.

    Cold air gathers on calm clear nights only, so that a median over all nights is of no use in a frost. Only skies
    that occur have an entry. Raises ValueError if a night has two pairs.
    """
    names = {"clear": "calm clear nights", "other": "other nights", "unknown": "nights of unknown sky"}
    by_sky = {sky: [pair for pair in pairs if pair.sky == sky] for sky in names}
    return {sky: spot_offset(chosen, names[sky]) for sky, chosen in by_sky.items() if chosen}


def median_confidence(n: int, k: int) -> float:
    """Return the probability that the k-th smallest and k-th largest of n values hold the median.

    >>> median_confidence(5, 1), median_confidence(10, 2)
    (0.9375, 0.978515625)
    """
    if not 1 <= k <= (n + 1) // 2:
        raise ValueError(f"rank {k} of {n} values; 1 to {(n + 1) // 2} wanted")
    return float(1 - 2 * sum(comb(n, i) for i in range(k)) / 2**n)


def spot_min(station_min: Figure, offset: SpotOffset) -> Figure:
    """Return a spot's minimum for a night of this kind, from the station's.

    The half-width is the station's plus the longer arm from the median offset to the single nights seen: those hold
    the next night's offset with probability (n - 1) / (n + 1), whatever the distribution. The two widths are added
    outright, which is wide. Raises ValueError for a station's figure that is not in °C.
    """
    if station_min.unit != "°C":
        raise ValueError(f"station's minimum in {station_min.unit!r}; °C wanted")
    arm_k = max(offset.most_k - offset.colder_by_k, offset.colder_by_k - offset.least_k)
    caution = f"Offset of {offset.of_nights}, {offset.nights} of them. {station_min.caution}".strip()
    return Figure(
        station_min.value - offset.colder_by_k,
        "°C",
        f"{station_min.method}, less the spot's offset",
        plus_minus=arm_k + (station_min.plus_minus or 0.0),
        caution=caution,
    )


def supposed_hollow_min(station_min: Figure) -> Figure:
    """Return the minimum of a hollow that nobody measured: two degrees below the station's, give or take two more.

    Raises ValueError for a station's figure that is not in °C.
    """
    if station_min.unit != "°C":
        raise ValueError(f"station's minimum in {station_min.unit!r}; °C wanted")
    return Figure(
        station_min.value - HOLLOW_K,
        "°C",
        f"{station_min.method}, less {HOLLOW_K:g} K supposed of a hollow",
        plus_minus=HOLLOW_K + (station_min.plus_minus or 0.0),
        caution=f"Nobody measured the spot; the difference is house judgement. {station_min.caution}".strip(),
    )
