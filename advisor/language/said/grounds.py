"""What is said of spots and standing as records: covers on and off, moves, new plants and new spots."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from advisor.facts import Value
from advisor.language.names import tokens
from advisor.language.quantities import in_cm, litres
from advisor.language.render import listed
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.events import OUT_OR_IN, SEVERAL_NEW, material_of
from advisor.language.said.new_plants import named_first, several_named, tells_two
from advisor.language.said.new_spots import CALLED_SPOT, THERE_IS, new_spot, several_spots
from advisor.language.said.pieces import Piece
from advisor.language.said.subjects import nearest_names
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit
from advisor.language.said.whom import Build, Result, day_of, each, for_plants, for_spots, stray_place
from advisor.language.when import Said
from advisor.records.remembered import MONTHS, planted_day, planted_told

NAMED = re.compile(
    r"\b(?:call it|called|name it|named it|called it|named|its name is|i call it|to be called|calling it|known as|name)"
    r"\s+(?:the\s+)?"
    r"([\w' -]{2,40}?)(?=[,.;!]|$|\s+(?:in|at|by|on|faces|facing|with|from)\b)",
    re.IGNORECASE,
)
RAKED = re.compile(r"\b(?:rak\w*|swept|sweep\w*|scrap\w*|mulch\w*|heap\w*|barrow\w*)\b", re.IGNORECASE)
"""Said of leaves that lie on the ground, and not of those on a plant."""
IN_PART = re.compile(
    r"\b(?:to half|by half|half (?:of|the|off)|half-?way|partly|in part|some of|a bit of|most of)\b", re.IGNORECASE
)
GOAL = re.compile(r"(?:\b(?:in)?to|->|→)\s+(?:the\s+)?([a-z][a-z' -]*)", re.IGNORECASE)
NO_CULTIVARS = {
    "new", "got", "planted", "bought", "plant", "tree", "a", "an", "my", "the", "add", "out", "young", "small", "big",
    "another", "i", "we", "have", "today", "one", "potted", "little", "of",
    "asian", "oriental", "japanese", "european", "american", "wild", "sweet", "tart", "sour",
}  # fmt: skip


def read_cover(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return a cover put on, or taken off: then the spot is bare and the old cover's row ends that day."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    material = material_of(unit.text, ears.yard)
    off = ears.talk.has("cover", "off", unit.text) or ears.talk.has("cover", "bare", unit.text)
    if off and IN_PART.search(unit.text):
        said = material if material not in ("", "mulch") else "straw"
        return Result.asking(f"Taken off in part: how deep does it lie now? Say it as: {said} 3 cm deep on the bed.")
    if off and material == "leaves" and not unit.spots() and not RAKED.search(unit.text):
        own = next((name for one in unit.plants() for name in one.names), "plant")
        bared = for_spots(unit, ears, lambda names: [d for n in names for d in _bared(n, day, ears)], "was uncovered")
        ways = [Way("they were mulch, and the soil there is bare now", tuple(bared.drafts))] if bared.drafts else []
        return Result.asking(f"Of the {own}'s own leaves I keep nothing. Did these lie on the soil as mulch?", *ways)
    if off:
        return for_spots(unit, ears, lambda names: [d for n in names for d in _bared(n, day, ears)], "was uncovered")
    lengths = [q for q in unit.quantities if q.unit in LENGTH_UNITS]
    if len(lengths) == 2 and FROM_TO.search(unit.text):
        lengths = lengths[1:]  # "topped up from 7 to 10 cm"
    depth = in_cm(lengths[0], ears.yard.units) if len(lengths) == 1 and lengths[0].high is None else None
    if len(lengths) > 1:
        return Result.asking("How deep does it lie now?")
    values: dict[str, Value] = {"put_on": day}
    if depth is not None:
        values["depth_cm"] = round(depth, 1)

    def build(names: Sequence[str]) -> list[Draft]:
        made = []
        for name in names:
            lying = ears.yard.spot(name)
            laid = material if material != "mulch" else (lying.material if lying else "")
            made += [*_ends(name, day, ears), Draft("cover", {"spot": name, "material": laid, **values})]
        return made

    if material == "mulch":
        lying = {spot.material for spot in ears.yard.spots if any(spot.name in one.names for one in unit.spots())}
        if len(lying) != 1 or not lying - {"", "bare"}:
            return Result.asking("Mulch of what: wood chips, straw, leaves, compost, stones?")
    return for_spots(unit, ears, build, "was covered")


FROM_TO = re.compile(r"\bfrom\s+\S+(?:\s*(?:cm|mm|in|inch|inches))?\s+to\s+\S", re.IGNORECASE)


def _bared(spot: str, day: date, ears: Ears) -> list[Draft]:
    return [*_ends(spot, day, ears), Draft("cover", {"spot": spot, "material": "bare", "put_on": day})]


def _ends(spot: str, day: date, ears: Ears) -> list[Draft]:
    """Return the row of the cover lying at a spot, ended on a day, where one lies there."""
    lying = ears.yard.spot(spot)
    if lying is None or not lying.cover_row:
        return []
    return [Draft("cover", {"taken_off": day}, replaces=lying.cover_row)]


def read_move(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return where pots were moved: to the spot named, out to where they last stood, or in to the one shelter."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    spots = [one for one in unit.spots() if one.sure]
    text = unit.text
    spots = [one for one in spots if not _left(unit, one.start)]
    if unit.inherited and OUT_OR_IN.search(unit.told):
        spots = []  # "out to the yard yesterday, in again tonight": in is not to the yard
    goals = [(piece.start, found) for piece in unit.pieces if (found := GOAL.search(piece.text))]
    spans = [(one.start, one.end) for one in unit.mentions]
    strange = [g for at, g in goals if not any(start <= at + g.start(1) < end for start, end in spans)]
    for away in strange[:1]:
        near = nearest_names(away[1], [spot.name for spot in ears.yard.spots])
        pots = [name for one in unit.plants() if one.sure for name in one.names if _in_pot(name, ears)]
        ways = [Way(spot, tuple(_pots_to(spot, day, ears)(pots))) for spot in near] if pots else []
        return Result.asking(f"I know no spot called {away[1]!r}. To which spot?", *ways)
    if len(spots) > 1 or any(len(one.names) != 1 for one in spots) or any(not one.sure for one in unit.spots()):
        return Result.asking("To which spot?")
    planted = [name for one in unit.plants() for name in one.names if not _in_pot(name, ears)]
    pots = [name for one in unit.plants() for name in one.names if _in_pot(name, ears)]
    if planted and not pots:
        return Result.asking(f"The {planted[0]} stands in the ground, as I have it. Which pot was moved?")
    if spots:
        return for_plants(unit, ears, _pots_to(spots[0].names[0], day, ears), "was moved")
    if not OUT_OR_IN.search(text):
        return _where(ears, pots, day, "out" if _under_cover(pots, ears) else "in")
    if ears.talk.has("move", "out", text):
        if _all_known_out(pots, ears):
            return for_plants(unit, ears, lambda names: _moved_out(names, day, ears), "went out")
        known = _moved_out(pots, day, ears) if all(one.sure for one in unit.plants()) else []
        rest = [name for name in _under_cover(pots, ears) if name not in {draft.values["plant"] for draft in known}]
        asked = _where(ears, rest or pots, day, "out")
        if known and rest:
            asked = Result.asking(f"To which spot went the {listed(rest)}?", *asked.open[0].ways)
        return replace(asked, drafts=known)
    shelters = [spot.name for spot in ears.yard.spots if spot.shelter]
    if len(shelters) == 1:
        return for_plants(unit, ears, _pots_to(shelters[0], day, ears), "came in")
    return _where(ears, pots, day, "in")


def _left(unit: Unit, start: int) -> bool:
    """Return whether a spot is where something came from: "out of the shed"."""
    return any(p.start <= start <= p.end and FROM.search(p.text[: start - p.start]) for p in unit.pieces)


FROM = re.compile(r"\b(?:out of|from)\s+(?:the\s+)?$", re.IGNORECASE)


def _pots_to(spot: str, day: date, ears: Ears) -> Build:
    """Return what records the move of each pot among some plants to a spot."""
    made = each("move", {"to_spot": spot, "on": day})
    return lambda names: made([name for name in names if _in_pot(name, ears)])


def _in_pot(name: str, ears: Ears) -> bool:
    plant = ears.yard.plant(name)
    return bool(plant and plant.in_pot)


def _under_cover(names: Sequence[str], ears: Ears) -> list[str]:
    return [name for name in names if (plant := ears.yard.plant(name)) and plant.in_pot and plant.under_cover]


def _all_known_out(pots: Sequence[str], ears: Ears) -> bool:
    inside = _under_cover(pots, ears)
    return bool(inside) and all((plant := ears.yard.plant(name)) and plant.outdoor_spot for name in inside)


def _moved_out(names: Sequence[str], day: date, ears: Ears) -> list[Draft]:
    made = []
    for name in _under_cover(names, ears):
        plant = ears.yard.plant(name)
        if plant and plant.outdoor_spot:
            made.append(Draft("move", {"plant": name, "to_spot": plant.outdoor_spot, "on": day}))
    return made


def _where(ears: Ears, pots: Sequence[str], day: date, way: str) -> Result:
    """Ask to which spot pots went, with the spots that it can be."""
    if not pots:
        return Result.asking("Which pots were moved, and where to?")
    able = [spot.name for spot in ears.yard.spots if spot.shelter == (way == "in")]
    inside = _under_cover(pots, ears) if way == "out" else list(pots)
    ways = [Way(spot, tuple(Draft("move", {"plant": n, "to_spot": spot, "on": day}) for n in inside)) for spot in able]
    return Result.asking("To which spot?", *(ways if inside else ()))


# ---- new things


def read_new(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return a new plant or a new spot, with what is told of it."""
    text = unit.text
    named = NAMED.search(text)
    name = " ".join(named[1].split()).strip(" '") if named else named_first(text, ears)
    if name and not named:
        text = re.sub(rf"^\s*(?:the\s+)?{re.escape(name)}\s+is\b", "", text, count=1, flags=re.IGNORECASE)
    several = several_spots(text, ears)
    if several is not None:
        return several
    shown = THERE_IS.match(text)
    spot_told = shown is not None or ears.talk.has("new", "spot", text)
    if spot_told and not re.search(r"\bplant(?:ed)?\b|\btree\b", text, re.IGNORECASE):
        after = shown or CALLED_SPOT.search(text)
        return new_spot(name or (after[1].strip() if after else ""), text, ears)
    each_named = several_named(text, ears)
    if each_named is not None:
        return _several_plants(each_named[0], each_named[1], unit, ears, shared)
    if (SEVERAL_NEW.search(text) and not name) or tells_two(text, ears):
        return Result.asking(ONE_BY_ONE)
    text, stock = _without_stock(text, ears, name)
    species = _species_in(text, ears, name)
    if len(species) > 1:
        return Result.asking(ONE_BY_ONE)
    if not species:
        return Result.asking("What kind of plant is it? For example: new plant: fig in a 20 l pot, call it new pot.")
    if not name:
        return Result.asking("What shall it be called? Send it again with: call it ...")
    if name.casefold() in {known.casefold() for known in ears.names}:
        return Result.asking(f"There is a {name} already. What else shall it be called?")
    day = _planted(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    values: dict[str, Value] = {"name": name, "species": species[0]}
    cultivar = _cultivar(text.replace(named[0], "") if named else text, species[0], ears)
    if cultivar:
        values["cultivar"] = cultivar
    if stock:
        values["rootstock"] = stock
    own = (unit.start + named.start(1), unit.start + named.end(1)) if named else (0, 0)
    outside = [one for one in unit.spots() if one.sure and not own[0] <= one.start < own[1]]
    spelt = text.replace(named[0], "") if named else text
    if outside:
        values["spot"] = outside[0].names[0]
    elif there := _spot_told(spelt, ears):
        values["spot"] = there
    elif stray := stray_place(unit):
        near = nearest_names(stray, [spot.name for spot in ears.yard.spots])
        ways = [Way(spot, (Draft("plant", {**values, "spot": spot, "planted": day}),)) for spot in near]
        return Result.asking(f"I know no spot called {stray!r}. At which spot does {name} stand?", *ways)
    sizes = [litres(q, ears.yard.units) for q in unit.quantities if q.unit in ("l", "gal", "ml")]
    if sizes and sizes[0]:
        values |= {"growing": "pot", "pot_litres": round(sizes[0], 1)}
    elif re.search(r"\b(?:in|into) (?:a|its|the) (?:\w+ )?(?:pot|tub|container)\b", text, re.IGNORECASE):
        values["growing"] = "pot"
    elif re.search(r"\bplanted\b|\bin the ground\b", text, re.IGNORECASE):
        values["growing"] = "ground"
    if re.search(r"\bplanted\b", text, re.IGNORECASE):
        values["planted"] = day
    return Result([Draft("plant", values)])


def _several_plants(told: str, names: Sequence[str], unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return new plants of one kind, each with its name, and with what is told of all of them."""
    known = {name.casefold() for name in ears.names}
    there = next((name for name in names if name.casefold() in known), "")
    if there:
        return Result.asking(f"There is a {there} already. What else shall it be called?")
    spots = [one for one in unit.spots() if one.sure and one.names and one.names[0].casefold() in told.casefold()]
    told = re.sub(r"\b(?:[2-9]|two|three|four|five|six)\s+", "a ", told, count=1, flags=re.IGNORECASE)
    whole = replace(unit, pieces=[Piece(told, unit.start, unit.start + len(told))], mentions=spots)
    result = Result()
    for name in names:
        one = replace(whole, pieces=[replace(whole.pieces[0], text=f"{told}, call it {name}")])
        made = read_new(one, ears, shared)
        result.drafts += made.drafts
        result.open += made.open[:1] if not result.open else []
    return result if not result.open else Result(open=result.open)


ONE_BY_ONE = "Tell each new plant by itself, with a name: planted a fig at the porch, call it new fig."


def _planted(unit: Unit, ears: Ears, shared: Sequence[Said]) -> date | Open:
    """Return the day of planting; of a month, or of a year that is long past, the first day stands for it."""
    told = planted_told(unit.text) if re.search(r"\bplanted\b", unit.text, re.IGNORECASE) else ""
    if not told:
        return day_of(unit, ears, shared)
    late = MONTH_LAST.search(unit.text)
    if late and told.isdigit():
        told = f"{late[1]} {told}"  # "planted a fig in 2024, call it new fig, April": the month was asked for
    try:
        return planted_day(told, ears.now.date())
    except ValueError as error:
        return Open(f"When was it planted? I want {error}.")


MONTH_LAST = re.compile(rf",\s*(?:in\s+)?({'|'.join(MONTHS)})[a-z]*\s*$", re.IGNORECASE)


def _spot_told(text: str, ears: Ears) -> str:
    """Return the spot that a text puts something at, "" for none, also where it was read as part of a plant's name."""
    said = " ".join(tokens(text))
    names = sorted((spot.name for spot in ears.yard.spots), key=len, reverse=True)
    return next((name for name in names if re.search(_put_at(name), said)), "")


def _put_at(name: str) -> str:
    return rf"\b(?:at|by|in|on|near|under|beside|against) (?:the )?{re.escape(' '.join(tokens(name)))}\b"


def _without_stock(text: str, ears: Ears, name: str) -> tuple[str, str]:
    """Return a text without the stock that a tree stands on, and the stock: "pear on quince" plants a pear."""
    kinds = "|".join(re.escape(one) for _, names in ears.yard.species for one in sorted(names, key=len, reverse=True))
    found = re.search(rf"\s+on(?:to)?\s+(?:an?\s+|its\s+)?({kinds})(?:[ -](?:root)?stocks?)?\b", text, re.IGNORECASE)
    rest = text.replace(found[0], "", 1) if found else text
    return (rest, found[1].casefold()) if found and _species_in(rest, ears, name) else (text, "")


def _species_in(text: str, ears: Ears, name: str) -> list[str]:
    said = f" {' '.join(tokens(text.replace(name, ' ') if name else text))} "
    hits = [(key, len(n)) for key, names in ears.yard.species for n in names if f" {' '.join(tokens(n))} " in said]
    if not hits:
        said = f" {' '.join(tokens(text))} "
        hits = [(key, len(n)) for key, names in ears.yard.species for n in names if f" {' '.join(tokens(n))} " in said]
    longest = max((size for _, size in hits), default=0)
    return list(dict.fromkeys(key for key, size in hits if size == longest))


def _cultivar(text: str, species: str, ears: Ears) -> str:
    """Return the words in quotes, or with capitals right before the kind: a 'Verdino' fig, Brown Turkey fig."""
    quoted = re.search(r"['‘\"“]([\w .-]{2,30})['’\"”]", text)
    if quoted:
        return quoted[1]
    kinds = "|".join(re.escape(name) for key, names in ears.yard.species if key == species for name in names)
    before = re.search(rf"((?:[\w-]+\s+){{1,3}})(?:{kinds})\b", text, re.IGNORECASE)
    after = re.search(rf"\b(?:{kinds})\s+((?:[A-Z][\w'’-]*\s*){{1,3}}?)(?=\s+(?:at|in|on|by)\b|\s*,|\s*$)", text)
    if after:
        return after[1].strip()  # "a fig Brown Turkey at the wall"
    words = before[1].split() if before else []
    while words and words[0].casefold() in NO_CULTIVARS:
        words = words[1:]
    found = " ".join(word if word[:1].isupper() else word.capitalize() for word in words)
    return "" if found.casefold() in NO_CULTIVARS else found.removeprefix("New ").strip()
