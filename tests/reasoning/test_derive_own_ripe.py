"""When fruit ripens by a tree's own years: their middle, how bloom moves it, and what the month after bloom says.

All gardens are invented.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from small_garden import SmallGarden

from advisor.config import find_rules
from advisor.facts import Derived, Fact, Recorded
from advisor.reasoning.derive import Scene, derive
from advisor.records.kinds import load_kinds
from advisor.records.species import load_lore

KINDS, LORE = load_kinds(find_rules()), load_lore(find_rules())
TODAY = date(2026, 7, 1)
RIPE = {2022: date(2022, 8, 1), 2023: date(2023, 8, 5), 2024: date(2024, 8, 3), 2025: date(2025, 8, 15)}


def facts_of(garden: SmallGarden, today: date = TODAY) -> list[Fact]:
    return derive(Scene(garden, LORE, today, "when-ripe", "p"), ["own_ripe"], KINDS).of("own_ripe")


def told(garden: SmallGarden, *names: str, today: date = TODAY) -> Any:
    (fact,) = facts_of(garden, today)
    fields = KINDS["own_ripe"].fields
    assert all(fields[name].fits(value) for name, value in fact.values.items()), fact
    return tuple(fact.get(name) for name in names) if len(names) > 1 else fact.get(names[0])


def orchard(species: str = "peach", ripe: dict[int, date] = RIPE) -> SmallGarden:
    garden = SmallGarden().spot("bed").plant("p", "bed", species)
    for day in ripe.values():
        garden.tell("crop", plant="p", on=day, first_ripe=True)
    return garden


def bloomed(garden: SmallGarden, days: dict[int, str]) -> SmallGarden:
    for year, day in days.items():
        garden.stage("p", f"{year}-{day}", 65)
    return garden


def months(garden: SmallGarden, warmth: dict[int, float]) -> SmallGarden:
    """Tell each year's days from November to July, its May so warm."""
    for year, mean_c in warmth.items():
        for n in range(260):
            day = date(year - 1, 11, 1) + timedelta(days=n)
            mean = mean_c if day.month == 5 else 8.0
            garden.weather(day.isoformat(), mean - 5, mean + 5)
    return garden


def test_the_middle_of_its_own_dates_is_told_with_their_width() -> None:
    """Four years: the date between the middle two, as early as its earliest, a week at least either way."""
    garden = orchard()
    assert told(garden, "years", "likely", "earliest", "latest") == (
        4, date(2026, 8, 4), date(2026, 7, 28), date(2026, 8, 15),
    )  # fmt: skip
    (fact,) = facts_of(garden)
    assert isinstance(fact.origin, Derived)
    rows = [row for below in fact.origin.facts if isinstance(below.origin, Recorded) for row in below.origin.row_ids]
    assert sorted(rows) == [1, 2, 3, 4]


def test_two_years_tell_no_date() -> None:
    """Nor do early figs, nor a picking that was not the first."""
    assert facts_of(orchard(ripe={2024: RIPE[2024], 2025: RIPE[2025]})) == []
    garden = orchard("fig", {2024: RIPE[2024], 2025: RIPE[2025]})
    garden.tell("crop", plant="p", on=date(2023, 7, 1), first_ripe=True, crop="breba")
    garden.tell("crop", plant="p", on=date(2022, 8, 1), fruits=4)
    assert facts_of(garden) == []
    assert told(garden.stage("p", "2021-08-09", 87), "years") == 3


def test_what_is_past_or_picked_is_not_foretold() -> None:
    """On the last day of its range it is told still, a day later no more; nor once the first fruit is ripe."""
    assert len(facts_of(orchard(), date(2026, 8, 15))) == 1
    assert facts_of(orchard(), date(2026, 8, 16)) == []
    assert facts_of(orchard().tell("crop", plant="p", on=date(2026, 6, 30), first_ripe=True)) == []


@pytest.mark.parametrize(
    ("species", "bloom", "shift", "moved"),
    [("peach", "05-13", 12, 4), ("peach", "04-19", -12, -4), ("peach", "05-01", 0, 0), ("apple", "05-13", None, None)],
)
def test_a_third_of_a_shifted_bloom_is_left_at_harvest(
    species: str, bloom: str, shift: int | None, moved: int | None
) -> None:
    """Of stone fruit; of apple no such trial was read, and its date is not moved."""
    years = {2022: "05-01", 2023: "05-03", 2024: "04-28", 2025: "05-01", 2026: bloom}
    garden = bloomed(orchard(species), years)
    found = told(garden, "bloom_shift_days", "moved_days", "likely")
    assert found == (shift, moved, date(2026, 8, 4) + timedelta(days=moved or 0))


def test_without_three_dated_blooms_nothing_is_moved() -> None:
    """Two earlier blooms show no usual one."""
    garden = bloomed(orchard(), {2024: "05-01", 2025: "05-01", 2026: "05-20"})
    assert told(garden, "bloom_shift_days", "likely") == (None, date(2026, 8, 4))


@pytest.mark.parametrize(("may_c", "word", "lean"),
                         [(18.0, "warmer", "early"), (14.0, "as usual", None), (10.0, "cooler", "late")])  # fmt: skip
def test_the_month_after_bloom_is_set_beside_other_years(may_c: float, word: str, lean: str | None) -> None:
    """A May four degrees warmer or cooler than three others leans the date; one like them does not."""
    years = dict.fromkeys((2023, 2024, 2025, 2026), "05-01")
    garden = months(bloomed(orchard(), years), {2023: 14.0, 2024: 14.2, 2025: 13.8, 2026: may_c})
    assert told(garden, "first_month", "lean", today=date(2026, 6, 20)) == (word, lean)


def test_a_month_not_yet_out_says_nothing() -> None:
    """Twenty days after bloom there is no month to weigh; nor where only two earlier years have weather."""
    years = dict.fromkeys((2023, 2024, 2025, 2026), "05-01")
    warmth = {2023: 14.0, 2024: 14.2, 2025: 13.8, 2026: 18.0}
    assert told(months(bloomed(orchard(), years), warmth), "first_month", today=date(2026, 5, 21)) is None
    few = {year: warmth[year] for year in (2024, 2025, 2026)}
    assert told(months(bloomed(orchard(), years), few), "first_month", today=date(2026, 6, 20)) is None
