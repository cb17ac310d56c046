"""Text messages: the GSM 03.38 alphabet, how many segments a text takes, and a cut at a sentence.

The alphabet is that of 3GPP TS 23.038 (GSM 03.38), default table and extension table; segment sizes are those of
TS 23.040 with an 8-bit reference. The table is checked in the tests against a reference library where it is there.
"""

from __future__ import annotations

import re
import unicodedata

BASIC = frozenset(
    "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§"
    "¿abcdefghijklmnopqrstuvwxyzäöñüà"
)
EXTENDED = frozenset("^{}\\[~]|€\f")
SINGLE, PART = 160, 153
REPLACED = {
    "°": " ", "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "−": "-", "…": "...", "×": "x",
    "±": "+/-", "½": "1/2", "·": ".", "\u00a0": " ", "ç": "c", "•": "-",
}  # fmt: skip


def in_alphabet(text: str) -> str:
    """Return a text with every letter outside the alphabet replaced by its nearest, or "?" where there is none.

    >>> in_alphabet("−2 °C at the “small” fig")
    '-2 C at the "small" fig'
    """
    text = text.replace(" °", "°")
    out = []
    for letter in text:
        plain = REPLACED.get(letter, letter)
        if all(part in BASIC or part in EXTENDED for part in plain):
            out.append(plain)
            continue
        base = "".join(c for c in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(c))
        out.append(base if base and all(part in BASIC for part in base) else "?")
    return "".join(out)


def septets(text: str) -> int:
    """Return how many 7-bit places a text in the alphabet takes; an extension letter takes two.

    Raises ValueError for a letter outside the alphabet.
    """
    total = 0
    for letter in text:
        if letter in EXTENDED:
            total += 2
        elif letter in BASIC:
            total += 1
        else:
            raise ValueError(f"{letter!r} is not in the GSM 03.38 alphabet")
    return total


def segments(text: str) -> int:
    """Return how many text messages a text in the alphabet takes; a pair of an escape and its letter is not split.

    >>> segments("a" * 160), segments("a" * 161), segments("a" * 306), segments("a" * 307)
    (1, 2, 2, 3)
    """
    if septets(text) <= SINGLE:
        return 1
    count, left = 1, PART
    for letter in text:
        size = 2 if letter in EXTENDED else 1
        if size > left:
            count, left = count + 1, PART
        left -= size
    return count


def shortened(text: str, most_segments: int = 2, more: str = " (More in the full reply.)") -> str:
    """Return a text in the alphabet, cut after a sentence so that it fits, with ``more`` added where it was cut.

    Lines run on; one that ends without a point gets it, so that records said back one a line stay apart.

    >>> shortened("Recorded:\\n  soil at porch 12.5 °C, 18:01\\nSay undo to take it back.")
    'Recorded: soil at porch 12.5 C, 18:01. Say undo to take it back.'
    """
    plain = re.sub(r"(?<=[\w)%'\"])[^\S\n]*\n\s*(?=\S)", ". ", in_alphabet(text))
    plain = re.sub(r"\s+", " ", plain).strip()
    if segments(plain) <= most_segments:
        return plain
    cut = ""
    for sentence in re.split(r"(?<=[.!?])\s+", plain):
        longer = f"{cut} {sentence}".strip()
        if segments(longer + more) > most_segments:
            break
        cut = longer
    if not cut:
        words = plain.split(" ")
        while words and segments(" ".join(words) + "..." + more) > most_segments:
            words.pop()
        cut = " ".join(words) + "..." if words else plain[: PART - len(more)]
    return cut + more
