"""Replies to messages that cannot be answered as they stand: asked back, or not understood, and useful all the same."""

from __future__ import annotations

from typing import Any

from advisor.language.render import Speech, listed
from advisor.language.text_message import shortened
from advisor.language.understand import Understood, Words
from advisor.records.questions import QuestionKind


def ask_back(meant: Understood, words: Words, speech: Speech) -> dict[str, Any]:
    """Return the reply that asks which plant, kind or question is meant, with numbered choices."""
    if meant.several and not meant.choices:
        asks = [f"  {_suggested(words.questions[key], words, speech)}" for key in meant.several]
        return _reply("asked-back", meant, "\n".join(["Ask me one thing at a time, for example:", *asks]))
    if meant.unclear == "question" and not meant.choices:
        return _not_understood(meant, words, speech)
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


def _suggested(question: QuestionKind, words: Words, speech: Speech) -> str:
    """Return a question that would work, with a name of this garden in it."""
    plant = speech.name(words.plants[0].name) if words.plants else "my fig"
    species = words.called.get(words.plants[0].species, "fig") if words.plants else "fig"
    return question.suggest.format(plant=plant, species=species)


def _not_understood(meant: Understood, words: Words, speech: Speech) -> dict[str, Any]:
    heard = ""
    name = words.plants[0].name if words.plants else "my fig"
    spot = next((plant.spot for plant in words.plants if plant.spot), "my bed")
    if meant.found.sure:
        heard = f" I heard {speech.name(meant.found.names[0])} in it, but nothing that I could record or answer."
    suggestions = [f"  {_suggested(question, words, speech)}" for question in words.questions.values()]
    lines = [
        f"I could not read that, and recorded nothing from it; your words are kept.{heard}",
        "You can ask, for example:",
        *suggestions[:2],
        f"Or tell me what you see: {speech.name(name)} is swelling; or what you read: soil at {spot} 12 "
        f"{'°F' if speech.units == 'us' else '°C'} at {'4 in' if speech.units == 'us' else '10 cm'}.",
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
