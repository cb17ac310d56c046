"""A kept answer unfolded: each conclusion, its rules, the facts they matched, down to the rows and their own words.

Everything is read from the reply as it was sent and from the rows that it names, so that an old answer shows what it
rested on, and which of that has been put right since.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from advisor.facts import Value
from advisor.language.bounds import ASK, MOST_KEPT, MOST_WHOLE
from advisor.language.render import Speech, counted, label, listed, sentence_case
from advisor.language.said.said_back import said_back
from advisor.language.sentences import GRADE_WORDS
from advisor.records.kinds import Vocabulary
from advisor.records.sayings import ToldRow, told_rows
from advisor.records.schema import THINGS
from advisor.records.store import Garden

STRENGTHS = {
    "well-supported": "well supported by the evidence of the trade",
    "usual-practice": "usual practice in the trade",
    "disputed": "disputed in the trade",
}
OWNERS = {"yours": "your own rule", "yours for ours": "your own rule, in place of one of mine"}
SUBJECTS = {"plant": "of", "spot": "at"}
"""Fields that say of whom or where a fact is, told first."""
WORDS_KEPT = 160
"""Characters of a row's own words that are shown; the row's page has them all."""


@dataclass(frozen=True)
class RecordLine:
    """One recorded row, or a run of rows as one line. ``links`` are the rows it leads to: what to call it, kind, id."""

    text: str
    links: tuple[tuple[str, str, int], ...]
    words: str = ""
    told: str = ""
    since: str = ""


@dataclass(frozen=True)
class FactLine:
    """One fact. ``place`` numbers it within the answer; a fact told before only names that place in ``seen``.

    ``more`` counts facts below that the reply left out.
    """

    place: int
    text: str
    how: str
    rule: str = ""
    meaning: str = ""
    note: str = ""
    seen: int = 0
    more: int = 0
    facts: tuple[FactLine, ...] = ()
    records: tuple[RecordLine, ...] = ()

    @property
    def count(self) -> int:
        """How many lines of records stand under this fact, those of the facts below counted in."""
        return len(self.records) + sum(below.count for below in self.facts)


@dataclass(frozen=True)
class ReasonLine:
    """One rule behind a conclusion, with the facts that it matched."""

    rule: str
    says: str
    how_it_works: str
    strength: str
    owner: str
    sources: tuple[str, ...]
    history: str
    not_known: tuple[str, ...]
    facts: tuple[FactLine, ...]


@dataclass(frozen=True)
class ConclusionLine:
    """One conclusion in words, its grade before it, and the rules that reached it."""

    tell: str
    grade: str
    about: str
    reasons: tuple[ReasonLine, ...] = ()


def unfold(reply: Mapping[str, Any], garden: Garden, speech: Speech) -> list[ConclusionLine]:
    """Return what an answer concluded, the first first, each with its reasons down to recorded rows."""
    because: Sequence[Mapping[str, Any]] = reply.get("because", [])
    places = {place for one in _shown(reply) for place in one["because"] if place < len(because)}
    teller = _Teller(speech, _rows_behind([because[place] for place in sorted(places)], garden))
    made = []
    for one in _shown(reply):
        reasons = teller.reasons([because[place] for place in one["because"] if place < len(because)])
        grade = one.get("grade", "")
        words = GRADE_WORDS.get(grade, sentence_case(grade))
        side = f"{one['size']} point {one['side']}" if one.get("side") else ""
        names = [speech.name(name) for name in dict.fromkeys(one["about"].values()) if name in speech.names]
        told = any(name.casefold() in one["tell"].casefold() for name in names)
        shown = "" if told or not names else sentence_case(listed(names))
        made.append(ConclusionLine(one["tell"], words or sentence_case(side), shown, reasons))
    return made


def _shown(reply: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    """Return the conclusions whose reasons are shown: all that a reply brings, but of a very long one from before
    replies had bounds as many as one has now."""
    found: Sequence[Mapping[str, Any]] = reply.get("conclusions", [])
    return found if len(found) <= MOST_WHOLE else found[:MOST_KEPT]


def says_not_shown(reply: Mapping[str, Any]) -> str:
    """Say of how many conclusions the reasons are not shown, and how to get at them; "" where all are."""
    shown = len(_shown(reply))
    whole = len(reply.get("conclusions", [])) + int(reply.get("left_out", {}).get("conclusions", 0))
    if whole == shown:
        return ""
    return f"Reasons are here for {shown} of {whole} conclusions, those told first among them; {ASK}."


def disputes(reply: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return the rules that were drawn against each other in an answer: the one taken, and the one left."""
    return [(one["rules"][0], one["rules"][1]) for one in reply.get("disputes", [])]


# ---- the rows


def _rows_behind(because: Sequence[Mapping[str, Any]], garden: Garden) -> dict[tuple[str, int], ToldRow]:
    """Return every row that an answer names one by one, or as things with a name, in a query a kind."""
    wanted: dict[str, set[int]] = {}
    for entry in because:
        for fact in _all_facts(entry["from"]):
            kind, ids = _record_of(fact)
            if kind in garden.kinds and ids and not _is_run(fact):
                wanted.setdefault(kind, set()).update(ids)
    return {(kind, row): told for kind, ids in wanted.items() for row, told in told_rows(garden, kind, ids).items()}


def _all_facts(facts: Sequence[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    for fact in facts:
        yield fact
        yield from _all_facts(fact.get("from", []))


def _record_of(fact: Mapping[str, Any]) -> tuple[str, list[int]]:
    """Return the kind and the row numbers of a recorded fact, spans spelt out; none for another fact."""
    kind, _, spans = str(fact.get("record", "")).partition("/")
    ids: list[int] = []
    for span in spans.split(",") if spans else []:
        first, _, last = span.partition("-")
        ids += range(int(first), int(last or first) + 1)
    return kind, ids


def _is_run(fact: Mapping[str, Any]) -> bool:
    """Return whether a fact stands for a long run of dated rows, which is told by its first and last day."""
    return "count" in fact["fact"] and fact["fact"]["kind"] not in THINGS


# ---- the lines


@dataclass
class _Teller:
    """What is told of one answer; ``places`` are the facts told so far, so that none is told twice."""

    speech: Speech
    rows: Mapping[tuple[str, int], ToldRow]
    places: dict[str, int] = field(default_factory=dict)

    def reasons(self, entries: Sequence[Mapping[str, Any]]) -> tuple[ReasonLine, ...]:
        """Return the rules behind a conclusion; one that fired more than once is told once, with all its facts."""
        by_rule: dict[str, list[Mapping[str, Any]]] = {}
        for entry in entries:
            by_rule.setdefault(entry["rule"], []).append(entry)
        return tuple(self.reason(same) for same in by_rule.values())

    def reason(self, same: Sequence[Mapping[str, Any]]) -> ReasonLine:
        entry, facts = same[0], dict[str, FactLine]()
        for fact in (fact for one in same for fact in one["from"]):
            line = self.fact(fact)
            facts.setdefault(repr((line.text, line.seen or line.place, line.records)), line)
        return ReasonLine(
            entry["rule"],
            entry["says"],
            entry["how_it_works"],
            STRENGTHS.get(entry["strength"], entry["strength"]),
            OWNERS.get(entry.get("owner", ""), ""),
            tuple(entry["sources"]),
            _history(entry.get("history")),
            tuple(dict.fromkeys(asked for one in same for asked in one["not_known"])),
            tuple(facts.values()),
        )

    def fact(self, fact: Mapping[str, Any]) -> FactLine:
        if fact["origin"] == "recorded":
            return FactLine(0, "", "recorded", records=tuple(self._records(fact)))
        text = self._text(fact["fact"])
        key = repr(sorted(fact["fact"].items()))  # two facts may read alike, rounded as they are told
        if key in self.places:
            return FactLine(0, text, fact["origin"], seen=self.places[key])
        place = self.places[key] = len(self.places) + 1
        below = [self.fact(one) for one in fact["from"]]
        records = tuple(line for one in below if one.how == "recorded" for line in one.records)
        facts = tuple(one for one in below if one.how != "recorded")
        note = f"{sentence_case(fact['method'])}; {fact['trust']}." if fact.get("method") else ""
        meaning = self.speech.kinds[fact["fact"]["kind"]].says if fact["fact"]["kind"] in self.speech.kinds else ""
        rule = fact.get("rule", "")
        more = int(fact.get("more", 0))
        return FactLine(place, text, fact["origin"], rule, meaning, note, more=more, facts=facts, records=records)

    def _text(self, values: Mapping[str, Any]) -> str:
        """Return a fact as its kind and its fields, in the grower's units."""
        kind = self.speech.kinds.get(values["kind"])
        parts = []
        for name, value in values.items():
            if name in ("kind", *SUBJECTS) or value in ("", None):
                continue
            plain = value
            if kind and name in kind.fields and kind.fields[name].type == "date" and isinstance(value, str):
                plain = date.fromisoformat(value)
            if isinstance(plain, bool):
                parts.append(label(name) if plain else f"not {label(name)}")
            else:
                parts.append(f"{label(name)} {self.speech.value(name, plain, article=False)}")
        head = sentence_case(str(values["kind"]).replace("_", " "))
        for name, before in SUBJECTS.items():
            if values.get(name):
                head += f" {before} {self.speech.name(str(values[name]))}"
        return f"{head}: {', '.join(parts)}" if parts else head

    def _records(self, fact: Mapping[str, Any]) -> Iterator[RecordLine]:
        kind, ids = _record_of(fact)
        if not ids:
            return
        if _is_run(fact):
            yield self._run(kind, ids, fact["fact"])
            return
        told = [self.rows[kind, row] for row in ids if (kind, row) in self.rows]
        if kind in THINGS and len(told) > 1:
            links = tuple((str(one.values["name"]), kind, one.id) for one in told)
            yield RecordLine(f"{counted(len(told), kind)}:", links)
            return
        for one in told:
            yield self._row(one)

    def _run(self, kind: str, ids: Sequence[int], values: Mapping[str, Any]) -> RecordLine:
        of = "day of weather" if kind == "weather_day" else f"record of {kind.replace('_', ' ')}"
        first_word, rest = of.split(" ", 1)
        many = f"{counted(len(ids), first_word)} {rest}"
        first, last = (self._day(values.get(name)) for name in ("first", "last"))
        links = ((f"the first, {first}" if first else "the first", kind, ids[0]),
                 (f"the last, {last}" if last else "the last", kind, ids[-1]))  # fmt: skip
        return RecordLine(f"{many}:", links)

    def _day(self, value: object) -> str:
        return self.speech.day(date.fromisoformat(value[:10])) if isinstance(value, str) else ""

    def _row(self, one: ToldRow) -> RecordLine:
        text = sentence_case(said_back(one.kind, _told_values(one.values), self.speech).removeprefix("new "))
        words = one.words if len(one.words) <= WORDS_KEPT else f"{one.words[:WORDS_KEPT].rstrip()} ..."
        said = "" if not words or words.casefold() in text.casefold() else words
        return RecordLine(text, (("", one.kind, one.id),), said, _told(one), _since(one, self.speech.kinds))


def _told_values(values: Mapping[str, Value]) -> dict[str, Value]:
    return {name: value for name, value in values.items() if value != ""}


def _told(one: ToldRow) -> str:
    """Say who told a row, and by what way."""
    ways = {"file": f"file {one.ref}", "message": "a message", "page": "a form here", "command": "the command line"}
    who = f"the {one.said_by}" if one.said_by[:1].islower() else one.said_by
    return ", ".join(part for part in (who, ways.get(one.via, one.via)) if part)


def _since(one: ToldRow, kinds: Vocabulary) -> str:
    if one.in_use or one.kind not in kinds:
        return ""
    return "put right since" if one.replaced_by else "taken out of use since"


def _history(history: Mapping[str, int] | None) -> str:
    if not history:
        return ""
    return (
        f"Its advice was given {counted(history['given'], 'time')} before in this garden: followed"
        f" {history['followed']}, held {history['held']}, failed {history['failed']}."
    )
