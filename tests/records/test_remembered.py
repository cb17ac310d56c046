"""When a tree was planted, as far as one remembers."""

from __future__ import annotations

from datetime import date

import pytest

from advisor.records.remembered import month_day, planted_day, planted_told

TODAY = date(2026, 4, 24)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2021", date(2021, 1, 1)),
        ("1998", date(1998, 1, 1)),
        ("2022", date(2022, 1, 1)),
        ("2025-11", date(2025, 11, 1)),
        ("11/2025", date(2025, 11, 1)),
        ("Nov 2025", date(2025, 11, 1)),
        ("April of 2024", date(2024, 4, 1)),
        ("2024-04-20", date(2024, 4, 20)),
        ("20.4.2024", date(2024, 4, 20)),
        ("2026-04-24", TODAY),
    ],
)
def test_a_year_a_month_or_a_day(text: str, day: date) -> None:
    """A month is kept as its first day, and so is a year once no rule counts the tree's springs any more."""
    assert planted_day(text, TODAY) == day


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2023", "the month too, as 2023-04"),
        ("2026", "the month too"),
        ("spring 2021", "the month in spring 2021"),
        ("2025-13", "a month from 1 to 12"),
        ("2027", "has come"),
        ("2026-05", "has come"),
        ("4/5/2024", "day and month cannot be told apart"),
        ("long ago", "or a year"),
    ],
)
def test_what_is_too_loose_is_asked_for(text: str, says: str) -> None:
    """A young tree's year alone, a season, a day to come, and a date that can be read two ways are not guessed at."""
    with pytest.raises(ValueError, match=says):
        planted_day(text, TODAY)


def test_day_and_month_in_the_order_of_the_place() -> None:
    """4/5 is in April with US units and in May elsewhere."""
    assert planted_day("4/5/2024", TODAY, day_first=False) == date(2024, 4, 5)
    assert planted_day("4/5/2024", TODAY, day_first=True) == date(2024, 5, 4)


def test_a_day_of_the_year() -> None:
    """As one says it; what is none is left for the schema to refuse."""
    assert [month_day(text) for text in ("10 May", "May 10th", "12th of October", "05-10", "soon")] == [
        "05-10", "05-10", "10-12", "05-10", "soon",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("planted a fig at the wall in 2021, call it old fig", "2021"),
        ("planted it in April 2024", "April 2024"),
        ("planted in spring 2021", "spring 2021"),
        ("planted a fig on 4 April 2021", ""),
        ("planted a fig at the wall", ""),
    ],
)
def test_a_planting_in_a_sentence(text: str, told: str) -> None:
    """A month, a season or a year; a day is read elsewhere."""
    assert planted_told(text) == told
