"""An answer into the reply that is sent: full text, a short one for a text message, and all of it as data.

The answer comes first, then one reason; what was not known and what one more reading would settle come last.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from advisor.answers import Answer, Because, Conclusion, Lacking, Verdict
from advisor.facts import Concluded, Derived, Fact
from advisor.language.as_data import EVERY, because_data, conclusion_data, fact_data, rows_behind
from advisor.language.bounds import MOST_KEPT, MOST_ROWS, MOST_WHOLE, kept_of, left_out
from advisor.language.last_told import LastTold, Listening
from advisor.language.record_rows import kept_rows
from advisor.language.render import REFERENCE, Speech, counted, listed, sentence_case
from advisor.language.text_message import shortened
from advisor.language.writers import draft
from advisor.records.kinds import RECKONED, unit_of

MOST_RECKONED = 2
MOST_DOUBTS = 2
MOST_OWN = 3
MOST_HISTORIES = 2


def answer_reply(answer: Answer, speech: Speech, last: LastTold | None = None) -> dict[str, Any]:
    """Return the reply to a question, without its id; of a very long one the data within bounds, as ``bounds`` says.

    ``last`` is what was told in the last reply to it, and afterwards what is in this one.
    """
    speech = Listening.to(speech, last)
    asks = [_ask(lack, speech) for lack in answer.lacking]
    told = draft(answer, asks, speech)
    parts = [told.head, *told.body]
    if asks and not told.asked:
        parts.append("To know more: " + " ".join(asks))
    parts += _doubts(answer, speech) + _own_rules(answer) + _histories(answer, speech)
    reckoned = _reckoned(answer, speech)
    if reckoned:
        parts.append("The figures: " + " ".join(reckoned))
    cautions = list(dict.fromkeys([*told.cautions, *_cautions(answer)]))
    if cautions:
        parts.append("Mind: " + " ".join(told.cautions or cautions[:2]))
    kept = kept_of(answer.conclusions, speech.heard)
    places, state = kept.places, _told_state(answer)
    behind = [fact for entry in kept.because for fact in entry.facts]
    beside, each = (kept.weighed, MOST_ROWS) if kept.left_reasons else (answer.weighed, EVERY)
    records, left_records = kept_rows(rows_behind([*behind, *state], each))
    weighed, left_weighed = kept_rows(rows_behind(beside, each))
    disputes = answer.disputes[: MOST_KEPT if len(answer.disputes) > MOST_WHOLE else None]
    about = {name: value if isinstance(value, str) else list(value) for name, value in answer.about.items()}
    return {
        "outcome": "answered",
        "reply": "\n".join(parts),
        "short": shortened(told.short or " ".join([told.head, *([] if told.asked else asks[:1])])),
        "question": {"kind": answer.question, **about},
        "conclusions": [conclusion_data(one, places, speech) for one in kept.conclusions],
        "because": [_reason(entry, answer, speech) for entry in kept.because],
        "disputes": [
            {
                "taken": one.taken.claim,
                "left": one.left.claim,
                "about": dict(one.taken.about),
                "rules": [one.taken.because[0].rule, one.left.because[0].rule],
                "why": one.why,
            }
            for one in disputes
        ],
        "state": [fact_data(fact, speech) for fact in state],
        "spots": [_verdict_data(verdict) for verdict in answer.verdicts],
        "records": records,
        "weighed": weighed,
        "recorded": [],
        "lacking": [
            {"kind": lack.kind, "ask": ask, "settles": list(lack.settles), "about": _about(lack)}
            for lack, ask in zip(answer.lacking, asks, strict=True)
        ],
        "cautions": cautions,
        **left_out(
            conclusions=kept.left_conclusions,
            reasons=kept.left_reasons,
            records=left_records,
            weighed=left_weighed,
            disputes=len(answer.disputes) - len(disputes),
        ),
    }


def _reason(entry: Because, answer: Answer, speech: Listening) -> dict[str, Any]:
    history = answer.history.get(entry.rule)
    return speech.reason(entry, history, lambda: because_data(entry, speech, history))


def _verdict_data(verdict: Verdict) -> dict[str, Any]:
    whom = {name: value for name, value in (("species", verdict.species), ("plant", verdict.plant)) if value}
    return {"spot": verdict.spot, "place": verdict.place, "ruled_out": verdict.place == 0, **whom}


def _told_state(answer: Answer) -> Sequence[Fact]:
    """Return the facts with which an answer opens, where its question is told so."""
    return tuple(answer.state.values()) if answer.question == "why-late" else ()


# ---- sentences


def _ask(lack: Lacking, speech: Speech) -> str:
    text = speech.tell(lack.ask)
    others = [speech.name(other) for other in lack.others][:3]
    return f"{text} The same goes for {listed(others)}." if others else text


def _about(lack: Lacking) -> dict[str, Any]:
    """Return of what a reading is asked: spots, plants, and the one field where it is one."""
    made = {"spots": list(lack.spots), "plants": list(lack.plants), "field": lack.field}
    return {name: value for name, value in made.items() if value}


def _leading(answer: Answer) -> list[Conclusion]:
    """Return what the reply leads with: the first conclusion of each kind."""
    lead: dict[str, Conclusion] = {}
    for one in answer.conclusions:
        if one.grade != "ruled out" and one.kind != "doubt":
            lead.setdefault(one.kind, one)
    if answer.verdicts and answer.verdicts[0].points:
        lead["point"] = answer.verdicts[0].points[0]
    return list(lead.values())


def _cautions(answer: Answer) -> list[str]:
    """Return the cautions of what leads, those of a warning first: somebody will act on it at dusk."""
    lead = sorted(_leading(answer), key=lambda one: one.kind != "warning")
    return list(dict.fromkeys(caution for one in lead for caution in one.because[0].cautions))


def _doubts(answer: Answer, speech: Speech) -> list[str]:
    """Say where records disagree and where rules do, and which was taken."""
    spoken_of = {name for one in answer.conclusions if one.kind != "doubt" for name in one.about.values()}
    spoken_of |= {name for name in answer.about.values() if isinstance(name, str)}
    said = [
        f"Your records disagree: {speech.tell(one.because[0].told)}"
        for one in answer.conclusions
        if one.kind == "doubt" and spoken_of & set(one.about.values())
    ][:MOST_DOUBTS]
    for dispute in answer.disputes[:MOST_DOUBTS]:
        left, taken = (_shortly(_with_grade(one, speech)) for one in (dispute.left, dispute.taken))
        said.append(f"Two rules disagree. I took: {taken} I left: {left} The reason: {dispute.why}.")
    return said


def _with_grade(one: Conclusion, speech: Speech) -> str:
    text = speech.tell(one.because[0].told)
    return f"ruled out, {text[:1].lower()}{text[1:]}" if one.grade == "ruled out" else text


def _shortly(text: str) -> str:
    """Return the first sentence: what is left out is named, not told as if it were to be done.

    >>> _shortly("Open the wrap at 3.5 °C. Keep the cloth at hand.")
    'Open the wrap at 3.5 °C.'
    """
    return re.split(r"(?<=[.!?])\s+(?=[A-Z])", text, maxsplit=1)[0]


def _own_rules(answer: Answer) -> list[str]:
    """Say which of the grower's own rules the answer rests on, and where one stands for a rule of ours."""
    told: dict[str, None] = {}
    for one in answer.conclusions:
        for entry in one.because:
            if entry.owner:
                instead = ", in place of mine of that name" if entry.owner == "yours for ours" else ""
                told[f"By your own rule {entry.rule}{instead}: {entry.says}"] = None
    for rule, says in answer.silent:
        told[f"Your own rule {rule} stands in place of mine, which would have spoken here: {says}"] = None
    return list(told)[:MOST_OWN]


def _histories(answer: Answer, speech: Speech) -> list[str]:
    """Say what came of earlier advice of the rules that lead the answer, where records tell; a failure always."""
    said: dict[str, None] = {}
    for one in _leading(answer):
        history = answer.history.get(one.because[0].rule)
        if history is None or not history.held + history.failed:
            continue
        times = f"given {counted(history.given, 'time')}"
        times += f", followed {history.followed}" if one.kind == "task" else ""
        text = (
            f"How the rule {one.because[0].rule} has done here: {times}, held {history.held}, failed {history.failed}"
        )
        if history.last_failed:
            text += f"; it failed on {speech.day(history.last_failed)}, so take it with care"
        said[f"{text}."] = None
    return list(said)[:MOST_HISTORIES]


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
                        said[speech.measured(f"{sentence_case(kind.method)}; {kind.trust}.")] = None
    return list(said)[:MOST_RECKONED]


def _derived_behind(fact: Fact) -> Iterator[Fact]:
    """Yield a derived fact itself, or for a concluded one the derived facts that it was concluded from."""
    if isinstance(fact.origin, Derived):
        yield fact
    elif isinstance(fact.origin, Concluded):
        for below in fact.origin.facts:
            yield from _derived_behind(below)
