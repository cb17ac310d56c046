"""How things stand by the records alone: where a plant is, how old, what lies at a spot, which plants are awake.

No rule is asked. The question must be nothing but such a question, so that none about a reason or a place is taken for
one.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from advisor.facts import Fact, Recorded, Value
from advisor.language.names import tokens
from advisor.language.render import Speech, counted, listed
from advisor.language.said.mentions import Mention
from advisor.language.said.said_back import all_said_back, said_back
from advisor.language.said.subjects import find_subjects
from advisor.language.said.yard import Yard
from advisor.reasoning.derive.ground import cover_on
from advisor.reasoning.derive.growth_year import phase_of
from advisor.reasoning.derive.plants import stand_of, timeline_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import reached

MOST_FURTHEST = 4
MOST_NAMED = 10
"""Plants named in one sentence; of more it is said how many."""
NAME = "@"
"""Stands for the name in a question."""


@dataclass(frozen=True)
class Standing:
    """What the records say, and which of them."""

    text: str
    rows: Sequence[Fact]
    about: dict[str, object]

    @property
    def records(self) -> list[dict[str, object]]:
        refs = [
            (fact.kind, row) for fact in self.rows if isinstance(fact.origin, Recorded) for row in fact.origin.row_ids
        ]
        return [{"kind": kind, "id": row} for kind, row in dict.fromkeys(refs)]


def as_it_stands(text: str, scene: Scene, yard: Yard, speech: Speech) -> Standing | None:
    """Return how something stands that a message asks for, None where it asks for something else."""
    for pattern, of_many in ((WHICH_ARE, _which_are), (WHICH_IS, _which_is), (OUTSIDE, _outside), (THERE, _there)):
        found = pattern.fullmatch(_plain(text))
        if found is not None:
            return of_many(found, scene, yard, speech)
    if not any(re.fullmatch(pattern.replace(NAME, ".+"), _plain(text)) for pattern, _, _ in OF_ONE):
        return None  # names are looked for only where a question is of that form
    mentions = find_subjects(text, yard).mentions
    if len(mentions) != 1 or not mentions[0].sure or len(mentions[0].names) != 1:
        return None
    one = mentions[0]
    asked = _plain(text[: one.start] + NAME + text[one.end :])
    return next((answer(one, scene, speech) for pattern, kinds, answer in OF_ONE
                 if one.kind in kinds and re.fullmatch(pattern, asked)), None)  # fmt: skip


def _plain(text: str) -> str:
    """Return a question in small letters, without its mark and what is said before it."""
    bare = " ".join(text.casefold().replace("’", "'").split()).strip(" ?!.,")
    return BEFORE.sub("", bare)


BEFORE = re.compile(r"^(?:(?:and|so|hi|hey|please|ok)[, ]+)+")


# ---- of one plant or spot


def _where(one: Mention, scene: Scene, speech: Speech) -> Standing:
    name = one.names[0]
    line, plant = timeline_of(scene, scene.plants[name]), scene.plants[name]
    stand = line.on(scene.today)
    since = max((day for day in line.moved if day <= scene.today), default=None)
    grown = {"pot": " in a pot", "ground": " in the ground"}.get(stand.growing, "")
    if not stand.spot:
        to = next(iter(scene.spots), "porch")
        text = f"Where {speech.name(name)} stands is not recorded. Tell me, as in: moved {name} to {speech.name(to)}."
    else:
        when = f", since {speech.day(since)}" if since else ""
        text = f"{_upper(speech.name(name))} stands{grown} at {speech.name(stand.spot)}{when}."
    return Standing(text, stand.because or (plant,), {"plant": name})


def _age(one: Mention, scene: Scene, speech: Speech) -> Standing:
    name = one.names[0]
    plant = scene.plants[name]
    planted = plant.day("planted")
    if planted is None:
        text = f"When {speech.name(name)} was planted is not recorded."
    else:
        years = scene.today.year - planted.year - ((scene.today.month, scene.today.day) < (planted.month, planted.day))
        ago = counted(years, "year") if years else "less than a year"
        text = f"{_upper(speech.name(name))} was planted on {_dated(planted, speech)}, {ago} ago."
    return Standing(text, (plant,), {"plant": name})


def _lies_there(one: Mention, scene: Scene, speech: Speech) -> Standing:
    spot = one.names[0]
    cover = cover_on(scene, spot, scene.today)
    stands = [(plant, stand_of(scene, plant, scene.today)) for plant in scene.plants.values()]
    there = [(plant, stand) for plant, stand in stands if stand.spot == spot]
    names = listed([speech.name(plant.text("name")) for plant, _ in there])
    lies = f"On it: {said_back('cover', cover.values, speech)}." if cover else "What covers it is not recorded."
    stand = f"{_upper(names)} {'stand' if len(there) > 1 else 'stands'} there." if there else "No plant stands there."
    rows = [*((cover,) if cover else ()), *(row for _, one in there for row in one.because)]
    return Standing(f"{lies} {stand}", rows, {"spots": [spot]})


def _last_reading(one: Mention, scene: Scene, speech: Speech) -> Standing:
    name = one.names[0]
    about: dict[str, object] = {"plant": name} if one.kind == "plant" else {"spots": [name]}
    rows = scene.of_plant("soil_reading", name) if one.kind == "plant" else scene.of_spot("soil_reading", name)
    if not rows and one.kind == "plant":
        spot = stand_of(scene, scene.plants[name], scene.today).spot
        rows = scene.of_spot("soil_reading", spot) if spot else []
    if not rows:
        return Standing(f"No soil was read at {speech.name(name)} yet.", (), about)
    last = max(rows, key=scene.when)
    return Standing(f"Last read: {said_back('soil_reading', last.values, speech)}.", (last,), about)


AT = r"(?:at|in|on|of|under|by|for) "
IT = r"(?:the |my |our )?@"
READ = r"(?:soil(?: temp(?:erature)?| reading)?|temp(?:erature)?|reading)"
OF_ONE: Sequence[tuple[str, tuple[str, ...], Callable[[Mention, Scene, Speech], Standing]]] = (
    (rf"where(?:'s| is| s)? {IT}(?: now| standing| at| at now)?", ("plant",), _where),
    (rf"where (?:does|did i put|have i put) {IT}(?: stand| go)?", ("plant",), _where),
    (rf"how old(?:'s| is)? {IT}(?: now)?", ("plant",), _age),
    (rf"when (?:was|did (?:i|we)) (?:plant )?{IT}(?: planted)?", ("plant",), _age),
    (rf"what(?:'s| is| s)? (?:lying |planted |growing |standing )?{AT}{IT}(?: now)?", ("spot",), _lies_there),
    (rf"what (?:grows|stands|lies|do i have|have i got) {AT}{IT}(?: now)?", ("spot",), _lies_there),
    (
        rf"(?:what(?:'s| is| was| s)? )?(?:the )?(?:last |latest |newest )?{READ} {AT}{IT}(?: now)?",
        ("plant", "spot"),
        _last_reading,
    ),
)
"""What is asked of one thing, its name as "@", what sort of thing that is, and what answers it."""


# ---- of many plants


def _is_asleep(bbch: int) -> bool:
    return not reached(bbch, "waking") and phase_of(bbch) in ("asleep", "swelling")


STATES: dict[str, tuple[tuple[str, ...], Callable[[int], bool]]] = {
    "not awake yet": (("asleep", "sleeping", "dormant", "not awake"), _is_asleep),
    "awake": (("awake", "waking", "up", "growing", "moving"), lambda bbch: reached(bbch, "waking")),
    "in leaf": (("in leaf", "leafing out", "leafed out"), lambda bbch: phase_of(bbch) in ("leaf", "fruit")),
    "in bloom": (("in bloom", "in flower", "blooming", "flowering", "in blossom"), lambda b: phase_of(b) == "flower"),
}  # fmt: skip
"""States of plants: the words for each, and whether a BBCH code is one."""
_WORDS = "|".join(re.escape(word) for words, _ in STATES.values() for word in words)
WHICH_IS = re.compile(
    r"(?:which|what)(?: one)?(?: of)?(?: the| my| our)?(?: (?P<kind>[a-z' -]+?))??(?: is| are|'s)?(?: the)? "
    r"(?:(?P<last>slowest|last|latest|furthest behind|most behind)"
    r"|first|earliest|furthest along|furthest ahead|furthest on|most advanced)(?: to wake| awake)?"
)
OUTSIDE = re.compile(
    r"(?:what|which)(?: ones| pots| tubs)?(?:'s| is| are|s)?(?: still)? "
    r"(?P<where>out|outside|outdoors|inside|indoors|under cover)"
)
THERE = re.compile(
    r"which (?P<kind>[a-z' -]+?) (?:are|is|stand|stands)(?: still| now)? "
    r"(?:at|in|on|by) (?:the |my )?(?P<spot>[\w' -]+)"
)
WHICH_ARE = re.compile(
    rf"(?:which|what|how many)(?: ones)?(?: of)?(?: the| my| our)?(?: (?P<kind>[a-z' -]+?))??(?: is| are|'s)?"
    rf"(?: still| already| yet| now| all)? (?P<state>{_WORDS})(?: now| yet| already| today)?"
)


def _which_are(found: re.Match[str], scene: Scene, yard: Yard, speech: Speech) -> Standing | None:
    """Return which plants of a kind, or of all, are in a state, as each was last seen in this growing year."""
    plants = _of_kind(found["kind"] or "", scene, yard)
    if plants is None:
        return None
    state, is_so = next((name, test) for name, (words, test) in STATES.items() if found["state"] in words)
    seen = {name: rows[-1] for name in plants if (rows := scene.of_plant_since("stage", name, scene.year_start))}
    so = [row for row in seen.values() if is_so(int(row.number("bbch") or 0))]
    so.sort(key=lambda row: (row.day("on") or date.min, row.text("plant")), reverse=True)
    unseen = [name for name in plants if name not in seen]
    if not seen:
        text = f"None of the {counted(len(plants), 'plant')} asked about was looked at in this growing year."
        return Standing(text, (), {})
    lines = [f"{len(so)} of {counted(len(seen), 'plant')}, as last seen, {state}{':' if so else '.'}"]
    lines += _listed(so, speech)
    if unseen:
        named = [speech.name(name) for name in unseen[:MOST_NAMED]]
        more = f" and {len(unseen) - MOST_NAMED} more" if len(unseen) > MOST_NAMED else ""
        told = f"{', '.join(named)}{more}" if more else listed(named)
        lines.append(f"Not looked at in this growing year: {told}.")
    return Standing("\n".join(lines), so, {})


def _which_is(found: re.Match[str], scene: Scene, yard: Yard, speech: Speech) -> Standing | None:
    """Return which plants of a kind, or of all, are least far or furthest by their last stage of this growing year."""
    plants = _of_kind(found["kind"] or "", scene, yard)
    seen = [rows[-1] for name in plants or () if (rows := scene.of_plant_since("stage", name, scene.year_start))]
    if plants is None or not seen:
        return None
    last = bool(found["last"])
    seen.sort(key=lambda row: (row.number("bbch") or 0, row.text("plant")), reverse=not last)
    head = f"{'Least far' if last else 'Furthest'} of {counted(len(seen), 'plant')}, as last seen:"
    beside = "Those under cover or under glass run ahead; why one is late is told beside those grown as it is."
    return Standing("\n".join((head, *_listed(seen[:MOST_FURTHEST], speech), beside)), seen[:MOST_FURTHEST], {})


def _outside(found: re.Match[str], scene: Scene, yard: Yard, speech: Speech) -> Standing:
    """Return which pots stand in the open, or under a roof, by their last move."""
    roofed = found["where"] in ("inside", "indoors", "under cover")
    pots = {
        name: stand
        for name, row in scene.plants.items()
        if (stand := stand_of(scene, row, scene.today)).growing == "pot"
    }
    known = {name: stand for name, stand in pots.items() if stand.spot and stand.under_cover}
    so = [(name, stand) for name, stand in known.items() if (stand.under_cover != "none") == roofed]
    told = listed([f"{speech.name(name)} at {speech.name(stand.spot)}" for name, stand in so]) or "none"
    unknown = listed([speech.name(name) for name in pots if name not in known])
    lines = [f"Of {counted(len(known), 'pot')} {'under a roof' if roofed else 'in the open'}: {told}."]
    lines += [f"Not known of {unknown}: where it stands, or what roof is there."] if unknown else []
    return Standing("\n".join(lines), [row for _, stand in so for row in stand.because], {})


def _there(found: re.Match[str], scene: Scene, yard: Yard, speech: Speech) -> Standing | None:
    """Return which plants of a kind, or of all, stand at a spot."""
    spot = next((name for name in scene.spots if tokens(name) == tokens(found["spot"])), None)
    plants = _of_kind(found["kind"], scene, yard)
    if spot is None or plants is None:
        return None
    stands = [(name, stand_of(scene, scene.plants[name], scene.today)) for name in plants]
    there = [(name, stand) for name, stand in stands if stand.spot == spot]
    names = listed([speech.name(name) for name, _ in there]) or "none"
    text = f"At {speech.name(spot)}: {names}."
    return Standing(text, [row for _, stand in there for row in stand.because], {"spots": [spot]})


def _listed(rows: Sequence[Fact], speech: Speech) -> list[str]:
    """Return stages as lines, the rest of very many as a number."""
    shown: list[tuple[str, Mapping[str, Value]]] = [("stage", row.values) for row in rows[:MOST_NAMED]]
    lines = [all_said_back(shown, speech)] if shown else []
    return [*lines, f"and {len(rows) - MOST_NAMED} more."] if len(rows) > MOST_NAMED else lines


def _of_kind(said: str, scene: Scene, yard: Yard) -> list[str] | None:
    """Return the plants that a word means: a kind of tree, pots, or all; None for a word that means none of these."""
    words = tokens(said)
    if not words or words[-1] in ("trees", "tree", "plants", "plant", "of them"):
        return list(scene.plants) if len(words) <= 1 else None
    if words[-1] in ("pots", "tubs", "pot", "tub") and len(words) == 1:
        return [name for name, row in scene.plants.items() if stand_of(scene, row, scene.today).growing == "pot"]
    kinds = [key for key, names in yard.species if any(_same_word(tokens(name), words) for name in names)]
    named = [name for name, row in scene.plants.items() if row.text("species") in kinds]
    return named or None


def _same_word(name: Iterable[str], said: Iterable[str]) -> bool:
    """Return whether a kind's name was said, whether of one or of many of it."""
    return [word.removesuffix("s") for word in name] == [word.removesuffix("s") for word in said]


def _dated(day: date, speech: Speech) -> str:
    told = speech.day(day)
    return told if str(day.year) in told else f"{told} {day.year}"


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
