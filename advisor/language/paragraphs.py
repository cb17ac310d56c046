"""A reply's text as paragraphs: its lead-ins, its lists, and what is to be minded told apart."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

LEAD = re.compile(r"([A-Z][^.:?!]{1,45}):(?:\s+(.+)|$)", re.DOTALL)
"""What stands before a colon at the start of a paragraph and is short enough to be read as its heading."""
STEP = re.compile(r"(\d+)\.\s+(.+)")
CAUTION = "Mind"
DISPUTES = ("Your records disagree", "Two rules disagree")


@dataclass
class Paragraph:
    """One paragraph. ``kind`` is text, caution, dispute, items, steps (numbered) or asks (questions to pick from)."""

    kind: str
    text: str = ""
    lead: str = ""
    lines: list[str] = field(default_factory=list)


def paragraphs(reply: str) -> list[Paragraph]:
    """Return a reply's paragraphs in their order.

    >>> [(one.kind, one.lead, one.text or one.lines) for one in paragraphs("It sleeps.\\nMind: Go slow.\\n1. a\\n2. b")]
    [('text', '', 'It sleeps.'), ('caution', 'Mind', 'Go slow.'), ('steps', '', ['a', 'b'])]
    """
    made: list[Paragraph] = []
    for one in _lines(reply):
        if one.lines and made and made[-1].kind == one.kind:
            made[-1].lines += one.lines
        else:
            made.append(one)
    return made


def _lines(reply: str) -> Iterator[Paragraph]:
    for line in reply.split("\n"):
        text = line.strip()
        if not text:
            continue
        step, lead = STEP.fullmatch(text), LEAD.fullmatch(text)
        if line.startswith("  "):
            yield Paragraph("asks" if text.endswith("?") else "items", lines=[text])
        elif step:
            yield Paragraph("steps", lines=[step[2]])
        elif text.startswith(DISPUTES):
            yield Paragraph("dispute", text)
        elif lead:
            yield Paragraph("caution" if lead[1] == CAUTION else "text", lead[2] or "", lead[1])
        else:
            yield Paragraph("text", text)
