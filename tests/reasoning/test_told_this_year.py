"""What was told this year is used for what it still says: old looks, works of one day, rest in autumn, a hand's reading.

In the demo garden, which is invented; asked in other months as well.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from advisor.conversation import Adviser

APRIL, OCTOBER = datetime(2026, 4, 24, 16, tzinfo=UTC), datetime(2026, 10, 20, 16, tzinfo=UTC)


def said(adviser: Adviser, path: Path, at: datetime, *texts: str) -> dict[str, Any]:
    """Send messages and return the last reply."""
    return [adviser.message({"text": text}, at, path) for text in texts][-1]


def test_blossom_seen_in_april_is_not_in_danger_in_october(adviser: Adviser, demo_copy: Path) -> None:
    """What a tree is at by then nobody told; figs in leaf, and what was seen lately, are weighed as ever."""
    told = said(adviser, demo_copy, OCTOBER, "-3 tonight, clear", "will it freeze tonight?")
    weighed = {one["about"].get("plant") for one in told["conclusions"] if one["kind"] == "warning"}
    assert not weighed & {"big cherry", "hollow peach", "house plum"} and "(full bloom)" not in told["reply"]
    spring = said(adviser, demo_copy, APRIL, "-3 tonight, clear", "will it freeze tonight?")
    assert "house plum" in spring["reply"] and "full bloom" in spring["reply"]


@pytest.mark.parametrize(("at", "clashes"), [(OCTOBER, False), (APRIL, True)])
def test_rest_in_autumn_is_no_step_back(adviser: Adviser, demo_copy: Path, at: datetime, clashes: bool) -> None:
    """A fig in leaf that sleeps two days later in spring is a contradiction; in October its leaves fell."""
    told = said(adviser, demo_copy, at, "tall pot fig dormant", "what should I do next about the tall pot fig?")
    assert ("stage-backwards" in {one["claim"] for one in told["conclusions"]}) is clashes
    assert ("Your records disagree: The tall pot fig" in told["reply"]) is clashes


def test_of_two_works_of_one_day_the_one_told_last_holds(adviser: Adviser, demo_copy: Path) -> None:
    """Wrapped and unwrapped again today, a fig stands open tonight."""
    for texts, wrapped in (
        (("wrapped the wall fig", "unwrapped the wall fig"), False),
        (("wrapped the wall fig",), True),
    ):
        told = said(adviser, demo_copy, APRIL, *texts, "-6 tonight, clear", "is the wall fig safe tonight?")
        assert ("has been wrapped" in told["reply"] or "leave it closed" in told["reply"]) is wrapped


def test_a_low_read_by_hand_is_the_night_s(adviser: Adviser, demo_copy: Path) -> None:
    """It was as cold as that at least, at the spot where it was read."""
    told = said(adviser, demo_copy, APRIL, "-6 at the hollow last night", "did the frost hurt the hollow peach?")
    assert "-6 °C" in told["reply"] and {one["kind"] for one in told["records"]} >= {"weather_hour"}
