"""What may be asked, read from ``rules/questions/*.toml``: its phrases, what must be named, what answers it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.errors import BadRules
from advisor.records.kinds import read_toml

NAMED = ("plant", "species", "spot", "none")
MAY_NAME = ("plant", "species", "spot", "trial")
SHOWS_RECORDS = "show-records"
"""The one question that no rule answers: its answer is the records themselves."""


@dataclass(frozen=True, slots=True)
class AnsweredBy:
    """A kind of conclusion that answers a question; ``question`` narrows a kind that several questions share."""

    kind: str
    question: str = ""


@dataclass(frozen=True, slots=True)
class Deed:
    """A deed that a question may ask about by name: how it is said, by which words it is known, which tasks are it."""

    said: str
    words: tuple[str, ...]
    tasks: tuple[str, ...]


@dataclass(frozen=True)
class QuestionKind:
    """One kind of question. ``must_name`` is plant, species, spot or none; each phrase is words with ``...`` for a gap.
    A message with a phrase of ``not_if`` in it is another question. ``may_name`` are the subjects that narrow the
    question where they are named, and need not be: plant, species, spot. Where a plant must be named and a species
    may be, either will do.

    ``ask_for`` asks for what must be named; ``suggest`` is a question to offer, with {plant}, {species} or {spot} in
    it. ``not_known`` says what cannot be said where no rule has an answer.
    """

    id: str
    says: str
    must_name: str
    phrases: tuple[str, ...]
    not_if: tuple[str, ...]
    answered_by: tuple[AnsweredBy, ...]
    examples: tuple[str, ...]
    not_examples: tuple[str, ...]
    ask_for: str
    suggest: str
    may_name: tuple[str, ...] = ()
    not_known: str = ""
    deeds: tuple[Deed, ...] = ()


DOUBT = AnsweredBy("doubt")
"""Records that disagree are told with every answer that rules give."""


def _answered_by(raw: Sequence[Mapping[str, str]]) -> tuple[AnsweredBy, ...]:
    named = tuple(AnsweredBy(one["kind"], one.get("question", "")) for one in raw)
    return (*named, DOUBT) if named else ()


QuestionKinds = Mapping[str, QuestionKind]


def load_questions(rules: Path) -> dict[str, QuestionKind]:
    """Read every question kind, by id. Raise BadRules where a file does not hold together."""
    found = {}
    for path in sorted((rules / "questions").glob("*.toml")):
        raw = read_toml(path)
        where = f"reading question {path.name}"
        try:
            question = QuestionKind(
                id=raw["id"],
                says=raw["says"],
                must_name=raw["must_name"],
                phrases=tuple(raw["phrases"]),
                not_if=tuple(raw.get("not_if", ())),
                answered_by=_answered_by(raw["answered_by"]),
                examples=tuple(raw["examples"]),
                not_examples=tuple(raw["not_examples"]),
                ask_for=raw["ask_for"],
                suggest=raw["suggest"],
                may_name=tuple(raw.get("may_name", ())),
                not_known=raw.get("not_known", ""),
                deeds=tuple(Deed(d["said"], tuple(d["words"]), tuple(d["tasks"])) for d in raw.get("deed", ())),
            )
        except KeyError as missing:
            raise BadRules(where, f"no key {missing}", "Add it; see any other question") from None
        if question.id != path.stem:
            raise BadRules(where, f"its id is {question.id!r}", "Give file and id the same name")
        if question.must_name not in NAMED:
            raise BadRules(where, f"must_name {question.must_name!r}", f"Use one of {', '.join(NAMED)}")
        wrong = [name for name in question.may_name if name not in MAY_NAME]
        if wrong:
            raise BadRules(where, f"may_name {', '.join(wrong)}", f"Use some of {', '.join(MAY_NAME)}")
        if not question.answered_by and question.id != SHOWS_RECORDS:
            raise BadRules(where, "answered_by is empty", "Name the kinds of conclusion that answer it")
        found[question.id] = question
    return found
