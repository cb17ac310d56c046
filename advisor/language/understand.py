"""A message into a question, or into what is unclear about it. Never acts on a guess."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any

from advisor.language.names import Found, NamedPlant, find_plant, find_species, find_spots, tokens, whole_plants
from advisor.records.questions import QuestionKind, QuestionKinds

ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6}
POTS = re.compile(r"\b(?:pots|tubs|containers)\b", re.IGNORECASE)
FILLER = {"the", "number", "nr", "no", "option", "choice", "please", "it", "is", "i", "mean", "meant"}
MOST_CHOICES = 6
MOST_UNDERSTOOD = 64


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to read an unclear message."""

    text: str
    question: str
    plant: str = ""
    species: str = ""
    spots: tuple[str, ...] = ()

    def as_dict(self, number: int) -> dict[str, Any]:
        means: dict[str, Any] = {"kind": self.question, "plant": self.plant, "species": self.species}
        means["spots"] = list(self.spots)
        return {"number": number, "text": self.text, "means": {key: value for key, value in means.items() if value}}


@dataclass(frozen=True)
class Understood:
    """What a message means: a question with its subject, or choices to put back, or nothing.

    ``unclear`` is "" for a question that can be answered, else what is open: plant, species, spot or question.
    ``spots`` are the spots named where a question may name some, ``trial`` the one trial named where it may name one.
    ``found`` is which plants it may name, ``kinds`` which kinds of tree;
    ``several`` the questions that it asks at once.
    """

    question: str = ""
    plant: str = ""
    species: str = ""
    spots: tuple[str, ...] = ()
    trial: str = ""
    unclear: str = ""
    choices: tuple[Choice, ...] = ()
    found: Found = field(default_factory=Found)
    kinds: Found = field(default_factory=Found)
    several: tuple[str, ...] = ()

    @classmethod
    def asked(cls, question: Mapping[str, Any]) -> Understood:
        """Return the question that an answer, or a choice put back, says that it is to: its kind and what it named."""
        named = {name: question.get(name, "") for name in ("plant", "species")}
        return cls(question["kind"], spots=tuple(question.get("spots", ())), **named)

    @property
    def key(self) -> tuple[object, ...]:
        """What of a question its answer depends on."""
        return (self.question, self.plant, self.species, self.spots, self.trial)

    def choosing(self, names: Sequence[str]) -> Understood:
        """Return the same with these plants to choose from, in this order."""
        choices = tuple(Choice(name, self.question, plant=name) for name in names[:MOST_CHOICES])
        return replace(self, choices=choices)


@dataclass(frozen=True)
class Words:
    """The garden's names and the questions, as understanding needs them; and what messages lately meant by them."""

    questions: QuestionKinds
    plants: Sequence[NamedPlant]
    species: Sequence[tuple[str, tuple[str, ...]]]
    called: Mapping[str, str]
    spots: Sequence[str] = ()
    trials: Sequence[str] = ()
    understood: dict[str, Understood] = field(default_factory=dict, compare=False, repr=False)


def phrase_score(said: Sequence[str], phrase: str) -> int:
    """Return how many words of a phrase stand in a message in order, 0 if not all do.

    Words stand next to each other unless the phrase has a ``...`` between them.
    """
    at, count = 0, 0
    for words in _pieces(phrase):
        size = len(words)
        places = range(at, len(said) - size + 1)
        place = next((n for n in places if said[n] == words[0] and tuple(said[n : n + size]) == words), -1)
        if place < 0:
            return 0
        at = place + size
        count += size
    return count


@lru_cache(maxsize=4096)
def _pieces(phrase: str) -> tuple[tuple[str, ...], ...]:
    """Return the words of a phrase, apart where others may stand between."""
    return tuple(tuple(words) for piece in phrase.split("...") if (words := tokens(piece)))


def match_questions(message: str, questions: QuestionKinds) -> list[tuple[str, int]]:
    """Return the question kinds whose phrases a message has, best first."""
    return _match(tokens(message), questions)


def _match(said: Sequence[str], questions: QuestionKinds) -> list[tuple[str, int]]:
    scored = [
        (kind.id, max((phrase_score(said, phrase) for phrase in kind.phrases), default=0))
        for kind in questions.values()
        if not any(phrase_score(said, phrase) for phrase in kind.not_if)
    ]
    return sorted([entry for entry in scored if entry[1]], key=lambda entry: (-entry[1], entry[0]))


def understand(message: str, words: Words) -> Understood:
    """Return what a message means in a garden; it is the same for as long as the names are."""
    meant = words.understood.get(message)
    if meant is None:
        if len(words.understood) >= MOST_UNDERSTOOD:
            words.understood.clear()
        meant = words.understood[message] = _understand(message, words)
    return meant


def _understand(message: str, words: Words) -> Understood:
    matched = _matched(message, words)
    plant = _plant_in(_without_which(message, words), words)
    kind_of_tree = find_species(message, words.species)
    if not matched:
        return Understood(unclear="question", found=plant, kinds=kind_of_tree)
    best = [key for key, score in matched if score == matched[0][1]]
    if len(best) > 1:
        choices = _question_choices(best, words, plant, kind_of_tree)
        choices = choices if len(choices) == len(best) else ()
        return Understood(unclear="question", found=plant, choices=choices, several=tuple(best))
    question = words.questions[best[0]]
    match question.must_name:
        case "plant":
            return _with_plant(question, plant, kind_of_tree)
        case "species":
            return _with_species(question, kind_of_tree, words)
        case "spot":
            return _with_spot(_with_some(question, message, plant, kind_of_tree, words), words)
    return _with_some(question, message, plant, kind_of_tree, words)


def _plant_in(message: str, words: Words) -> Found:
    """Return which plant a message names; of two set beside each other the first: "later than", "while the other"."""
    first, *other = BESIDE.split(message, maxsplit=1)
    found = find_plant(first, words.plants, words.species) if other else Found()
    return found if found.sure else find_plant(message, words.plants, words.species)


BESIDE = re.compile(r"\b(?:than|while|whereas|compared (?:to|with))\b", re.IGNORECASE)


def _without_which(message: str, words: Words) -> str:
    """Return a message without the kind that it asks "which" of: "which fig first out of the shed" is no shed fig."""
    kinds = {word for _, names in words.species for kind in names for word in tokens(kind)}
    return WHICH.sub(lambda found: found[0] if found[1].casefold() not in kinds else "which", message)


WHICH = re.compile(r"\bwhich\s+(\w+)\b", re.IGNORECASE)


def _matched(message: str, words: Words) -> list[tuple[str, int]]:
    """Return the questions that a message's words have; words that name a plant alone, the late of "late apricot", ask
    nothing where the others do."""
    kinds = {word for _, names in words.species for kind in names for word in tokens(kind)}
    bare = f" {' '.join(tokens(message))} "
    for plant in whole_plants(message, words.plants):
        name = tokens(plant.name)
        kept = [word if word in kinds else "|" for word in name]
        bare = bare.replace(f" {' '.join(name)} ", f" {' '.join(kept)} ")
    everything = match_questions(message, words.questions)
    best = {key for key, score in everything if score == everything[0][1]}
    return (len(best) > 1 and _match(bare.split(), words.questions)) or everything


def _with_some(question: QuestionKind, message: str, plant: Found, species: Found, words: Words) -> Understood:
    """Return a question with the subjects that it may name, where they are named surely; doubt is asked back.

    A kind alone ("the figs") means all plants of it, so it is taken for the kind where the question may name one.
    """
    spots = _spots(question, message, words)
    if spots.names and not spots.sure:
        whole = tuple(name for name in spots.names if f" {' '.join(tokens(name))} " in f" {' '.join(tokens(message))} ")
        open_ones = [name for name in spots.names if name not in whole]
        choices = tuple(Choice(name, question.id, spots=(*whole, name)) for name in open_ones[:MOST_CHOICES])
        return Understood(question.id, unclear="spot", choices=choices, found=Found(tuple(open_ones), False, "near"))
    trial = _trial(message, words.trials) if "trial" in question.may_name else ""
    meant = Understood(question.id, spots=spots.names, trial=trial, found=plant)
    of_kind = plant.via == "kind" and not plant.sure and species.sure and "species" in question.may_name
    if plant.via == "near" and not plant.sure and POTS.search(message):
        plant = Found()  # "the small pots" are pots, and no name spelt nearly so
    if "plant" in question.may_name and not of_kind:
        if plant.sure:
            return replace(meant, plant=plant.names[0])
        if plant.names and plant.via != "unknown" and not (spots.names and plant.via == "kind"):
            return replace(meant, unclear="plant").choosing(plant.names)
    if "species" in question.may_name and species.sure:
        return replace(meant, species=species.names[0])
    return meant


def _trial(message: str, trials: Sequence[str]) -> str:
    """Return the trial that a message names in so many words, "" where it names none or several."""
    said = f" {' '.join(tokens(message))} "
    named = [name for name in trials if f" {' '.join(tokens(name))} " in said]
    whole = [name for name in named if not any(name != other and name in other for other in named)]
    return whole[0] if len(whole) == 1 else ""


def _spots(question: QuestionKind, message: str, words: Words) -> Found:
    """Return the spots that a message names; a plant named where only spots are compared stands for its own spot."""
    if "spot" not in question.may_name:
        return Found()
    named = whole_plants(message, words.plants)
    found = find_spots(message, words.spots, [one.name for one in named])
    if "plant" in question.may_name or (found.names and not found.sure):
        return found
    theirs = [one.spot for one in named if one.spot and one.spot in words.spots]
    names = tuple(dict.fromkeys((*found.names, *theirs)))
    return Found(names, bool(names), found.via or ("name" if names else ""))


def _with_plant(question: QuestionKind, found: Found, species: Found) -> Understood:
    if found.sure:
        return Understood(question.id, plant=found.names[0], found=found)
    if "species" in question.may_name and species.sure and found.via in ("", "kind", "unknown"):
        return Understood(question.id, species=species.names[0], found=found)
    return Understood(question.id, unclear="plant", found=found).choosing(found.names)


def _with_species(question: QuestionKind, found: Found, words: Words) -> Understood:
    if found.sure:
        return Understood(question.id, species=found.names[0], found=found)
    choices = tuple(Choice(words.called.get(key, key), question.id, species=key) for key in found.names[:MOST_CHOICES])
    return Understood(question.id, unclear="species", choices=choices, found=found)


def _with_spot(meant: Understood, words: Words) -> Understood:
    """Return a question about one spot; where none is named, or several are, one is asked for."""
    if len(meant.spots) == 1 or meant.unclear:
        return meant
    names = meant.spots or tuple(words.spots)
    choices = tuple(Choice(name, meant.question, spots=(name,)) for name in names[:MOST_CHOICES])
    return replace(meant, spots=(), unclear="spot", choices=choices, found=Found(names))


def _question_choices(keys: Sequence[str], words: Words, plant: Found, species: Found) -> tuple[Choice, ...]:
    choices = []
    for key in keys:
        question = words.questions[key]
        subject = plant if question.must_name == "plant" else species
        if question.must_name == "none":
            choices.append(Choice(question.says, key))
        elif subject.sure and question.must_name != "spot":
            name = words.called.get(subject.names[0], subject.names[0])
            text = f"{question.says} ({name})"
            if question.must_name == "plant":
                choices.append(Choice(text, key, plant=subject.names[0]))
            else:
                choices.append(Choice(text, key, species=subject.names[0]))
    return tuple(choices)


def chosen(message: str, choices: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """Return the choice that a message picks: by its number, as "2" or "the second", or by its very words."""
    said = tokens(message)
    for choice in choices:
        if said and said == tokens(str(choice["text"])):
            return choice
    numbers = [int(word) for word in said if word.isdigit()]
    left = [word for word in said if not word.isdigit() and word not in FILLER]
    ordinals = [ORDINALS[word] for word in left if word in ORDINALS]
    if ordinals:  # "the second one"
        numbers = ordinals
        left = [word for word in left if word not in ORDINALS]
    if len(numbers) != 1 or left:
        return None
    return next((choice for choice in choices if choice["number"] == numbers[0]), None)


def answering(meant: Understood, question: str, questions: QuestionKinds) -> Understood | None:
    """Return what a message means that asks nothing itself but names what a question put back was open about."""
    if meant.unclear != "question" or meant.choices or question not in questions:
        return None
    kind = questions[question]
    if (kind.must_name == "plant" or "plant" in kind.may_name) and meant.found.sure:
        return Understood(question, plant=meant.found.names[0], found=meant.found)
    if (kind.must_name == "species" or "species" in kind.may_name) and meant.kinds.sure:
        return Understood(question, species=meant.kinds.names[0], found=meant.kinds)
    return None


def check_questions(questions: QuestionKinds) -> list[str]:
    """Return what is wrong with the phrases: one claimed twice, an example that is not understood as its kind."""
    wrong = []
    claimed: dict[tuple[str, ...], str] = {}
    for kind in questions.values():
        for phrase in kind.phrases:
            key = tuple(tokens(phrase.replace("...", " gap ")))
            if claimed.setdefault(key, kind.id) != kind.id:
                wrong.append(f"questions {claimed[key]} and {kind.id} both claim the phrase {phrase!r}; give it to one")
        for example in kind.examples:
            best = match_questions(example, questions)
            top = [key for key, score in best if score == best[0][1]] if best else []
            if top != [kind.id]:
                wrong.append(f"question {kind.id}: its example {example!r} is taken for {top or 'nothing'}")
        for example in kind.not_examples:
            best = match_questions(example, questions)
            if best and best[0][0] == kind.id:
                wrong.append(f"question {kind.id}: {example!r} is taken for it, and must not be")
    return wrong
