"""Values into words, in the grower's units."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from advisor.answers import Told
from advisor.facts import Derived, Fact, Value
from advisor.language.render import Speech


def speech(units: str) -> Speech:
    names = frozenset({"shed fig", "Old Tom", "tub 2", "sweet-cherry"})
    called = {"sweet-cherry": "sweet cherry"}
    return Speech(units, ZoneInfo("Europe/Vienna"), date(2026, 4, 24), {}, names, called)


@pytest.mark.parametrize(
    ("name", "value", "metric", "us"),
    [
        ("temp_c", -2.2222, "-2.2 °C", "28 °F"),
        ("warmer_by_k", -3.3333, "3.3 °C", "6 °F"),
        ("depth_cm", 10, "10 cm", "4 in"),
        ("depth_cm", 2.54, "2.5 cm", "1 in"),
        ("late_days", 1, "1 day", "1 day"),
        ("late_days", 12, "12 days", "12 days"),
        ("sun_h", 1, "1 hour", "1 hour"),
        ("frost_share", 0.8, "80 %", "80 %"),
        ("drainage_cm_h", 2.54, "2.5 cm an hour", "1 inch an hour"),
        ("pot_litres", 37.85411784, "37.9 litres", "10 gallons"),
        ("sum_dd", 100, "100 °C-days", "180 °F-days"),
        ("on", date(2026, 4, 5), "5 April", "April 5"),
        ("on", date(2025, 4, 5), "5 April 2025", "April 5 2025"),
        ("at", datetime(2026, 4, 5, 11, 30, tzinfo=UTC), "5 April at 13:30", "April 5 at 13:30"),
        ("species", "sweet-cherry", "sweet cherry", "sweet cherry"),
        ("plant", "shed fig", "the shed fig", "the shed fig"),
        ("plant", "Old Tom", "Old Tom", "Old Tom"),
        ("plant", "tub 2", "tub 2", "tub 2"),
        ("plant", "sweet-cherry", "the sweet-cherry", "the sweet-cherry"),
        ("count", 3, "3", "3"),
    ],
)
def test_values(name: str, value: Value, metric: str, us: str) -> None:
    """Units turn by their definitions; a difference of 5 K is 9 °F without the 32."""
    assert (speech("metric").value(name, value), speech("us").value(name, value)) == (metric, us)


def test_a_template_becomes_sentences() -> None:
    """Names get their article once, sentences their capital, and what is not known is said so."""
    fact = Fact.of("stage_lag", {"plant": "shed fig", "late_days": 9}, Derived("test", ()))
    template = "{lag.plant} is {lag.late_days} late. the {lag.plant} waits for {lag.spot}."
    told = speech("metric").tell(Told(template, {"lag": fact}))
    assert told == "The shed fig is 9 days late. The shed fig waits for (not known)."


def test_a_fixed_quantity_is_said_in_the_growers_units() -> None:
    """Ten centimetres in a rule's sentence are four inches to a grower who thinks in inches."""
    told = Told("read it {10_cm} deep", {})
    assert (speech("metric").tell(told), speech("us").tell(told)) == ("Read it 10 cm deep", "Read it 4 in deep")


def test_dates_of_the_whole_record_are_told_without_a_year() -> None:
    """The last freezes of past springs, set into the growing year that is running, are not told as dates to come."""
    dates = Fact("freeze_date", {"season": "spring", "latest": date(2027, 4, 20)}, Derived("freeze_date", ()))
    told = Told("It last froze on {dates.latest}.", {"dates": dates})
    assert speech("metric").tell(told) == "It last froze on 20 April."


def test_a_method_is_told_in_the_growers_units() -> None:
    """How a figure was reckoned names its temperatures in °F where the grower has °F."""
    assert (
        speech("us").measured("hours from {0_c} to {7.2_c}, within {2_k}") == "hours from 32 °F to 45 °F, within 3.6 °F"
    )
