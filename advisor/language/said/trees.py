"""What is said of trees as records: stages, growth, works, harm and crops."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from advisor.facts import Value
from advisor.language.quantities import in_cm, kilograms
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.events import ONE_BUD, is_fruit
from advisor.language.said.stages import code_for
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit
from advisor.language.said.whom import Result, day_of, each, for_plants, for_spots, said_time
from advisor.language.when import Said

LEAVES = re.compile(r"\blea(?:f|fed|ves|ved)\b", re.IGNORECASE)
FRUITS = ("fruits", "figs", "brebas", "")


def read_stage(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return the stage of each plant spoken of, by the code that its kind gives the words."""
    said = unit.stages
    if not said or any(one.unclear and LEAF_FALL.search(one.phrase) for one in said if not one.negated):
        return Result.asking(_leaf_fall(unit))
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    unclear = next((one for one in said if one.unclear and not one.negated), None)
    if unclear is not None and not any(one.words and not one.unclear and not one.negated for one in said):
        ways = "First leaves out, half in leaf, or full leaf?" if LEAVES.search(unclear.phrase) else ""
        return Result.asking(f"Which stage do you mean by {unclear.phrase!r}? {ways or 'Say it in other words.'}")
    if any(one.hedged for one in said):
        return Result.asking(f"Is {said[0].phrase!r} what you see now? Say so without a doubt and I record it.")
    told = [one for one in said if not one.negated]
    if not told:
        return Result()
    foreign: list[str] = []

    def build(names: Sequence[str]) -> list[Draft]:
        made = []
        for name in names:
            plant = ears.yard.plant(name)
            codes = {
                one.words or one.phrase: code_for(one, plant.species if plant else "", ears.stages) for one in told
            }
            known = [(code, phrase) for phrase, code in codes.items() if code is not None]
            if not known:
                foreign.append(name)
                continue
            code, phrase = max(known)
            made.append(Draft("stage", {"plant": name, "on": day, "bbch": code, "words": phrase}))
        return made

    result = for_plants(unit, ears, build, _seen_as(told[0].phrase))
    if foreign and not result.open:
        kind = ears.yard.called(next(p.species for p in ears.yard.plants if p.name == foreign[0]))
        ask = f"{told[0].phrase!r} is no stage of a {kind} that I know. What do you see on the {foreign[0]}?"
        result.open.append(Open(ask))
    return result


LEAF_FALL = re.compile(r"\b(?:drop\w*|fall\w*|fell|off|lost|losing|shed\w*|down|leafless)\b", re.IGNORECASE)


def _leaf_fall(unit: Unit) -> str:
    """Return what may be told in place of leaf fall, of which no stage is kept."""
    name = next((name for one in unit.plants() if one.sure for name in one.names), "wall fig")
    return (
        f"I keep no stage for leaf fall. Once the plant is bare and at rest, say so: {name} dormant. If something took "
        f"the leaves, say what: frost took most leaves of the {name}. Which is it?"
    )


def _seen_as(phrase: str) -> str:
    """Return a stage as it is said of a plant.

    >>> [_seen_as(phrase) for phrase in ("in full bloom", "swelling", "buds swelling", "buds are swelling")]
    ['is in full bloom', 'is swelling', 'shows buds swelling', "is meant by 'buds are swelling'"]
    """
    if VERB_SEEN.search(phrase):
        return f"is meant by {phrase!r}"
    return f"shows {phrase}" if PARTS_SEEN.match(phrase) else f"is {phrase.removeprefix('is ')}"


VERB_SEEN = re.compile(r"\w\s+(?:are|is|have|has)\b", re.IGNORECASE)
PARTS_SEEN = re.compile(
    r"(?!(?:in|at|out|pushing|showing|opening|unfolding|making|losing|dropping|setting|breaking)\b)(?:\w+\s+){0,2}(?:buds?|leaf|leaves|flowers?|blossoms?|tips?|shoots?|petals?|clusters?|fruits?)\b",
    re.IGNORECASE,
)


def read_growth(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return leaves, buds at a node and length of a shoot."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    if SHOOTS.search(unit.text):
        return Result.asking("Tell the shoots one by one, the thickest first, as in: thickest shoot 15 cm.")
    values: dict[str, Value] = {"on": day}
    if thick := THICKEST.search(unit.text):
        values["thickness_rank"] = RANKS[(thick[1] or "").casefold().strip()]
    for q in unit.quantities:
        whole = q.value == int(q.value) and q.high is None
        if q.counted == "leaves" and whole:
            values["leaves"] = int(q.value)
        elif q.counted == "buds" and whole and 0 <= q.value <= 2:
            values["node_buds"] = int(q.value)
        elif q.unit in LENGTH_UNITS and q.high is None and (length := in_cm(q, ears.yard.units)) is not None:
            values["shoot_cm"] = round(length, 1)
    if "node_buds" not in values and NO_BUDS.search(unit.text):
        values["node_buds"] = 0
    if "node_buds" not in values and ONE_BUD.search(unit.text) and "node" in unit.text.casefold():
        values["node_buds"] = 1
    if SIDE_SHOOT.search(unit.text):
        values["side_shoot"] = True
    if not set(values) - {"on", "thickness_rank", "side_shoot"}:
        return Result.asking("How many leaves, how many buds at a node, how long is the shoot?")
    return for_plants(unit, ears, each("growth", values), "has that growth")


SHOOTS = re.compile(
    r"\bshoots?\b\D{0,30}\d+(?:[.,]\d+)?(?:\s*(?:cm|mm|in|inches|\"))?(?:(?:\s*[,/&+]\s*|\s+and\s+|\s+)\d+(?:[.,]\d+)?)+\s*(?:cm|mm|in\b|inches|\")",
    re.IGNORECASE,
)
"""Several lengths in a row, of which the record of one shoot can hold one."""
SIDE_SHOOT = re.compile(r"\bside[- ]?shoots?\b", re.IGNORECASE)
THICKEST = re.compile(r"\b(second |2nd |third |3rd )?thickest shoot\b", re.IGNORECASE)
RANKS = {"": 1, "second": 2, "2nd": 2, "third": 3, "3rd": 3}
NO_BUDS = re.compile(
    r"\b(?:no|zero)\s+buds?\b(?=.*\bnodes?\b)|\bnodes?\s+(?:are\s+)?(?:still\s+)?empty\b", re.IGNORECASE
)


def read_work(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return what was done, to each plant, or to a spot where no plant is spoken of."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    what = ears.talk.first("work", unit.text)
    if not what:
        return _covered(unit, ears, day)
    if what == "watered" and OF_FEED.search(unit.text):
        what = "fed"
    values: dict[str, Value] = {"on": day, "what": what}
    if what == "other":
        values["note"] = unit.text
    size = next((q.text for q in unit.quantities if q.unit in ("l", "gal", "ml")), "")
    if what == "potted on" and size:
        made = for_plants(unit, ears, each("work", values), f"was {what}")
        made.beside += [f"The pot's new size ({size}) I do not keep from a message: put it right under Records."]
        return made
    spots_only = not unit.plants() and unit.spots() and all(one.sure for one in unit.spots())
    if spots_only and what in ("watered", "fed", "other"):
        return for_spots(unit, ears, each("work", values, "spot"), "was that")
    return for_plants(unit, ears, each("work", values), f"was {what}")


OF_FEED = re.compile(
    r"\b(?:litres?|liters?|gallons?|cans?|buckets?|l) of (?:\w+ )?(?:feed|fertili[sz]er)\b", re.IGNORECASE
)


def _covered(unit: Unit, ears: Ears, day: date) -> Result:
    """Ask with what a plant was covered: cloth over it, or a mulch at its foot."""
    off = re.search(r"\buncovered\b", unit.text, re.IGNORECASE)
    what, shown = ("unwrapped", "cloth off it") if off else ("wrapped", "cloth or fleece over it")
    made = for_plants(unit, ears, each("work", {"on": day, "what": what}), f"was {what}")
    if made.open:
        return made
    return Result.asking("Cloth over it, or a mulch on the soil? Of a mulch say which.", Way(shown, tuple(made.drafts)))


def read_harm(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return what hurt each plant, and how far."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    cause = ears.talk.first("harm.cause", unit.text) or "unknown"
    said = said_time(unit, shared)
    if said is not None and said.part == "last night" and cause in ("frost", "winter"):
        day = min(day + timedelta(days=1), ears.now.date())  # a night is coldest at its end
    if LOOKS_DEAD.search(unit.text):
        return Result.asking(
            "What looks dead in spring may only sleep. Scratch the bark and say what is under it: green at the base, "
            "or brown all the way down. If it is dead for sure, say: it is dead."
        )
    if DIED_BACK.search(unit.text) and not DEAD_ALL.search(unit.text):
        ways = []
        for extent, shown in (("slight", "a little"), ("half", "half"), ("most", "most of it")):
            made = for_plants(unit, ears, each("harm", {"on": day, "cause": cause, "extent": extent}), "was hurt")
            ways += [Way(shown, tuple(made.drafts))] if made.drafts else []
        return Result.asking("How much of it is dead?", *ways)
    extents = [word for word in ("half", "killed", "most", "slight") if ears.talk.has("harm.extent", word, unit.text)]
    values: dict[str, Value] = {"on": day, "cause": cause}
    if cause == "animal" and extents[:1] == ["slight"] and TIPS.search(unit.text):
        extents = []  # "hares ate the tips off": that is what they ate, not how much
    if extents:
        values["extent"] = extents[0]
    return for_plants(unit, ears, each("harm", values), "was hurt")


LOOKS_DEAD = re.compile(r"\b(?:look|looks|looking|looked|seem|seems|appears?) (?:\w+ )?dead\b", re.IGNORECASE)
DIED_BACK = re.compile(
    r"\b(?:dead|died|dry|brown) (?:wood |back )?(?:above|over|down to|back to|from)\b(?! the (?:ground|base|graft))",
    re.IGNORECASE,
)
DEAD_ALL = re.compile(
    r"\bto the (?:ground|base|graft)\b|\bfrom (?:cold|frost|frosts|winter|the (?:cold|frost|winter))\b", re.I
)
TIPS = re.compile(r"\btips?\b", re.IGNORECASE)


def read_crop(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return what was ripe or picked."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    values = crop_values(unit, ears, day)
    unit.mentions = [one for one in unit.mentions if not one.all_of_kind] or [
        replace(one, sure=one.sure and len(one.names) == 1, all_of_kind=False) for one in unit.mentions
    ]  # "got 12 figs today": the fruit, and of which tree is not said
    if len(values) == 1:
        return Result.asking("How much was picked, or was it the first ripe fruit?")
    picked = any(ears.talk.has("crop", word, unit.text) for word in ("verbs", "gave", "first", "breba", "main"))
    if not picked and "weight_kg" not in values and STILL_ON.search(unit.text):
        return Result.asking("Fruit on the tree I do not count. Were these picked? Then say: picked them off it.")
    return for_plants(unit, ears, each("crop", values), "was that picked from")


STILL_ON = re.compile(r"\b(?:on|set|hanging|left)\b", re.IGNORECASE)


def crop_values(unit: Unit, ears: Ears, day: date) -> dict[str, Value]:
    """Return the day, the count and the weight of a crop, and which crop it is."""
    talk, text = ears.talk, unit.text
    values: dict[str, Value] = {"on": day}
    if talk.has("crop", "first", text):
        values["first_ripe"] = True
    if talk.has("crop", "breba", text):
        values["crop"] = "breba"
    elif talk.has("crop", "main", text):
        values["crop"] = "main"
    for q in unit.quantities:
        weight = kilograms(q, ears.yard.units) if q.unit else None
        if weight is not None:
            values["weight_kg"] = round(weight, 3)
        elif (
            not q.unit
            and q.high is None
            and q.value == int(q.value)
            and (q.counted in FRUITS or is_fruit(q, ears.yard))
            and not (q.counted == "" and "fruits" in values)  # "3 figs, 1 split"
        ):
            values["fruits"] = int(q.value)
    if "fruits" not in values and JUST_ONE.search(text):
        values["fruits"] = 1
    return values


JUST_ONE = re.compile(r"\b(?:just|only) (?:the )?one\b", re.IGNORECASE)
