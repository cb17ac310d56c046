"""What a question asks for by name, told first: a deed's own tasks, and of a cold spot what is known of it."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date

from advisor.answers import Answer
from advisor.language.names import tokens
from advisor.language.render import Speech
from advisor.language.said.said_back import said_back
from advisor.language.when import Said
from advisor.reasoning.derive.ground import cover_on
from advisor.reasoning.derive.nights import offset_of
from advisor.reasoning.derive.scene import Scene
from advisor.records.questions import Deed, QuestionKind

POTS = re.compile(r"\b(?:pots?|tubs?|containers?)\b", re.IGNORECASE)
WHY = re.compile(r"\b(?:why|keep(?:s|ing)?|mak(?:es?|ing))\b", re.IGNORECASE)
SUN = re.compile(r"\b(?:sun|sunny|sunnier|sunniest|sunlight|shady|shadier|shadiest)\b", re.IGNORECASE)
COLDEST = re.compile(r"\bcold(?:est)?\b", re.IGNORECASE)
WARMEST = re.compile(r"\bwarm(?:er|est)?\b", re.IGNORECASE)
WARMING = {"name", "aspect", "wall_side", "wall_material", "raised_cm", "low_lying", "soil_texture", "drainage_cm_h",
           "under_cover", "sun_h", "spring_sun_h"}  # fmt: skip
"""Fields of a spot that bear on how warm its soil is."""
A_WEEK = 7
COMPARES = "compare-spots"
FROST_TONIGHT = "frost-tonight"
NIGHT = re.compile(r"\b(?:nights?|frosts?|frosty)\b", re.IGNORECASE)
COLD_AIR = (
    "On still clear nights cold air, being heavy, runs off higher ground and lies where it finds no way on: in "
    "hollows, above walls and hedges. So it is the lie of the land more than the soil."
)
"""Common practice, no source; why the nights of one spot are colder than those of another."""


def deed_in(text: str, question: QuestionKind) -> Deed | None:
    """Return the deed that a question asks about by name, None for none."""
    said = f" {' '.join(tokens(text))} "
    return next((one for one in question.deeds if any(f" {word} " in said for word in one.words)), None)


def only_deed(answer: Answer, deed: Deed, plants: Collection[str]) -> Answer:
    """Return an answer with a deed's tasks alone, of some plants where any are given; the same where there is none."""
    kept = tuple(
        one
        for one in answer.conclusions
        if one.kind == "task" and one.claim in deed.tasks and (not plants or one.about.get("plant", "") in plants)
    )
    return replace(answer, conclusions=kept, lacking=()) if kept else answer


def of_another_night(times: Sequence[Said], today: date) -> str:
    """Return what a question of some other night is told first: only the coming night is weighed; "" for that one."""
    named = (time for time in times if time.part != "last night" and 0 < abs((time.day - today).days) <= A_WEEK)
    other = next(named, None)  # "on Sunday" is read as the last one, and is asked of the next
    if other is None:
        return ""
    return f"I weigh the coming night only; for {other.day:%A} ask again that afternoon. Of tonight:"


def of_nights(answer: Answer, lead: str) -> Answer:
    """Return an answer about soils that says only what is known of a spot's nights."""
    return replace(answer, conclusions=(), lacking=(), not_known=lead)


def side_asked(answer: Answer, text: str) -> Answer:
    """Return an answer about spots with what the message asks of them: the sun alone, or the coldest without the
    warmest; the same where it asks for neither, or nothing is known of it."""
    ones = answer.conclusions
    if SUN.search(text) and any(one.claim.startswith("sun-") for one in ones):
        return replace(answer, conclusions=tuple(one for one in ones if one.claim.startswith("sun-")), lacking=())
    if COLDEST.search(text) and not WARMEST.search(text) and any(one.claim == "coldest-soil" for one in ones):
        return replace(answer, conclusions=tuple(one for one in ones if one.claim != "warmest-soil"))
    return answer


def _nights_there(scene: Scene, spot: str, speech: Speech) -> str:
    """Return how a spot's clear nights ran beside the station's, or how to find out."""
    found = offset_of(scene, spot)
    if found is None:
        low = speech.number(-2.0, "c")
        return (
            "How much colder it runs nobody measured: hang a thermometer that keeps the lowest there and tell me each "
            f"morning, as in: low {low} at the {spot} this morning."
        )
    than = "colder" if found[0].colder_by_k >= 0 else "milder"
    by = speech.number(abs(found[0].colder_by_k), "k")
    return f"On clear nights it ran {by} {than} than the station ({found[0].nights} nights)."


def known_of_spot(scene: Scene, spots: Sequence[str], text: str, speech: Speech) -> str:
    """Return what is known of the one spot that a message asks why it is cold or warm; "" for another question."""
    if len(spots) != 1 or not WHY.search(text) or spots[0] not in scene.spots:
        return ""
    spot, cover = scene.spots[spots[0]], cover_on(scene, spots[0], scene.today)
    lies = {name: value for name, value in spot.values.items() if name in WARMING}
    told = [said_back("spot_again", lies, speech).removeprefix("spot ")] if len(lies) > 1 else []
    told += [said_back("cover", cover.values, speech)] if cover is not None else []
    known = f"What is told of it: {'; '.join(told)}." if told else "Nothing is told of how it lies."
    if NIGHT.search(text):
        return f"{COLD_AIR} {known} {_nights_there(scene, spots[0], speech)}"
    return (
        "Readings show how cold or warm a soil is, not why. Mulch, shade, wet and low ground chill it; sun and a wall "
        f"warm it. {known} What the readings show:"
    )
