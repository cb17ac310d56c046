"""A large invented garden: so many plants at a tenth as many spots, each with ten years of looks, moves and readings."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from advisor.records.store import Garden, NewRow, Said

DAY = date(2026, 4, 24)
NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
SIDES = ("S", "SE", "E", "NE", "N", "NW", "W", "SW", "flat")
KINDS = ("fig", "fig", "apricot", "apple", "pear", "sweet-cherry")
YEARLY = ((3, 5, 0), (3, 28, 1), (4, 12, 9), (4, 22, 11), (7, 20, 75), (9, 1, 87), (10, 28, 95))
"""Month, day and BBCH code of the looks at each plant in a year."""
PLACE = NewRow(
    "place",
    {"name": "Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "Europe/Vienna", "units": "metric"},
)


def fill(garden: Garden, plants: int, *, years: int = 10) -> None:
    """Fill an empty garden file. Every third plant is in a pot and goes in and out of a shelter each year."""
    spots = [f"bed {n + 1}" for n in range(max(2, plants // 10))]
    first = DAY.year - years + 1
    said = Said("file", "invented", NOW)
    garden.add([(said, [PLACE, *(_spot(name, n) for n, name in enumerate([*spots, "winter store"]))])])
    garden.add([(said, [_plant(n, spots) for n in range(plants)])])
    rows = [row for year in range(first, DAY.year + 1) for n in range(plants) for row in _year(n, year, spots)]
    rows += [row for year in range(first, DAY.year + 1) for n, spot in enumerate(spots) for row in _soil(spot, n, year)]
    rows += _weather(first)
    garden.add([(said, rows)])


def name_of(n: int) -> str:
    """Return the name of the nth plant."""
    return f"{KINDS[n % len(KINDS)].replace('sweet-', '')} {n + 1}"


def _spot(name: str, n: int) -> NewRow:
    side = SIDES[n % len(SIDES)]
    wall = {"wall_side": side} if n % 4 == 0 and side != "flat" else {}
    cover = "shelter" if name == "winter store" else "unheated glass" if n % 11 == 10 else "none"
    return NewRow("spot", {"name": name, "aspect": side, "under_cover": cover, "low_lying": n % 7 == 6, **wall})


def _plant(n: int, spots: list[str]) -> NewRow:
    pot = {"growing": "pot", "pot_litres": 30.0} if n % 3 == 2 else {"growing": "ground"}
    values = {"name": name_of(n), "species": KINDS[n % len(KINDS)], "spot": spots[n % len(spots)]}
    return NewRow("plant", {**values, "planted": date(2012, 4, 1), **pot})


def _year(n: int, year: int, spots: list[str]) -> list[NewRow]:
    name, rows = name_of(n), []
    for month, day, bbch in YEARLY:
        on = date(year, month, day) + timedelta(days=n % 5)
        if on <= DAY and not (year == DAY.year and n % 6 == 5):
            rows.append(NewRow("stage", {"plant": name, "on": on, "bbch": bbch}))
    for month, spot in ((4, spots[n % len(spots)]), (11, "winter store")):
        if n % 3 == 2 and (on := date(year, month, 11)) <= DAY:
            rows.append(NewRow("move", {"plant": name, "to_spot": spot, "on": on}))
    return rows


def _soil(spot: str, n: int, year: int) -> list[NewRow]:
    cover = {"spot": spot, "material": "wood chips", "depth_cm": 8.0, "put_on": date(year - 1, 10, 20)}
    rows = [NewRow("cover", {**cover, "taken_off": date(year, 4, 1)})] if n % 2 else []
    for week in range(12):
        at = datetime(year, 2, 10, 12, tzinfo=UTC) + timedelta(days=7 * week, minutes=n)
        if at < NOW:
            temp = {"temp_c": 4.0 + week * 0.9 + n % 3, "depth_cm": 10.0, "sky": "sun"}
            rows.append(NewRow("soil_reading", {"spot": spot, "at": at, **temp}))
    return rows


def _weather(first: int) -> list[NewRow]:
    start = date(first, 1, 1)
    return [
        NewRow(
            "weather_day",
            {"on": start + timedelta(days=n), "min_c": n % 13 - 3.0, "max_c": n % 13 + 8.0, "source": "s"},
        )
        for n in range((DAY - start).days + 1)
    ]
