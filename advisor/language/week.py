"""The week's list: what to do, by which day and why, what would cost most to miss first, as much as one can do."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from advisor.answers import LOSSES, Answer, Conclusion
from advisor.facts import Fact
from advisor.language.render import Speech, listed, sentence_case

MOST_LINES = 7
MOST_TODAY_MINUTES = 120
"""What one person gets done beside other work (house judgement)."""
IN_PASSING_MINUTES = 10
"""A line that takes no longer is done in passing, and goes on the list however full the day is (house judgement)."""
MOST_IN_SHORT = 3
MOST_NAMES = 3
MOST_KEPT_IN_MIND = 2
MOST_CAUTIONS = 4
ROUNDED_MINUTES = 5
SUNSET = " before sunset"
SAID_BY_THE_DAY = (SUNSET, " today", " tonight", " tomorrow")
"""What a task need not say where its line begins with it."""
OF_THE_NIGHT = frozenset({"night_low", "forecast_low", "frost_risk", "pot_cold", "night_outside"})
"""Kinds of fact that speak of the night to come: what rests on them wants doing before sunset."""
NIGHT_LOSS = "growth"
"""What a warning for the night weighs that no task goes with (house judgement)."""


@dataclass(frozen=True)
class Item:
    """One line of the list: a task, or a warning for the night, for one or more plants; ``reason`` is a task's warning
    in words.
    """

    ones: tuple[Conclusion, ...]
    reason: str = ""

    @property
    def first(self) -> Conclusion:
        return self.ones[0]

    @property
    def within_days(self) -> int:
        return self.first.within_days if self.first.kind == "task" else 0

    @property
    def cost(self) -> tuple[int, int]:
        return min(LOSSES.index(one.loss or NIGHT_LOSS) for one in self.ones), self.within_days

    @property
    def minutes_today(self) -> int:
        return sum(one.minutes for one in self.ones) if self.within_days <= 0 else 0


@dataclass(frozen=True)
class Week:
    """The list in words: its first line, the lines after it, the text message, and what to mind."""

    head: str
    body: tuple[str, ...] = ()
    short: str = ""
    cautions: tuple[str, ...] = ()


def week_of(answer: Answer, speech: Speech) -> Week | None:
    """Return the list that an answer's tasks and warnings make, None where there are none."""
    tasks = [one for one in answer.conclusions if one.kind == "task"]
    warnings = [one for one in answer.conclusions if one.kind == "warning"]
    tonight = {_subject(one) for one in tasks if _of_the_night(one)}
    nightly = [one for one in warnings if _of_the_night(one) and _subject(one) not in tonight]
    items = sorted([*_items(tasks, warnings, speech), *_items(nightly, (), speech)], key=lambda item: item.cost)
    told, left = _what_one_can_do(items)
    mind = _kept_in_mind([one for one in warnings if not _of_the_night(one)], speech)
    if not told:
        return Week(mind[0], tuple(mind[1:]), mind[0], _cautions(warnings)) if mind else None
    lines = [_line(item, speech) for item in told]
    if len(lines) == 1:
        head, body = lines[0], []
    else:
        head = "This week's work, what would cost most to miss first:"
        body = [f"{number}. {line}" for number, line in enumerate(lines, start=1)]
    body += [line for line in (_today(told), _left_out(left)) if line]
    return Week(head, (*body, *mind), _short(told, left, speech), _cautions([item.first for item in told]))


# ---- what goes into a line


def _items(ones: Sequence[Conclusion], warnings: Sequence[Conclusion], speech: Speech) -> list[Item]:
    """Return tasks as lines: what one rule asks of several plants on one day in one, with the warning behind it."""
    groups: dict[tuple[str, int, str], list[Conclusion]] = {}
    for one in ones:
        groups.setdefault((one.claim, one.within_days, one.because[0].rule), []).append(one)
    return [Item(tuple(group), _reason(group[0], warnings, speech)) for group in groups.values()]


def _reason(task: Conclusion, warnings: Sequence[Conclusion], speech: Speech) -> str:
    """Return what a task's own warning says, where it was drawn from one: the figures behind it."""
    for fact in task.because[0].facts:
        if fact.kind == "warning":
            for one in warnings:
                if one.claim == fact.text("claim") and _subject(one) == fact.text("plant"):
                    return speech.tell(one.because[0].told)
    return ""


def _of_the_night(one: Conclusion) -> bool:
    """Return whether a warning, or a task for today, is about the night to come."""
    if one.kind == "warning" or one.within_days <= 0:
        for fact in one.because[0].facts:  # asked of each conclusion of a garden, so without a generator
            if _speaks_of_tonight(fact):
                return True
    return False


def _speaks_of_tonight(fact: Fact) -> bool:
    return fact.kind in OF_THE_NIGHT or (fact.kind == "warning" and fact.text("question") == "frost-tonight")


def _subject(one: Conclusion) -> str:
    return one.about.get("plant") or one.about.get("spot") or ""


# ---- how much


def _what_one_can_do(items: Sequence[Item]) -> tuple[list[Item], list[Item]]:
    """Return what goes on the list, and what does not: seven lines at most, and of today's work what two hours hold.

    Of a task for many plants as many are kept as fit. The first is kept however long it takes, and so is what is done
    in passing.
    """
    told: list[Item] = []
    left: list[Item] = []
    minutes = 0
    for item in items:
        kept: list[Conclusion] = []
        if len(told) < MOST_LINES:
            small = item.minutes_today <= IN_PASSING_MINUTES
            for one in item.ones:
                takes = one.minutes if item.within_days <= 0 else 0
                if minutes + takes <= MOST_TODAY_MINUTES or not minutes or small:
                    kept.append(one)
                    minutes += takes
        taken = {id(one) for one in kept}
        rest = tuple(one for one in item.ones if id(one) not in taken)
        if kept:
            told.append(replace(item, ones=tuple(kept)))
        if rest:
            left.append(replace(item, ones=rest))
    return told, left


# ---- in words


def _line(item: Item, speech: Speech) -> str:
    text = speech.tell(item.first.because[0].told)
    day = _day(item, speech)
    for said in (word for word in SAID_BY_THE_DAY if word.strip() in day.casefold()):
        text = text.replace(said, "", 1)
    name = _subject(item.first)
    if name and speech.name(name).casefold() not in text.casefold():
        text = f"{sentence_case(speech.name(name))}: {text}"
    perhaps = ", perhaps" if item.first.kind == "task" and item.first.grade in ("possible", "weak") else ""
    parts = [f"{day}{perhaps}: {text}", item.reason]
    others = [speech.name(_subject(one)) for one in item.ones[1:]]
    if others:
        parts.append(f"The same for {listed(others)}.")
    return " ".join(part for part in parts if part)


def _day(item: Item, speech: Speech) -> str:
    """Return when a line wants doing, as one says it."""
    if item.within_days <= 0:
        if item.first.kind == "warning":
            return "Tonight"
        return f"Today{SUNSET}" if _of_the_night(item.first) else "Today"
    if item.within_days == 1:
        return "By tomorrow"
    day = speech.today + timedelta(days=item.within_days)
    comma = "," if speech.units == "us" else ""
    return f"By {day:%A}{comma} {speech.day(day)}"


def _today(told: Sequence[Item]) -> str:
    minutes = sum(item.minutes_today for item in told)
    return f"For today that makes about {_span(minutes)}." if minutes and len(told) > 1 else ""


def _span(minutes: int) -> str:
    """Return minutes as one says them, in steps of five.

    >>> _span(3), _span(58), _span(62), _span(135)
    ('5 minutes', '1 hour', '1 hour', '2 hours 15 minutes')
    """
    rounded = max(ROUNDED_MINUTES, round(minutes / ROUNDED_MINUTES) * ROUNDED_MINUTES)
    hours, rest = divmod(rounded, 60)
    parts = [f"{hours} hour{'s' if hours > 1 else ''}"] if hours else []
    return " ".join([*parts, *([f"{rest} minutes"] if rest else [])])


def _left_out(left: Sequence[Item]) -> str:
    """Count and name in one sentence what is more than one person gets done."""
    if not left:
        return ""
    count = sum(len(item.ones) for item in left)
    named = "; ".join(f"{_words(item)} ({_names(item, len(item.ones))})" for item in left)
    return f"Left out, as more than one person gets done: {count} task{'s' if count > 1 else ''}: {named}."


def _kept_in_mind(warnings: Sequence[Conclusion], speech: Speech) -> list[str]:
    """Return warnings that are not of the night, each claim once with the names of all it is about."""
    said = []
    for item in _items(warnings, (), speech)[:MOST_KEPT_IN_MIND]:
        others = [speech.name(_subject(one)) for one in item.ones[1:]]
        more = f" The same for {listed(others)}." if others else ""
        said.append(f"Keep in mind: {speech.tell(item.first.because[0].told)}{more}")
    return said


def _cautions(ones: Sequence[Conclusion]) -> tuple[str, ...]:
    """Return the first caution of each line, then the second ones: whoever does the work reads them before it."""
    ranks = range(max((len(one.because[0].cautions) for one in ones), default=0))
    each = [
        one.because[0].cautions[rank] for rank in ranks for one in ones if rank < len(one.because[0].cautions)
    ]  # fmt: skip
    return tuple(dict.fromkeys(each))[:MOST_CAUTIONS]


def _short(told: Sequence[Item], left: Sequence[Item], speech: Speech) -> str:
    """Return the first lines as a text message tells them: the day, the task in its own few words, the names."""
    said = [f"{_day(item, speech)}: {_words(item)} ({_names(item, MOST_NAMES)})." for item in told[:MOST_IN_SHORT]]
    more = len(told) - len(said) + len(left)
    return " ".join([*said, *([f"And {more} more."] if more else [])])


def _words(item: Item) -> str:
    return item.first.claim.replace("-", " ")


def _names(item: Item, most: int) -> str:
    """Return the names of a line without their article, the first ones where there are many."""
    names = [_subject(one).removeprefix("the ") for one in item.ones]
    return ", ".join(names[:most]) + (f" and {len(names) - most} more" if len(names) > most else "")
