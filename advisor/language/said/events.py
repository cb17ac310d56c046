"""What sorts of thing a unit says: a reading, a stage, a work, a move, each by its words and figures."""

from __future__ import annotations

import re
from collections.abc import Sequence

from advisor.language.names import tokens
from advisor.language.quantities import Quantity
from advisor.language.said.mentions import Mention
from advisor.language.said.new_plants import tells_plant
from advisor.language.said.new_spots import tells_more, tells_spots
from advisor.language.said.unit import LENGTH_UNITS, TEMPERATURE_UNITS, Ears, Unit
from advisor.language.said.yard import Yard
from advisor.records.talk_words import TalkWords

EVENTS = (
    "new", "evening", "forecast", "crop", "look", "harm", "move", "cover", "work", "growth", "stage", "temperature",
    "spot",
)  # fmt: skip


def events_of(unit: Unit, ears: Ears) -> list[str]:
    """Return what sorts of thing a stretch says, the one to be read first coming first."""
    text, talk = unit.text, ears.talk
    has = talk.has
    found = set()
    temps = temperatures(unit)
    newly = has("new", "plant", text) or has("new", "spot", text)
    if is_new(text, ears) or (newly and (has("new", "named", text) or not unit.mentions)):
        found.add("new")
    if temps and has("ground", "dew", text):
        found.add("evening")
    deep = any(q.unit in LENGTH_UNITS for q in unit.quantities)
    to_come = any(time.to_come for time in unit.times)
    if (temps or any(has("ground", word, text) for word in ("clear", "part_cloud"))) and (
        (to_come and not (deep or _read_off(unit, ears, temps))) or has("ground", "forecast", text)
    ):
        found.add("forecast")
    weighed = any(q.unit in ("kg", "g", "lb", "oz") or is_fruit(q, ears.yard) for q in unit.quantities)
    if (
        (weighed and unit.plants())
        or _counted_off(unit)
        or (has("crop", "verbs", text) and (has("crop", "first", text) or has("crop", "breba", text)))
    ):
        found.add("crop")
    if any(has("look", word, text) for word in ("scratch", "gnawed", "not_gnawed")) or _root_ball(unit, talk):
        found.add("look")
    if (
        any(q.counted == "buds" for q in unit.quantities)
        and has("look", "buds_cut", text)
        and "node" not in text.casefold()
    ):
        found.add("look")
    cause = talk.first("harm.cause", text)
    if cause and has("harm", "verbs", text) and not (unit.stages and cause == "accident"):
        found.add("harm")
    if has("harm.extent", "killed", text) and unit.plants() and not found & {"look"}:
        found.add("harm")
    beside = FROST_SEEN.sub(" ", text)
    only_seen = beside != text and not (has("harm", "verbs", beside) or HURT_LOOKS.search(beside))
    if NOT_DEAD.search(text) or only_seen:
        found.discard("harm")
    told = unit.told
    ways = has("move", "to_place", told) or bool(OUT_OR_IN.search(told))
    if (has("move", "verbs", told) and ways) or (has("move", "moved", told) and unit.plants()) or _out_or_in(unit):
        found.add("move")
    if unit.stages and not unit.spots() and not has("move", "moved", told):
        found.discard("move")  # "stands in full bloom"
    counted = {q.counted for q in unit.quantities}
    material = material_of(text, ears.yard)
    covers = material and not (material == "leaves" and ("leaves" in counted or found & {"look"} or _its_own(unit)))
    told = unit.told
    lengths = any(q.unit in LENGTH_UNITS for q in unit.quantities) and LIES_ON.search(told) is not None
    covers = covers and not PROBED.search(text)
    laid = has("cover", "off", told) or ((has("cover", "lay", told) or lengths) and not has("cover", "stays", told))
    bare = not any(q.unit or q.degrees for q in temps) and LAID.search(told) and not has("ground", "dew", text)
    if covers and laid and (not temps or bare) and "look" not in found:
        temps = []
        found.add("cover")
        if not unit.plants():
            found.discard("move")  # "put down gravel at the side yard"
    roofs = [ears.yard.spot(name) for one in unit.spots() for name in one.names]
    under = bool(roofs) and all(spot and spot.shelter for spot in roofs) and not unit.plants()
    if has("cover", "bare", text) and unit.mentions and not temps and not under:
        found.add("cover")
    if talk.first("work", unit.told):
        found.add("work")
    if "crop" in found and (talk.first("work", unit.told) == "thinned" or TAKEN.search(text)):
        found.discard("crop")  # what was thinned, or a bird or the hail took, was not picked
    if "work" in found and FED.search(unit.told):
        found.discard("crop")  # "gave all three peaches a feed"
    at_nodes = "node" in text.casefold()
    if at_nodes and ONE_BUD.search(text):
        found.add("growth")
    if any(q.counted in ("leaves", "nodes") or (q.counted == "buds" and at_nodes) for q in unit.quantities):
        found.add("growth")
    shoots = any(word in text.casefold() for word in ("shoot", "growth", "grown", "extension")) or LONG.search(text)
    if shoots and any(q.unit in LENGTH_UNITS for q in unit.quantities):
        found.add("growth")
    if unit.stages:
        found.add("stage")
    done = bool(found & {"work", "move", "crop", "growth"}) and not BARE.search(text)
    if temps and not found & {"forecast", "evening"} and not (done and not any(q.unit or q.degrees for q in temps)):
        found.add("temperature")
    numbered = [one for one in unit.plants() if _spelt_number(one)]
    if numbered and not found and unit.follows(COUNTED_NEXT, max(one.end for one in numbered)):
        found.add("growth")  # "porch fig 2 leaves": a name, or a count?
    if cause == "animal" and "harm" in found:
        found.discard("look")
    if _goes_to(unit):
        found.add("move")
    in_pots = [ears.yard.plant(name) for one in unit.plants() for name in one.names]
    potted = bool(in_pots) and all(plant and plant.in_pot for plant in in_pots)
    if not found and potted and MOISTURE_NEXT.search(text):
        found.add("look")  # "store fig bone dry"
    if not found and potted and unit.spots() and not unit.times and IS_AT.search(unit.told):
        found.add("move")  # "the black pot is at the south wall"
    if not found and unit.plants() and COVERED.search(text):
        found.add("work")
    if not found and unit.plants() and LEAVES_OFF.search(text):
        found.add("stage")
    if not found and tells_more(unit):
        found.add("spot")
    return [event for event in EVENTS if event in found]


def _its_own(unit: Unit) -> bool:
    """Return whether leaves are on a plant, or fell from it: no spot is named, no depth, and nobody moved them."""
    if unit.spots() or any(q.unit in LENGTH_UNITS for q in unit.quantities):
        return False
    return bool(unit.plants()) and not HANDLED.search(unit.text)


def _read_off(unit: Unit, ears: Ears, temps: Sequence[Quantity]) -> bool:
    """Return whether a figure of a time to come was read off a thermometer: its hour is a slip, and foretells nothing.

    So are a soil's, one said to have been, and without a word that foretells one at a spot, or of an hour of today.
    """
    text = unit.text
    if SOIL_READ.search(text) or WAS_READ.search(text):
        return True
    if not temps or ears.talk.has("sorts", "heard", text) or FORETOLD.search(text):
        return False
    hours = [time for time in unit.times if time.to_come and time.clock is not None]
    of_today = [time for time in hours if time.day == ears.now.date() and time.part != "night"]
    return bool(of_today or (unit.own_mentions and temps))


SOIL_READ = re.compile(r"^\W*soil\b|\bsoil temp", re.IGNORECASE)
WAS_READ = re.compile(
    r"\b(?:it|there|here) was\b|\b(?:i |we |just )?(?:read|measured|showed|shows|noted)\b|\bthermometer\b|\breading\b"
    r"|\b(?:got|went|dropped|fell|sank) (?:down )?to\b|\bbottomed out\b",
    re.IGNORECASE,
)
FORETOLD = re.compile(r"\b(?:will|'ll|going to|gonna|should|says?|could|might|to be)\b", re.IGNORECASE)
"""Said of what is to come; "the app says" foretells, "the thermometer says" was read."""
HANDLED = re.compile(
    r"\b(?:mulch\w*|rak(?:e|ed|ing)|put|spread|laid|lay|layer|topp(?:ed|ing)|cover(?:ed|ing)?|added|dressed|tucked|heap(?:ed)?"
    r"|pil(?:ed|e)|barrow\w*|took|taken|cleared|removed|pulled|scraped|stripped|swept|moved|opened|packed|gave|round|over|under)\b",
    re.IGNORECASE,
)


def is_new(text: str, ears: Ears) -> bool:
    """Return whether a sentence tells a new plant or spots."""
    several = SEVERAL_NEW.search(text) and not ears.talk.has("crop", "verbs", text)
    return bool(NEW.search(text) or several) or tells_spots(text, ears.names) or tells_plant(text, ears)


def _counted_off(unit: Unit) -> bool:
    """Return whether a bare count is of fruit taken from a plant: "picked 7 off the kitchen fig", "11 ripe off it"."""
    return bool(unit.plants() and COUNTED_OFF.search(unit.told))


COUNTED_OFF = re.compile(
    r"\bpicked (?:another )?\w+ (?:ripe )?(?:off|from)\b|\b\d+ ripe (?:ones )?(?:off|from|on)\b", re.IGNORECASE
)


def _out_or_in(unit: Unit) -> bool:
    """Return whether a plant's name is followed by "out" or "in" and nothing more of it: "all tubs out"."""
    return not unit.stages and any(unit.follows(JUST_OUT, one.end) for one in unit.plants())


def _spelt_number(mention: Mention) -> bool:
    return bool(mention.names) and tokens(mention.names[0])[-1].isdigit()


def _goes_to(unit: Unit) -> bool:
    """Return whether a plant is followed by "to" and a spot: "tall pot to the deck"."""
    for plant in unit.plants():
        for spot in unit.spots():
            for piece in unit.pieces:
                if piece.start <= plant.end <= spot.start <= piece.end:
                    between = piece.text[plant.end - piece.start : spot.start - piece.start]
                    if GOES_TO.fullmatch(between):
                        return True
    return False


GOES_TO = re.compile(r"\s*(?:(?:back\s+|out\s+)?(?:in)?to|->|→|-->)\s*(?:the\s+)?", re.IGNORECASE)


NEW = re.compile(
    r"\b(?:planted (?:out )?an?\b|new (?:plant|tree|spot|bed|place|corner)\b|bought an?\b|got an? (?:new|young)\b)",
    re.IGNORECASE,
)
SEVERAL_NEW = re.compile(
    r"^\W*(?:i |we |got |bought |planted )*(?:[2-9]|two|three|four|five|six)\s+(?:new|young)\s+\w+s\b"
    r"(?!\s+(?:on|off|from|of)\b)",
    re.IGNORECASE,
)
"""New plants told at once: "two new figs at the porch", and no fruit that was counted."""
LIES_ON = re.compile(r"\b(?:on|over|round|around|across|laid|spread)\b", re.IGNORECASE)
LAID = re.compile(r"\b(?:mulched|spread|laid|heaped|barrowed|covered|topped up|tucked)\b", re.IGNORECASE)
"""Said of a cover put down, so that a bare figure beside it is no temperature: "mulched the west bed with straw 10"."""
PROBED = re.compile(r"\b(?:probed?|thermometer|measured|reading)\b", re.IGNORECASE)
LONG = re.compile(r"(?:cm|mm|in|inch|inches|ft|\")\s+long\b", re.IGNORECASE)
ONE_BUD = re.compile(r"\b(?:one|1|a single) bud\b", re.IGNORECASE)
COUNTED_NEXT = re.compile(r"\s*(?:leaves|leaf|lvs|buds|shoots|figs|nodes)\b", re.IGNORECASE)
COVERED = re.compile(r"\b(?:covered|uncovered)\b(?! in\b| with\b)", re.IGNORECASE)
NOT_DEAD = re.compile(
    r"\b(?:not|isn['’]?t|ain['’]?t|aren['’]?t|never|far from|hardly)\s+(?:\w+\s+)?(?:dead|killed|died)\b"
    r"|\bstill alive\b",
    re.IGNORECASE,
)
SHOOT = re.compile(r"\bshoots?\b", re.IGNORECASE)
TAKEN = re.compile(
    r"\b(?:hail|birds?|wasps?|hornets?|deer|squirrels?|mice|rats?|starlings?|blackbirds?|raccoons?|wind|storm)\b"
    r"(?:\s+\w+){0,2}?\s+(?:got|took|ate|had|knocked|blew|stole|pecked|stripped)\b",
    re.IGNORECASE,
)
FROST_SEEN = re.compile(
    r"\b(?:frost|ice)\b(?:\s+(?:was|is|lay|all|over|thick|hard|white|a|bit))*\s+(?:on|over|across)\s+(?:the\s+|my\s+|our\s+)?(?:\w+\s+)?"
    r"(?:windscreens?|windshields?|cars?|roofs?|grass|lawns?|ground|bench(?:es)?|deck(?:ing)?|fences?|path|fields?|meadows?"
    r"|buckets?|pond|puddles?|butt|bird ?bath|windows?|glass|panes?|water)\b",
    re.IGNORECASE,
)
"""Frost seen on what is no plant: that it froze, and not that anything was hurt."""
HURT_LOOKS = re.compile(r"\b(?:brown|black|dead|limp|mushy?|collapsed|wilt\w*|glassy)\b", re.IGNORECASE)
FED = re.compile(r"\b(?:gave|given)\b.*\b(?:feed|drink|water|soak(?:ing)?|fertili[sz]er)\b", re.IGNORECASE)
IS_AT = re.compile(r"\b(?:is|are|it's|s) (?:now |back |standing )*(?:at|in|on|by|under) ", re.IGNORECASE)
LEAVES_OFF = re.compile(r"\bleaves?\b(?:\s+\w+){0,3}?\s+(?:off|down|gone)\b", re.IGNORECASE)
MOISTURE_NEXT = re.compile(
    r"^[\w\s'’:-]{3,40}?\b(?:is |was |feels |are |were )?(?:bone |still |very |rather |quite |too |all )*"
    r"(?:dry|dried out|parched|moist|damp|sodden|soaking wet|waterlogged)\W*(?:on top\W*)?$",
    re.IGNORECASE,
)
OUT_OR_IN = re.compile(
    r"\b(?:in|out|inside|outside|indoors|outdoors|under cover)\b"
    r"(?=\s*(?:$|[,.;!]|except|but|apart|again|now|today|yesterday|tonight|this|on\s|last|at\s\d|for\s+the|three|two|\d))",
    re.IGNORECASE,
)


JUST_OUT = re.compile(
    r"\s+(?:are |is |all |now )*(?:back )?(?:out|outside|outdoors|inside|indoors)"
    r"(?=\s*(?:$|[,.;!]|except|but|now|today|yesterday|this|on ))",
    re.IGNORECASE,
)


def is_fruit(quantity: Quantity, yard: Yard) -> bool:
    """Return whether a count is of fruit: "12 figs", "40 plums"."""
    kinds = {tokens(name)[-1] for _, names in yard.species for name in names}
    return (
        quantity.counted in ("fruits", "figs", "brebas")
        or quantity.counted in kinds
        or quantity.counted.removesuffix("s") in kinds
    )


def _root_ball(unit: Unit, talk: TalkWords) -> bool:
    words = ("dry", "moist", "wet")
    return talk.has("look", "root_ball", unit.text) and any(talk.has("look", word, unit.text) for word in words)


def temperatures(unit: Unit) -> list[Quantity]:
    """Return the figures of a unit that may be temperatures.

    A bare figure is one only beside a place or a depth: "7 brown" and "5 were dead" are counts.
    """
    beside = bool(unit.mentions or BARE.search(unit.text)) or any(q.unit in LENGTH_UNITS for q in unit.quantities)
    beside = beside or any(time.to_come for time in unit.times)
    return [
        q
        for q in unit.quantities
        if q.doubt not in ("name", "time", "date")
        and (
            q.unit in TEMPERATURE_UNITS
            or q.degrees
            or (beside and not q.unit and not q.counted and not _counts(q, unit))
        )
    ]


BARE = re.compile(
    r"\b(?:soil|air|low|min|max|minimum|maximum|dew|evening|tonight|night|forecast|high|calling for)\b", re.IGNORECASE
)


def _counts(quantity: Quantity, unit: Unit) -> bool:
    text = unit.text
    at = text.find(quantity.text)
    return bool(
        re.match(
            r"\s*(?:\w+\s+)?(?:brown|dead|green|alive|black|open|ripe|pots?|times?)\b",
            text[at + len(quantity.text) :],
            re.IGNORECASE,
        )
    )


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
