"""What the pictures cost: ``python tests/bench/pictures.py [--plants 300] [--years 10] [--rounds 3]``.

Prints for a garden of that size what each picture takes from an opened file to its words (the first time of a process,
and then with a new row told each time), and what drawing takes. Nothing passes or fails; figures are medians.
"""

from __future__ import annotations

import argparse
import tempfile
from datetime import UTC, date, datetime, timedelta
from math import cos, pi
from pathlib import Path
from random import Random
from statistics import median
from time import perf_counter

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.drawing import library
from advisor.doors.drawing.catalogue import PICTURES, Gallery, Kept
from advisor.doors.drawing.look import Look
from advisor.records.store import NewRow, Said

TODAY = date(2026, 4, 24)
NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = {"name": "Big Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "Europe/Vienna"}
KINDS = ("fig", "apricot", "peach", "apple", "pear", "sweet-cherry")
CODES = (1, 7, 53, 57, 60, 65, 69, 71)


def rows(adviser: Adviser, plants: int, years: int) -> list[NewRow]:
    """Return the rows of an invented garden: twenty spots, and looks, readings and weather of so many years."""
    chance = Random(1)
    kinds = [kind for kind in KINDS if kind in adviser.lore.species]
    spots = [f"bed {n}" for n in range(20)]
    made = [NewRow("place", {**PLACE, "units": "metric"})]
    made += [
        NewRow("spot", {"name": name, "low_lying": n == 3, "aspect": "S", "slope_deg": 3.0})
        for n, name in enumerate(spots)
    ]
    made += [
        NewRow("obstruction", {"spot": name, "bearing_from_deg": 90.0, "bearing_to_deg": 140.0, "elevation_deg": 25.0})
        for name in spots[:5]
    ]
    made += [NewRow("cover", {"spot": name, "material": "wood chips", "put_on": date(2024, 11, 1)}) for name in spots]
    names = [f"tree {n}" for n in range(plants)]
    made += [
        NewRow("plant", {"name": name, "species": kinds[n % len(kinds)], "spot": spots[n % 20], "growing": "ground"})
        for n, name in enumerate(names)
    ]
    for back in range(years):
        spring = date(2026 - back, 3, 10)
        for n, name in enumerate(names):
            first = spring + timedelta(days=n % 25 + chance.randrange(8))
            made += [
                NewRow("stage", {"plant": name, "on": day, "bbch": code})
                for step, code in enumerate(CODES)
                if (day := first + timedelta(days=6 * step)) <= TODAY
            ]
        for day in range(0, 45, 3):
            at = datetime(2026 - back, 3, 5, 12, tzinfo=UTC) + timedelta(days=day)
            made += [
                NewRow("soil_reading", {"spot": name, "temp_c": 5 + day / 6 + n / 10, "depth_cm": 10.0, "sky": "sun",
                                        "at": at + timedelta(minutes=2 * n)})
                for n, name in enumerate(spots)
            ]  # fmt: skip
    for n in range(365 * years + 170):
        day = TODAY - timedelta(days=n)
        mean = 10 - 11 * cos(2 * pi * (day.timetuple().tm_yday - 15) / 365) + chance.gauss(0, 2.5)
        made.append(NewRow("weather_day", {"on": day, "min_c": round(mean - 5, 1), "max_c": round(mean + 6, 1)}))
    made.append(NewRow("evening", {"on": TODAY, "temp_c": 4.0, "dew_point_c": -2.0}))
    return made


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--plants", type=int, default=300)
    parser.add_argument("--years", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=3)
    chosen = parser.parse_args()
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "big.db"
        with adviser.open(path, create=True) as garden:
            garden.add([(Said("file", "bench", NOW), rows(adviser, chosen.plants, chosen.years))])
        for name in PICTURES:
            times = []
            for _ in range(chosen.rounds + 1):
                with adviser.open(path) as garden:
                    begun = perf_counter()
                    telling = Gallery(adviser, garden, TODAY, Kept()).tell(name)
                    times.append((perf_counter() - begun) * 1000)
            begun = perf_counter()
            drawn = len(library.svg(telling.sheet(Look()))) if not telling.nothing else 0
            drawing = (perf_counter() - begun) * 1000
            print(f"{name:12} first {times[0]:6.0f} ms, then {median(times[1:]):5.0f} ms; "
                  f"drawn in {drawing:4.0f} ms, {drawn // 1000} kB")  # fmt: skip
        with adviser.open(path) as garden:
            begun = perf_counter()
            Gallery(adviser, garden, TODAY, Kept()).tell_all()
            print(f"all of them  {(perf_counter() - begun) * 1000:6.0f} ms from one opening, nothing kept")
        with adviser.open(path) as garden:
            kept = Kept()
            Gallery(adviser, garden, TODAY, kept).tell_all()
            begun = perf_counter()
            Gallery(adviser, garden, TODAY, kept).tell_all()
            print(f"all of them  {(perf_counter() - begun) * 1000:6.1f} ms while nothing new is recorded")


if __name__ == "__main__":
    main()
