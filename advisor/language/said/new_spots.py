"""What is said of spots themselves: a new one, several in a line, and more of one that is known."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from advisor.facts import Value
from advisor.language.said.drafts import Draft, Open
from advisor.language.said.unit import Ears, Unit
from advisor.language.said.whom import Result
from advisor.language.when import Said

ASPECTS = {
    "north": "N", "northeast": "NE", "east": "E", "southeast": "SE", "south": "S", "southwest": "SW", "west": "W",
    "northwest": "NW",
}  # fmt: skip
SIDE = r"((?:north|south)(?:[- ]?(?:east|west))?|east|west)"
FACES = re.compile(rf"\bfac(?:es?|ing)\s+{SIDE}\b|\b{SIDE}[- ]facing\b", re.IGNORECASE)
CALLED_SPOT = re.compile(
    r"\bnew (?:spot|bed|place|corner)\s*[:,-]?\s*(?:the\s+)?([\w' -]{2,30}?)(?=[,.;]|$)", re.IGNORECASE
)
THERE_IS = re.compile(
    r"^\s*(?:and\s+)?there(?:['’]s|\s+is)\s+(?:also\s+)?an?\s+"
    r"((?:[\w'-]+\s+)?(?:bed|border|spot|corner|patch|terrace|hollow|greenhouse|glasshouse|polytunnel)\b"
    r"(?:\s+(?:by|at|near|behind|under|along|beside|below)\s+(?:the\s+)?[\w'-]+(?:\s+[\w'-]+)?)?)"
    r"(?=\s*[,.;]|\s*$|\s+(?:that|which|facing|with)\b)",
    re.IGNORECASE,
)
"""A spot told as one would show it: "there is a bed by the shed, low-lying"."""
SEVERAL = re.compile(
    r"^\s*(?:(?:(?:my|our|the|new|add)\s+)*spots(?:\s+are)?\s*:|(?:new|add)\s+spots)\s*(?=\w)", re.IGNORECASE
)
LIST_STOP = re.compile(r"\s*[,;]\s*(?:and\s+)?|\s+and\s+|\s*\n\s*", re.IGNORECASE)
NAME_ENDS = re.compile(r"\s*[(:]|\s+(?:faces|facing|with|which|that)\b", re.IGNORECASE)
NO_NAME = re.compile(
    r"^(?:all|both|every|each|none|some|no)\b|\d[.,]\d|°|\b(?:is|are|was|were|dry|wet|cold|warm)$", re.IGNORECASE
)
"""What an item begins or ends with that says something of spots and names none."""
LONGEST_NAME = 4
"""Words of a spot's name in a list; more is a sentence."""
TEXTURES = ("sand", "loam", "clay", "silt", "peat", "potting mix")
WALL = re.compile(
    r"\b(stone|brick|concrete|rendered|plastered|wooden|wood|timber)[- ](?:(?:house|garden)[- ])?wall\b"
    r"|\b(?:against|in front of|at the foot of|at|by|has)\s+(?:a|the)\s+(?:(?:house|garden)\s+)?wall\b",
    re.IGNORECASE,
)
MATERIALS = {"rendered": "render", "plastered": "render", "wooden": "wood", "timber": "wood"}
LOW = re.compile(
    r"\b(?:frost pocket|low[- ]lying|cold air (?:lies|gathers)|(?:is|lies|sits) low|low spot)\b", re.IGNORECASE
)
GLASS = r"(?:glass|greenhouse|glasshouse|hoop ?house|high tunnel|poly ?tunnel|cold frame|plastic|poly)"
ROOFED = re.compile(
    r"^\W*(?:is|was)\s+(?:an?\s+|the\s+|my\s+|under\s+|a kind of\s+)*"
    r"(?:(?:dark|cold|cool|attached|old|unheated|heated)\s+)*"
    rf"(?:{GLASS}|shelter|shed|garage|cellar|basement|barn|winter store)\b",
    re.IGNORECASE,
)
"""What a spot is said to be, right after its name: "is an unheated hoop house"."""
WINTERS = re.compile(
    r"\bwhere (?:the |my |all )*(?:pots|tubs|figs|plants) (?:over)?winter\b"
    r"|\bfor (?:over)?wintering\b|\bwinter store\b",
    re.I,
)
IS_OF = re.compile(
    r"^\W*(?:is|made)(?: made)?(?: of)?\s+(stone|brick|concrete|wood|timber)\b(?!\s*(?:chips?|mulch))", re.I
)
"""What a wall is said to be of, right after its name."""
FALLS = re.compile(
    r"\bdrains?\s+(?:at\s+|about\s+)?(\d+(?:[.,]\d+)?)\s*(cm|mm|inch(?:es)?|in|\")\s*"
    r"(?:an?|per|/|in an)\s*h(?:our|r)?\b",
    re.IGNORECASE,
)
DRAINS = re.compile(
    r"\bdrains?\s+(?:very\s+)?(?:well|freely|badly|poorly|slowly|fast|quickly)\b|\bwell[- ]drained\b"
    r"|\b(?:holds|stands in) water\b|\bstays wet\b|\bwet feet\b",
    re.IGNORECASE,
)
TO_CM = {"cm": 1.0, "mm": 0.1}
INCH_CM = 2.54


@dataclass
class OfSpot:
    """What a text says of a spot: values of its row, and what is said back beside it."""

    values: dict[str, Value] = field(default_factory=dict)
    beside: list[str] = field(default_factory=list)


def tells_spots(text: str, names: Sequence[str]) -> bool:
    """Return whether a sentence shows a new spot or lists several; ``names`` are those that the garden has."""
    return bool(THERE_IS.match(text) or items_of(text, names))


def items_of(text: str, names: Sequence[str]) -> list[str]:
    """Return the items of a list of spots, none where it is no such list: a figure or a state is told of known ones."""
    head = SEVERAL.match(text)
    items = [item for item in LIST_STOP.split(text[head.end() :].strip(" .")) if item] if head else []
    known = [re.compile(rf"(?:the\s+)?{re.escape(name)}\s+[-+]?\d", re.IGNORECASE) for name in names]
    return [] if any(NO_NAME.search(item) or any(one.match(item) for one in known) for item in items) else items


def of_spot(text: str, aspect: str = "") -> OfSpot:
    """Return what a text says of a spot. ``aspect`` is the side that it is known to face.

    A spot at the foot of a wall faces as the wall does, so that the wall's side is the spot's.
    """
    found = OfSpot()
    values = found.values
    if faces := FACES.search(text):
        values["aspect"] = aspect = ASPECTS[re.sub(r"[- ]", "", (faces[1] or faces[2]).casefold())]
    elif re.search(r"\bflat\b|\blevel\b", text, re.IGNORECASE):
        values["aspect"] = aspect = "flat"
    if wall := WALL.search(text):
        material = (wall[1] or "").casefold()
        if material:
            values["wall_material"] = MATERIALS.get(material, material)
        if aspect in ASPECTS.values():
            values["wall_side"] = aspect
        else:
            found.beside.append("Which way does the wall face? Until I know, it counts for nothing.")
    if texture := next((word for word in TEXTURES if re.search(rf"\b{word}y?\b", text, re.IGNORECASE)), ""):
        values["soil_texture"] = texture
    if roof := _roof(text):
        values["under_cover"] = roof
    if LOW.search(text):
        values["low_lying"] = True
    if falls := FALLS.search(text):
        speed = float(falls[1].replace(",", ".")) * TO_CM.get(falls[2].casefold(), INCH_CM)
        values["drainage_cm_h"] = round(speed, 1)
    elif drains := DRAINS.search(text):
        found.beside.append(
            f"“{drains[0].strip()}” is kept in your words and counts for nothing: how far does water fall in a test "
            "hole in an hour? Tell it as: drains 5 cm an hour."
        )
    return found


def _roof(text: str) -> str:
    """Return the roof that a text tells, "" for none."""
    if re.search(rf"\b{GLASS}\b", text, re.IGNORECASE):
        warm = re.search(r"\bheated\b", text, re.IGNORECASE) and not UNHEATED.search(text)
        return "heated glass" if warm else "unheated glass"
    if WINTERS.search(text):
        return "shelter"
    roofed = re.search(r"\b(?:shed|garage|cellar|basement|barn|shelter)\b", text, re.IGNORECASE)
    return "shelter" if roofed and "behind" not in text else ""


UNHEATED = re.compile(r"\b(?:unheated|not heated|no heat\w*|without heat\w*)\b", re.IGNORECASE)


def new_spot(name: str, text: str, ears: Ears) -> Result:
    """Return a new spot with what is told of it."""
    if not name:
        return Result.asking("What shall the spot be called? Send it again with: call it ...")
    if name.casefold() in {known.casefold() for known in ears.names}:
        return Result.asking(f"There is a {name} already. What else shall it be called?")
    told = of_spot(text.replace(name, " ", 1))
    return Result([Draft("spot", {"name": name, **told.values})], beside=told.beside)


def several_spots(text: str, ears: Ears) -> Result | None:
    """Return the spots that a line lists, None where it lists none; one that is there already is named and left."""
    items = items_of(text, ears.names)
    if not items:
        return None
    known = {name.casefold() for name in ears.names}
    found = Result()
    for item in items:
        ends = NAME_ENDS.search(item)
        name = re.sub(r"^(?:the|a|an|my)\s+", "", item[: ends.start()] if ends else item, flags=re.IGNORECASE).strip()
        of_last = of_spot(item).values if found.drafts else {}
        if name and of_last and (not ends or ends.start() == 0) and not _is_name(item):
            last = found.drafts[-1]
            found.drafts[-1] = Draft("spot", {**last.values, **of_last})  # "south wall, faces south, north bed"
        elif not name or len(name.split()) > LONGEST_NAME:
            found.open.append(Open(f"Which spots are meant in {item!r}? Give their names, with commas between."))
        elif name.casefold() in known:
            found.beside.append(f"There is a {name} already; it stays as it is.")
        else:
            known.add(name.casefold())
            told = of_spot(item[ends.start() :]) if ends else OfSpot()
            found.drafts.append(Draft("spot", {"name": name, **told.values}))
            found.beside += told.beside
    return Result(found.drafts if not found.open else [], found.open, found.beside)


def _is_name(item: str) -> bool:
    """Return whether what may tell of a spot is a spot's own name: "clay bank", "shed"."""
    return not (FACES.search(item) or LOW.search(item) or FALLS.search(item) or WALL.fullmatch(item.strip()))


def tells_more(unit: Unit) -> bool:
    """Return whether a unit tells of one spot which way it faces, how it lies or how fast it drains."""
    names = {one.names for one in unit.spots() if one.sure}
    if len(names) != 1 or len(next(iter(names))) != 1 or unit.plants() or unit.inherited:
        return False
    text = _without_name(next(iter(names))[0], unit)
    return any(pattern.search(text) for pattern in (FACES, LOW, FALLS, WALL, DRAINS, ROOFED, WINTERS, IS_OF))


def _without_name(name: str, unit: Unit) -> str:
    return re.sub(rf"(?:\bthe\s+)?{re.escape(name)}", " ", unit.told, count=1, flags=re.IGNORECASE)


def more_of_spot(unit: Unit, ears: Ears, shared: Sequence[Said]) -> Result:
    """Return what is told of a spot that is known, beside what was told of it before."""
    name = unit.spots()[0].names[0]
    spot = ears.yard.spot(name)
    text = _without_name(name, unit)
    told = of_spot(text, spot.aspect if spot else "")
    if not (ROOFED.search(text) or WINTERS.search(text)):
        told.values.pop("under_cover", None)  # "beside the shed" has no roof
    material = IS_OF.search(text) if name.casefold().endswith("wall") else None
    if material is not None:
        told.values["wall_material"] = MATERIALS.get(material[1].casefold(), material[1].casefold())
        aspect = told.values.get("aspect", spot.aspect if spot else "")
        if aspect in ASPECTS.values():
            told.values["wall_side"] = aspect
    if not told.values and told.beside and spot is not None:
        return Result(beside=told.beside)
    if not told.values or spot is None or not spot.row:
        return Result.asking(f"What of the {name}? For example: {name} faces south; {name} is low-lying.")
    return Result([Draft("spot", {"name": name, **told.values}, replaces=spot.row)], beside=told.beside)
