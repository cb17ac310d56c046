"""Text messages against the figures of the standard and a reference library."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.language.text_message import BASIC, EXTENDED, in_alphabet, segments, septets, shortened


@pytest.mark.parametrize(
    ("text", "count"),
    [("a" * 160, 1), ("a" * 161, 2), ("a" * 306, 2), ("a" * 307, 3), ("€" * 80, 1), ("€" * 81, 2), ("", 1)],
)
def test_segments_as_the_standard_counts_them(text: str, count: int) -> None:
    """160 septets in one message, 153 in each part of several; the euro sign takes two.

    3GPP TS 23.038 (140 octets are 160 septets) and TS 23.040 (6-octet header with 8-bit reference), read in copies.
    """
    assert segments(text) == count


def test_an_escape_and_its_letter_stay_together() -> None:
    """A pair that would straddle two parts moves to the next one, so 305 septets may need three parts."""
    text = "a" * 152 + "€" + "a" * 152
    assert septets(text) == 306
    assert segments(text) == 3


def test_the_table_is_the_standards() -> None:
    """The alphabet equals that of the gsm0338 package, letter for letter."""
    codec = pytest.importorskip("gsm0338").Codec()
    for code in range(0x3000):
        letter = chr(code)
        try:
            length = len(codec.encode(letter)[0])
        except UnicodeEncodeError:
            length = 0
        ours = 1 if letter in BASIC else 2 if letter in EXTENDED else 0
        assert ours == length or (letter == "\x1b"), (hex(code), letter)


@given(st.text(max_size=600))
def test_any_text_becomes_two_sendable_segments(text: str) -> None:
    """Whatever goes in, what comes out is in the alphabet and no longer than two segments."""
    short = shortened(text)
    assert segments(short) <= 2
    assert septets(short) >= 0


def test_letters_outside_are_replaced_by_their_nearest() -> None:
    """The degree sign, curly quotes, the long minus and the small c with cedilla are the usual traps."""
    assert in_alphabet("−2 °C “in” l’été ça žába") == '-2 C "in" l\'été ca zaba'
    with pytest.raises(ValueError, match=r"not in the GSM 03\.38 alphabet"):
        septets("°")


def test_the_cut_is_after_a_sentence() -> None:
    """A long reply ends at a full stop and says that there is more."""
    text = "The first thing. " + "The second thing is rather longer than that. " * 10
    short = shortened(text)
    assert short.startswith("The first thing. The second")
    assert short.endswith("that. (More in the full reply.)")
