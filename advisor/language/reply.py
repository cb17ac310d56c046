"""An answer into the reply that is sent: full text, a short one for a text message, and all of it as data.

The answer comes first, then one reason; what was not known and what one more reading would settle come last.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from advisor.answers import Answer, Conclusion, Lacking, Verdict
from advisor.facts import Concluded, Derived, Fact
from advisor.language.as_data import because_data, conclusion_data, records_behind
from advisor.language.render import REFERENCE, Speech, listed, sentence_case
from advisor.language.text_message import shortened
from advisor.records.kinds import RECKONED, unit_of

GRADE_WORDS = {"likely": "Likely", "possible": "Possible", "weak": "A weak case so far"}
TELLING_DAYS = 5
"""Fewer days than this lie within the gap between looks and the error of whoever looks (house judgement; observers
differ by days: Liu et al. 2021, Observer inter-calibration for leaf phenology, Journal of Ecology, abstract)."""
MOST_CAUSES = 3
MOST_SPOTS = 3
MOST_POINTS = 3
MOST_RECKONED = 2
MOST_RECKONED = 2


def answer_reply(answer: Answer, speech: Speech) -> dict[str, Any]:
    """Return the reply to a question, without its id."""
    writer = _WRITERS[answer.question]
    head, body = writer(answer, speech)
    asks = [_ask(lack, speech) for lack in answer.lacking]
    parts = [head, *body]
    if asks:
        parts.append("To know more: " + " ".join(asks))
    reckoned = _reckoned(answer, speech)
    if reckoned:
        parts.append("The figures: " + " ".join(reckoned))
    cautions = _cautions(answer)
    if cautions:
        parts.append("Mind: " + " ".join(cautions[:2]))
    because = [entry for conclusion in answer.conclusions for entry in conclusion.because]
    places = {id(entry): place for place, entry in enumerate(because)}
    about = {"plant": answer.subject} if answer.question == "why-late" else {"species": answer.subject}
    return {
        "outcome": "answered",
        "reply": "\n".join(parts),
        "short": shortened(" ".join([head, *asks[:1]])),
        "question": {"kind": answer.question, **about},
        "conclusions": [conclusion_data(one, places, speech) for one in answer.conclusions],
        "because": [because_data(entry, speech) for entry in because],
        "spots": [{"spot": v.spot, "place": v.place, "ruled_out": v.place == 0} for v in answer.verdicts],
        "records": records_behind(because),
        "recorded": [],
        "lacking": [
            {"kind": lack.kind, "ask": ask, "settles": list(lack.settles)}
            for lack, ask in zip(answer.lacking, asks, strict=True)
        ],
        "cautions": cautions,
    }


# ---- the two questions


def _why_late(answer: Answer, speech: Speech) -> tuple[str, list[str]]:
    causes = [one for one in answer.conclusions if one.kind == "cause"]
    standing = [one for one in causes if one.grade != "ruled out"]
    findings = [one for one in answer.conclusions if one.kind == "finding"]
    head, late = _state(answer, speech)
    body: list[str] = []
    not_late = next((one for one in findings if one.claim == "not-late-yet"), None)
    if not_late is not None:
        findings.remove(not_late)
        head += f" {_tell(not_late, speech)}"
    if standing and not_late is None:
        first = standing.pop(0)
        head += f" {GRADE_WORDS[first.grade]}: {_lower(_tell(first, speech), speech)}"
        body.append(f"Why that would be: {first.because[0].how_it_works} ({_footing(first)})")
    elif findings and not_late is None:
        head += f" {_tell(findings.pop(0), speech)}"
    elif late and not_late is None:
        head += " Your records point to no cause."
    for place, one in enumerate(standing[: MOST_CAUSES - 1]):
        also = f"Also {GRADE_WORDS[one.grade].lower()}" if place or not not_late else GRADE_WORDS[one.grade]
        body.append(f"{also}: {_lower(_tell(one, speech), speech)}")
    body += [_tell(one, speech) for one in findings[:2]]
    out = [one for one in causes if one.grade == "ruled out"]
    if out:
        body.append("Ruled out: " + " ".join(_tell(one, speech) for one in out[:3]))
    tasks = [_tell(one, speech) for one in answer.conclusions if one.kind == "task"]
    if tasks:
        body.append("What to do: " + " ".join(tasks[:2]))
    return head, body


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
            return f"{text}. Of {others} others of its kind grown the same way {awake or 'none'} are awake.", True
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


def _where_to_plant(answer: Answer, speech: Speech) -> tuple[str, list[str]]:
    called = speech.called.get(answer.subject, answer.subject)
    open_spots = [v for v in answer.verdicts if v.place]
    barred = [v for v in answer.verdicts if not v.place]
    if not answer.verdicts:
        return f"No spot is recorded well enough to weigh for {_a(called)}.", []
    body: list[str] = []
    if open_spots:
        best = [v for v in open_spots if v.place == open_spots[0].place]
        names = listed([speech.name(v.spot) for v in best])
        head = f"For {_a(called)}: {names} first. {_points(best[0], 'for', 2, speech)}"
        if len(best) > 1:
            each = "; ".join(_brief(verdict, speech) for verdict in best[:MOST_SPOTS])
            head = f"For {_a(called)}: {names} weigh the same. {sentence_case(each)}."
        body.append(_mechanism(best[0]))
        for verdict in best[:3]:
            drawback = _points(verdict, "against", 1, speech)
            if drawback:
                body.append(f"Against {speech.name(verdict.spot)}: {drawback}")
        rest = [v for v in open_spots if v.place != open_spots[0].place]
        if rest:
            body.append("Then: " + "; ".join(_brief(v, speech) for v in rest[:MOST_SPOTS]) + ".")
        worst = [v for v in rest[MOST_SPOTS:] if v.score < 0][-2:]
        body += [f"Rather not {speech.name(v.spot)}: {_points(v, 'against', 2, speech)}" for v in worst]
    else:
        head = f"For {_a(called)} every spot recorded is ruled out."
    for verdict in barred[:MOST_SPOTS]:
        body.append(f"Not {speech.name(verdict.spot)}: {_points(verdict, '', 1, speech)}")
    findings = [one for one in answer.conclusions if one.kind == "finding"]
    body += list(dict.fromkeys(_tell(one, speech) for one in findings))[:2]
    return head, [line for line in body if line]


def _points(verdict: Verdict, side: str, most: int, speech: Speech) -> str:
    points = [p for p in verdict.points if p.side == side and (p.kind == "bar") == (side == "")]
    told = [_tell(point, speech) for point in points[:most]]
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
    return f"How it works: {points[0].because[0].how_it_works} ({_footing(points[0])})" if points else ""


_WRITERS = {"why-late": _why_late, "where-to-plant": _where_to_plant}


# ---- sentences


def _tell(one: Conclusion, speech: Speech) -> str:
    return speech.tell(one.because[0].told)


def _lower(text: str, speech: Speech) -> str:
    """Return a sentence to stand after a colon, but for a name of its own."""
    first = text.split(" ", 1)[0]
    proper = any(name.split(" ", 1)[0] == first for name in speech.names)
    return text if proper else text[:1].lower() + text[1:]


def _a(name: str) -> str:
    vowel = name[:1].casefold() in "aeiou" and not name.casefold().startswith("eu")
    return f"an {name}" if vowel else f"a {name}"


def _footing(one: Conclusion) -> str:
    ground = {
        "measured": "measured here",
        "computed": "from your weather record",
        "known": "from what you told me of it",
    }[one.basis]
    strength = {
        "well-supported": "well supported by what was read",
        "usual-practice": "usual practice in the trade",
        "disputed": "disputed, so test it",
    }[one.strength]
    return f"{ground}; {strength}"


def _ask(lack: Lacking, speech: Speech) -> str:
    text = speech.tell(lack.ask)
    others = [speech.name(other) for other in lack.others][:3]
    return f"{text} The same goes for {listed(others)}." if others else text


def _leading(answer: Answer) -> list[Conclusion]:
    """Return what the reply leads with: the first conclusion of each kind."""
    lead: dict[str, Conclusion] = {}
    for one in answer.conclusions:
        if one.grade != "ruled out":
            lead.setdefault(one.kind, one)
    if answer.verdicts and answer.verdicts[0].points:
        lead["point"] = answer.verdicts[0].points[0]
    return list(lead.values())


def _cautions(answer: Answer) -> list[str]:
    return list(dict.fromkeys(caution for one in _leading(answer) for caution in one.because[0].cautions))


def _reckoned(answer: Answer, speech: Speech) -> list[str]:
    """Say how the reckoned figures that the reply leads with came about, and how far to trust them."""
    said: dict[str, None] = {}
    for one in _leading(answer):
        told = one.because[0].told
        for _, block, name in REFERENCE.findall(told.template):
            if block in told.bound and unit_of(name) in RECKONED:
                for fact in _derived_behind(told.bound[block]):
                    kind = speech.kinds[fact.kind]
                    if kind.method:
                        said[f"{sentence_case(kind.method)}; {kind.trust}."] = None
    return list(said)[:MOST_RECKONED]


def _derived_behind(fact: Fact) -> Iterator[Fact]:
    """Yield a derived fact itself, or for a concluded one the derived facts that it was concluded from."""
    if isinstance(fact.origin, Derived):
        yield fact
    elif isinstance(fact.origin, Concluded):
        for below in fact.origin.facts:
            yield from _derived_behind(below)
