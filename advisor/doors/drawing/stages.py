"""Dates of bud break and bloom told and drawn: a row a plant, a ring an earlier year, a diamond this one."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from advisor.doors.drawing.look import Look
from advisor.doors.drawing.sheet import Panel, bare_axis, day_labels, labelled_axis, sheet, shortened
from advisor.doors.drawing.telling import Column, Telling, Units, day_cell, few, sentences
from advisor.language.render import Speech, listed
from advisor.reasoning.pictures.stages import PlantDates, StagesShown

QUESTION = "Which plants are early, and which are late?"
REACHED = {"waking": "bud break", "bloom": "the first open flower"}
WORDS = {"waking": "bud break", "bloom": "first flower"}
FEWEST_YEARS = 3
"""Years of dates before a plant's place in the order says something of the plant (house judgement)."""
ROW_LINES = 1.55


def tell_stages(shown: StagesShown, speech: Speech) -> Telling:
    years = shown.years
    columns = (
        Column("plant", "Plant"),
        Column("kind", "Kind"),
        Column("milestone", "Of"),
        *(Column(f"year_{year}", str(year)) for year in years),
        Column("middle", "Middle of the years"),
        Column("waiting_since", "Not there when last seen"),
    )
    rows = tuple(_row(one, years, shown, speech) for one in shown.plants)
    return Telling(
        "stages",
        QUESTION,
        sentences(*(line for group in shown.groups for line in _group(*group, shown, speech))),
        columns,
        rows,
        sentences(*_limits(shown)),
        ("The stages you recorded.",),
        _marks(shown),
        draw=lambda look: draw_stages(shown, speech, look),
    )


def _row(one: PlantDates, years: list[int], shown: StagesShown, speech: Speech) -> tuple[Any, ...]:
    days = dict(one.days)
    middle = short(shown, one.middle, speech) if one.places else None
    return (
        one.plant,
        speech.called.get(one.species, one.species),
        WORDS[one.milestone],
        *(day_cell(days.get(year)) for year in years),
        middle,
        day_cell(one.waiting),
    )


def day_at(first: date, place: float) -> date:
    return first + timedelta(days=int(place))


def short(shown: StagesShown, place: float, speech: Speech) -> str:
    """Return a place in the common year as a day without its year."""
    day = day_at(shown.first_day, place)
    return f"{day.day} {day:%B}" if speech.units == "metric" else f"{day:%B} {day.day}"


def _group(milestone: str, plants: tuple[PlantDates, ...], shown: StagesShown, speech: Speech) -> list[str]:
    dated = [one for one in plants if one.places]
    what = REACHED[milestone]
    said = []
    if len(dated) > 1:
        early, late = dated[0], dated[-1]
        first = f"{speech.name(early.plant)} is first as a rule ({_usual(early, shown, speech)})"
        last = f"{speech.name(late.plant)} last ({_usual(late, shown, speech)})"
        said.append(f"Of {len(dated)} plants on the way to {what}, {first}, and {last}")
    elif dated:
        said.append(f"{speech.name(dated[0].plant)} comes to {what} on {_usual(dated[0], shown, speech)}")
    there = [one for one in plants if any(year == shown.year for year, _ in one.days)]
    waiting = [one for one in plants if one.waiting]
    if there or waiting:
        names = listed(few([speech.name(one.plant) for one in waiting]))
        rest = f"; not yet when last seen: {names}" if waiting else ""
        said.append(f"In {shown.year} {len(there)} of {len(there) + len(waiting)} looked at have come to it{rest}")
    return said


def _usual(one: PlantDates, shown: StagesShown, speech: Speech) -> str:
    years = len(one.places)
    return f"{short(shown, one.middle, speech)}, {f'the middle of {years} years' if years > 1 else 'one year only'}"


def _limits(shown: StagesShown) -> list[str]:
    said = ["A date is that of the look that first found it so; it may have come some days before."]
    if max(len(one.places) for one in shown.plants) < FEWEST_YEARS:
        said.insert(0, "With fewer than three years of dates the order may be that of the weather or of your looks.")
    said.append("Roof, pot and ground are not told apart here: a fig under glass is early because of the glass.")
    left = len(shown.plants) - len(shown.drawn)
    if left:
        said.append(f"The {len(shown.drawn)} plants with most dates are drawn; {left} more are in the table.")
    return said


def _marks(shown: StagesShown) -> tuple[str, ...]:
    said = [f"diamond: {shown.year}", "ring: an earlier year", "upright stroke: the middle of the years"]
    if any(one.waiting for one in shown.plants):
        said.append(f"arrow: not there yet when last seen in {shown.year}")
    return tuple(said)


# ---- drawn


def draw_stages(shown: StagesShown, speech: Speech, look: Look) -> dict[str, Any]:
    units, row = Units(speech), round(look.text * ROW_LINES)
    left = 136 if look.narrow else 190
    of_drawn = [one for one in shown.plants if one.plant in shown.drawn]
    places = [place for one in of_drawn for _, place in one.places]
    places += [one.waiting_at for one in of_drawn if one.waiting_at is not None]
    low, high = min(places) - 4, max(places) + 5
    labels = day_labels(look, day_at(shown.first_day, low), high - low, look.width - left - 24, us=units.us)
    panels = []
    for milestone, group in shown.groups:
        drawn = [one for one in group if one.plant in shown.drawn]
        axis = labelled_axis(low, high, {low + n: text for n, text in labels.items()})
        panel = Panel(_heading(milestone, drawn, speech), row * len(drawn), axis, bare_axis(0, len(drawn)))
        _rows(panel, drawn, shown, look, low, left)
        panels.append(panel)
    return sheet(look, panels, left=left, right=24, foot=round(look.text * 1.9))


def _heading(milestone: str, drawn: list[PlantDates], speech: Speech) -> str:
    kinds = sorted({speech.called.get(one.species, one.species) for one in drawn})
    of = listed(few(kinds, 3))
    return f"{'Bud break' if milestone == 'waking' else 'First flower'}: {of}"


def _rows(panel: Panel, drawn: list[PlantDates], shown: StagesShown, look: Look, low: int, left: int) -> None:
    colour = look.colour
    height = {one.plant: len(drawn) - n - 0.5 for n, one in enumerate(drawn)}
    panel.add(
        [{"x": low, "y": height[one.plant], "text": shortened(look, one.plant, left - 12)} for one in drawn],
        {"type": "text", "align": "right", "baseline": "middle", "dx": -8},
        text={"field": "text"},
    )
    spans = [{"x": min(p for _, p in one.places), "x2": max(p for _, p in one.places), "y": height[one.plant]}
             for one in drawn if len(one.places) > 1]  # fmt: skip
    panel.add(spans, {"type": "rule", "color": colour["line"], "strokeWidth": 2})
    earlier = [{"x": place, "y": height[one.plant]} for one in drawn for year, place in one.places if year < shown.year]
    ring = {"type": "point", "shape": "circle", "size": 45, "strokeWidth": 1.5, "opacity": 1}
    panel.add(earlier, {**ring, "stroke": colour["soft"], "fill": colour["paper"]})
    middles = [{"x": one.middle, "y": height[one.plant] - 0.38, "y2": height[one.plant] + 0.38}
               for one in drawn if len(one.places) > 1]  # fmt: skip
    panel.add(middles, {"type": "rule", "color": colour["ink"], "strokeWidth": 2})
    now = [{"x": place, "y": height[one.plant]} for one in drawn for year, place in one.places if year == shown.year]
    panel.add(
        now, {"type": "point", "shape": "diamond", "size": 95, "filled": True, "color": colour["plum"], "opacity": 1}
    )
    waiting = [{"x": one.waiting_at, "y": height[one.plant]} for one in drawn if one.waiting]
    arrow = {"type": "point", "shape": "triangle-right", "size": 90, "strokeWidth": 2, "opacity": 1}
    panel.add(waiting, {**arrow, "stroke": colour["warn"], "fill": colour["paper"]})
