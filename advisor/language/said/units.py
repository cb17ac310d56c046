"""A sentence as units: each a thing said of some plants or spots, with the list before it and the details after it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from advisor.language.quantities import Quantity, find_quantities
from advisor.language.said.pieces import Piece, pieces
from advisor.language.said.stages import SaidStage, find_stages
from advisor.language.said.subjects import Mention, find_subjects
from advisor.language.said.yard import Yard
from advisor.language.when import Said, find_times
from advisor.records.stage_words import StageWords
from advisor.records.talk_words import TalkWords

TEMPERATURE_UNITS = ("c", "f", "freezing")
LENGTH_UNITS = ("cm", "mm", "m", "in", "ft")
EVENTS = (
    "new",
    "evening",
    "forecast",
    "crop",
    "look",
    "harm",
    "move",
    "cover",
    "work",
    "growth",
    "stage",
    "temperature",
)


@dataclass(frozen=True)
class Ears:
    """What hearing needs besides the message: the garden's names, word lists, the clock, the order of dates."""

    yard: Yard
    talk: TalkWords
    stages: StageWords
    now: datetime
    day_first: bool

    @property
    def names(self) -> list[str]:
        return [*(plant.name for plant in self.yard.plants), *(spot.name for spot in self.yard.spots)]


@dataclass
class Unit:
    """One thing said: its pieces of text, whom it speaks of, its figures, times and stages, and its sorts of event.

    ``inherited`` says that it names nothing itself and takes the subject of the unit before it.
    """

    pieces: list[Piece] = field(default_factory=list)
    mentions: list[Mention] = field(default_factory=list)
    quantities: list[Quantity] = field(default_factory=list)
    times: list[Said] = field(default_factory=list)
    stages: list[SaidStage] = field(default_factory=list)
    events: list[str] = field(default_factory=list)
    inherited: bool = False

    @property
    def text(self) -> str:
        return ", ".join(piece.text for piece in self.pieces)

    @property
    def start(self) -> int:
        return self.pieces[0].start

    @property
    def verb_first(self) -> bool:
        """Whether what is said stands before those it is said of: "pinched the wall fig"."""
        first = min((mention.start for mention in self.mentions), default=None)
        return first is not None and first > self.start + 2

    def plants(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "plant"]

    def spots(self) -> list[Mention]:
        return [one for one in self.mentions if one.kind == "spot"]


def units_of(sentence: Piece, ears: Ears) -> list[Unit]:
    """Return the units of a sentence, in order."""
    text, offset = sentence.text, sentence.start
    mentions = find_subjects(text, ears.yard, offset).mentions
    spans = [(one.start - offset, one.end - offset) for one in mentions]
    quantities = [q for q in find_quantities(text, ears.names) if not _inside(q.start, q.end, spans)]
    times = [t for t in find_times(text, ears.now, ears.day_first) if not _inside(t.start, t.end, spans)]
    quantities = [q for q in quantities if not any(t.start < q.end and q.start < t.end for t in times)]
    stages = [s for s in find_stages(text, ears.stages) if not _inside(s.start, s.end, spans)]
    cut = _uncut(pieces(sentence), mentions, quantities, times, stages, offset)
    made: list[Unit] = []
    for piece in cut:
        first, last = piece.start, piece.end
        made.append(
            Unit(
                [piece],
                [one for one in mentions if first <= one.start < last],
                [q for q in quantities if first <= q.start + offset < last],
                [t for t in times if first <= t.start + offset < last],
                [s for s in stages if first <= s.start + offset < last],
            )
        )
    for unit in made:
        unit.events = events_of(unit, ears)
    return _joined(made, ears)


def _inside(start: int, end: int, spans: Sequence[tuple[int, int]]) -> bool:
    return any(first <= start and end <= last for first, last in spans)


def _uncut(
    cut: Sequence[Piece],
    mentions: Sequence[Mention],
    quantities: Sequence[Quantity],
    times: Sequence[Said],
    stages: Sequence[SaidStage],
    offset: int,
) -> list[Piece]:
    """Return the pieces with those put together again that a name, a figure, a time or a stage runs across."""
    across = [(one.start, one.end) for one in mentions]
    across += [(one.start + offset, one.end + offset) for group in (quantities, times, stages) for one in group]
    joined: list[Piece] = []
    for piece in cut:
        if joined and any(start < joined[-1].end and end > piece.start for start, end in across):
            before = joined.pop()
            gap = " " * max(piece.start - before.end, 0)
            piece = Piece(before.text + gap + piece.text, before.start, piece.end, piece.asks)
        joined.append(piece)
    return joined


def events_of(unit: Unit, ears: Ears) -> list[str]:
    """Return what sorts of thing a stretch says, the one to be read first coming first."""
    text, talk = unit.text, ears.talk
    has = talk.has
    found = set()
    temps = temperatures(unit)
    if (has("new", "plant", text) or has("new", "spot", text)) and (has("new", "named", text) or not unit.mentions):
        found.add("new")
    if temps and has("ground", "dew", text):
        found.add("evening")
    to_come = any(time.to_come for time in unit.times)
    if (temps or any(has("ground", word, text) for word in ("clear", "part_cloud"))) and (
        to_come or has("ground", "forecast", text)
    ):
        found.add("forecast")
    weighed = any(q.unit in ("kg", "g", "lb", "oz") or q.counted in ("fruits", "figs") for q in unit.quantities)
    if has("crop", "verbs", text) and (weighed or has("crop", "first", text) or has("crop", "breba", text)):
        found.add("crop")
    if any(has("look", word, text) for word in ("scratch", "gnawed", "not_gnawed")) or _root_ball(unit, talk):
        found.add("look")
    if (
        any(q.counted == "buds" for q in unit.quantities)
        and has("look", "buds_cut", text)
        and "node" not in text.casefold()
    ):
        found.add("look")
    if talk.first("harm.cause", text) and has("harm", "verbs", text):
        found.add("harm")
    if has("harm.extent", "killed", text) and unit.plants() and not found & {"look"}:
        found.add("harm")
    if has("move", "verbs", text) and (
        has("move", "to_place", text) or has("move", "out", text) or has("move", "in", text)
    ):
        found.add("move")
    if material_of(text, ears.yard) and (has("cover", "off", text) or has("cover", "on", text)) and not temps:
        found.add("cover")
    if has("cover", "bare", text) and unit.mentions and not temps:
        found.add("cover")
    if talk.first("work", text):
        found.add("work")
    at_nodes = "node" in text.casefold()
    if any(q.counted in ("leaves", "nodes") or (q.counted == "buds" and at_nodes) for q in unit.quantities):
        found.add("growth")
    shoots = any(word in text.casefold() for word in ("shoot", "growth", "grown", "extension"))
    if shoots and any(q.unit in LENGTH_UNITS for q in unit.quantities):
        found.add("growth")
    if unit.stages:
        found.add("stage")
    if temps and not found & {"forecast", "evening"}:
        found.add("temperature")
    return [event for event in EVENTS if event in found]


def _root_ball(unit: Unit, talk: TalkWords) -> bool:
    words = ("dry", "moist", "wet")
    return talk.has("look", "root_ball", unit.text) and any(talk.has("look", word, unit.text) for word in words)


def temperatures(unit: Unit) -> list[Quantity]:
    """Return the figures of a unit that may be temperatures."""
    no_temperature = ("name", "time", "date")
    return [
        q
        for q in unit.quantities
        if (q.unit in TEMPERATURE_UNITS or q.degrees or (not q.unit and not q.counted))
        and q.doubt not in no_temperature
    ]


def material_of(text: str, yard: Yard) -> str:
    """Return the cover material that a text names, the longest name first; "" for none."""
    words = f" {' '.join(text.casefold().replace('-', ' ').split())} "
    named = sorted(
        ((name, key) for key, names in yard.materials for name in (key, *names) if key != "bare"),
        key=lambda entry: -len(entry[0]),
    )
    for name, key in named:
        if any(f" {form}{end}" in words for form in (name, f"{name}s") for end in (" ", ",", ".", ":")):
            return key
    return "" if " mulch " not in words and " mulched " not in words else "mulch"


def _joined(made: Sequence[Unit], ears: Ears) -> list[Unit]:
    """Return units with lists joined to what is said of them, and details joined to what they are details of."""
    found: list[Unit] = []
    waiting: list[Unit] = []
    for place, unit in enumerate(made):
        if unit.events:
            for before in waiting:
                _add(unit, before, front=True)
            waiting = []
            if not unit.mentions and found and "new" not in unit.events:
                unit.mentions, unit.inherited = list(found[-1].mentions), True
            found.append(unit)
        elif unit.mentions:
            later = next((one for one in made[place + 1 :] if one.events), None)
            if found and (found[-1].verb_first or later is None) and not waiting:
                _add(found[-1], unit)
            else:
                waiting.append(unit)
        elif waiting or not found:
            waiting.append(unit)
        else:
            _add_details(found, unit, last=place == len(made) - 1)
    if waiting and found:
        for left in waiting:
            _add(found[-1], left)
    elif waiting:
        alone = waiting[0]
        for more in waiting[1:]:
            _add(alone, more)
        found.append(alone)
    return found


def _add(unit: Unit, other: Unit, *, front: bool = False) -> None:
    for name in ("pieces", "mentions", "quantities", "times", "stages"):
        mine, theirs = getattr(unit, name), getattr(other, name)
        setattr(unit, name, [*theirs, *mine] if front else [*mine, *theirs])


def _add_details(found: Sequence[Unit], unit: Unit, *, last: bool) -> None:
    """Add depth, sky or a time that stands by itself to what it belongs to: at the end of several readings to all."""
    readings = [one for one in found if "temperature" in one.events]
    if last and len(readings) > 1 and len(readings) == len(found):
        for one in readings:
            _add(one, unit)
    else:
        _add(found[-1], unit)
