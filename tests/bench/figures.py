"""What the calculations cost: ``python tests/bench/figures.py``.

Ten years of hours and days, and a garden's sun for a year, each beside a plain numpy pass over an array of the same
size in the same run (one multiplication, one comparison, one sum). The weather is made here from a wave and seeded
noise. Nothing here passes or fails; figures are medians.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from itertools import count
from statistics import median
from time import perf_counter

import numpy as np

from advisor.calc.chill import dynamic_portions, utah_units
from advisor.calc.day_curve import Day, hourly_curve
from advisor.calc.degree_days import single_sine_many
from advisor.calc.heat import curvilinear_growing_degree_hours
from advisor.calc.horizon import Obstruction, Outlook
from advisor.calc.kept_years import KeptYears
from advisor.calc.sun import light_on_ground, monthly_direct_sun_h

YEARS, SPOTS, ROUNDS = 10, 12, 15


def timed(work: Callable[[], object]) -> float:
    """Return the median time of some work. [ms]"""
    times = []
    for _ in range(ROUNDS):
        start = perf_counter()
        work()
        times.append((perf_counter() - start) * 1000)
    return median(times)


def weather() -> list[Day]:
    """Return ten invented years of days."""
    chance = np.random.default_rng(20261125)
    first = date(2015, 11, 1)
    noise = chance.normal(0, 3, YEARS * 365)
    means = 10 - 11 * np.sin(2 * np.pi * (np.arange(YEARS * 365) + 15) / 365 + np.pi / 2) + noise
    return [(first + timedelta(days=n), float(mean) - 5, float(mean) + 5) for n, mean in enumerate(means)]


def main() -> None:
    days = weather()
    hours = hourly_curve(days, 47.0).ravel()
    plain = timed(lambda: float((np.where(hours > 4.0, hours, 0.0) * 1.5).sum()))
    print(f"{len(hours)} hours of {YEARS} years; a plain numpy pass over them takes {plain:.3f} ms")
    low, high = (np.array([day[n] for day in days]) for n in (1, 2))
    rows: list[tuple[str, Callable[[], object]]] = [
        ("hours from daily extremes", lambda: hourly_curve(days, 47.0)),
        ("Utah units", lambda: utah_units(hours)),
        ("Dynamic Model", lambda: dynamic_portions(hours)),
        ("growing degree hours, curvilinear", lambda: curvilinear_growing_degree_hours(hours)),
        ("degree-days of the days, single sine", lambda: single_sine_many(low, high, 5.0)),
        ("all of it, year by year, nothing kept", lambda: _years(KeptYears(), days)),
    ]
    for name, work in rows:
        cost = timed(work)
        print(f"  {name:42} {cost:8.2f} ms {cost / plain:8.1f} times the plain pass")
    kept = KeptYears()
    _years(kept, days)
    again = timed(lambda: _years(kept, days))
    print(f"  {'the same again, kept':42} {again:8.2f} ms {again / plain:8.1f} times the plain pass")
    last = tuple(days[-365:])
    one = []
    for n in range(300, 330):
        fresh = KeptYears()
        fresh.year(47.0, last[:n])
        start = perf_counter()
        fresh.year(47.0, last[: n + 1])
        one.append((perf_counter() - start) * 1000)
    year = timed(lambda: KeptYears().year(47.0, last))
    print(f"  one new day of a year: {median(one):.2f} ms; the year from nothing {year:.2f} ms")

    turn = count()

    def outlooks() -> list[Outlook]:
        """Return skies that no earlier round has seen, since a sky seen before costs nothing."""
        more = next(turn) * 0.01
        return [
            Outlook((Obstruction(10.0 * n, 10.0 * n + 60, 15.0 + n + more), Obstruction(200.0, 260.0, 8.0 + n)),
                    slope_deg=n, aspect_deg=180.0)
            for n in range(SPOTS)
        ]  # fmt: skip

    start = perf_counter()
    monthly_direct_sun_h(outlooks()[0], 47.02, 15.0)
    print(f"sun positions of a year for one place, once: {(perf_counter() - start) * 1000:.0f} ms with the first spot")
    points = np.linspace(0.0, 90.0, 53_000)
    plain = timed(lambda: float((np.where(points > 4.0, np.sin(points), 0.0) * 1.5).sum()))
    hours_ms = timed(lambda: [monthly_direct_sun_h(one, 47.02, 15.0) for one in outlooks()])
    light_ms = timed(lambda: [light_on_ground(one, (3, 4, 5), 47.02, 15.0) for one in outlooks()])
    print(f"  a plain numpy pass with one sine over {len(points)} points takes {plain:.2f} ms")
    print(
        f"  hours by month with widths, {SPOTS} spots   {hours_ms:8.1f} ms {hours_ms / plain / SPOTS:8.1f} passes a spot"
    )
    print(
        f"  spring light with widths, {SPOTS} spots    {light_ms:8.1f} ms {light_ms / plain / SPOTS:8.1f} passes a spot"
    )


def _years(kept: KeptYears, days: list[Day]) -> None:
    for year in range(YEARS):
        kept.year(47.0, tuple(days[year * 365 : (year + 1) * 365]))


if __name__ == "__main__":
    main()
