"""Gardens of a chosen size for benchmarks and for tests of growth: invented, the same each time they are made.

``synthetic_garden`` writes files to import: many plants of one kind, so that what is worked out for each pair of kin
shows; soils read each week; pots carried in and out each year; ten years of stages, or as many as are asked for.
"""

from __future__ import annotations

import csv
import math
import random
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

TODAY = date(2026, 4, 24)
Row = Mapping[str, object]
STAGES = (1, 3, 7, 9, 11)
READ_SPOTS = 5
"""Spots whose soil is read each week from March to June."""


def synthetic_garden(folder: Path, plants: int, years: int, spots: int = 0, today: date = TODAY) -> Path:
    """Write an invented garden of figs, a third of them in pots, with so many years of logs up to ``today``.

    ``spots`` is one for ten plants where it is not given, four at least.
    """
    count = spots or max(4, plants // 10)
    names = [f"bed {n}" for n in range(1, count + 1)]
    for kind, rows in _tables(plants, years, names, today):
        if rows:
            header = list(dict.fromkeys(name for row in rows for name in row))
            with (folder / f"{kind}.csv").open("w", newline="", encoding="utf-8") as file:
                writer = csv.DictWriter(file, header, restval="")
                writer.writeheader()
                writer.writerows(rows)
    return folder


def _tables(plants: int, years: int, names: Sequence[str], today: date) -> Iterator[tuple[str, list[Row]]]:
    chance = random.Random(20261125)
    figs = list(_plants(plants, names))
    place = {"name": "Thornfield", "latitude_deg": 47.9, "longitude_deg": 14.2, "elevation_m": 380}
    yield "place", [{**place, "time_zone": "Europe/Vienna", "units": "metric", "usual_last_frost": "05-08"}]
    yield "spot", list(_spots(names))
    yield "plant", figs
    covers = [{"spot": name, "material": ("bare", "wood chips", "straw")[n % 3], "depth_cm": ("", 8, 12)[n % 3],
               "put_on": f"{today.year - 1}-10-20"} for n, name in enumerate(names)]  # fmt: skip
    yield "cover", covers
    spring = list(range(today.year - years + 1, today.year + 1))
    yield "stage", [row for year in spring for row in _stages(figs, year, today, chance)]
    yield "move", [row for year in spring for row in _moves(figs, year, today, names[-1])]
    yield "growth", [row for year in spring for row in _growth(figs, year, today, chance)]
    yield "work", [row for year in spring for row in _works(figs, year, today)]
    yield "soil_reading", [row for year in spring for row in _soils(names, year, today, chance)]
    yield "advice", [row for year in spring for row in _advice(figs, year, today)]
    yield "weather_day", list(_weather(date(today.year - years, 11, 1), today, chance))
    ahead = [(today + timedelta(days=n), 1.5 - n % 3, 13.0 + n % 4) for n in range(4)]
    yield "forecast_day", [{"issued": today, "for_day": day, "min_c": low, "max_c": high, "sky": "clear", "wind_m_s": 1}
                           for day, low, high in ahead]  # fmt: skip


def _plants(plants: int, names: Sequence[str]) -> Iterator[dict[str, object]]:
    for n in range(1, plants + 1):
        pot = n % 3 == 0
        yield {
            "name": f"fig {n}",
            "species": "fig",
            "cultivar": ("Brown Turkey", "Violette", "")[n % 3],
            "spot": names[n % (len(names) - 1)],
            "growing": "pot" if pot else "ground",
            "pot_litres": 30 if pot else "",
            "planted": f"{2008 + n % 6}-04-20",
        }


def _spots(names: Sequence[str]) -> Iterator[Row]:
    for n, name in enumerate(names):
        last = n == len(names) - 1
        yield {
            "name": name,
            "aspect": ("S", "SE", "N", "flat", "W")[n % 5],
            "slope_deg": n % 7,
            "low_lying": "yes" if n % 6 == 5 else "no",
            "soil_texture": ("loam", "clay", "sand")[n % 3],
            "plantable": "no" if last else "yes",
            "under_cover": "shelter" if last else "unheated glass" if n % 10 == 9 else "none",
        }


def _stages(figs: Sequence[Row], year: int, today: date, chance: random.Random) -> Iterator[Row]:
    start = date(year, 4, 1) + timedelta(days=chance.randrange(10))
    for n, fig in enumerate(figs):
        own = start + timedelta(days=n % 7 + chance.randrange(12))
        for place, bbch in enumerate(STAGES):
            day = own + timedelta(days=6 * place)
            if day <= today:
                yield {"plant": fig["name"], "on": day, "bbch": bbch}


def _moves(figs: Sequence[Row], year: int, today: date, store: str) -> Iterator[Row]:
    for n, fig in enumerate(fig for fig in figs if fig["growing"] == "pot"):
        for day, spot in (
            (date(year, 4, 10) + timedelta(days=n % 9), fig["spot"]),
            (date(year, 11, 12) + timedelta(days=n % 5), store),
        ):
            if day <= today:
                yield {"plant": fig["name"], "to_spot": spot, "on": day}


def _growth(figs: Sequence[Row], year: int, today: date, chance: random.Random) -> Iterator[Row]:
    day = date(year, 6, 8)
    if day <= today:
        for fig in figs:
            yield {"plant": fig["name"], "on": day, "shoot_cm": 20 + chance.randrange(20),
                   "leaves": 4 + chance.randrange(5), "node_buds": chance.randrange(3)}  # fmt: skip


def _works(figs: Sequence[Row], year: int, today: date) -> Iterator[Row]:
    for n, fig in enumerate(figs):
        done = [(date(year, 3, 5), "pruned"), (date(year, 5, 3), "fed"), (date(year, 6, 12), "pinched")]
        if fig["growing"] == "pot":
            done += [(date(year, 4, 20) + timedelta(days=21 * k), "watered") for k in range(4)]
        for day, what in done:
            day += timedelta(days=n % 4)
            if day <= today:
                yield {"plant": fig["name"], "on": day, "what": what}


def _soils(names: Sequence[str], year: int, today: date, chance: random.Random) -> Iterator[Row]:
    for week in range(16):
        day = date(year, 3, 3) + timedelta(days=7 * week)
        for n, name in enumerate(names[:READ_SPOTS]):
            if day <= today:
                at = f"{day.isoformat()}T14:{4 * n:02}"
                temp_c = round(5 + 0.7 * week + 0.5 * n + chance.uniform(-0.4, 0.4), 1)
                yield {"spot": name, "temp_c": temp_c, "depth_cm": 10, "at": at, "sky": "sun"}


def _advice(figs: Sequence[Row], year: int, today: date) -> Iterator[Row]:
    """Yield what was advised each week from April to September: a dozen tasks, and the night's range."""
    for week in range(26):
        day = date(year, 4, 2) + timedelta(days=7 * week)
        for n in range(12) if day < today else ():
            claim = ("pinch-the-shoot", "soak-the-pot", "look-again")[n % 3]
            yield {"on": day, "question": "what-next", "conclusion": "task", "claim": claim, "rules": "look-again-soon",
                   "plant": figs[(12 * week + n) % len(figs)]["name"]}  # fmt: skip
        if day < today:
            yield {"on": day, "question": "frost-tonight", "conclusion": "warning", "claim": "frost-at-its-stage",
                   "rules": "frost-tonight", "low_c": 2, "high_c": 6}  # fmt: skip


def _weather(first: date, today: date, chance: random.Random) -> Iterator[Row]:
    for n in range((today - first).days):
        day = first + timedelta(days=n)
        mean = 9.5 - 10.5 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 18) / 365.25) + chance.gauss(0, 2.5)
        half = chance.uniform(2.5, 7.5)
        rain = round(chance.uniform(0.5, 15), 1) if chance.random() < 0.3 else 0.0
        yield {"on": day, "min_c": round(mean - half, 1), "max_c": round(mean + half, 1), "rain_mm": rain}
