"""What if, of a place for a tree: a wall built or gone, a cover, mulch, white paint, another sort or another kind."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from advisor.facts import Fact, Recorded, Value
from advisor.language.names import find_species
from advisor.language.said.events import material_of
from advisor.language.said.subjects import find_subjects
from advisor.language.said.yard import Yard
from advisor.reasoning.derive.scene import Records
from advisor.records.species import Lore
from advisor.records.talk_words import TalkWords
from advisor.talk.supposing import SUPPOSED, Supposition, covered

GONE = re.compile(
    r"\b(?:no|without(?: an?| the| that)?)(?: \w+)? walls?\b"
    r"|\b(?:not|weren't|wasn't|werent|wasnt)(?: \w+)? (?:there|here)\b"
    r"|\b(?:gone|removed?|demolish(?:ed)?|(?:tak(?:en?|ing)|took|pull(?:ed)?|torn|tore|knock(?:ed)?|fell|fallen)\b.*\b(?:away|down))\b",
    re.IGNORECASE,
)
BUILT_OF = re.compile(
    r"\b(?:stone|brick|wooden|concrete|timber|straw|clay|dry)[ -](?=(?:stone )?walls?\b)", re.IGNORECASE
)
FACING = re.compile(
    r"\b(north|south|east|west|north[ -]?east|north[ -]?west|south[ -]?east|south[ -]?west)[ -]fac\w+", re.IGNORECASE
)
SIDES = {"north": "N", "south": "S", "east": "E", "west": "W"}
PAINT = re.compile(r"\b(?:paint\w*|whitewash\w*|limewash\w*)\b", re.IGNORECASE)
WALL = re.compile(r"\bwalls?\b", re.IGNORECASE)
COVER = re.compile(r"\b(?:fleeced?|cover(?:s|ed)?|blankets?|cloths?|sheets?|wrapped)\b", re.IGNORECASE)
FROST_COVER = re.compile(r"\b(?:frost\w*|night\w*|bloom|blossom|flower\w*|fleeced?|blankets?|sheets?)\b", re.IGNORECASE)
SORT = re.compile(
    r"\b(late|later|early|earlier)(?:[ -]+(?:blooming|flowering))?[ -]+"
    r"(?:one|sort|cultivar|variety|kind|bloomer|flowerer|tree|kind of tree)\b",
    re.IGNORECASE,
)

PAINTED = (
    "White paint keeps the trunk cooler on sunny winter days and holds the swelling of buds back by little (common "
    "practice, no source). No figure was read for it, so it changes no count."
)
COVERED = (
    "A cover that reaches the ground holds the frost off a little on such a night; by how much was not read for a "
    "tree, and a frost can be too hard for it. So it changes no count: at best it spares the killing nights counted."
)
MULCHED = (
    "Mulch moves nothing of bloom: the buds are in the air and wake by its warmth, so no date and no frost year is "
    "another for it. What it does is done in the soil."
)
WHAT_CAN_BE_TRIED = (
    "I can try for a spot: a wall built there or taken away, a cover on frost nights, mulch, white paint on the trunk; "
    "and for the tree: a late or an early one, a cultivar, another kind."
)


def suppose_site(
    text: str, records: Records, yard: Yard, talk: TalkWords, lore: Lore, species: str, first: str, today: date
) -> Supposition | str:  # fmt: skip
    """Return what a "what if" about a place for a tree supposes, or a sentence on why it cannot be tried.

    ``species`` is the kind that the place is sought for, ``first`` the spot that came first, meant where none is named.
    """
    spots, left = _spots(text, yard)
    spot = spots[0] if spots else ""
    left = BUILT_OF.sub("", left)
    if PAINT.search(left) and not WALL.search(left):
        return Supposition("the trunk painted white", notes=(PAINTED,), from_now=True)
    material = material_of(left, yard)
    if material or re.search(r"\bmulch", left, re.IGNORECASE):
        made = covered(text, records, yard, talk, spot or first, material or "mulch", today)
        return made if isinstance(made, str) else replace(made, notes=(MULCHED,), from_now=True)
    if WALL.search(text) and not PAINT.search(left) and (GONE.search(left) or WALL.search(left)):
        return _wall(left, records, spot, first)
    if COVER.search(left) and FROST_COVER.search(left):
        at = f" at the {spot}" if spot else ""
        return Supposition(f"a cover on every frost night{at}", notes=(COVERED,), from_now=True)
    return _another(left, lore, species)


def _spots(text: str, yard: Yard) -> tuple[list[str], str]:
    """Return the spots named, and the text without their names; "the wall" alone names no spot."""
    found, left = [], text
    for one in reversed(find_subjects(text, yard).spots):
        said = text[one.start : one.end].casefold().strip()
        if one.sure and not re.fullmatch(r"(?:(?:the|a|that|this)\s+)?(?:\w+[- ]facing\s+)?walls?", said):
            found.append(one.names[0])
            left = left[: one.start] + " " * (one.end - one.start) + left[one.end :]
    return found[::-1], left


# ---- walls


def _wall(left: str, records: Records, spot: str, first: str) -> Supposition | str:
    rows = {row.text("name"): row for row in records.of("spot")}
    south = (records.of("place")[-1].number("latitude_deg") or 0.0) < 0
    gone = GONE.search(left) is not None
    if not spot and gone:
        walled = [name for name, row in rows.items() if row.text("wall_side")]
        spot = walled[0] if len(walled) == 1 else ""
    spot = spot or ("" if gone else first)
    row = rows.get(spot)
    if row is None:
        return f"At which spot? I know {', '.join(rows)}." if rows else "I know no spot yet."
    if gone:
        if not row.text("wall_side"):
            return f"There is no wall at the {spot}, as I have it."
        values = {name: value for name, value in row.values.items() if not name.startswith("wall_")}
        values.setdefault("aspect", "flat")  # how it lay was known by its wall alone; it lies there as openly without
        return _built(row, values, f"no wall at the {spot}")
    facing = FACING.search(left)
    side = _side(facing[1]) if facing else ("N" if south else "S")
    values = {name: value for name, value in row.values.items() if name != "wall_distance_m"} | {"wall_side": side}
    says = f"a {facing[0].casefold()} wall at the {spot}" if facing else f"a wall to the sun at the {spot}"
    return _built(row, values, says)


def _side(word: str) -> str:
    return "".join(letter for name, letter in SIDES.items() if name in word.casefold())


def _built(row: Fact, values: Mapping[str, Value], says: str) -> Supposition:
    assert isinstance(row.origin, Recorded)
    new = Fact.of("spot", values, Recorded("spot", (SUPPOSED,)))
    out = frozenset({("spot", row.origin.row_ids[0])})
    return Supposition(says, out, (new,), from_now=True, built_at=row.text("name"))


# ---- another sort or kind


def _another(text: str, lore: Lore, species: str) -> Supposition | str:
    called = [(one.id, one.names) for one in lore.species.values()]
    named = find_species(text, called)
    if len(named.names) > 1:
        return f"Which kind do you mean: {', '.join(lore.species[name].name for name in named.names)}?"
    kind = named.names[0] if named.names and named.sure else species
    other = kind if kind != species else ""
    cultivar = _cultivar(text, lore, kind)
    if cultivar:
        says = f"{lore.species[kind].name} {cultivar}"
        note = f"Of {cultivar} its own published need of chill is taken, and of heat what is taken for its kind."
        return Supposition(says, species=other, sort=cultivar, notes=(note,), from_now=True)
    sort = SORT.search(_with_one(text, lore, kind))
    if sort is not None:
        return _end(lore, kind, other, "late" if sort[1].casefold().startswith("late") else "early")
    if other:
        return Supposition(_a(lore.species[kind].name), species=other, from_now=True)
    if named.names and named.sure:
        return Supposition(_a(lore.species[kind].name), from_now=True)
    return WHAT_CAN_BE_TRIED


def _with_one(text: str, lore: Lore, kind: str) -> str:
    """Return a text with "one" for the kind's name: a late apricot is a late one."""
    names = "|".join(re.escape(name) for name in sorted(lore.species[kind].names, key=len, reverse=True))
    return re.sub(rf"\b(?:{names})\b", "one", text, flags=re.IGNORECASE)


def _cultivar(text: str, lore: Lore, kind: str) -> str:
    words = " ".join(re.findall(r"[\w']+", text.casefold()))
    known = {one.cultivar for one in lore.needs.requirements if one.kind == kind and one.cultivar}
    return next((name for name in sorted(known) if f" {name.casefold()} " in f" {words} "), "")


def _end(lore: Lore, kind: str, other: str, sort: str) -> Supposition:
    name = lore.species[kind].name
    called = _a(f"{sort} {name}")
    heat = next((one for one in lore.needs.requirements_of(kind) if one.heat_low is not None), None)
    if heat is None:
        note = (
            f"What heat a {name} needs is published nowhere that was read, so {called} cannot be told "
            "from another in the counts. Three years of its own dates here would tell it."
        )
        return Supposition(called, species=other, notes=(note,), from_now=True)
    end, at = ("upper", heat.heat_high) if sort == "late" else ("lower", heat.heat_low)
    note = (
        f"{called.capitalize()} is taken to need the {end} end of the heat published for its kind "
        f"({at:.0f} {heat.heat_metric}), or of what your own dates give where that lies beyond, and its chill as the "
        "kind: no cultivar was named."
    )
    return Supposition(called, species=other, sort=sort, notes=(note,), from_now=True)


def _a(name: str) -> str:
    return f"{'an' if name[:1] in 'aeiou' else 'a'} {name}"
