"""A sentence as units: each a thing said of some plants or spots, with the list before it and the details after it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from advisor.language.names import tokens
from advisor.language.quantities import Quantity, find_quantities
from advisor.language.said.events import SHOOT, events_of, is_fruit, is_new
from advisor.language.said.joining import put_together
from advisor.language.said.mentions import Mention
from advisor.language.said.pieces import Piece, pieces
from advisor.language.said.stages import SaidStage, find_stages
from advisor.language.said.subjects import find_subjects
from advisor.language.said.unit import LENGTH_UNITS, TEMPERATURE_UNITS, Ears, Unit
from advisor.language.when import Said, find_times


def units_of(sentence: Piece, ears: Ears) -> list[Unit]:
    """Return the units of a sentence, in order."""
    mentions, quantities, times, stages = _found_in(sentence, ears)
    head = _header(sentence, mentions)
    body = Piece(sentence.text[len(head.text) + 1 :], head.end + 1, sentence.end, sentence.asks) if head else sentence
    spoken = [one.start for one in mentions]
    said = [one.start for one in stages] + [one.start for one in _temperatures(quantities, sentence.text)]
    said += [q.start for q in _of_growth(quantities, sentence.text)]
    said += [
        hit.start() + sentence.start
        for work in ears.talk.sections["work"].values()
        for hit in work.finditer(sentence.text)
    ]
    across = [(one.start, one.end) for one in mentions]
    across += (
        [(q.start, q.end) for q in quantities] + [(t.start, t.end) for t in times] + [(s.start, s.end) for s in stages]
    )
    whole = _is_new(sentence, ears) or (ears.talk.has("ground", "dew", sentence.text) and len(quantities) >= 2)
    cut = [sentence] if whole else [p for piece in _uncut(pieces(body), across) for p in _parted(piece, spoken, said)]
    made = []
    for piece in cut:
        inside = range(piece.start, piece.end)
        unit = Unit(
            [piece],
            [one for one in mentions if one.start in inside],
            [q for q in quantities if q.start in inside],
            [t for t in times if t.start in inside],
            [s for s in stages if s.start in inside],
        )
        if head and not whole:
            _take_header(unit, head, quantities, times)
        unit.events = events_of(unit, ears)
        if head and not unit.events and unit.plants() and ears.talk.first("work", head.text):
            unit.events = ["work"]  # "fed: tub 1, tub 2"
        made.append(unit)
    return put_together(made, ears)


def _found_in(
    sentence: Piece, ears: Ears
) -> tuple[Sequence[Mention], list[Quantity], list[Said], list[SaidStage]]:  # fmt: skip
    """Return all that a sentence names, with places in the message."""
    text, offset = sentence.text, sentence.start
    mentions = _without_pots(find_subjects(text, ears.yard, offset).mentions, text, offset)
    spans = [(one.start, one.end) for one in mentions]

    def free(start: int, end: int) -> bool:
        return not any(first <= start and end <= last for first, last in spans)

    blank = _without(text, [(one.start - offset, one.end - offset) for one in mentions])
    told = DEW_POINT.sub(lambda match: match[0].replace(" ", "_"), text)
    quantities = [replace(q, start=q.start + offset, end=q.end + offset) for q in find_quantities(told, ears.names)]
    times = [
        replace(t, start=t.start + offset, end=t.end + offset) for t in find_times(blank, ears.now, ears.day_first)
    ]
    since = [(t.start - offset, t.end - offset) for t in times if t.since]
    for one in mentions:  # "peach in bloom, pear not yet": what is not yet is said of the pear alone
        at = one.start - offset
        if NOT_YET.match(text, one.end - offset) and re.search(r"[,;]\s*(?:but |and )?(?:the )?$", text[:at]):
            blank = f"{blank[:at]}.{blank[at + 1 :]}"
    stages = [
        replace(s, start=s.start + offset, end=s.end + offset) for s in find_stages(_without(blank, since), ears.stages)
    ]
    times = [t for t in times if free(t.start, t.end)]
    picked = ears.talk.has("crop", "verbs", text) or ears.talk.has("crop", "gave", text)
    quantities = [q for q in quantities if free(q.start, q.end) or (picked and is_fruit(q, ears.yard))]
    quantities = [q for q in quantities if not any(t.start < q.end and q.start < t.end for t in times)]
    quantities = [_after_a_name(q, mentions, text, offset, ears) for q in quantities]
    return mentions, quantities, times, [s for s in stages if free(s.start, s.end)]


def _after_a_name(q: Quantity, mentions: Sequence[Mention], text: str, offset: int, ears: Ears) -> Quantity:
    """Return a figure that stands right after the name of one plant or spot, in a garden in which none like it ends
    in a figure: "black pot 13" is not the thirteenth pot."""
    if q.doubt != "name":
        return q
    before = [m for m in mentions if m.sure and len(m.names) == 1 and m.end <= q.start]
    whose = [m for m in before if _is_gap(text[m.end - offset : q.start - offset])]
    last = [tokens(text[m.start - offset : q.start - offset])[-1] for m in whose]
    numbered = any(name[-2:-1] == last and name[-1].isdigit() for name in map(tokens, ears.names))
    return replace(q, doubt="") if last and not numbered else q


def _without_pots(mentions: Sequence[Mention], text: str, offset: int) -> list[Mention]:
    """Return mentions without a bare word for pots right after a plant: "the store fig pot" is the pot of that fig."""
    return [
        one
        for one in mentions
        if one.sure
        or not POT.fullmatch(text[one.start - offset : one.end - offset])
        or not any(m.sure and m.kind == "plant" and _is_gap(text[m.end - offset : one.start - offset])
                   for m in mentions if m.end <= one.start)
    ]  # fmt: skip


def _is_gap(text: str) -> bool:
    return GAP.fullmatch(text) is not None


POT = re.compile(r"pots?|tubs?|containers?", re.IGNORECASE)
GAP = re.compile(r"(?:['’]s)?\s*(?:pot|tub)?\s*", re.IGNORECASE)
NOT_YET = re.compile(r"\s*(?:is |are )?not yet\b", re.IGNORECASE)
DEW_POINT = re.compile(r"\bdew\s(?:point|pt)\b", re.IGNORECASE)


def _without(text: str, spans: Sequence[tuple[int, int]]) -> str:
    """Return a text with the names in it blanked, so that "gate" in one is not read as a word of its own."""
    for start, end in spans:
        before = AT.search(text[:start])
        first = before.start() if before else start
        text = text[:first] + " " * (end - first) + text[end:]
    return text


AT = re.compile(r"\b(?:at|by|near|in|on|under|beside|behind|from|off)\s+(?:the\s+)?$", re.IGNORECASE)


def _is_new(sentence: Piece, ears: Ears) -> bool:
    """Return whether a sentence tells a new plant or spot, all of it being its description."""
    text, has = sentence.text, ears.talk.has
    named = has("new", "named", text)
    return (has("new", "plant", text) and named) or is_new(text, ears)


def _temperatures(quantities: Sequence[Quantity], text: str) -> list[Quantity]:
    """Return the figures that are temperatures by their unit, or without one where the soil or the air is spoken of."""
    spoken = OF_READINGS.search(text) or any(q.unit in ("cm", "in") for q in quantities)
    bare = [q for q in quantities if spoken and not q.unit and not q.counted and not q.doubt]
    return [q for q in quantities if q.unit in TEMPERATURE_UNITS or q.degrees] + bare


def _of_growth(quantities: Sequence[Quantity], text: str) -> list[Quantity]:
    """Return the figures that tell of leaves or of shoots, each of the plant before it."""
    counted = [q for q in quantities if q.counted in ("leaves", "nodes")]
    long = [q for q in quantities if q.unit in LENGTH_UNITS] if SHOOT.search(text) else []
    bare = [q for q in quantities if not q.unit and not q.counted and not q.doubt] if counted else []
    return [*counted, *long, *bare]


OF_READINGS = re.compile(r"\b(?:soil|air|low|lo|min|minimum)\b", re.IGNORECASE)


def _parted(piece: Piece, spoken: Sequence[int], said: Sequence[int]) -> list[Piece]:
    """Return a piece cut where several plants or spots take turns with what is said of them, as voices run on."""
    marks = sorted([(at, "who") for at in spoken] + [(at, "what") for at in said])
    marks = [(at, sort) for at, sort in marks if piece.start <= at < piece.end]
    turns = [marks[n] for n in range(len(marks)) if n == 0 or marks[n][1] != marks[n - 1][1]]
    if len(turns) < 4 or len(turns) % 2 or sum(sort == "who" for _, sort in turns) < 2:
        return [piece]
    starts = [at for at, sort in turns if sort == turns[0][1]]
    edges = [piece.start, *starts[1:], piece.end]
    found = []
    for first, last in pairwise(edges):
        text = piece.text[first - piece.start : last - piece.start]
        found.append(Piece(text.strip(" ,"), first, first + len(text.rstrip(" ,")), piece.asks))
    return found


def _header(sentence: Piece, mentions: Sequence[Mention]) -> Piece | None:
    """Return what stands before a colon and is said of all that follows: "soil at 10 cm: gate 11, hollow 8"."""
    found = COLON.search(sentence.text)
    colon = found.start() if found else -1
    if colon < 2:
        return None
    if any(one.start < sentence.start + colon for one in mentions):
        return None
    return Piece(sentence.text[:colon], sentence.start, sentence.start + colon)


COLON = re.compile(r":(?!\d)")


def _take_header(unit: Unit, head: Piece, quantities: Sequence[Quantity], times: Sequence[Said]) -> None:
    """Give a unit the words of the header, and its length and time where it has none itself."""
    unit.header = head.text
    if not any(q.unit in LENGTH_UNITS for q in unit.quantities):
        unit.quantities += [q for q in quantities if q.unit in LENGTH_UNITS and q.end <= head.end]
    if not unit.times:
        unit.times += [t for t in times if t.end <= head.end]


def _uncut(cut: Sequence[Piece], across: Sequence[tuple[int, int]]) -> list[Piece]:
    """Return the pieces with those put together again that a name, a figure, a time or a stage runs across."""
    joined: list[Piece] = []
    for piece in cut:
        if joined and any(start < joined[-1].end and end > piece.start for start, end in across):
            before = joined.pop()
            gap = " " * max(piece.start - before.end, 0)
            piece = Piece(before.text + gap + piece.text, before.start, piece.end, piece.asks)
        joined.append(piece)
    return joined
