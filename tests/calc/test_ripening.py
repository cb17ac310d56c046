"""First ripe fruit by days and by heat, and the last day to pinch."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.chill_then_heat import Season
from advisor.calc.forecast import forecast_stage
from advisor.calc.requirement import Requirement
from advisor.calc.ripening import DaysToRipe, HeadStart, Ripening, last_pinch_day, ripe_by_days, ripe_by_heat

MAIN = DaysToRipe("main", 90, 120, "common practice, no source")
BREBA = DaysToRipe("breba", 60, 70, "invented")
METRICS = ("none", "degree-days above 10 °C")
HEAT = Requirement(0, 0, 800, 1000, *METRICS, "invented")
DATES = st.dates(date(2000, 1, 1), date(2050, 1, 1))


def summer(year: int, heat: float, days: int = 150, first: tuple[int, int] = (7, 1)) -> Season:
    return Season(date(year, *first), (0.0,) * days, (heat,) * days, *METRICS)


def test_the_trades_rule_worked_by_hand() -> None:
    """Pinched on 20 June: fruitlets 4 July, ripe 90 to 120 days on (common practice, no source)."""
    found = ripe_by_days(date(2025, 6, 20), MAIN, pinched=True, first_freeze=date(2025, 10, 20))
    assert (found.earliest, found.likely, found.latest) == (date(2025, 10, 2), date(2025, 10, 17), date(2025, 11, 1))
    assert found.before_freeze == "doubtful"
    to_go = found.days_to_go(date(2025, 10, 10))
    assert to_go is not None
    assert (to_go.value, to_go.plus_minus, to_go.caution) == (7.0, 15.0, "common practice, no source")


def test_from_fruit_set_no_two_weeks_are_added() -> None:
    """Visible fruitlets on 4 July give the same dates as pinching two weeks before."""
    assert ripe_by_days(date(2025, 7, 4), MAIN) == ripe_by_days(date(2025, 6, 20), MAIN, pinched=True)


@pytest.mark.parametrize(
    ("freeze", "verdict"),
    [
        (date(2025, 11, 1), "before"),
        (date(2025, 10, 31), "doubtful"),
        (date(2025, 10, 2), "doubtful"),
        (date(2025, 10, 1), "after"),
        (None, "not known here"),
    ],
)
def test_how_the_dates_lie_to_the_freeze(freeze: date | None, verdict: str) -> None:
    """On the 10 % date itself the latest fruit is still in time, the earliest no longer after it."""
    assert ripe_by_days(date(2025, 7, 4), MAIN, first_freeze=freeze).before_freeze == verdict


@given(DATES, st.floats(1, 150), st.floats(0, 60), st.floats(-20, 20), st.floats(0, 15))
def test_pinching_on_the_last_day_is_just_in_time(
    freeze: date, low: float, more: float, lead: float, width: float
) -> None:
    """The safe day ripens its slowest fruit on the freeze's date, the latest day its quickest."""
    days, head_start = DaysToRipe("main", low, low + more, "invented"), HeadStart(lead, width)
    last = last_pinch_day(freeze, days, head_start)
    assert last is not None
    assert last.safe <= last.latest
    for pinched, end in ((last.safe, "latest"), (last.latest, "earliest")):
        found = ripe_by_days(pinched, days, pinched=True, head_start=head_start, first_freeze=freeze)
        assert getattr(found, end) == freeze
    assert (
        ripe_by_days(last.safe, days, pinched=True, head_start=head_start, first_freeze=freeze).before_freeze
        == "before"
    )


def test_the_last_pinch_by_hand() -> None:
    """A 10 % date of 10 October less 120 and 14 days is 29 May, less 90 and 14 is 28 June."""
    last = last_pinch_day(date(2025, 10, 10), MAIN)
    assert last is not None
    assert (last.safe, last.latest) == (date(2025, 5, 29), date(2025, 6, 28))


def test_a_head_start_moves_and_widens() -> None:
    """Eight days sooner ± 8 joins 15 days of half-range to 17, by the root of the squares."""
    plain = ripe_by_days(date(2025, 7, 4), MAIN)
    found = ripe_by_days(date(2025, 7, 4), MAIN, head_start=HeadStart(8, 8))
    assert plain.likely is not None
    assert found.likely == plain.likely - timedelta(days=8)
    assert found.earliest == found.likely - timedelta(days=17)
    assert found.latest == found.likely + timedelta(days=17)


@given(DATES, st.floats(-30, 30), st.floats(0, 30), st.floats(0, 20))
def test_a_larger_head_start_is_never_later(start: date, lead: float, more: float, width: float) -> None:
    """No date moves back when the head start grows, and fruit never ripens before it is there."""
    first = ripe_by_days(start, MAIN, head_start=HeadStart(lead, width))
    second = ripe_by_days(start, MAIN, head_start=HeadStart(lead + more, width))
    for end in ("earliest", "likely", "latest"):
        assert start <= getattr(second, end) <= getattr(first, end)


def test_what_is_absent_is_not_known_here() -> None:
    """No range, no heat, no freeze date: no dates, and why."""
    for found in (ripe_by_days(date(2025, 7, 4), None), ripe_by_heat(summer(2025, 9.0, 20), None, [])):
        assert isinstance(found, Ripening)
        assert (found.earliest, found.likely, found.latest) == (None, None, None)
        assert (found.before_freeze, found.days_to_go(date(2025, 8, 1))) == ("not known here", None)
        assert "known for this crop" in found.caution
    no_heat = Requirement(0, 0, None, None, *METRICS, "invented")
    assert ripe_by_heat(summer(2025, 9.0, 20), no_heat, []).likely is None
    assert "no date known" in ripe_by_heat(summer(2025, 9.0, 20), HEAT, [], first_freeze=date(2025, 10, 1)).caution
    assert last_pinch_day(None, MAIN) is None
    assert last_pinch_day(date(2025, 10, 1), None) is None


def test_by_heat_worked_by_hand() -> None:
    """Twenty days at 10 leave 700 of 900 to go: 70 days at 10, 100 at 7; 800 and 1000 widen it."""
    one = ripe_by_heat(summer(2025, 10.0, 20), HEAT, [summer(2024, 10.0)])
    assert (one.earliest, one.likely, one.latest) == (date(2025, 9, 18), date(2025, 9, 28), date(2025, 10, 8))
    assert one.before_freeze == "not known here"
    cool = ripe_by_heat(summer(2025, 10.0, 20), HEAT, [summer(2024, 7.0)], first_freeze=date(2025, 10, 10))
    assert cool.likely == date(2025, 7, 20) + timedelta(days=100)
    assert cool.before_freeze == "after"


def test_by_heat_is_the_forecast_without_chill() -> None:
    """Without a head start the dates are those of the chill-then-heat forecast with no chill asked for."""
    so_far, earlier = summer(2025, 9.0, 30), [summer(2020 + n, 7.0 + n) for n in range(5)]
    found, plain = ripe_by_heat(so_far, HEAT, earlier), forecast_stage(so_far, HEAT, earlier)
    assert (found.earliest, found.likely, found.latest) == (plain.low, plain.median, plain.high)


def test_by_heat_a_head_start_moves_and_widens() -> None:
    """Ten days to each side and 24 of the head start's width make 26."""
    found = ripe_by_heat(summer(2025, 10.0, 20), HEAT, [summer(2024, 10.0)], head_start=HeadStart(5, 24))
    assert found.likely == date(2025, 9, 23)
    assert (found.earliest, found.latest) == (date(2025, 8, 28), date(2025, 10, 19))


def test_a_summer_too_cool_has_no_latest_date() -> None:
    """Where some earlier autumns ended before the fruit was ripe, the latest date stays open and is never "before"."""
    earlier = [summer(2022, 10.0), summer(2023, 10.0), summer(2024, 3.0)]
    found = ripe_by_heat(summer(2025, 10.0, 20), HEAT, earlier, first_freeze=date(2025, 12, 1))
    assert found.latest is None
    assert found.before_freeze == "doubtful"
    to_go = found.days_to_go(date(2025, 8, 1))
    assert to_go is not None
    assert to_go.plus_minus is None


def test_brebas_do_not_come_from_pinching() -> None:
    """Brebas ripen from fruit set by their own range; pinching them, or a deadline for it, is refused."""
    assert ripe_by_days(date(2025, 5, 10), BREBA).earliest == date(2025, 7, 9)
    with pytest.raises(ValueError, match="brebas sit on last year's wood"):
        ripe_by_days(date(2025, 5, 10), BREBA, pinched=True)
    with pytest.raises(ValueError, match="give the main crop's days"):
        last_pinch_day(date(2025, 10, 1), BREBA)


def test_inputs_that_cannot_be_are_refused() -> None:
    """Ranges, head starts, a freeze of another year and a requirement with chill are named."""
    with pytest.raises(ValueError, match="120 to 90 days to ripe"):
        DaysToRipe("main", 120, 90, "invented")
    with pytest.raises(ValueError, match="0 to 90 days to ripe"):
        DaysToRipe("main", 0, 90, "invented")
    with pytest.raises(ValueError, match=r"head start of 3 ± -1 days"):
        HeadStart(3, -1)
    with pytest.raises(ValueError, match="first autumn freeze 2024-10-10 is before 2025-07-04"):
        ripe_by_days(date(2025, 7, 4), MAIN, first_freeze=date(2024, 10, 10))
    with pytest.raises(ValueError, match="ripening needs no chill"):
        ripe_by_heat(summer(2025, 9.0), Requirement(1, 2, 800, 1000, *METRICS, "invented"), [])
    with pytest.raises(ValueError, match="is before 2025-07-01"):
        ripe_by_heat(summer(2025, 9.0), HEAT, [], first_freeze=date(2024, 10, 10))
