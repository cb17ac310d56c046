"""Replies to messages that cannot be answered as they stand: asked back, or not understood, and useful all the same."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rapidfuzz import fuzz

from advisor.language.render import Speech, listed
from advisor.language.text_message import shortened
from advisor.language.understand import Understood, Words
from advisor.records.questions import QuestionKind


def ask_back(
    meant: Understood, words: Words, speech: Speech, text: str = "", named: Sequence[str] = ()
) -> dict[str, Any]:
    """Return the reply that asks which plant, kind or question is meant, with numbered choices.

    Where nothing was understood, the two questions most like ``text`` are offered, and what it ``named`` is said.
    """
    if meant.several and not meant.choices:
        asks = [f"  {_suggested(words.questions[key], words, speech)}" for key in meant.several]
        return _reply("asked-back", meant, "\n".join(["Ask me one thing at a time, for example:", *asks]))
    if meant.unclear == "question" and not meant.choices:
        return _not_understood(meant, words, speech, text, named)
    head, examples = _opening(meant, words, speech)
    lines = [f"{number}. {choice.text}" for number, choice in enumerate(meant.choices, start=1)]
    if lines:
        closing = "Answer with the number, or with the name."
        if len(meant.found.names) > len(meant.choices):
            closing = "Answer with the number, or with the name of another."
        lines.append(closing)
    return _reply("asked-back", meant, "\n".join([head, *lines, *examples]))


def _opening(meant: Understood, words: Words, speech: Speech) -> tuple[str, list[str]]:
    if meant.unclear == "question":
        return "I can read that in more than one way. Do you mean", []
    question = words.questions[meant.question]
    if meant.unclear == "spot" and meant.found.via != "near":
        return question.ask_for, [] if meant.choices else [f"For example: {_suggested(question, words, speech)}"]
    if meant.found.via == "unknown" or not meant.found.names:
        what = "plant" if meant.unclear == "plant" else "kind of tree"
        nearest = f" The nearest {what}:" if meant.choices else ""
        head = f"I find no {what} that I know in your message.{nearest}"
        if meant.unclear == "species" and not meant.choices:
            head += f" The kinds I know: {listed(sorted(words.called.values()))}."
        return head, [] if meant.choices else [f"For example: {_suggested(question, words, speech)}"]
    if meant.found.via == "near":
        return f"{question.ask_for} I find no name spelt just so. Did you mean", []
    many = len(meant.found.names)
    shown = f"; {len(meant.choices)} of them" if many > len(meant.choices) else ""
    return f"{question.ask_for} Your message fits {many}{shown}:", []


def can_do(words: Words, speech: Speech) -> str:
    """Return what can be told and asked, with names of this garden in it."""
    plant = words.plants[-1].name if words.plants else "wall fig"
    asks = [f"  {_suggested(question, words, speech)}" for question in words.questions.values()]
    lines = [
        f"Tell me what you see, read or do, as you would say it: {plant} bud break; {_reading(words, speech)}, sun; "
        f"all pots out; watered {plant} yesterday. I say back what I record, and undo takes it back.",
        "Or ask:",
    ]
    return "\n".join([*lines, *asks])


def _reading(words: Words, speech: Speech) -> str:
    spot = next((plant.spot for plant in words.plants if plant.spot), "the bed")
    return f"soil at {spot} 54 °F at 4 in" if speech.units == "us" else f"soil at {spot} 12 °C at 10 cm"


def _suggested(question: QuestionKind, words: Words, speech: Speech, named: Sequence[str] = ()) -> str:
    """Return a question that would work, with a name of this garden in it, of one named where there is one."""
    plants = [plant for plant in words.plants if plant.name in named] or list(words.plants)
    plant = speech.name(plants[0].name) if plants else "the fig"
    species = words.called.get(plants[0].species, "fig") if plants else "fig"
    spot = speech.name(words.spots[0]) if words.spots else "the north bed"
    return question.suggest.format(plant=plant, species=species, spot=spot)


def _nearest(text: str, named: Sequence[str], words: Words) -> list[QuestionKind]:
    """Return the two questions whose examples are most like a text, the names in it left out."""
    for name in named:
        text = text.casefold().replace(name.casefold(), " ")

    def likeness(question: QuestionKind) -> float:
        return max((fuzz.token_set_ratio(text.casefold(), one.casefold()) for one in question.examples), default=0.0)

    return sorted(words.questions.values(), key=likeness, reverse=True)[:2]


def _not_understood(
    meant: Understood, words: Words, speech: Speech, text: str, named: Sequence[str]
) -> dict[str, Any]:  # fmt: skip
    heard = ""
    plants = [plant.name for plant in words.plants]
    name = next((one for one in [*named, *plants] if one in plants), "fig")
    if named:
        heard = f" I heard {listed([speech.name(one) for one in named[:3]])} in it, but not what of it."
    lines = [
        f"I could not read that, and recorded nothing from it; your words are kept.{heard}",
        "Did you want to ask:",
        *(f"  {_suggested(question, words, speech, named)}" for question in _nearest(text, named, words)),
        f"Or tell me what you see: {speech.name(name)} is swelling; or what you read: {_reading(words, speech)}.",
    ]
    return _reply("not-understood", meant, "\n".join(lines))


def _reply(outcome: str, meant: Understood, text: str) -> dict[str, Any]:
    question = {"kind": meant.question} if meant.question else {}
    return {
        "outcome": outcome,
        "reply": text,
        "short": shortened(text),
        "question": question,
        "conclusions": [],
        "because": [],
        "records": [],
        "recorded": [],
        "lacking": [],
        "cautions": [],
        "choices": [choice.as_dict(number) for number, choice in enumerate(meant.choices, start=1)],
    }
