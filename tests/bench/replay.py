"""How near replayed dates come to recorded ones, and what a replay costs: ``python tests/bench/replay.py``.

First the open record of the package pyPhenology (MIT licence): highbush blueberry at one place in Massachusetts,
1990-2001, and aspen at 122 places in North America. Each year is replayed with a heat need fitted to the other years
only, as a garden's own dates would be, and its date held against the recorded one: error and bias in days (positive:
replayed too late), how many recorded dates fell in the replay's own range of eight in ten, and how the mean date of the
other years did. Only daily means are in the record, so minima and maxima are taken as the mean, and nothing can be
said of spots or of frost.

Then the cost of 30 invented years, 12 spots and 20 kinds, from nothing, again, and after a new day, beside a plain numpy
pass (one multiplication, one comparison, one sum) over arrays of the same size. Nothing here passes or fails.
"""

from __future__ import annotations

import importlib.util
import sys
import tracemalloc
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path
from statistics import fmean, median
from time import process_time
from types import ModuleType

import numpy as np

from advisor.calc.calendar import growing_year, growing_year_start
from advisor.calc.chill_then_heat import DatedStage
from advisor.calc.day_curve import Day
from advisor.calc.kept_years import DEGREE_DAYS, GROWING_DEGREE_HOURS
from advisor.calc.kind_course import Course, tender_buds
from advisor.calc.replay import DRAWS, replay_year, season_at
from advisor.calc.replay_years import KeptReplays, ReplayYear
from advisor.calc.replays import replay
from advisor.calc.requirement import Requirement
from advisor.calc.requirement_fit import fit_requirement
from advisor.calc.spot_climate import LIKE_THE_STATION, Lie, SpotClimate, spot_climate
from advisor.config import find_rules
from advisor.records.hardiness import load_hardiness

CHILL_H = 792.0
"""33 chill days, as in ``phenology.py``, in hours."""
EARLY, LATE = 0.1, 0.9
YEARS, SPOTS, KINDS, LATITUDE = 30, 12, 20, 47.0


def phenology() -> ModuleType:
    """Return the neighbouring bench, which reads the record."""
    spec = importlib.util.spec_from_file_location("phenology_bench", Path(__file__).with_name("phenology.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["phenology_bench"] = module  # dataclasses look their module up
    spec.loader.exec_module(module)
    return module


# ---- recorded dates


def replayed(seen: Sequence[object], heat_metric: str, first: int) -> list[tuple[int, int, int, int, float]]:
    """Return for each recorded date: recorded, replayed low, middle and high, and the mean date of the other years.

    All as days of the growing year. ``seen`` are the record's rows, ``first`` the day of the year its means begin on.
    """
    years: dict[tuple[str, int], ReplayYear] = {}
    dated: list[tuple[int, DatedStage, ReplayYear]] = []
    for each in seen:
        # attr-defined: rows of a data frame, whose columns no type tells
        site, year = each.site, each.year  # type: ignore[attr-defined]
        if (site, year) not in years:
            years[site, year] = _year(each.means_c, year, each.latitude_deg, first)  # type: ignore[attr-defined]
        ready = years[site, year]
        day = date(year, 1, 1) + timedelta(days=each.day_of_year - 1)  # type: ignore[attr-defined]
        season = season_at(ready, LIKE_THE_STATION, "chilling hours", heat_metric)
        if season.first_day <= day <= season.last_day:
            dated.append((year, DatedStage(season, day), ready))
    held = Requirement(CHILL_H, CHILL_H, None, None, "chilling hours", heat_metric, "nothing published")
    found = []
    for year in sorted({year for year, _, _ in dated}):
        others = [one for other, one, _ in dated if other != year]
        course = Course(fit_requirement(others, held).requirement)
        usual = fmean((one.day - one.season.first_day).days for one in others)
        for other, one, ready in dated:
            if other != year:
                continue
            flower = replay_year(ready, LIKE_THE_STATION, course, KeptReplays()).first_flower
            low, middle, high = (int(np.quantile(flower, share, method="inverted_cdf")) for share in (EARLY, 0.5, LATE))
            found.append(((one.day - one.season.first_day).days, low, middle, high, usual))
    return found


def _year(means_c: Sequence[float], year: int, latitude_deg: float, first: int) -> ReplayYear:
    start = date(year, 1, 1) + timedelta(days=first - 1)
    days: list[Day] = [(start + timedelta(days=n), mean, mean) for n, mean in enumerate(means_c)]
    own = tuple(day for day in days if growing_year(day[0], latitude_deg) == year)
    (ready,) = KeptReplays().years({year: own}, latitude_deg)
    return ready


def errors(found: Sequence[tuple[int, int, int, int, float]]) -> dict[str, float]:
    """Return mean absolute error and bias of the replay and of the mean date, and the share of dates in the range."""
    return {
        "error": fmean(abs(middle - seen) for seen, _, middle, _, _ in found),
        "bias": fmean(middle - seen for seen, _, middle, _, _ in found),
        "mean date error": fmean(abs(usual - seen) for seen, *_, usual in found),
        "mean date bias": fmean(usual - seen for seen, *_, usual in found),
        "in range": fmean(low <= seen <= high for seen, low, _, high, _ in found),
    }


def tell(name: str, seen: Sequence[object], heat_metric: str, first: int) -> None:
    """Print one stage's errors and what they mean."""
    found = replayed(seen, heat_metric, first)
    told = errors(found)
    print(f"{name}, {heat_metric}: {len(found)} dates")
    print(f"  replayed   {told['error']:5.2f} days off, bias {told['bias']:+5.2f}, {told['in range']:.0%} in its range")
    print(f"  mean date  {told['mean date error']:5.2f} days off, bias {told['mean date bias']:+5.2f}")
    better = "nearer" if told["error"] < told["mean date error"] else "no nearer"
    print(f"  {better} than the mean date of the other years")


# ---- cost


def weather(years: int) -> dict[int, tuple[Day, ...]]:
    """Return invented growing years of days."""
    chance = np.random.default_rng(20261125)
    found: dict[int, list[Day]] = {}
    first = growing_year_start(1996, LATITUDE)
    for n in range((growing_year_start(1996 + years, LATITUDE) - first).days):
        day = first + timedelta(days=n)
        mean = 9 - 11 * np.cos(2 * np.pi * (day.timetuple().tm_yday - 20) / 365) + chance.normal(0, 3)
        half = chance.uniform(2, 8)
        found.setdefault(growing_year(day, LATITUDE), []).append((day, float(mean - half), float(mean + half)))
    return {year: tuple(days) for year, days in found.items()}


def spots() -> list[SpotClimate]:
    lies = [Lie(low, slope, wall, sun_h=sun) for low in (False, True) for slope in ("", "upper") for wall in (False, True)
            for sun in (5.0, 8.0)] + [Lie(glass=True), Lie(cool_facing=True)]  # fmt: skip
    apart = list({spot_climate(lie).key: spot_climate(lie) for lie in lies}.values())
    return apart[:SPOTS]


def kinds() -> list[Course]:
    buds = [tender_buds(kind) for kind in load_hardiness(find_rules()).buds.values()]
    return [
        Course(
            Requirement(
                20 + n, 50 + n, 2200 + 90 * n, 3000 + 90 * n, "chill portions", GROWING_DEGREE_HOURS, "invented"
            ),
            buds[n % len(buds)],
        )
        for n in range(KINDS)
    ]


def every(
    kept: KeptReplays, days: dict[int, tuple[Day, ...]], climates: list[SpotClimate], asked: list[Course]
) -> None:
    years = kept.years(days, LATITUDE)
    for climate in climates:
        for course in asked:
            replay(years, climate, course, kept)


def timed(work: Callable[[], object], rounds: int) -> float:
    """Return the median processor time of some work, so that a busy machine does not count. [ms]"""
    times = []
    for _ in range(rounds):
        start = process_time()
        work()
        times.append((process_time() - start) * 1000)
    return median(times)


def costs(of_years: int = YEARS, of_spots: int = SPOTS, of_kinds: int = KINDS) -> None:
    """Print what a replay costs."""
    days, climates, asked = weather(of_years), spots()[:of_spots], kinds()[:of_kinds]
    whole = np.random.default_rng(1).normal(5, 8, (of_years, DRAWS, 273))

    def plain() -> float:
        return float((np.where(whole > 4.0, whole, 0.0) * 1.5).sum())

    one = timed(plain, 7)
    pass_ms = one * len(climates) * len(asked)
    print(f"{of_years} years, {len(climates)} spots, {len(asked)} kinds, {DRAWS} draws of each")
    print(f"  a plain numpy pass over as many days and draws  {pass_ms:9.1f} ms")
    kept = KeptReplays()
    cold = timed(lambda: every(kept, days, climates, asked), 1)
    again = timed(lambda: every(kept, days, climates, asked), 5)
    last = max(days)
    cut = len(days[last]) - 40
    changed = {**days, last: days[last][:cut]}
    every(kept, changed, climates, asked)
    made, reckoned = kept.years_made, kept.reckoned
    changed[last] = days[last][: cut + 1]
    new_day = timed(lambda: every(kept, changed, climates, asked), 1)
    new_years = kept.years_made - made
    for name, cost in (("from nothing", cold), ("again", again), ("after a new day", new_day)):
        print(f"  {name:46}  {cost:9.1f} ms {cost / pass_ms:8.3f} times the plain pass")
    print(f"  the new day made {new_years} of {of_years} years anew, {kept.reckoned - reckoned} pieces in all")
    tracemalloc.start()
    fresh = KeptReplays()
    every(fresh, days, climates, asked)
    size, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    print(f"  kept of all that: {size / 1e6:.0f} MB, {len(fresh._results)} results")


def main() -> None:
    """Print the errors on the record, how to read them, and the costs."""
    bench = phenology()
    folder = bench.record_folder()
    if folder is None:
        print("the package pyPhenology is not installed, and with it the record: pip install pyPhenology==0.7.1")
    else:
        blueberry = bench.read(folder, "vaccinium", "vaccinium_temperature.csv")
        aspen = bench.read(folder, "aspen", "aspen_temperature.csv.gz")
        for metric in (DEGREE_DAYS.format(5), GROWING_DEGREE_HOURS):
            for stage, seen in sorted(blueberry.items()):
                tell(f"blueberry, {bench.NAMES[stage]}", seen, metric, bench.AUTUMN)
        spring = [each for each in aspen[501] if each.day_of_year <= bench.MIDSUMMER]
        tell("aspen, open flowers, many places", spring, DEGREE_DAYS.format(5), bench.AUTUMN)
        print("How to read this: for one kind at one place, with a need fitted to that place's own dates, a replayed")
        print(
            "spring is some three days off, about half as far as the mean date. One need for many places is no use, so a"
        )
        print(
            "published need, which is another place's, may be weeks off here: it says what order spots come in sooner"
        )
        print(
            "than on what day. Twelve years are few, and nothing in the record tests offsets of spots or frost damage."
        )
    costs()


if __name__ == "__main__":
    main()
