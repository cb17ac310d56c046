"""What is told of where a kind of tree belongs: the first spots with their points, those against, those ruled out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from advisor.answers import Answer, Verdict
from advisor.language.render import Speech, listed, sentence_case
from advisor.language.sentences import Draft, footing, tell, with_article

MOST_SPOTS = 3


def where_to_plant(answer: Answer, speech: Speech) -> Draft:
    called = speech.called.get(answer.subject, answer.subject)
    open_spots = [v for v in answer.verdicts if v.place]
    barred = [v for v in answer.verdicts if not v.place]
    if not answer.verdicts:
        return Draft(f"No spot is recorded well enough to weigh for {with_article(called)}.")
    body: list[str] = []
    if open_spots:
        best = [v for v in open_spots if v.place == open_spots[0].place]
        rest = [v for v in open_spots if v.place != open_spots[0].place]
        names = listed([speech.name(v.spot) for v in best])
        first = _set_apart(best[0], rest)
        poor = all(any(p.side == "against" and p.grade == "strong" for p in v.points) for v in best)
        if poor:
            drawbacks = " ".join(_points(verdict, "against", 2, speech) for verdict in best[:MOST_SPOTS])
            head = f"For {with_article(called)} no spot recorded is good; the least bad: {names}. {drawbacks}"
            gain = _points(first, "for", 2, speech)
            body += [f"For {speech.name(first.spot)}: {gain}"] if gain and len(best) == 1 else []
        else:
            head = f"For {with_article(called)}: {names} first. {_points(first, 'for', 2, speech)}"
            if len(best) > 1:
                each = "; ".join(_brief(verdict, speech) for verdict in best[:MOST_SPOTS])
                head = f"For {with_article(called)}: {names} weigh the same. {sentence_case(each)}."
            body.append(_mechanism(first))
            for verdict in best[:3]:
                drawback = _points(verdict, "against", 1, speech)
                if drawback:
                    body.append(f"Against {speech.name(verdict.spot)}: {drawback}")
        if rest:
            body.append("Then: " + "; ".join(_brief(v, speech) for v in rest[:MOST_SPOTS]) + ".")
        worst = [v for v in rest[MOST_SPOTS:] if v.score < 0][-2:]
        body += [f"Rather not {speech.name(v.spot)}: {_points(v, 'against', 2, speech)}" for v in worst]
    else:
        head = f"For {with_article(called)} every spot recorded is ruled out."
    for verdict in barred[:MOST_SPOTS]:
        body.append(f"Not {speech.name(verdict.spot)}: {_points(verdict, '', 1, speech)}")
    if others := barred[MOST_SPOTS:]:
        body.append(f"Nor {listed([_barred(verdict, speech) for verdict in others])}.")
    findings = [one for one in answer.conclusions if one.kind == "finding"]
    body += list(dict.fromkeys(tell(one, speech) for one in findings))[:2]
    return Draft(head, [line for line in body if line])


def _set_apart(verdict: Verdict, rest: Sequence[Verdict]) -> Verdict:
    """Return a spot with its points in the order of telling: the weightiest, then what the next spot has not."""
    nexts = {(one.claim, one.grade) for one in rest[0].points} if rest else set()
    gains = [one for one in verdict.points if one.side == "for"]
    sizes = list(dict.fromkeys(one.grade for one in gains))
    gains.sort(key=lambda one: (sizes.index(one.grade), (one.claim, one.grade) in nexts))
    gains[1:] = sorted(gains[1:], key=lambda one: (one.claim, one.grade) in nexts)
    return replace(verdict, points=(*gains, *(one for one in verdict.points if one.side != "for")))


def _barred(verdict: Verdict, speech: Speech) -> str:
    why = next(one.claim for one in verdict.points if one.kind == "bar")
    return f"{speech.name(verdict.spot)} ({why.replace('-', ' ')})"


def _points(verdict: Verdict, side: str, most: int, speech: Speech) -> str:
    points = [p for p in verdict.points if p.side == side and (p.kind == "bar") == (side == "")]
    told = [tell(point, speech) for point in points[:most]]
    name = sentence_case(speech.name(verdict.spot))
    return " ".join(told[:1] + [re.sub(rf"^{re.escape(name)}\b", "It", text) for text in told[1:]])


def _brief(verdict: Verdict, speech: Speech) -> str:
    sides = [
        f"{side} it: {listed([one.claim.replace('-', ' ') for one in verdict.points if one.side == side])}"
        for side in ("for", "against")
        if any(one.side == side for one in verdict.points)
    ]
    return f"{speech.name(verdict.spot)} ({'; '.join(sides) or 'nothing for or against it is known'})"


def _mechanism(verdict: Verdict) -> str:
    points = [point for point in verdict.points if point.side == "for"]
    return f"How it works: {points[0].because[0].how_it_works} ({footing(points[0])})" if points else ""
