"""Close looks at a tree as records: bark, root ball, gnawing, buds cut open."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from advisor.facts import Value
from advisor.language.said.drafts import Draft, Open, Way
from advisor.language.said.events import MOISTURE_NEXT, NOT_DEAD
from advisor.language.said.unit import Ears, Unit
from advisor.language.said.whom import Result, day_of, each, for_plants
from advisor.language.when import Said

DEAD = re.compile(r"[^.]{0,25}?\b(?:brown|dead|black)", re.IGNORECASE)
"""Figures followed by such a word count dead buds."""


def read_look(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return what a close look showed: bark, root ball, gnawing, buds cut open."""
    day = day_of(unit, ears, shared)
    if isinstance(day, Open):
        return Result(open=[day])
    talk, text = ears.talk, NOT_DEAD.sub(" ", unit.text)
    values: dict[str, Value] = {"on": day}
    if talk.has("look", "scratch", text):
        values |= _bark(text, ears)
    if talk.has("look", "not_gnawed", text):
        values["gnawed"] = False
    elif talk.has("look", "gnawed", text):
        values["gnawed"] = True
    if "scratch" not in values and (talk.has("look", "root_ball", text) or MOISTURE_NEXT.search(text)):
        below = DRY_TOP.sub(" ", text)
        wet = next((word for word in ("dry", "wet", "moist") if talk.has("look", word, below)), "")
        if not wet and below != text:
            return _below_the_top(unit, ears, values)
        values |= {"root_ball": wet} if wet else {}
    values |= _buds(unit, ears)
    parts = _bark_by_height(unit, ears)
    if len(values) == 1 and not (talk.has("look", "scratch", text) and parts):
        return Result.asking("What did you find: green or brown under the bark, a dry or a moist root ball?")
    return for_plants(unit, ears, lambda names: _looks(names, values, unit, ears), "did you look at")


DRY_TOP = re.compile(
    r"\b(?:dry (?:on|at) (?:the )?(?:top|surface)|(?:top|surface)(?: \w+){0,6}? (?:is |was |feels |looks )?dry)\b",
    re.IGNORECASE,
)
"""The top of the soil dry, which says nothing of the ball below."""


def _below_the_top(unit: Unit, ears: Ears, values: Mapping[str, Value]) -> Result:
    """Ask how a pot feels below its dry top."""
    ways = []
    for felt, shown in (("dry", "dry there too, or light to lift"), ("moist", "moist there")):
        made = for_plants(unit, ears, each("inspection", {**values, "root_ball": felt}), "did you look at")
        if made.open:
            return made
        ways.append(Way(shown, tuple(made.drafts)))
    return Result.asking("A dry top says little: how does it feel a finger deep?", *ways)


def _looks(names: Sequence[str], values: Mapping[str, Value], unit: Unit, ears: Ears) -> list[Draft]:
    """Return one look a plant, or one a height where the bark was not alike: brown at the tip, green at the base."""
    if "scratch" not in values and ears.talk.has("look", "scratch", unit.text):
        parts = _bark_by_height(unit, ears)
        return [Draft("inspection", {"plant": n, "on": values["on"], **bark}) for n in names for bark in parts]
    return each("inspection", values)(names)


def _bark_by_height(unit: Unit, ears: Ears) -> list[dict[str, Value]]:
    """Return what the bark showed at each height: by pieces, or in one run as "brown at top green at base"."""
    parts = [bark for piece in unit.pieces for bark in [_bark(piece.text, ears)] if len(bark) == 2]
    told = [hit[0] for piece in unit.pieces for hit in COLOUR_AT.finditer(piece.text)]
    runs = [bark for text in told for bark in [_bark(text, ears)] if len(bark) == 2]
    return runs if len(runs) > len(parts) and len(runs) > 1 else parts


COLOUR_AT = re.compile(
    r"\b(?:green|brown|dead|alive|mixed)\s+(?:(?:at|on|in|near|to|from)\s+)?(?:the\s+)?"
    r"(?:tips?|top|middle|halfway|mid|base|bottom|foot)\b",
    re.IGNORECASE,
)


def _bark(text: str, ears: Ears) -> dict[str, Value]:
    talk = ears.talk
    colours = [word for word in ("mixed", "green", "brown") if talk.has("look", word, text)]
    heights = [word for word in ("all", "tip", "middle", "base") if talk.has("look", word, text)]
    if not colours or len(heights) > 1 or (len(colours) > 1 and "mixed" not in colours):
        return {}
    return {"scratch": colours[0], **({"height": heights[0]} if heights else {})}


def _buds(unit: Unit, ears: Ears) -> dict[str, Value]:
    text = unit.text
    whole = [q for q in unit.quantities if q.high is None and q.value == int(q.value) and not q.unit]
    counts = [q for q in whole if q.counted in ("", "buds")]
    if not ears.talk.has("look", "buds_cut", text) or not any(q.counted == "buds" for q in counts):
        return {}
    cut = next(q for q in counts if q.counted == "buds")
    dead = [q for q in counts if q is not cut and DEAD.match(text[text.find(q.text) :])]
    found: dict[str, Value] = {"buds_cut": int(cut.value)}
    if dead and dead[0].value <= cut.value:
        found["buds_dead"] = int(dead[0].value)
    elif re.search(r"\ball (?:brown|dead)", text, re.IGNORECASE):
        found["buds_dead"] = int(cut.value)
    elif re.search(r"\b(?:none|no) (?:brown|dead)|all (?:green|alive|good|live)", text, re.IGNORECASE):
        found["buds_dead"] = 0
    return found
