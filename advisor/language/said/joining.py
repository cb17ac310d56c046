"""Units of a sentence put together: lists with what is said of them, details with what they are details of."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from advisor.language.said.events import FROST_SEEN, OUT_OR_IN, SHOOT, events_of, temperatures
from advisor.language.said.pieces import words_of
from advisor.language.said.unit import LENGTH_UNITS, Ears, Unit


def put_together(made: Sequence[Unit], ears: Ears) -> list[Unit]:
    """Return the units of a sentence with those that belong together made one, and what holds for all given to all."""
    joined = _joined(_moves_told_apart(made, ears), ears)
    for unit in joined:
        foretold = unit.events == ["forecast"] and not unit.inherited
        frost = FROST_SEEN.search(unit.text)
        if len(unit.pieces) > 1 and (foretold or frost or unit.events in ([], ["temperature"])):
            unit.events = events_of(unit, ears)
        _same_look(joined, unit)
        _same_shoots(joined, unit)
    _share_details(joined, ears)
    return _gathered(_completed(joined, ears))


def _moves_told_apart(made: Sequence[Unit], ears: Ears) -> list[Unit]:
    """Return units with a move made one of which the verb stands before a list and the way after it: "brought the tall
    pot and the old fig in"."""
    found: list[Unit] = []
    left = list(made)
    while left:
        unit = left.pop(0)
        found.append(unit)
        if unit.events or not unit.plants() or not ears.talk.has("move", "verbs", unit.told):
            continue
        ends = next((place for place, one in enumerate(left) if _way(one) or not _only_names(one)), None)
        if ends is not None and _way(left[ends]):
            for one in left[: ends + 1]:
                _add(unit, one)
            unit.events = ["move"]
            del left[: ends + 1]
    return found


def _way(unit: Unit) -> bool:
    """Return whether a unit says of plants that they went out or in, and no more."""
    told = bool(unit.plants()) and not unit.spots() and set(unit.events) <= {"move"}
    return told and OUT_OR_IN.search(unit.told) is not None


def _share_details(units: Sequence[Unit], ears: Ears) -> None:
    """Give a row of readings the time that begins it, a unit that one of them has and, where all name their place, the
    depth that ends it, and the sky; with a word that says so the time too.

    "soil gate 4.9 yesterday, hollow 6.8"; "soil gate 11, hollow 8 at 10 cm"; "gate 38F, hollow 41".
    """
    if len(units) < 2 or not all(unit.events == ["temperature"] for unit in units):
        return
    first, *others = units
    _share_unit(units)
    of_each = OF_EACH.search(units[-1].told)
    if of_each and not any(unit.times for unit in units[:-1]):
        for unit in units[:-1]:
            unit.times += units[-1].times
    skies = [ears.talk.first("sky", unit.text) for unit in units]
    if skies[-1] and not any(skies[:-1]) and not _other_times(first, units[-1]):
        for unit in units[:-1]:
            unit.header = ", ".join(filter(None, (unit.header, skies[-1])))
    if first.times and not any(one.times for one in others) and all(len(one.mentions) == 1 for one in others):
        for unit in others:
            unit.times += first.times
    depths = [[q for q in unit.quantities if q.unit in LENGTH_UNITS] for unit in units]
    before = [*(one.start for one in first.mentions), *(q.start for q in temperatures(first))]
    leads = len(depths[0]) == 1 and all(depths[0][0].start < start for start in before)
    if leads and not any(depths[1:]):
        for unit in others:
            unit.quantities += depths[0]
    if (
        len(depths[-1]) == 1
        and not any(depths[:-1])
        and all(len(unit.mentions) == 1 for unit in units)
        and (ears.talk.has("ground", "soil", first.text) or of_each)
    ):
        for unit in units[:-1]:
            unit.quantities += depths[-1]


def _share_unit(units: Sequence[Unit]) -> None:
    """Give bare figures of a row of readings the unit of temperature that others of the row have, if it is one."""
    told = {q.unit for unit in units for q in temperatures(unit) if q.unit in ("c", "f")}
    if len(told) != 1:
        return
    for unit in units:
        bare = [q for q in temperatures(unit) if not q.unit]
        unit.quantities = [replace(q, unit=next(iter(told))) if q in bare else q for q in unit.quantities]


OF_EACH = re.compile(r"\b(?:both|each|all)\b", re.IGNORECASE)


def _only_begun(unit: Unit) -> bool:
    """Return whether a move says no more than who: neither where to nor out or in."""
    return bool(unit.plants()) and not unit.spots() and not OUT_OR_IN.search(unit.told) and not unit.times


def _completed(units: Sequence[Unit], ears: Ears) -> list[Unit]:
    """Return units put to those that they end: "damson frosted, half the flowers gone", "moved a and b to c"."""
    found: list[Unit] = []
    for unit in units:
        last = found[-1] if found else None
        if last and last.events == unit.events == ["move"] and _only_begun(last) and unit.spots():
            _add(last, unit)  # "moved tub 1 and tub 2 out to the yard"
        elif last and "harm" in last.events and not unit.own_mentions and ears.talk.first("harm.extent", unit.told):
            for name in ("pieces", "times"):
                setattr(last, name, [*getattr(last, name), *getattr(unit, name)])
        else:
            found.append(unit)
    return found


def _same_look(units: Sequence[Unit], unit: Unit) -> None:
    """Let a plant that is only "dry" or "moist" take the root ball from the one before it."""
    place = next(n for n, one in enumerate(units) if one is unit)
    last = units[place - 1] if place else None
    if last and last.events == ["look"] and not unit.events and unit.plants() and ROOT_BALL.search(last.text):
        unit.header = unit.header or "root ball"
        if MOISTURE.search(unit.told):
            unit.events = ["look"]


def _same_shoots(units: Sequence[Unit], unit: Unit) -> None:
    """Let a plant with nothing but a length, or a bare count, tell of shoots or leaves as the one before it does."""
    place = next(n for n, one in enumerate(units) if one is unit)
    last = units[place - 1] if place else None
    if last is None or last.events != ["growth"] or not unit.plants() or len(unit.quantities) != 1:
        return
    (figure,) = unit.quantities
    if figure.unit in LENGTH_UNITS and not unit.events and SHOOT.search(last.text):
        unit.header, unit.events = unit.header or "shoot", ["growth"]
    elif not figure.unit and not figure.counted and any(q.counted == "leaves" for q in last.quantities):
        unit.quantities, unit.events = [replace(figure, counted="leaves")], ["growth"]


ROOT_BALL = re.compile(r"\broot[ -]?balls?\b", re.IGNORECASE)
MOISTURE = re.compile(r"\b(?:dry|moist|damp|wet|soaking)\b", re.IGNORECASE)


def _other_times(one: Unit, other: Unit) -> bool:
    return bool(one.times and other.times and {t.day for t in one.times} != {t.day for t in other.times})


def _gathered(units: Sequence[Unit]) -> list[Unit]:
    """Return units with forecasts of one sentence put together, as their low, sky and wind stand apart by commas."""
    found: list[Unit] = []
    for unit in units:
        last = found[-1] if found else None
        goes_on = last and "forecast" in last.events and {"forecast", "temperature"} & set(unit.events)
        if last and goes_on and not unit.own_mentions and not _other_times(last, unit):
            _add(last, unit)
        else:
            found.append(unit)
    return found


def _joined(made: Sequence[Unit], ears: Ears) -> list[Unit]:
    """Return units with lists joined to what is said of them, and details joined to what they are details of."""
    found: list[Unit] = []
    waiting: list[Unit] = []
    for place, unit in enumerate(made):
        if DENIED.match(unit.pieces[0].text) and found:
            continue  # "porch fig two, not porch fig"
        if unit.events and not (unit.events == ["temperature"] and not unit.mentions and _goes_on(found)):
            for before in waiting:
                _add(unit, before, front=True)
            waiting = []
            if not unit.mentions and found and not found[-1].events:
                _add(unit, found.pop(), front=True)
            elif not unit.mentions and found and "new" not in unit.events:
                unit.mentions, unit.inherited = list(found[-1].mentions), True
            found.append(unit)
        elif unit.mentions:
            later = next((one for one in made[place + 1 :] if one.events), None)
            if not _only_names(unit):
                found.append(unit)
            elif found and found[-1].events and (found[-1].verb_first or later is None) and not waiting:
                if unit.times and found[-1].times and unit.times != found[-1].times:
                    found.append(_same_of(found[-1], unit))
                else:
                    _add(found[-1], unit)
            else:
                waiting.append(unit)
        elif waiting or not found:
            waiting.append(unit)
        else:
            _add_details(found, unit, trailing=not any(one.events or one.mentions for one in made[place:]))
    if waiting and found:
        for left in waiting:
            _add(found[-1], left)
    for unit, after in pairwise(found):
        if (
            unit.events
            and not unit.mentions
            and after.mentions
            and not after.inherited
            and not _two_places(unit, after, ears)
            and not _of_something_else(unit, ears)
        ):
            unit.mentions, unit.inherited = list(after.mentions), True
    if waiting and not found:
        alone = waiting[0]
        for more in waiting[1:]:
            _add(alone, more)
        found.append(alone)
    return found


def _two_places(unit: Unit, after: Unit, ears: Ears) -> bool:
    """Return whether two figures are of two places: one place has one temperature of its soil, or of its air."""
    if "temperature" not in unit.events or "temperature" not in after.events:
        return False
    air, air_after = (ears.talk.has("ground", "air", one.text) for one in (unit, after))
    depths = [{q.value for q in one.quantities if q.unit in LENGTH_UNITS} for one in (unit, after)]
    return air == air_after and not (all(depths) and depths[0] != depths[1])


def _of_something_else(unit: Unit, ears: Ears) -> bool:
    """Return whether a work is said to be done to something that is nothing of the garden: "fed the rose and ..."."""
    if unit.events != ["work"]:
        return False
    said = WORKED_ON.search(unit.told)
    word = said[1].casefold() if said else ""
    return bool(word) and not any(ears.talk.has("known", of, word) for of in ("parts", "small"))


WORKED_ON = re.compile(r"\b(?:the|my|our)\s+([a-z]{3,})\s*$", re.IGNORECASE)
DENIED = re.compile(r"\s*(?:and\s+)?not\s+(?:the\s+)?(?!yet\b)", re.IGNORECASE)
FILLING = frozenset(
    (
        "the",
        "and",
        "both",
        "also",
        "my",
        "on",
        "of",
        "at",
        "too",
        "all",
        "as",
        "well",
        "our",
        "same",
        "for",
        "a",
        "with",
        "so",
    )
)
"""Words that may stand in a list of names."""


def _same_of(unit: Unit, other: Unit) -> Unit:
    """Return what one unit says, said of another's plants on another's day: "tub 1 yesterday, tub 2 today"."""
    told = Unit([*unit.pieces, *other.pieces], other.mentions, unit.quantities, other.times, unit.stages)
    told.events, told.header = unit.events, unit.header
    return told


def _goes_on(found: Sequence[Unit]) -> bool:
    """Return whether a bare figure goes on with a forecast or an evening: "min 2, max 14"."""
    return bool(found) and bool({"forecast", "evening"} & set(found[-1].events))


def _only_names(unit: Unit) -> bool:
    """Return whether a unit is nothing but names, as in a list."""
    spans = [(one.start, one.end) for one in unit.mentions] + [(t.start, t.end) for t in unit.times]
    left = [
        word.text
        for piece in unit.pieces
        for word in words_of(piece.text, piece.start)
        if not any(start <= word.start < end for start, end in spans)
    ]
    return not unit.quantities and all(word in FILLING for word in left)


def _add(unit: Unit, other: Unit, *, front: bool = False) -> None:
    for name in ("pieces", "mentions", "quantities", "times", "stages"):
        mine = getattr(unit, name)
        theirs = [one for one in getattr(other, name) if one not in mine]  # a header's length was given to both
        setattr(unit, name, [*theirs, *mine] if front else [*mine, *theirs])


def _add_details(found: Sequence[Unit], unit: Unit, *, trailing: bool) -> None:
    """Add depth, sky or a time that stands by itself to what it belongs to: at the end of several readings to all."""
    readings = [one for one in found if "temperature" in one.events]
    if trailing and len(readings) > 1 and len(readings) == len(found):
        for one in readings:
            _add(one, unit)
    else:
        _add(found[-1], unit)
