"""The week's list in words: its order, its days, how much goes on it, and its text message. All names are invented."""

from __future__ import annotations

from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.answers import LOSSES, Answer, Because, Conclusion, Told
from advisor.facts import Derived, Fact
from advisor.language.render import Speech
from advisor.language.text_message import segments, shortened
from advisor.language.week import MOST_CAUTIONS, MOST_LINES, MOST_TODAY_MINUTES, Week, week_of

TODAY = date(2026, 4, 28)
PLANTS = [f"{name} {kind}" for kind in ("fig", "pear") for name in ("old", "lane", "gate", "yard", "hill")]


def speech(units: str = "metric") -> Speech:
    return Speech(units, ZoneInfo("Europe/Vienna"), TODAY, {}, frozenset(PLANTS))


def fact(kind: str, **values: Any) -> Fact:
    return Fact.of(kind, values, Derived("given", ()))


def concluded(
    kind: str,
    claim: str,
    plant: str,
    tell: str,
    facts: tuple[Fact, ...] = (),
    cautions: tuple[str, ...] = (),
    **more: Any,
) -> Conclusion:
    bound = {"it": fact("standing", plant=plant)}
    told = Told(tell, bound)
    because = Because(
        "a-rule", "So it is.", "So it works.", "usual-practice", (), cautions, told, (bound["it"], *facts)
    )
    return Conclusion(kind, {"plant": plant}, claim, "usual-practice", "known", (because,), **more)


def task(
    claim: str, plant: str = "old fig", days: int = 3, loss: str = "growth", minutes: int = 10, **more: Any
) -> Conclusion:
    tell = more.pop("tell", f"{claim.replace('-', ' ').capitalize()} {{it.plant}}, for it is time.")
    return concluded("task", claim, plant, tell, within_days=days, loss=loss, minutes=minutes, **more)


def week(*ones: Conclusion, units: str = "metric") -> Week:
    ranked = sorted(ones, key=lambda one: (one.kind != "task", LOSSES.index(one.loss), one.within_days))
    made = week_of(Answer("what-next", "", tuple(ranked)), speech(units))
    assert made is not None
    return made


def lines(made: Week) -> list[str]:
    return [line for line in made.body if line[:1].isdigit()]


# ---- order and day


def test_the_costliest_to_miss_comes_first() -> None:
    """A tree before a crop, a crop before growth, a reading last, whatever their days; then the nearer day."""
    made = week(task("look-again", days=0, loss="knowledge"), task("drain", days=6, loss="tree"),
                task("feed", days=2), task("soak", days=1), task("thin", days=5, loss="crop"))  # fmt: skip
    assert [line.split(": ")[1].split(" the ")[0] for line in lines(made)] == [
        "Drain", "Thin", "Soak", "Feed", "Look again",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("days", "units", "said"),
    [(0, "metric", "Today: "), (1, "metric", "By tomorrow: "), (2, "metric", "By Thursday 30 April: "),
     (2, "us", "By Thursday, April 30: "), (9, "metric", "By Thursday 7 May: ")],
)  # fmt: skip
def test_the_day_is_told_as_one_says_it(days: int, units: str, said: str) -> None:
    """A single task is told without a number, its day first."""
    assert week(task("soak", days=days), units=units).head == f"{said}Soak the old fig, for it is time."


def test_what_the_night_asks_for_is_due_before_sunset() -> None:
    """Told once, and the warning behind the task gives its reason."""
    warned = fact("warning", question="frost-tonight", claim="frost", plant="old fig")
    cover = concluded("task", "cover", "old fig", "Cover {it.plant} before sunset.", (warned,), within_days=0,
                      loss="crop", minutes=15)  # fmt: skip
    danger = concluded("warning", "frost", "old fig", "{it.plant} is in danger tonight.", (fact("frost_risk"),))
    made = week(danger, cover)
    assert made.head == "Today before sunset: Cover the old fig. The old fig is in danger tonight."
    assert made.short == "Today before sunset: cover (old fig)."


def test_a_warning_of_the_night_without_a_task_has_a_line_of_its_own() -> None:
    """It stands where weeks of growth stand; a warning for another plant's night is not dropped."""
    low = (fact("forecast_low"),)
    made = week(concluded("warning", "keep-in", "yard fig", "Keep {it.plant} in.", low), task("drain", loss="tree"),
                concluded("warning", "keep-in", "lane fig", "Keep {it.plant} in.", low), task("look", loss="knowledge"))  # fmt: skip
    assert [line[3:].split(":")[0] for line in lines(made)] == ["By Friday 1 May", "Tonight", "By Friday 1 May"]
    assert "Keep the yard fig in. The same for the lane fig." in lines(made)[1]


def test_a_warning_that_is_not_of_the_night_is_kept_in_mind() -> None:
    """After the list; alone it is all there is to say."""
    late = concluded("warning", "late", "old fig", "{it.plant} will be late.")
    assert week(task("soak"), late).body[-1] == "Keep in mind: The old fig will be late."
    assert week(late).head == "Keep in mind: The old fig will be late."


def test_less_than_likely_is_said() -> None:
    """A task that a record would have to confirm is only perhaps one."""
    assert week(task("soak", days=1, grade="possible")).head.startswith("By tomorrow, perhaps: ")
    assert week(task("soak", days=1, grade="likely")).head.startswith("By tomorrow: ")


def test_nothing_to_do_makes_no_list() -> None:
    """Without tasks and warnings there is none."""
    assert week_of(Answer("what-next", "", ()), speech()) is None


# ---- how much


def test_alike_tasks_are_one_line() -> None:
    """One task of one day for three plants is told once; another day is another line."""
    made = week(*(task("soak", plant) for plant in PLANTS[:3]), task("soak", "hill pear", days=5))
    assert len(lines(made)) == 2
    assert lines(made)[0].endswith("The same for the lane fig and the gate fig.")


def test_seven_lines_are_the_most() -> None:
    """The rest is counted and named in one sentence, the least costly ones."""
    made = week(*(task(f"work-{n}", loss="growth") for n in range(8)), task("look", loss="knowledge"))
    assert len(lines(made)) == MOST_LINES
    assert made.body[-1] == (
        "Left out, as more than one person gets done: 2 tasks: work 7 (old fig); look (old fig)."
    )  # fmt: skip


def test_of_many_trees_as_many_are_named_as_two_hours_hold() -> None:
    """Ten covers of a quarter of an hour: eight today, two left out; what is due later takes none of today's time."""
    made = week(*(task("cover", plant, 0, "crop", 15) for plant in PLANTS), task("prune", days=4, minutes=200))
    assert "hill pear" not in lines(made)[0] and "Prune" in lines(made)[1]
    assert "For today that makes about 2 hours." in made.body
    assert made.body[-1].endswith("2 tasks: cover (yard pear, hill pear).")


def test_what_is_done_in_passing_goes_on_a_full_day() -> None:
    """Ten minutes for a line do, eleven do not."""
    covers = [task("cover", plant, 0, "crop", 15) for plant in PLANTS[:8]]
    made = week(*covers, task("carry-in", "hill fig", 0, minutes=5), task("carry-in", "hill pear", 0, minutes=5))
    assert "Carry in the hill fig" in lines(made)[1] and not any(line.startswith("Left out") for line in made.body)
    assert week(*covers, task("carry-in", "hill fig", 0, minutes=11)).body[-1].endswith("1 task: carry in (hill fig).")


def test_a_task_longer_than_a_day_is_told_all_the_same() -> None:
    """The first is never dropped for its length."""
    assert week(task("move-the-bed", days=0, minutes=300)).head.startswith("Today: Move the bed")


@given(
    st.lists(
        st.tuples(st.sampled_from(["a", "b", "c", "d", "e", "f", "g", "h", "i"]), st.sampled_from(PLANTS),
                  st.integers(0, 9), st.sampled_from(LOSSES[:-1]), st.integers(1, 130)),
        min_size=1, max_size=40, unique_by=lambda one: (one[0], one[1]),
    )
)  # fmt: skip
def test_every_task_is_told_or_counted(drawn: list[tuple[str, str, int, str, int]]) -> None:
    """None is lost and none told twice; the list keeps to its lines, its two hours and its text message."""
    made = week(*(task(*one) for one in drawn))
    told = [made.head] if not lines(made) else lines(made)
    listed = sum(1 + line.partition("The same for ")[2].count("the ") for line in told)
    left = next((line for line in made.body if line.startswith("Left out")), "")
    counted = int(left.split(": ")[1].split()[0]) if left else 0
    assert listed + counted == len(drawn) and len(told) <= MOST_LINES
    today = [one for one in drawn if one[2] == 0]
    if sum(one[4] for one in today) <= MOST_TODAY_MINUTES and len({(one[0], one[2]) for one in drawn}) <= MOST_LINES:
        assert not left
    assert segments(shortened(made.short)) <= 2


# ---- the text message, and what to mind


def test_the_text_message_holds_the_first_three() -> None:
    """Each with its day and names, and how many more there are."""
    made = week(task("soak", days=0, loss="tree"), task("thin", "lane pear", loss="crop"), task("feed"),
                task("look-again", loss="knowledge"))  # fmt: skip
    assert made.short == (
        "Today: soak (old fig). By Friday 1 May: thin (lane pear). By Friday 1 May: feed (old fig). And 1 more."
    )
    assert segments(shortened(made.short)) == 1


def test_many_names_are_counted_in_the_text_message() -> None:
    """Three names, then how many more."""
    made = week(*(task("soak", plant, minutes=5) for plant in PLANTS))
    assert made.short == "By Friday 1 May: soak (old fig, lane fig, gate fig and 7 more)."


def test_each_line_brings_its_first_caution() -> None:
    """Before any second one, four at most, none twice."""
    made = week(
        task("soak", loss="tree", cautions=("Heavy.", "Not too much.")),
        task("thin", loss="crop", cautions=("Ladders.", "Not a light crop.")),
        task("feed", cautions=("Heavy.", "By the label.")),
    )
    assert made.cautions == ("Heavy.", "Ladders.", "Not too much.", "Not a light crop.")
    assert len(made.cautions) <= MOST_CAUTIONS
