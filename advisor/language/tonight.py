"""What a person with an hour before dark is told of the night: how cold, who is at risk, and what to do in which order.

What is surely at risk comes before what may be, and what is quick before what takes long; what stands the night is
named once and left alone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import groupby

from advisor.answers import Answer, Conclusion
from advisor.facts import Fact
from advisor.language.render import Speech, listed, sentence_case
from advisor.language.sentences import Draft, footing, tell

HOUR_MINUTES = 60
MOST_TOLD, MOST_NAMED = 6, 8
"""Plants at risk that are told in full, and names in a list."""
STANDS = ("stands-the-night", "closed-buds-stand-it")
WIND = "cloth-will-not-help"
UNKNOWN = "what-it-stands-is-not-known"
BRIEFLY: Mapping[str, str] = {
    "pot-under-a-roof": "carry in",
    "cover-to-the-ground": "cover",
    "wrap-the-tub": "wrap",
    "fleece-under-glass": "lay fleece over",
    "look-tonight": "look at",
}
"""A task in a word or two, for the head of the reply and for what no longer fits in."""
NOTHING_NEW = ("not known", "less than a tenth")
"""Shares of buds killed that a line says already."""


def frost_tonight(answer: Answer, speech: Speech) -> Draft:
    """Tell the night's low and who is at risk; then each plant's case, what to do in an hour, and who is left alone."""
    risks = _at_risk(answer)
    lows = [one for one in answer.conclusions if one.kind == "expect"]
    findings = [one for one in answer.conclusions if one.kind == "finding"]
    if not (risks or lows or findings):
        return Draft(answer.not_known)
    stands = [one for one in findings if one.claim in STANDS]
    rest = [one for one in findings if one.claim not in (*STANDS, WIND)]
    wind = [one for one in findings if one.claim == WIND]
    unknown = [one for one in rest if one.claim == UNKNOWN and _asked_of_one(answer) and not (risks or stands)]
    rest = [one for one in rest if one not in unknown]
    fits, left = _hour_of(_in_order(answer, risks))
    head = _head(answer, risks, lows, stands or unknown, (fits, left), wind, speech)
    body = [_case(one, speech) for one in risks[:MOST_TOLD]] if len(risks) > 1 or not _asked_of_one(answer) else []
    body += [tell(_low_to_tell(answer, lows), speech)] if unknown and lows else []
    body += [f"Likewise: {_names(risks[MOST_TOLD:], speech)}."] if risks[MOST_TOLD:] else []
    body += [rest_of for one in wind[:1] if (rest_of := _parted(one, speech)[1])]
    body += _hour(fits, left, speech)
    body += [_alone(stands, speech)] if stands and (risks or not _asked_of_one(answer)) else []
    body += [tell(group[0], speech) + _likewise(group[1:], speech) for group in _by_claim(rest)]
    if risks or stands:
        lead = (risks or stands)[0]
        body.append(f"How it works: {lead.because[0].how_it_works} ({footing(lead)})")
    return Draft(head, [line for line in body if line])


def _asked_of_one(answer: Answer) -> bool:
    return bool(answer.about.get("plant"))


# ---- who is at risk


def _at_risk(answer: Answer) -> list[Conclusion]:
    """Return one warning for each plant, the surest and then the coldest for its stage first."""
    best: dict[str, Conclusion] = {}
    warnings = [one for one in answer.conclusions if one.kind == "warning"]
    for one in sorted(warnings, key=_urgency):
        best.setdefault(_subject(one), one)
    return list(best.values())


def _urgency(one: Conclusion) -> tuple[bool, float, str]:
    return (one.grade != "likely", -_beyond_k(one), _subject(one))


def _beyond_k(one: Conclusion) -> float:
    """Return by how much the night is expected to be colder than what the plant stands; nought where not known."""
    risk = _risk(one)
    expected, hurts = (risk.number("expected_c"), risk.number("hurts_at_c")) if risk else (None, None)
    return hurts - expected if expected is not None and hurts is not None else 0.0


def _risk(one: Conclusion) -> Fact | None:
    for fact in one.because[0].facts:  # asked of each conclusion of a garden, so without a generator
        if fact.kind == "frost_risk":
            return fact
    return None


def _subject(one: Conclusion) -> str:
    return one.about.get("plant") or one.about.get("spot") or ""


def _case(one: Conclusion, speech: Speech) -> str:
    """Return a plant's case, with the share of its buds that such a night kills where that is more than a tenth."""
    risk = _risk(one)
    killed = risk.text("killed") if risk else ""
    share = f" Of its flower buds {killed} would die." if killed and killed not in NOTHING_NEW else ""
    return tell(one, speech) + share


def _names(ones: Sequence[Conclusion], speech: Speech) -> str:
    names = list(dict.fromkeys(speech.name(_subject(one)) for one in ones))
    more = len(names) - MOST_NAMED
    return listed(names[:MOST_NAMED] + ([f"{more} more"] if more > 0 else []))


# ---- the head


def _head(
    answer: Answer,
    risks: Sequence[Conclusion],
    lows: Sequence[Conclusion],
    stands: Sequence[Conclusion],
    hour: tuple[Sequence[Conclusion], Sequence[Conclusion]],
    wind: Sequence[Conclusion],
    speech: Speech,
) -> str:
    """Tell the low, and who is in danger by what to do about it; those for whom nothing is to be done by name alone."""
    alone = _asked_of_one(answer) and len(risks) <= 1 and bool(risks or stands)
    if alone:
        said = [_case((*risks, *stands)[0], speech)]
    else:
        said = [tell(_low_to_tell(answer, lows), speech)] if lows else []
        if not risks and stands:
            said.append(f"{sentence_case(_names(stands, speech))} should stand it.")
        elif not risks:
            said.append("What it does to your plants I cannot judge.")
    said += [_parted(one, speech)[0] for one in wind[:1]]
    fits, left = hour
    likely = _likely(risks)
    seen_to = {plant for one in (*fits, *left) for plant in _for(one)}
    for sure, danger in ((True, "In danger"), (False, "Perhaps in danger")):
        plan = [one for one in fits if _is_sure(one, likely) is sure]
        if plan:
            before = "First" if alone else f"{danger}, so {'first' if plan[0] is fits[0] else 'next'}:"
            said.append(f"{before} {', then '.join(_brief(group, speech) for group in _grouped(plan))}.")
        bare = [one for one in risks if (one.grade == "likely") is sure and _subject(one) not in seen_to]
        if bare and not alone:
            said.append(f"{danger}{' too' if plan else ''}: {_names(bare, speech)}.")
    if left:
        said.append(f"The hour is too short to {_briefly(left, speech)} as well.")
    return " ".join(said)


def _parted(one: Conclusion, speech: Speech) -> tuple[str, str]:
    """Return the first sentence of a conclusion for the head, and the others."""
    first, _, others = tell(one, speech).partition(". ")
    return f"{first.rstrip('.')}.", others


def _low_to_tell(answer: Answer, lows: Sequence[Conclusion]) -> Conclusion:
    """Return the low of the one spot that was asked about, else the station's."""
    spots = answer.about.get("spots", ())
    there = [one for one in lows if len(spots) == 1 and one.about.get("spot") in spots]
    return (there or [one for one in lows if not one.about.get("spot")] or list(lows))[0]


def _grouped(plan: Sequence[Conclusion]) -> list[list[Conclusion]]:
    return [list(group) for _, group in groupby(plan, key=lambda one: one.claim)]


def _brief(group: Sequence[Conclusion], speech: Speech) -> str:
    return f"{BRIEFLY.get(group[0].claim, group[0].claim.replace('-', ' '))} {_names(group, speech)}"


def _briefly(plan: Sequence[Conclusion], speech: Speech) -> str:
    return listed([_brief(group, speech) for group in _grouped(plan)])


# ---- the hour


def _in_order(answer: Answer, risks: Sequence[Conclusion]) -> list[Conclusion]:
    """Return the tasks of the evening: for what is surely at risk first, then what is quick, then the coldest."""
    place, likely = {_subject(one): n for n, one in enumerate(risks)}, _likely(risks)

    def key(one: Conclusion) -> tuple[bool, int, int]:
        plants = _for(one)
        coldest = min((place.get(plant, len(risks)) for plant in plants), default=len(risks))
        return likely.isdisjoint(plants), one.minutes, coldest

    return sorted((one for one in answer.conclusions if one.kind == "task"), key=key)


def _for(task: Conclusion) -> set[str]:
    """Return the plants for whose sake a task is: those warned of, of which one may be a limb of the task's tree."""
    warned = {fact.text("plant") for entry in task.because for fact in entry.facts if fact.kind == "warning"}
    return warned or {_subject(task)}


def _is_sure(task: Conclusion, likely: Collection[str]) -> bool:
    return not _for(task).isdisjoint(likely)


def _likely(risks: Sequence[Conclusion]) -> set[str]:
    """Return the plants that are surely at risk."""
    return {_subject(one) for one in risks if one.grade == "likely"}


def _hour_of(plan: Sequence[Conclusion]) -> tuple[list[Conclusion], list[Conclusion]]:
    """Return as many tasks of a plan as an hour holds, and those that no longer fit in."""
    fits: list[Conclusion] = []
    left: list[Conclusion] = []
    used = 0
    for one in plan:
        fitting = used + one.minutes <= HOUR_MINUTES
        (fits if fitting else left).append(one)
        used += one.minutes if fitting else 0
    return fits, left


def _hour(fits: Sequence[Conclusion], left: Sequence[Conclusion], speech: Speech) -> Iterator[str]:
    """Yield the tasks in order with their minutes, and what does not fit in."""
    if len(fits) == 1 and not left:
        yield f"What to do: {tell(fits[0], speech)} ({fits[0].minutes} minutes)"
        return
    if fits:
        yield "In one hour, in this order:"
    for number, group in enumerate(_grouped(fits), start=1):
        each = " each" if len(group) > 1 else ""
        yield f"{number}. {tell(group[0], speech)}{_likewise(group[1:], speech)} ({group[0].minutes} minutes{each})"
    used = sum(one.minutes for one in fits)
    if left:
        yield f"That is {used} minutes. What no longer fits into the hour: {_briefly(left, speech)}."
    elif fits:
        yield f"That is {used} minutes in all."


def _likewise(others: Sequence[Conclusion], speech: Speech) -> str:
    return f" The same for {_names(others, speech)}." if others else ""


# ---- what is left alone, and the rest


def _alone(stands: Sequence[Conclusion], speech: Speech) -> str:
    told = [_standing(one, speech) for one in stands[:MOST_TOLD]]
    more = len(stands) - MOST_TOLD
    return f"Leave alone: {listed(told + ([f'{more} more'] if more > 0 else []))}."


def _standing(one: Conclusion, speech: Speech) -> str:
    risk = _risk(one)
    stage = risk.text("stage") if risk else ""
    name = speech.name(_subject(one))
    hurts = risk.number("hurts_at_c") if risk else None
    if not stage:
        return name
    return f"{name} ({stage}, harm from {speech.number(hurts, 'c')})" if hurts is not None else f"{name} ({stage})"


def _by_claim(findings: Sequence[Conclusion]) -> list[list[Conclusion]]:
    groups: dict[str, list[Conclusion]] = {}
    for one in findings:
        groups.setdefault(one.claim, []).append(one)
    return list(groups.values())
