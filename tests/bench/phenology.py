"""How well chill and then heat foretell stages on an open record: ``python tests/bench/phenology.py``.

The record is the one in the package pyPhenology (MIT licence): highbush blueberry at one place in Massachusetts,
1990-2001, and aspen at 122 places in North America, 2007-2017. For each stage it prints the mean absolute error of
the fitted heat requirement, each year foretold from the others, beside that of the plain mean date, and beside the
date fitted to latitude where there are many places. Nothing passes or fails.

Only daily means are in the record, so chill and heat are made from them: a chill day has a mean of 0 to 7.2 °C, heat
is the mean less 5 °C where that is positive. Hours and extremes within the day are lost. The settings are round figures
from memory, chosen with the grid at the end in sight but not its best: 33 chill days are 800 chilling hours, the low
end of what is said of highbush blueberry; base 5 °C is common practice, no source. Twelve years at one place cannot
tell errors apart that differ by a few tenths of a day.
"""

from __future__ import annotations

import csv
import gzip
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from importlib.util import find_spec
from pathlib import Path
from statistics import fmean

import numpy as np

from advisor.calc.chill_then_heat import DatedStage, Season
from advisor.calc.requirement import Requirement
from advisor.calc.requirement_fit import RequirementFit, fit_requirement

CHILL_DAYS, BASE_C = 33.0, 5.0
AUTUMN, NEW_YEAR = -65, 1  # day of the year on which sums begin: 27 October before, 1 January
NAMES = {371: "breaking leaf buds", 501: "open flowers", 498: "coloured leaves"}
MIDSUMMER = 181
FOLLOWS = -0.5  # house judgement: a correlation at which dates are said to follow warmth


@dataclass(frozen=True, slots=True)
class Seen:
    """One stage of one plant: where, when, and the place's daily means from ``AUTUMN`` on."""

    site: str
    year: int
    day_of_year: int
    latitude_deg: float
    means_c: Sequence[float]


def record_folder() -> Path | None:
    """Return the folder of the open record, None where the package is not installed; the package is not imported."""
    spec = find_spec("pyPhenology")
    places = spec.submodule_search_locations if spec else None
    return Path(next(iter(places))) / "data" if places else None


def read(folder: Path, plant: str, temperatures: str) -> dict[int, list[Seen]]:
    """Return what was seen of a plant, by stage."""
    path = folder / temperatures
    text = gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()
    means: dict[tuple[str, int], dict[int, float]] = defaultdict(dict)
    latitudes = {}
    for row in csv.DictReader(text.decode().splitlines()):
        means[row["site_id"], int(row["year"])][int(row["doy"])] = float(row["temperature"])
        latitudes[row["site_id"]] = float(row["latitude"])
    series = {key: [days[doy] for doy in range(AUTUMN, max(days) + 1)] for key, days in means.items()}
    found = defaultdict(list)
    with (folder / f"{plant}_obs.csv").open(encoding="utf-8") as lines:
        for row in csv.DictReader(lines):
            site, year = row["site_id"], int(row["year"])
            found[int(row["phenophase"])].append(Seen(site, year, int(row["doy"]), latitudes[site], series[site, year]))
    return dict(found)


def fitted(seen: Sequence[Seen], chill_days: float, base_c: float, first: int = AUTUMN) -> RequirementFit:
    """Return the fit to what was seen, chill held, nothing published."""
    seasons: dict[tuple[str, int], Season] = {}
    dated = []
    for each in seen:
        if (each.site, each.year) not in seasons:
            means = each.means_c[first - AUTUMN :][:366]
            seasons[each.site, each.year] = Season(
                _day(each.year, first),
                tuple(float(0 <= mean <= 7.2) for mean in means),
                tuple(max(0.0, mean - base_c) for mean in means),
                "chill days",
                "degree-days of daily means",
            )
        dated.append(DatedStage(seasons[each.site, each.year], _day(each.year, each.day_of_year)))
    held = Requirement(
        chill_days, chill_days, None, None, "chill days", "degree-days of daily means", "nothing published"
    )
    return fit_requirement(dated, held)


def latitude_error_days(seen: Sequence[Seen]) -> float:
    """Return the mean absolute error of the date as a straight line in latitude, each year foretold from the others."""
    errors = []
    for year in sorted({each.year for each in seen}):
        inside = [each for each in seen if each.year != year]
        slope, start = np.polyfit(
            [each.latitude_deg for each in inside], [float(each.day_of_year) for each in inside], 1
        )
        errors += [abs(start + slope * each.latitude_deg - each.day_of_year) for each in seen if each.year == year]
    return float(fmean(errors))


def warmth_correlation(seen: Sequence[Seen]) -> float:
    """Return how the dates go with the mean temperature of the sixty days before their mean date; -1 is closest."""
    last = round(fmean(each.day_of_year for each in seen)) - AUTUMN
    warmth = [fmean(each.means_c[last - 60 : last]) for each in seen]
    return float(np.corrcoef(warmth, [float(each.day_of_year) for each in seen])[0, 1])


def before_chill(seen: Sequence[Seen], chill_days: float) -> int:
    """Return how many dates came before this many chill days, counted from ``AUTUMN``."""
    return sum(
        sum(0 <= mean <= 7.2 for mean in each.means_c[: each.day_of_year - AUTUMN]) < chill_days for each in seen
    )


def _day(year: int, day_of_year: int) -> date:
    return date(year, 1, 1) + timedelta(days=day_of_year - 1)


def tell(name: str, seen: Sequence[Seen], chill_days: float, first: int) -> None:
    """Print one stage's errors and what they mean."""
    fit = fitted(seen, chill_days, BASE_C, first)
    assert fit.model_error_days is not None
    assert fit.mean_date_error_days is not None
    many = len({each.site for each in seen}) > 1
    by_latitude = latitude_error_days(seen) if many else None
    print(f"{name}: {len(seen)} dates, {fit.years} years")
    print(f"  chill then heat {fit.model_error_days:5.2f} days off")
    print(f"  mean date       {fit.mean_date_error_days:5.2f} days off")
    if by_latitude is not None:
        print(f"  by latitude     {by_latitude:5.2f} days off")
    r = warmth_correlation(seen)
    if fit.better:
        print(
            f"  better than the mean date, because the dates follow the warmth of the sixty days before (r = {r:.2f})"
        )
    elif r < FOLLOWS:
        print("  not better than the mean date, because one heat sum does not serve all the places, though the dates")
        print(f"  follow the warmth of the sixty days before (r = {r:.2f})")
    else:
        print(
            "  not better than the mean date, because the dates hardly follow the warmth of the sixty days before",
            end="",
        )
        print(f" (r = {r:.2f})")
    if by_latitude is not None:
        beaten = "better" if fit.model_error_days < by_latitude else "not better"
        print(f"  {beaten} than latitude alone, the fairer rival where places differ")
        span = [each.latitude_deg for each in seen]
        print(f"  one requirement for every place from {min(span):.0f}° to {max(span):.0f}°", end="")
        print(f"; {before_chill(seen, chill_days)} dates came before the chill was met")


def main() -> None:
    """Print every stage, and for blueberry what other settings would have given."""
    folder = record_folder()
    if folder is None:
        print("the package pyPhenology is not installed, and with it the record: pip install pyPhenology==0.7.1")
        return
    blueberry = read(folder, "vaccinium", "vaccinium_temperature.csv")
    for stage, seen in sorted(blueberry.items()):
        tell(f"blueberry, {NAMES[stage]}", seen, CHILL_DAYS, AUTUMN)
    for stage, seen in sorted(read(folder, "aspen", "aspen_temperature.csv.gz").items()):
        if stage == 498:
            kept = [each for each in seen if each.day_of_year < 366]
            tell(f"aspen, {NAMES[stage]} (heat from 1 January, no chill)", kept, 0.0, NEW_YEAR)
            continue
        within = [each for each in seen if each.day_of_year - AUTUMN < 366]
        tell(
            f"aspen, {NAMES[stage]}, all ({len(seen) - len(within)} past the year left out)", within, CHILL_DAYS, AUTUMN
        )
        spring = [each for each in seen if each.day_of_year <= MIDSUMMER]
        late = len(seen) - len(spring)
        tell(f"aspen, {NAMES[stage]}, without {late} dated after June", spring, CHILL_DAYS, AUTUMN)
        tell(f"aspen, {NAMES[stage]}, the same, heat from 1 January and no chill", spring, 0.0, NEW_YEAR)
    print("blueberry, days off by chill days (down) and base in °C (across)")
    bases, chills = (0.0, 2.0, 4.0, 5.0, 7.0, 10.0), (0.0, 20.0, 25.0, 30.0, 33.0, 35.0, 40.0)
    for stage, seen in sorted(blueberry.items()):
        print(f"  {NAMES[stage]:20}" + "".join(f"{base:7.0f}" for base in bases))
        for chill in chills:
            errors = [fitted(seen, chill, base).model_error_days for base in bases]
            print(f"  {chill:20.0f}" + "".join(f"{error:7.2f}" for error in errors))


if __name__ == "__main__":
    main()
