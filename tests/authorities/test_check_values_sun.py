"""The shared check values on sun and site, each row within its own tolerance."""

from __future__ import annotations

import re
from datetime import date, datetime
from json import loads

import pytest
from check_values import HERE, NOT_HERE, rows_of

from advisor.calc.daylight import sun_position
from advisor.calc.horizon import Obstruction, Outlook, incidence_deg
from advisor.calc.sun import direct_sun_h

LATITUDE, LONGITUDE = 41.5, -75.0


def sun_at(inputs: str) -> tuple[float, float]:
    """Return the sun's place at the clock time in a row, which is five hours behind UTC."""
    found = re.search(r"(\d{4}-\d\d-\d\d) (\d\d:\d\d) UTC-5", inputs)
    assert found
    return sun_position(datetime.fromisoformat(f"{found[1]}T{found[2]}:00-05:00"), LATITUDE, LONGITUDE)


def reckoned(topic: str, inputs: str) -> list[float]:
    """Return what this project says to a row's inputs."""
    if topic == "9 solar position":
        return list(sun_at(inputs))
    if topic == "9 incidence on walls":
        return [incidence_deg(*sun_at(inputs), 90, facing) for facing in (0, 90, 180, 270)]
    if topic == "9 incidence on slopes":
        return [incidence_deg(*sun_at(inputs), 15, facing) for facing in (180, 0)]
    outlooks = {
        "9 sun hours": [Outlook()],
        "9 sun hours walls": [Outlook(wall_facing_deg=facing) for facing in (0, 90, 180, 270)],
        "9 sun hours obstruction": [Outlook((Obstruction(90, 180, 20),)), Outlook((Obstruction(0, 360, 30),))],
    }[topic]
    day = date.fromisoformat(inputs[:10])
    return [direct_sun_h(outlook, day, LATITUDE, LONGITUDE).value for outlook in outlooks]


@pytest.mark.skipif(not HERE, reason=NOT_HERE)
@pytest.mark.parametrize("row", rows_of("sun"), ids=lambda row: f"{row['topic'][2:]} {row['inputs'][:45]}")
def test_row(row: dict[str, str]) -> None:
    """The row's expected values are met within the tolerance it states first."""
    wanted = loads(row["expected"])
    assert reckoned(row["topic"], row["inputs"]) == pytest.approx(
        wanted if isinstance(wanted, list) else [wanted], abs=float(row["tolerance"].split()[0])
    )


@pytest.mark.skipif(not HERE, reason=NOT_HERE)
def test_every_topic_is_there() -> None:
    """All six topics on sun and site are among the rows, so that a renamed one is noticed."""
    assert {row["topic"] for row in rows_of("sun")} == {
        "9 solar position", "9 incidence on walls", "9 incidence on slopes",
        "9 sun hours", "9 sun hours walls", "9 sun hours obstruction",
    }  # fmt: skip


@pytest.mark.parametrize("day", [date(2025, 5, 1), date(2025, 6, 21)])
def test_a_ridge_the_sun_has_passed_costs_nothing(day: date) -> None:
    """From May the sun stands over 20° before it comes round to east, so a ridge of 20° from there to south hides nothing."""
    ridge = Outlook((Obstruction(90, 180, 20),))
    open_hours = direct_sun_h(Outlook(), day, LATITUDE, LONGITUDE).value
    assert direct_sun_h(ridge, day, LATITUDE, LONGITUDE).value == open_hours
    assert direct_sun_h(ridge, date(2025, 4, 1), LATITUDE, LONGITUDE).value < open_hours - 1
