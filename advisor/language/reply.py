"""An answer into the reply that is sent: full text, a short one for a text message, and all of it as data.

The answer comes first, then one reason; what was not known and what one more reading would settle come last.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from advisor.answers import Answer, Because, Conclusion, Lacking, Verdict
from advisor.facts import Concluded, Derived, Fact, Recorded, Value
from advisor.language.render import Speech, listed
from advisor.language.text_message import shortened

GRADE_WORDS = {"likely": "Likely", "possible": "Possible", "weak": "A weak case so far"}
MOST_CAUSES = 3
MOST_SPOTS = 3
MOST_POINTS = 3


def answer_reply(answer: Answer, speech: Speech) -> dict[str, Any]:
    """Return the reply to a question, without its id."""
    writer = _WRITERS[answer.question]
    head, body = writer(answer, speech)
    asks = [_ask(lack, speech) for lack in answer.lacking]
    parts = [head, *body]
    if asks:
        parts.append("To know more: " + " ".join(asks))
    cautions = _cautions(answer)
    if cautions:
        parts.append("Mind: " + " ".join(cautions[:2]))
    because = [entry for conclusion in answer.conclusions for entry in conclusion.because]
    about = {"plant": answer.subject} if answer.question == "why-late" else {"species": answer.subject}
    return {
        "outcome": "answered",
        "reply": "\n".join(parts),
        "short": shortened(" ".join([head, *asks[:1]])),
        "question": {"kind": answer.question, **about},
        "conclusions": [_conclusion(one, because, speech) for one in answer.conclusions],
        "because": [_because(entry, speech) for entry in because],
        "spots": [{"spot": v.spot, "place": v.place, "ruled_out": v.place == 0} for v in answer.verdicts],
        "records": _records(because),
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
    head = _state(answer, speech)
    body: list[str] = []
    if standing:
        first = standing[0]
        head += f" {GRADE_WORDS[first.grade]}: {_lower(_tell(first, speech), speech)}"
        body.append(f"Why that would be: {first.because[0].how_it_works} ({_footing(first)})")
        others = [
            f"{GRADE_WORDS[one.grade].lower()}: {_lower(_tell(one, speech), speech)}" for one in standing[1:MOST_CAUSES]
        ]
        if others:
            body.append("Also " + " Also ".join(others))
    elif findings:
        head += f" {_tell(findings[0], speech)}"
        findings = findings[1:]
    else:
        head += " Your records point to no cause."
    body += [_tell(one, speech) for one in findings[:2]]
    out = [one for one in causes if one.grade == "ruled out"]
    if out:
        body.append("Ruled out: " + " ".join(_tell(one, speech) for one in out[:3]))
    tasks = [_tell(one, speech) for one in answer.conclusions if one.kind == "task"]
    if tasks:
        body.append("What to do: " + " ".join(tasks[:2]))
    return head, body


def _state(answer: Answer, speech: Speech) -> str:
    """Say how the plant stands: its last stage, and how late that is."""
    name = speech.name(answer.subject)
    now, lag = answer.state.get("stage_now"), answer.state.get("stage_lag")
    if now is None:
        return f"{name[:1].upper()}{name[1:]}: no stage is recorded for it since it went to rest."
    seen = now.day("on")
    when = speech.day(seen) if seen else "the last look"
    how = "awake" if now.get("awake") else "still asleep"
    text = f"{name[:1].upper()}{name[1:]} was {how} on {when}"
    if lag is None:
        return text + "; there is nothing of its kind, grown the same way, to compare it with."
    late = lag.number("late_days") or 0.0
    count = int(lag.number("count") or 0)
    if lag.text("against") == "kin":
        beside = f"the middle of {count} others of its kind grown the same way"
    else:
        beside = f"its own usual date ({count} earlier years)"
    if late >= 1:
        least = "at least " if lag.get("waiting") else ""
        return f"{text}, {least}{speech.number(late, 'days')} behind {beside}."
    if late <= -1:
        return f"{text}, {speech.number(-late, 'days')} ahead of {beside}."
    return f"{text}, level with {beside}."


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
            head = f"For {_a(called)}: {names} weigh the same. {_points(best[0], 'for', 2, speech)}"
        body.append(_mechanism(best[0]))
        drawback = _points(best[0], "against", 1, speech)
        if drawback:
            body.append(f"Against {speech.name(best[0].spot)}: {drawback}")
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
    return " ".join(_tell(point, speech) for point in points[:most])


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
    return f"an {name}" if name[:1] in "aeiou" else f"a {name}"


def _footing(one: Conclusion) -> str:
    ground = {
        "measured": "measured here",
        "computed": "from your weather record",
        "known": "from what you told me of it",
    }[one.basis]
    strength = {
        "well-supported": "well supported by trials",
        "usual-practice": "usual practice in the trade",
        "disputed": "disputed, so test it",
    }[one.strength]
    return f"{ground}; {strength}"


def _ask(lack: Lacking, speech: Speech) -> str:
    text = speech.tell(lack.ask)
    others = [speech.name(other) for other in lack.others][:3]
    return f"{text} The same goes for {listed(others)}." if others else text


def _cautions(answer: Answer) -> list[str]:
    """Return the cautions of what the reply leads with: the first conclusions of each kind."""
    lead: dict[str, Conclusion] = {}
    for one in answer.conclusions:
        if one.grade != "ruled out":
            lead.setdefault(one.kind, one)
    if answer.verdicts and answer.verdicts[0].points:
        lead["point"] = answer.verdicts[0].points[0]
    every = [caution for one in lead.values() for caution in one.because[0].cautions]
    return list(dict.fromkeys(every))


# ---- as data


def _conclusion(one: Conclusion, because: Sequence[Because], speech: Speech) -> dict[str, Any]:
    made = {
        "kind": one.kind,
        "about": dict(one.about),
        "claim": one.claim,
        "tell": _tell(one, speech),
        "rule": one.because[0].rule,
        "strength": one.strength,
        "basis": one.basis,
        "rank": one.rank,
        "because": [because.index(entry) for entry in one.because],
    }
    if one.grade:
        made["grade" if one.kind == "cause" else "size"] = one.grade
    if one.side:
        made["side"] = one.side
    return made


def _because(entry: Because, speech: Speech) -> dict[str, Any]:
    return {
        "rule": entry.rule,
        "says": entry.says,
        "how_it_works": entry.how_it_works,
        "strength": entry.strength,
        "sources": list(entry.sources),
        "tell": speech.tell(entry.told),
        "from": [_fact(fact) for fact in entry.facts],
        "not_known": list(entry.unknown),
    }


def _fact(fact: Fact) -> dict[str, Any]:
    made: dict[str, Any] = {"fact": {"kind": fact.kind, **{name: plain(value) for name, value in fact.values.items()}}}
    match fact.origin:
        case Recorded(kind, row_ids):
            made |= {"origin": "recorded", "record": f"{kind}/{spans(row_ids)}"}
        case Derived(function, facts):
            made |= {"origin": "derived", "by": function, "from": [_fact(below) for below in facts]}
        case Concluded(rule, facts):
            made |= {"origin": "concluded", "rule": rule, "from": [_fact(below) for below in facts]}
    return made


def plain(value: Value) -> str | bool | int | float:
    """Return a value as JSON has it: dates and times as ISO 8601."""
    return value if isinstance(value, str | bool | int | float) else value.isoformat()


def spans(ids: Iterable[int]) -> str:
    """Return row numbers as spans.

    >>> spans([3, 4, 5, 9])
    '3-5,9'
    """
    runs: list[list[int]] = []
    for row in sorted(ids):
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return ",".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)


def _records(because: Iterable[Because]) -> list[dict[str, Any]]:
    """Return every recorded row that the answer rests on; a long run of days as its first and last."""
    found: dict[str, set[int]] = {}
    for entry in because:
        for fact in entry.facts:
            _collect(fact, found)
    records: list[dict[str, Any]] = []
    for kind in sorted(found):
        for span in spans(found[kind]).split(","):
            first, _, last = span.partition("-")
            if last and int(last) - int(first) >= 9:
                records.append({"kind": kind, "id": int(first), "to": int(last)})
            else:
                records += [{"kind": kind, "id": row} for row in range(int(first), int(last or first) + 1)]
    return records


def _collect(fact: Fact, found: dict[str, set[int]]) -> None:
    if isinstance(fact.origin, Recorded):
        found.setdefault(fact.origin.kind, set()).update(fact.origin.row_ids)
    else:
        for below in fact.origin.facts:
            _collect(below, found)
