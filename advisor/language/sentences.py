"""What every writer of replies shares: a reply in the making, a conclusion as a graded sentence, its footing."""

from __future__ import annotations

from dataclasses import dataclass, field

from advisor.answers import Conclusion
from advisor.language.render import Speech, sentence_case

GRADE_WORDS = {"likely": "Likely", "possible": "Possible", "weak": "A weak case so far"}


@dataclass
class Draft:
    """A reply in the making: its first sentences, and the lines after them.

    ``asked`` where it tells the questions to the grower itself.
    """

    head: str
    body: list[str] = field(default_factory=list)
    asked: bool = False


def graded(one: Conclusion, speech: Speech) -> str:
    """Return a conclusion with its grade before it, where that is less than likely, and what it is about."""
    text = tell(one, speech)
    plant, spot = one.about.get("plant", ""), one.about.get("spot", "")
    for name, before in ((plant, ""), (spot if not plant else "", "At ")):
        if name and speech.name(name).casefold() not in text.casefold():
            text = sentence_case(f"{before}{speech.name(name)}: {lower(text, speech)}")
    if one.grade in ("possible", "weak"):
        return f"{GRADE_WORDS[one.grade]}: {lower(text, speech)}"
    return text


def tell(one: Conclusion, speech: Speech) -> str:
    return speech.tell(one.because[0].told)


def lower(text: str, speech: Speech) -> str:
    """Return a sentence to stand after a colon, but for a name of its own."""
    first = text.split(" ", 1)[0]
    proper = any(name.split(" ", 1)[0] == first for name in speech.names)
    return text if proper else text[:1].lower() + text[1:]


def with_article(name: str) -> str:
    vowel = name[:1].casefold() in "aeiou" and not name.casefold().startswith("eu")
    return f"an {name}" if vowel else f"a {name}"


def footing(one: Conclusion) -> str:
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
