"""Which shoots to pinch today, how long the season allows it, which to leave, and when to look again."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from advisor.answers import Answer, Because, Conclusion
from advisor.language.render import Speech, listed
from advisor.language.sentences import GRADE_WORDS, Draft, footing, lower

TO_PINCH = ("pinch-the-shoot", "pinch-side-shoots")
SEASON = ("season-left", "late-to-pinch", "longer-under-a-roof", "heat-enough")
"""Findings that say how long the season is, told in this order before the others."""
MOST_TOLD = 6
"""Sentences of one part that are told in full; of the rest the names of their plants, or how many they are."""
MOST_NAMED = 4
SENTENCE_END = re.compile(r"(?<!\bno)\. (?=[A-Z])")


@dataclass(frozen=True)
class Line:
    """One sentence or two, the plant they speak of, and where they come from."""

    text: str
    plant: str
    one: Conclusion
    because: Because


def what_to_pinch(answer: Answer, speech: Speech) -> Draft:
    """Tell the shoots to stop today, the season, what is left alone and why, and what to look for after."""
    told = answer.conclusions
    pinch = _lines((one for one in told if one.kind == "task" and one.claim in TO_PINCH), speech)
    looks = _lines((one for one in told if one.kind == "task" and one.claim not in TO_PINCH), speech)
    whole = {one.about["plant"]: one for one in reversed(told) if one.kind == "keep_tips"}
    kept = _lines([one for one in told if one in whole.values()] + [o for o in told if o.kind == "keep_tip"], speech)
    places = {claim: place for place, claim in enumerate(SEASON)}
    pinched = {line.plant for line in pinch}
    findings = (one for one in told if one.kind == "finding" and _concerns(one, pinched))
    season = _lines(sorted(findings, key=lambda one: places.get(one.claim, len(places))), speech)
    due = {line.plant for line in looks}
    coming = _lines((one for one in told if one.kind == "expect" and one.about.get("plant") not in due), speech)
    after = [*looks, *coming]
    parts = [part for part in (pinch, kept, after, season) if part]
    if not parts:
        return Draft(answer.not_known)
    first = parts[0][0]
    body = [*_rest_of(pinch, first, speech)]
    body.append(f"How it works: {first.because.how_it_works} ({footing(first.one)})")
    body += _rest_of(season, first, speech)
    body += _rest_of(kept, first, speech)
    again = _rest_of(after, first, speech)
    if again:
        body.append("Then: " + " ".join(again))
    return Draft(first.text, body)


def _concerns(one: Conclusion, pinched: Collection[str]) -> bool:
    """Return whether a finding is worth telling: how long the season is only for what is to be pinched, if anything."""
    return one.claim not in SEASON or not pinched or one.about.get("plant") in pinched


def _lines(conclusions: Iterable[Conclusion], speech: Speech) -> list[Line]:
    """Return what each conclusion says of each thing it rests on, each sentence once.

    Plants of which the same is said share one line; a shoot that is left for two reasons is told of once.
    """
    lines: list[Line] = []
    left: set[tuple[str, tuple[int, str]]] = set()
    alike: dict[str, list[str]] = {}
    seen: dict[str, int] = {}
    for one in conclusions:
        plant = one.about.get("plant", "")
        for because in sorted(one.because, key=_shoot):
            if one.kind == "keep_tip":
                if (plant, _shoot(because)) in left:
                    continue
                left.add((plant, _shoot(because)))
            text = _sentence(one, because, speech)
            name = speech.name(plant) if plant else ""
            key = re.sub(re.escape(name), "*", text, flags=re.IGNORECASE) if name else text
            if key not in seen:
                seen[key] = len(lines)
                lines.append(Line(text, plant, one, because))
            elif name and name not in alike.setdefault(key, []) and lines[seen[key]].plant != plant:
                alike[key].append(name)
    for key, names in alike.items():
        if names:
            line = lines[seen[key]]
            lines[seen[key]] = replace(line, text=f"{line.text} The same for {_some(names)}.")
    return lines


def _some(names: Sequence[str]) -> str:
    """Return names as a list, or the first of many and how many others."""
    if len(names) <= MOST_NAMED:
        return listed(list(names))
    return listed([*names[: MOST_NAMED - 1], f"{len(names) - MOST_NAMED + 1} others"])


def _shoot(because: Because) -> tuple[int, str]:
    """Return the shoot that is spoken of, in the order of their numbers: no. 2 before no. 10."""
    fact = because.told.bound.get("shoot")
    name = fact.text("shoot") if fact else ""
    return len(name), name


def _sentence(one: Conclusion, because: Because, speech: Speech) -> str:
    text = speech.tell(because.told)
    unsure = one.grade == "weak" or because.unknown or one.grade == "possible"
    return f"{GRADE_WORDS['possible']}: {lower(text, speech)}" if one.grade and unsure else text


def _rest_of(lines: Sequence[Line], first: Line, speech: Speech) -> list[str]:
    """Return the lines but the one that leads, without endings told before, and the names of those beyond the most."""
    left = [line for line in lines if line is not first]
    told: list[str] = []
    before = [first.text]
    for line in left[:MOST_TOLD]:
        told.append(_without_end(line.text, before))
        before.append(line.text)
    more = left[MOST_TOLD:]
    spoken_of = {first.plant, *(line.plant for line in left[:MOST_TOLD])}
    names = list(dict.fromkeys(speech.name(line.plant) for line in more if line.plant not in spoken_of))
    if names:
        told.append(f"I can say as much of {_some(names)}; ask by name.")
    elif more:
        told.append(f"And {len(more)} more of the like.")
    return told


def _without_end(text: str, before: Sequence[str]) -> str:
    """Return a text without the sentences at its end with which an earlier one ended as well.

    >>> _without_end("Pinch the one. Nip the tip only.", ["Pinch the other. Nip the tip only."])
    'Pinch the one.'
    """
    for found in SENTENCE_END.finditer(text):
        if any(other.endswith(text[found.start() :]) for other in before):
            return text[: found.start() + 1]
    return text
