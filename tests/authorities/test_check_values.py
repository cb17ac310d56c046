"""The shared check values as a whole, and those of text messages."""

from __future__ import annotations

import json
import re

import pytest
from check_values import HERE, NOT_HERE, TOPICS, Row, every_row, rows_of
from gsm0338 import Codec

from advisor.language.text_message import BASIC, EXTENDED, segments, septets

here = pytest.mark.skipif(not HERE, reason=NOT_HERE)
SPELT = {
    "euro sign only": "€", "80 euro signs": "€" * 80, "capital C cedilla": "Ç", "small c cedilla": "ç",
    "Low -2 + degree sign + C": "Low -2 °C", "one emoji U+1F33F": "\U0001f33f",
    "b*70 with one degree sign (70 chars)": "b" * 69 + "°", "134 UCS2": "°" * 134, "135 UCS2": "°" * 135,
}  # fmt: skip


@here
def test_every_topic_has_its_tests() -> None:
    """Each row of the table belongs to exactly one module's topics, so that none is passed over."""
    for row in every_row():
        takers = [part for part, begins in TOPICS.items() if row["topic"].startswith(begins)]
        assert len(takers) == 1, row["topic"]


def spelt(inputs: str) -> str:
    """Return the text that a row describes."""
    many = re.fullmatch(r"(\w)\*(\d+)", inputs)
    return many[1] * int(many[2]) if many else SPELT.get(inputs, inputs)


@pytest.mark.parametrize("row", rows_of("text messages"), ids=lambda row: row["inputs"][:30])
def test_text_messages(row: Row) -> None:
    """Alphabet, length and segments: by our table where the text is in the alphabet; a reference codec agrees which."""
    alphabet, units, parts = json.loads(row["expected"])
    text = spelt(row["inputs"])
    inside = all(letter in BASIC or letter in EXTENDED for letter in text)
    assert inside == (alphabet == "GSM7") == in_reference(text)
    if inside:
        assert (septets(text), segments(text)) == (units, parts)
    else:
        with pytest.raises(ValueError, match="alphabet"):
            septets(text)
        assert len(text.encode("utf-16-be")) // 2 == units


def in_reference(text: str) -> bool:
    try:
        Codec().encode(text)
    except UnicodeError:
        return False
    return True
