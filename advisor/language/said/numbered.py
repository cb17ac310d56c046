"""Names that differ by their number, told as one with a list: "small pots 1, 3 and 4", "tubs 1-3", "tub number 2"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.language.names import tokens
from advisor.language.said.mentions import Mention
from advisor.language.said.pieces import Word
from advisor.language.said.yard import Yard


def take_numbered(words: Sequence[Word], taken: list[bool], yard: Yard, found: list[Mention]) -> None:
    """Take several names that differ by their number, told as one with a list of numbers."""
    bases: dict[tuple[str, ...], dict[str, str]] = {}
    for plant in yard.plants:
        own = tokens(plant.name)
        if len(own) > 1 and own[-1].isdigit():
            bases.setdefault(tuple(own[:-1]), {})[own[-1]] = plant.name
    for base, by_number in bases.items():
        plural = (*base[:-1], f"{base[-1]}s")
        for place in range(len(words) - len(base)):
            if tuple(word.text for word in words[place : place + len(base)]) not in (base, plural):
                continue
            end = place + len(base)
            numbers: list[str] = []
            if end < len(words) and words[end].text in NUMBER_WORDS and not words[end].stop:
                end += 1
            row = _counted_up(words, end, by_number)
            if row:
                numbers, end = [word.text for word in words[end : end + row]], end + row
            while end < len(words) and _goes_on(words, end, numbers, by_number):
                if words[end].text.isdigit():
                    numbers += _range(numbers[-1:], words[end], words[end - 1].text == "through")
                end += 1
            while end > place and words[end - 1].text == "and":
                end -= 1
            if len(numbers) < 2 and words[place + len(base)].text not in NUMBER_WORDS:
                continue
            if not numbers or any(taken[place:end]):
                continue
            names = tuple(by_number[number] for number in numbers if number in by_number)
            sure = len(names) == len(numbers)
            found.append(Mention("plant", names, words[place].start, words[end - 1].end, sure, all_of_kind=True))
            taken[place:end] = [True] * (end - place)


def _counted_up(words: Sequence[Word], place: int, known: Mapping[str, str]) -> int:
    """Return how many numbers of a row stand in order with nothing between: "tub 1 2 3 all watered"; 0 for less."""
    end = place
    while end < len(words) and words[end].text in known and words[end].stop in ("", ","):
        if end > place and int(words[end].text) != int(words[end - 1].text) + 1:
            break
        end += 1
    return end - place if end - place >= SHORTEST_ROW else 0


def _goes_on(words: Sequence[Word], place: int, numbers: Sequence[str], known: Mapping[str, str]) -> bool:
    """Return whether a list of numbers goes on: "and", or a number of the row after "and" or a comma."""
    word = words[place]
    if word.text in ("and", "through"):
        return bool(numbers)
    parted = not numbers or words[place - 1].text in ("and", "through") or word.stop in (",", "&", "-")
    counts = place + 1 < len(words) and words[place + 1].text in COUNTED and not words[place + 1].stop
    if counts and numbers:
        return False
    return word.text in known and parted and not (not numbers and word.stop)


def _range(before: Sequence[str], word: Word, through: bool) -> list[str]:
    """Return a number, or with a dash before it the numbers from the one before: "1-3"."""
    if (word.stop == "-" or through) and before and int(before[0]) < int(word.text) <= int(before[0]) + LONGEST_ROW:
        return [str(number) for number in range(int(before[0]) + 1, int(word.text) + 1)]
    return [word.text]


COUNTED = frozenset(
    (
        "leaves", "leaf", "lvs", "buds", "bud", "figs", "shoots", "cm", "mm", "inches", "litres", "degrees",
        "c", "f", "kg", "g",
    )
)  # fmt: skip
"""Words that make the figure before them a count, not a number of a row of pots."""
LONGEST_ROW = 20
SHORTEST_ROW = 3
NUMBER_WORDS = frozenset(("number", "no", "nr", "num"))
