"""What a message tells, into the garden: the yard that messages speak of, drafts recorded, put right, taken back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from typing import Any

from marshmallow import ValidationError

from advisor.facts import Fact, Recorded, Value
from advisor.language.said.drafts import Draft
from advisor.language.said.yard import Yard, YardPlant, YardSpot
from advisor.reasoning.derive.ground import cover_on
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.stages import reached
from advisor.records.by_form import known_of
from advisor.records.corrections import is_in_use, undo
from advisor.records.history import last_about, rows_of
from advisor.records.messages import Message, message, spoken_before
from advisor.records.schemas import schema_for
from advisor.records.species import Lore
from advisor.records.store import Garden, NewRow, Said

SHELTERED = ("shelter", "unheated glass", "heated glass")
LOOK_BACK = 30
"""Messages back within which something told can be undone or corrected by a word."""
A_DAY_BACK = 200
"""Messages among which those of a day are looked for."""
Row = tuple[str, int]


def yard_of(garden: Garden, lore: Lore, today: date, spoken: Sequence[str] = (), scene: Scene | None = None) -> Yard:
    """Return the garden as messages speak of it on a day. ``spoken`` are the plants and spots last spoken of.

    ``scene`` is that day's, where there is one already.
    """
    scene = scene or Scene(garden, lore, today, "")
    yard = scene.remember(("yard", ""), partial(_yard, scene))
    plants = tuple(name for name in spoken if name in scene.plants)
    return replace(yard, spoken_plants=plants, spoken_spots=tuple(name for name in spoken if name in scene.spots))


def _yard(scene: Scene) -> Yard:
    spots = []
    for name, row in scene.spots.items():
        cover = cover_on(scene, name, scene.today)
        lying = cover is not None and cover.text("material") != "bare" and isinstance(cover.origin, Recorded)
        row_id = cover.origin.row_ids[0] if cover and lying and isinstance(cover.origin, Recorded) else 0
        material = cover.text("material") if cover and lying else ""
        own = row.origin.row_ids[0] if isinstance(row.origin, Recorded) else 0
        spots.append(YardSpot(name, row.text("under_cover") == "shelter", material, row_id, own, row.text("aspect")))
    plants = [_plant(scene, row, scene.today) for row in scene.plants.values()]
    species = [(one.id, one.names) for one in scene.lore.species.values()]
    materials = [(one.id, one.names) for one in scene.lore.materials.values()]
    return Yard(plants, spots, species, materials, us=scene.place.text("units") == "us")


def _plant(scene: Scene, row: Fact, today: date) -> YardPlant:
    stand = stand_of(scene, row, today)
    name = row.text("name")
    moves = [fact.text("to_spot") for fact in scene.of_plant("move", name)]
    stood = [spot for spot in [row.text("spot"), *moves] if spot in scene.spots]
    outdoors = [spot for spot in stood if scene.spots[spot].text("under_cover") not in SHELTERED]
    return YardPlant(
        name, row.text("species"), stand.spot, row.text("cultivar"), stand.growing == "pot",
        stand.under_cover in SHELTERED, outdoors[-1] if outdoors else "",
    )  # fmt: skip


# ---- recording


def faults_of(garden: Garden, lore: Lore, drafts: Sequence[Draft], now: datetime) -> list[str]:
    """Return why drafts cannot be recorded, in a phrase each; none where all of them can."""
    known = known_of(garden, lore, now)
    known.spots |= {str(draft.values["name"]) for draft in drafts if draft.kind == "spot"}
    known.plants |= {str(draft.values["name"]) for draft in drafts if draft.kind == "plant"}
    wrong = list(_two_stages(drafts))
    for draft in drafts:
        try:
            schema_for(garden.kinds[draft.kind], known).load(_raw(_whole(garden, draft)))
        except ValidationError as error:
            messages: Mapping[str, Any] = error.messages  # type: ignore[assignment]  # a row's errors are by field
            wrong += [f"{name.replace('_', ' ')}: {'; '.join(map(str, said))}" for name, said in messages.items()]
    return wrong


def _two_stages(drafts: Sequence[Draft]) -> Iterator[str]:
    """Yield each plant that one message tells as awake and as asleep on one day: two trees of nearly one name."""
    told: dict[tuple[object, object], set[object]] = {}
    for draft in drafts:
        if draft.kind == "stage" and isinstance(code := draft.values.get("bbch"), int):
            ways = told.setdefault((draft.values.get("plant"), draft.values.get("on")), set())
            ways |= {"awake" if reached(code, "waking") else "not awake", "at rest" if code == 0 else "moving"}
    for (plant, _), ways in told.items():
        if {"awake", "not awake"} <= ways or {"at rest", "moving"} <= ways:
            yield f"{plant} is told both as awake and as asleep; name each tree by its own name"


def _whole(garden: Garden, draft: Draft) -> dict[str, Value]:
    before = garden.values_of(draft.kind, draft.replaces) if draft.replaces else {}
    return {**before, **draft.values}


def _raw(values: Mapping[str, Value]) -> dict[str, Any]:
    return {name: value.isoformat() if isinstance(value, datetime) else value for name, value in values.items()}


def record(
    garden: Garden, lore: Lore, drafts: Sequence[Draft], said: Said, text: str, now: datetime
) -> list[Row]:  # fmt: skip
    """Record drafts under a message, all of them or none, and return the rows. The drafts must be without fault."""
    known = known_of(garden, lore, now)
    known.spots |= {str(draft.values["name"]) for draft in drafts if draft.kind == "spot"}
    known.plants |= {str(draft.values["name"]) for draft in drafts if draft.kind == "plant"}
    rows = []
    for draft in drafts:
        values: Mapping[str, Value] = schema_for(garden.kinds[draft.kind], known).load(_raw(_whole(garden, draft)))
        rows.append(NewRow(draft.kind, values, words=text, replaces=draft.replaces or None))
    return garden.add([(said, rows)])


def drafts_from(kept: Sequence[Mapping[str, Any]], garden: Garden) -> list[Draft]:
    """Return drafts as a reply kept them, with dates and times read again."""
    found = []
    for one in kept:
        fields = garden.kinds[one["kind"]].fields
        values: dict[str, Value] = {}
        for name, value in one["values"].items():
            if fields[name].type == "date":
                values[name] = date.fromisoformat(value)
            else:
                values[name] = datetime.fromisoformat(value) if fields[name].type == "time" else value
        found.append(Draft(one["kind"], values, one.get("replaces", 0)))
    return found


# ---- what was told last


def told_before(garden: Garden, message_id: str) -> tuple[Message, list[Row]] | None:
    """Return the last message before one of which records are in use, and those records."""
    for earlier in spoken_before(garden, message_id, LOOK_BACK):
        rows = [(one["kind"], one["id"]) for one in earlier.recorded if is_in_use(garden, one["kind"], one["id"])]
        if rows:
            return message(garden, earlier.id), rows
    return None


def spoken_of(garden: Garden, message_id: str, since: datetime) -> list[str]:
    """Return the plants and spots that the talk was last about, as "it" may mean them."""
    for earlier in spoken_before(garden, message_id, LOOK_BACK):
        if earlier.received_at < since or not earlier.answered:
            break
        names = []
        for one in earlier.recorded:
            values = garden.values_of(one["kind"], one["id"])
            names += [str(values[name]) for name in ("plant", "spot", "name") if name in values]
        question = earlier.question
        names += [question[name] for name in ("plant", "spot") if question.get(name)]
        names += question.get("spots", [])
        if names:
            return list(dict.fromkeys(names))
    return []


def take_back(garden: Garden, ref: str, at: datetime, via: str) -> list[Row]:
    """Undo what was said under a message. Raise NotFound where nothing of it is in use."""
    return undo(garden, ref, Said("undo", via, at))


DEEDS = {"move": "moved", "crop": "picked", "cover": "mulched"}
"""Records that are a deed by their kind; a work is one by what it says."""


def records_about(garden: Garden, names: Sequence[str], most: int, deed: str = "") -> list[Row]:
    """Return the last rows in use about plants or spots, the latest first; with a deed only those that tell of it."""
    found: list[tuple[str, str, int]] = []
    for kind in garden.kinds.values():
        if kind.origin != "recorded" or not kind.holds_on or kind.name == "advice":
            continue
        if deed and kind.name != "work" and deed != DEEDS.get(kind.name):
            continue
        if kind.name == "plant":
            rows = [fact for fact in garden.of(kind.name) if fact.text("name") in names]
        else:
            rows = last_about(garden, kind, names, most, deed if kind.name == "work" else "")
        for fact in rows:
            if isinstance(fact.origin, Recorded):
                found.append((str(fact.get(kind.holds_on)), kind.name, fact.origin.row_ids[0]))
    return [(kind, row) for _, kind, row in sorted(found, reverse=True)[:most]]


def told_on(garden: Garden, message_id: str, day: date, most: int) -> list[Row]:
    """Return the rows in use, so many at most, that messages before one told on a day, the last first."""
    zone = garden.zone()
    told = [
        (str(one["kind"]), int(one["id"]))
        for spoken in spoken_before(garden, message_id, A_DAY_BACK)
        if spoken.received_at.astimezone(zone).date() == day
        for one in reversed(spoken.recorded)
    ]
    facts = rows_of(garden, list(dict.fromkeys(told)))[:most]
    return [(fact.kind, fact.origin.row_ids[0]) for fact in facts if isinstance(fact.origin, Recorded)]
