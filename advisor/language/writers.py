"""What each kind of question is told: the answer first, then its mechanism, the rest in brief, and what to do."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from advisor.answers import Answer, Conclusion
from advisor.facts import Fact, Recorded
from advisor.language.pinch_writer import what_to_pinch
from advisor.language.planting_writer import what_to_plant, wrong_spot
from advisor.language.render import Speech, listed, sentence_case
from advisor.language.sentences import GRADE_WORDS, Draft, footing, graded, lower, tell
from advisor.language.site_writer import where_to_plant
from advisor.language.tonight import frost_tonight
from advisor.language.week import week_of

TELLING_DAYS = 5
"""Fewer days than this lie within the gap between looks and the error of whoever looks (house judgement; observers
differ by days: Liu et al. 2021, Observer inter-calibration for leaf phenology, Journal of Ecology, abstract)."""
MOST_CAUSES = 3
MOST_ALIKE = 3
"""Conclusions of one claim that are told in full; of the rest the names."""
MOST_CLAIMS = 4
MOST_TASKS = 3
LEADS: Mapping[str, tuple[str, ...]] = {
    "when-wake": ("expect", "finding"),
    "when-ripe": ("expect", "warning", "finding"),
    "pots-out": ("warning", "task", "finding"),
    "after-frost": ("warning", "finding", "task"),
}
FIRST: Mapping[str, tuple[str, ...]] = {
    "compare-spots": ("soil-warmer", "soils-level", "soil-warmer-on-a-day-or-two",
                      "read-at-one-time-of-day", "no-fair-pair", "colder-on-clear-nights",
                      "milder-on-clear-nights", "no-night-difference-shown", "sun-reckoned", "sun-counted"),
    "when-wake": ("due-by-its-usual-date", "awake-already", "in-flower-already"),
    "frost-dates": ("last-freeze", "last-freeze-of-spring", "first-freeze-of-autumn"),
    "after-frost": ("crop-will-be-short", "buds-enough", "buds-hardly-enough", "crop-need-not-published",
                    "too-few-buds-to-tell"),
    "pots-out": ("keep-in-tonight", "pot-under-a-roof", "wrap-the-tub", "pots-in", "shade-first", "morning-sun-only",
                 "out-by-steps-in-by-night", "out-by-day-in-by-night", "out-but-for-frost-nights"),
}  # fmt: skip
"""Claims of one kind that a reply tells before others, in this order."""
TRIAL_RESULTS = ("shown", "within-the-error-of-looks", "not-shown", "too-few-a-side")
TRIAL_DOUBTS = ("sides-stand-apart", "sides-unlike", "not-by-lot", "too-few-plants-for-its-readings")
"""What a trial came to, of which the first that stands is told, and what speaks against relying on it."""
MOST_TRIALS = 4
TOGETHER = ("pots-out",)
"""Questions of many plants that want the same: told of the first, with the names of the others."""
WHOLE = ("frost-dates",)
"""Questions that are asked in many ways, of which any finding may be the answer: all are told at the head."""
OF_ALL = ("warmest-soil", "coldest-soil")
OF_TWO = ("soil-warmer", "soils-level", "soil-warmer-on-a-day-or-two", "no-fair-pair")
"""What answers where spots are compared and none is named, and what it makes needless."""
USUAL_LEADS = ("warning", "expect", "finding", "task")
"""Which kinds of conclusion a reply tells, in this order; tasks that do not lead stand under what to do."""


def draft(answer: Answer, asks: Sequence[str], speech: Speech) -> Draft:
    """Return what is told of an answer; ``asks`` are the questions that go with it."""
    if answer.question == "what-to-measure":
        return _what_to_measure(answer, asks)
    return _WRITERS.get(answer.question, _plain)(answer, speech)


# ---- any question


def _plain(answer: Answer, speech: Speech) -> Draft:
    """Tell the leading conclusion, how it works, the rest by claim, and what to do; or what is not known here."""
    leads = LEADS.get(answer.question, USUAL_LEADS)
    told = [one for kind in leads for one in answer.conclusions if one.kind == kind]
    tasks = [one for one in answer.conclusions if one.kind == "task" and "task" not in leads[:-1]]
    told = _once([one for one in told if one not in tasks])
    if not told and tasks:
        told, tasks = tasks, []
    if not told:
        return Draft(answer.not_known or "I cannot answer that from your records.")
    first, *others = _by_claim(answer, told, leads)
    works = f"How it works: {first[0].because[0].how_it_works} ({footing(first[0])})"
    if answer.question in TOGETHER:
        head, *body = [_at_once(group, speech) for group in (first, *others)]
        return Draft(head, [works, *body])
    if answer.question in WHOLE:
        return Draft(" ".join(graded(group[0], speech) for group in (first, *others)), [works])
    head = graded(first[0], speech)
    if first[0].kind == "warning" and len(first) > 1:
        head += f" In the same case: {_names(first[1:], speech)}."
    body = [works, *_likewise(first, speech)]
    for group in others[: MOST_CLAIMS - 1]:
        body += [graded(group[0], speech), *_likewise(group, speech)]
    if tasks:
        body.append("What to do: " + " ".join(_tasks(tasks, speech)))
    return Draft(head, body)


def _by_claim(answer: Answer, told: Sequence[Conclusion], leads: Sequence[str]) -> list[list[Conclusion]]:
    """Return the conclusions in groups of one claim, in the order in which they are told."""
    groups: dict[tuple[str, str, str], list[Conclusion]] = {}
    for one in told:
        groups.setdefault((one.kind, one.claim, one.grade), []).append(one)
    order = FIRST.get(answer.question, ())
    if answer.question == "compare-spots" and not answer.about:
        order = (*OF_ALL, *order)
        if any(claim in OF_ALL for _, claim, _ in groups):
            groups = {key: group for key, group in groups.items() if key[1] not in OF_TWO}
    place = {claim: n for n, claim in enumerate(order)}
    kinds = {kind: n for n, kind in enumerate(leads)}
    keys = sorted(groups, key=lambda key: (kinds.get(key[0], len(leads)), place.get(key[1], len(order))))
    return [groups[key] for key in keys]


def _likewise(group: Sequence[Conclusion], speech: Speech) -> list[str]:
    """Return the others that claim the same: some in full, then the names of the rest, whose figures may differ."""
    lines = [graded(one, speech) for one in group[1:MOST_ALIKE]]
    if group[0].kind == "warning":  # its others are named at the head; only what differs is told again
        words = _but_for_name(group[0], speech)
        lines = [graded(one, speech) for one in group[1:MOST_ALIKE] if _but_for_name(one, speech) != words]
    names = _names(group[MOST_ALIKE:], speech)
    if names and group[0].kind != "warning":
        lines.append(f"I can say as much of {names}; ask by name.")
    return lines


def _but_for_name(one: Conclusion, speech: Speech) -> str:
    name = re.escape(speech.name(_subject(one)))
    return re.sub(name, "*", graded(one, speech), flags=re.IGNORECASE)


def _names(group: Sequence[Conclusion], speech: Speech) -> str:
    names = [speech.name(name) for one in group if (name := _subject(one))]
    return listed(list(dict.fromkeys(names)))


def _subject(one: Conclusion) -> str:
    return one.about.get("plant") or one.about.get("spot") or one.about.get("species") or ""


def _tasks(tasks: Sequence[Conclusion], speech: Speech) -> list[str]:
    """Return what to do, each kind of task once, with the names of all it is for."""
    by_what: dict[str, list[Conclusion]] = {}
    for one in tasks:
        by_what.setdefault(one.claim, []).append(one)
    return [_at_once(group, speech) for group in list(by_what.values())[:MOST_TASKS]]


def _at_once(group: Sequence[Conclusion], speech: Speech) -> str:
    """Return the first of those that claim the same, with the names of the others."""
    names = _names(group[1:], speech)
    return graded(group[0], speech) + (f" The same for {names}." if names else "")


def _once(told: Sequence[Conclusion]) -> list[Conclusion]:
    """Return the conclusions with two soils that were set beside each other told one way round only."""
    seen: set[object] = set()
    kept = []
    for one in told:
        two_soils = any(fact.kind == "soil_contrast" for fact in one.because[0].facts)
        key = (one.claim, frozenset(_rows(one)))
        if not (two_soils and key in seen):
            seen.add(key)
            kept.append(one)
    return kept


def _rows(one: Conclusion) -> set[tuple[str, int]]:
    found: set[tuple[str, int]] = set()
    todo = list(one.because[0].facts)
    while todo:
        fact = todo.pop()
        if isinstance(fact.origin, Recorded):
            found |= {(fact.origin.kind, row) for row in fact.origin.row_ids}
        else:
            todo += fact.origin.facts
    return found


def _what_to_measure(answer: Answer, asks: Sequence[str]) -> Draft:
    if not asks:
        return Draft(answer.not_known)
    more = [f"Next: {ask}" for ask in asks[1:]]
    return Draft(asks[0], more, asked=True)


# ---- why it is late, and where to plant


def _why_late(answer: Answer, speech: Speech) -> Draft:
    causes = [one for one in answer.conclusions if one.kind == "cause"]
    standing = [one for one in causes if one.grade != "ruled out"]
    findings = [one for one in answer.conclusions if one.kind == "finding"]
    head, late = _state(answer, speech)
    body: list[str] = []
    not_late = next((one for one in findings if one.claim == "not-late-yet"), None)
    if not_late is not None:
        findings.remove(not_late)
        head += f" {tell(not_late, speech)}"
    if standing and not_late is None:
        first = standing.pop(0)
        head += f" {GRADE_WORDS[first.grade]}: {lower(tell(first, speech), speech)}"
        body.append(f"Why that would be: {first.because[0].how_it_works} ({footing(first)})")
    elif findings and not_late is None:
        head += f" {tell(findings.pop(0), speech)}"
    elif late and not_late is None:
        head += " Your records point to no cause."
    for place, one in enumerate(standing[: MOST_CAUSES - 1]):
        also = f"Also {GRADE_WORDS[one.grade].lower()}" if place or not not_late else GRADE_WORDS[one.grade]
        body.append(f"{also}: {lower(tell(one, speech), speech)}")
    body += [tell(one, speech) for one in findings[:2]]
    out = [one for one in causes if one.grade == "ruled out"]
    if out:
        body.append("Ruled out: " + " ".join(tell(one, speech) for one in out[:3]))
    tasks = [tell(one, speech) for one in answer.conclusions if one.kind == "task"]
    if tasks:
        body.append("What to do: " + " ".join(tasks[:2]))
    return Draft(head, body)


def _state(answer: Answer, speech: Speech) -> tuple[str, bool]:
    """Say how the plant stands: its last stage, and how late that is; and whether a cause is called for."""
    name = speech.name(answer.subject)
    now, lag = answer.state.get("stage_now"), answer.state.get("stage_lag")
    if now is None:
        return f"I cannot say whether {name} is late: no stage is recorded for it since it went to rest.", False
    text = sentence_case(f"{name} was {'awake' if now.get('awake') else 'still asleep'} on {_on(now, speech)}")
    if lag is None:
        kin = answer.state.get("kin_awake")
        others, awake = (int(kin.number(name) or 0) for name in ("kin", "awake")) if kin else (0, 0)
        if others >= 2 and not now.get("awake"):
            many = "one is" if awake == 1 else f"{awake or 'none'} are"
            return f"{text}. Of {others} others of its kind grown the same way {many} awake.", True
        few = "too few others of its kind, grown the same way, are recorded to say how late that is"
        return f"{text}; {few}." if others < 2 else f"{text}, before most of its kind.", not now.get("awake")
    late = lag.number("late_days") or 0.0
    count = int(lag.number("count") or 0)
    what = "first flower" if lag.text("milestone") == "bloom" else "waking"
    if lag.text("against") == "kin":
        beside = f"the middle one of {count} others of its kind grown the same way"
    else:
        beside = f"its own usual date ({count} earlier years)"
    if late >= 1:
        if lag.get("waiting"):
            return f"{text}, at least {speech.number(late, 'days')} behind {beside}.", True
        behind = f"{text}. Its {what} was {speech.number(late, 'days')} behind {beside}"
        if late < TELLING_DAYS:
            return f"{behind}, no more than looks every few days leave open.", False
        return f"{behind}.", True
    level = "level with" if late > -1 else f"{speech.number(-late, 'days')} ahead of"
    return f"{text}. It is not late: its {what} was {level} {beside}.", False


def _on(fact: Fact, speech: Speech) -> str:
    day = fact.day("on")
    return speech.day(day) if day else "the last look"


def _trial_result(answer: Answer, speech: Speech) -> Draft:
    """Tell each trial's result with what speaks against relying on it, the clearest trial first."""
    findings = [one for one in answer.conclusions if one.kind == "finding"]
    trials: dict[str, dict[str, Conclusion]] = {}
    for one in findings:
        if one.about.get("trial"):
            trials.setdefault(one.about["trial"], {})[one.claim] = one
    order = (*TRIAL_RESULTS, *TRIAL_DOUBTS)
    told = sorted(trials.values(), key=lambda of_one: min(map(order.index, of_one)))
    lines = []
    for of_one in told:
        results = [of_one[claim] for claim in TRIAL_RESULTS if claim in of_one][:1]
        lines.append([*results, *(of_one[claim] for claim in TRIAL_DOUBTS if claim in of_one)])
    if not lines:
        return _plain(answer, speech)
    first, *doubts = lines[0]
    works = f"How it works: {first.because[0].how_it_works} ({footing(first)})"
    body = [*(tell(one, speech) for one in doubts), works]
    body += [" ".join(tell(one, speech) for one in line) for line in lines[1:MOST_TRIALS]]
    if others := [line[0].about["trial"] for line in lines[MOST_TRIALS:]]:
        body.append(f"I can say as much of {listed(others)}; ask by name.")
    body += [tell(one, speech) for one in findings if not one.about.get("trial")][:MOST_ALIKE]
    tasks = [one for one in answer.conclusions if one.kind == "task"]
    if tasks:
        body.append("What to do: " + " ".join(_tasks(tasks, speech)))
    return Draft(tell(first, speech), body)


def _what_next(answer: Answer, speech: Speech) -> Draft:
    week = week_of(answer, speech)
    return Draft(week.head, list(week.body), False, week.short, week.cautions) if week else Draft(answer.not_known)


_WRITERS: Mapping[str, Callable[[Answer, Speech], Draft]] = {
    "frost-tonight": frost_tonight,
    "why-late": _why_late,
    "where-to-plant": where_to_plant,
    "what-to-plant": what_to_plant,
    "wrong-spot": wrong_spot,
    "what-next": _what_next,
    "what-to-pinch": what_to_pinch,
    "trial-result": _trial_result,
}
