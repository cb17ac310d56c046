"""Fair comparison of soil readings: which two may stand beside each other, and what the pairs show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from statistics import fmean

MOST_MINUTES_APART = 60
MOST_CM_APART = 1.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One soil temperature. [°C, cm]

    ``ref`` is the caller's own mark of it; ``cover`` what lay on the soil then, "" where that is not known.
    """

    temp_c: float
    depth_cm: float
    at: datetime
    day: date
    sky: str
    ref: int
    cover: str = ""


@dataclass(frozen=True, slots=True)
class Contrast:
    """What fair pairs show: mean difference of the day means [°C], pairs, separate days, depth, marks used."""

    warmer_by_k: float
    depth_cm: float
    pairs: int
    on_days: int
    refs: tuple[int, ...]
    covers: tuple[str, str] = ("", "")

    def turned(self) -> Contrast:
        """Return the same comparison the other way round."""
        return replace(self, warmer_by_k=-self.warmer_by_k, covers=self.covers[::-1])


def are_fair(one: Reading, other: Reading) -> bool:
    """Return whether two readings may be compared: one depth (±1 cm), within the hour, under one sky.

    Soil under 10 cm swings by several degrees in a clear day and deeper soil lags behind, so that readings hours or
    depths apart differ without any difference between the spots.
    """
    minutes = abs((one.at - other.at).total_seconds()) / 60
    same_depth = abs(one.depth_cm - other.depth_cm) <= MOST_CM_APART
    return minutes <= MOST_MINUTES_APART and same_depth and one.sky == other.sky


def fair_pairs(these: Sequence[Reading], those: Sequence[Reading]) -> list[tuple[Reading, Reading]]:
    """Return fair pairs in order of time, each reading in one pair at most, the nearest in time first served."""
    if {a.day for a in these}.isdisjoint(b.day for b in those):
        return []
    candidates = [
        ((abs(a.at - b.at), *sorted((a.at, b.at)), *sorted((a.ref, b.ref))), a, b)
        for a in these
        for b in those
        if are_fair(a, b)
    ]
    candidates.sort(key=lambda candidate: candidate[0])
    used: set[tuple[str, int]] = set()
    pairs = []
    for _, a, b in candidates:
        if ("these", a.ref) not in used and ("those", b.ref) not in used:
            used |= {("these", a.ref), ("those", b.ref)}
            pairs.append((a, b))
    return sorted(pairs, key=lambda pair: (pair[0].at, pair[0].ref))


def soil_contrast(these: Sequence[Reading], those: Sequence[Reading]) -> Contrast | None:
    """Return how much warmer these soils were than those, or None where no two readings can be compared.

    Only pairs under the covers of the latest pair are taken: what was read before a cover came or went is another
    comparison. Days count alike, however many readings each has. Where pairs lie at several depths, the depth with
    the most days is taken, the one nearest 10 cm among equals.
    """
    fair = fair_pairs(these, those)
    by_depth: dict[int, list[tuple[Reading, Reading]]] = {}
    for pair in fair:
        if (pair[0].cover, pair[1].cover) != (fair[-1][0].cover, fair[-1][1].cover):
            continue
        by_depth.setdefault(round((pair[0].depth_cm + pair[1].depth_cm) / 2), []).append(pair)
    if not by_depth:
        return None
    depth = min(by_depth, key=lambda d: (-len({a.day for a, _ in by_depth[d]}), abs(d - 10), d))
    pairs = by_depth[depth]
    days: dict[date, list[float]] = {}
    for a, b in pairs:
        days.setdefault(a.day, []).append(a.temp_c - b.temp_c)
    refs = tuple(dict.fromkeys(ref for a, b in pairs for ref in (a.ref, b.ref)))
    warmer = round(fmean(fmean(values) for values in days.values()), 2)
    return Contrast(warmer, float(depth), len(pairs), len(days), refs, (fair[-1][0].cover, fair[-1][1].cover))
