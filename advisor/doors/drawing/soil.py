"""Soil readings told and drawn: a line a soil where readings follow each other, dots by sky, covers below."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from advisor.doors.drawing.look import Look
from advisor.doors.drawing.sheet import (
    TEXT_BY_ROW,
    Panel,
    bare_axis,
    day_labels,
    labelled_axis,
    number_axis,
    sheet,
    shortened,
    text_rows,
)
from advisor.doors.drawing.telling import Column, Telling, Units, few, sentences
from advisor.language.render import Speech, counted, listed
from advisor.reasoning.pictures.soil import LEAST_LEAD_K, LONGEST_JOINED_DAYS, SoilShown

QUESTION = "Which soil is warm, and which lags behind?"
SHAPES = {"sun": "circle", "shade": "triangle-up", "cloud": "square", "": "diamond"}
SKIES = {"sun": "in sun", "shade": "in shade", "cloud": "under cloud", "": "sky not told"}
SEVERAL_DAYS = 3


def tell_soil(shown: SoilShown, speech: Speech) -> Telling:
    units = Units(speech)
    columns = (
        Column("soil", "Soil"),
        Column("at", "Read at"),
        Column(units.key("temp", "c"), f"Temperature, {units.name('c')}", True),
        Column(units.key("depth", "cm"), f"Depth, {units.name('cm')}", True),
        Column("sky", "Sky"),
        Column("drawn", "Drawn"),
    )
    rows = tuple(
        (one.soil, f"{one.at:%Y-%m-%d %H:%M}", units.cell(one.temp_c, "c"), units.cell(one.depth_cm, "cm"),
         one.sky or None, "yes" if one.soil in shown.drawn else "no")
        for one in shown.points
    )  # fmt: skip
    return Telling(
        "soil",
        QUESTION,
        sentences(_span(shown, speech), _fair(shown, speech), _extremes(shown, speech), *_covers(shown, speech)),
        columns,
        rows,
        sentences(*_limits(shown, speech)),
        ("Your soil readings and covers.",),
        _marks(shown),
        shown.years,
        lambda look: draw_soil(shown, speech, look),
    )


def _soils(shown: SoilShown) -> int:
    return len(shown.drawn) + len(shown.left_out)


def _span(shown: SoilShown, speech: Speech) -> str:
    first, last = shown.days[0], shown.days[-1]
    when = f"on {speech.day(first)}" if first == last else f"from {speech.day(first)} to {speech.day(last)}"
    depths = sorted({one.depth_cm for one in shown.points if one.depth_cm is not None})
    deep = ""
    if depths:
        ends = [speech.number(depth, "cm") for depth in dict.fromkeys((depths[0], depths[-1]))]
        deep = f", {' to '.join(ends)} deep"
    read = f"{counted(len(shown.points), 'reading')} of {counted(_soils(shown), 'soil')}"
    return f"{read} on {counted(len(shown.days), 'day')} {when}{deep}"


def _fair(shown: SoilShown, speech: Speech) -> str | None:
    """Tell what fair pairs show, where there are any."""
    said = []
    for found, word in ((shown.warmest, "warmest"), (shown.coldest, "coldest")):
        if found is not None:
            soil, lead_k, days = found
            by = f"{speech.number(lead_k, 'k')} {'above' if word == 'warmest' else 'below'} the others"
            said.append(f"{speech.name(soil)} was the {word}, {by} on {counted(days, 'day')}")
    return f"Read side by side, {', and '.join(said)}" if said else None


def _extremes(shown: SoilShown, speech: Speech) -> str | None:
    if shown.warmest or shown.coldest:
        return None
    if shown.compared:
        return f"Read side by side, no soil led the others by {speech.number(LEAST_LEAD_K, 'k')} or more"
    high, low = (pick(shown.points, key=lambda one: one.temp_c) for pick in (max, min))
    if high is low:
        return f"It was {speech.number(high.temp_c, 'c')} at {speech.name(high.soil)}"
    ends = [f"{speech.number(one.temp_c, 'c')} at {speech.name(one.soil)} on {speech.day(one.at.date())}"
            for one in (high, low)]  # fmt: skip
    unfair = "; no two soils were read so that they compare fairly" if shown.compared is False else ""
    return f"The highest was {ends[0]}, the lowest {ends[1]}{unfair}"


def _covers(shown: SoilShown, speech: Speech) -> list[str]:
    """Tell covers put on or taken off between the first and the last reading."""
    first, last = shown.days[0], shown.days[-1]
    said = []
    for one in shown.lain:
        name = f"{one.material} at {speech.name(one.spot)}"
        if one.material != "bare" and first <= one.put_on <= last:
            said.append(f"{name} put on {speech.day(one.put_on)}")
        if one.material != "bare" and one.taken_off and first <= one.taken_off <= last:
            said.append(f"{name} taken off {speech.day(one.taken_off)}")
    return [f"Meanwhile {listed(few(said))}"] if said else []


def _limits(shown: SoilShown, speech: Speech) -> list[str]:
    said = [f"No line is drawn over {LONGEST_JOINED_DAYS} days without a reading, nor between two depths."]
    if len(shown.days) == 1:
        said.insert(0, "One day of readings is one day: it shows that weather, not the spot.")
    elif len(shown.days) < SEVERAL_DAYS:
        said.insert(0, "Two days of readings show those days' weather; three begin to show the spot.")
    if not shown.compared:
        said.append("Soils compare when they are read at one depth, within an hour and under one sky.")
    if shown.left_out:
        names = listed(few([speech.name(one) for one in shown.left_out]))
        said.append(
            f"Of more than {len(shown.drawn)} soils those read most often are drawn; the table has {names} too."
        )
    if any(one.pot for one in shown.points):
        said.append("A pot's soil follows the air more closely than soil in the ground.")
    return said


def _marks(shown: SoilShown) -> tuple[str, ...]:
    skies = [sky for sky in SHAPES if any(one.sky == sky and one.soil in shown.drawn for one in shown.points)]
    shapes = {"circle": "round", "triangle-up": "a triangle", "square": "a square", "diamond": "a diamond"}
    return tuple(f"{shapes[SHAPES[sky]]}: read {SKIES[sky]}" if sky else "a diamond: sky not told" for sky in skies)


# ---- drawn


def draw_soil(shown: SoilShown, speech: Speech, look: Look) -> dict[str, Any]:
    units, left, right = Units(speech), 40, 100 if look.narrow else 150
    first, span = _frame(shown)
    points = [one for one in shown.points if one.soil in shown.drawn]
    temps = [units.of(one.temp_c, "c") for one in points]
    low, high = min(temps) - 1, max(temps) + 1
    room = look.width - left - right
    labels = day_labels(look, first, span, room, us=units.us)
    panel = Panel(
        f"Soil temperature, {units.name('c')}",
        220 if look.narrow else 260,
        labelled_axis(0, span, labels),
        number_axis(low, high),
    )
    colours = {soil: look.series(n) for n, soil in enumerate(shown.drawn)}
    for run in shown.runs:
        colour, dash = colours[run.soil]
        line = [{"x": _at(when, first), "y": units.of(temp, "c")} for when, temp in run.days]
        panel.add(line, {"type": "line", "color": colour, "strokeDash": dash, "strokeWidth": 2})
    for sky, shape in SHAPES.items():
        dots = [{"x": _at(one.at, first), "y": units.of(one.temp_c, "c"), "colour": colours[one.soil][0]}
                for one in points if one.sky == sky]  # fmt: skip
        panel.add(
            dots,
            {"type": "point", "shape": shape, "size": 55, "opacity": 1, "strokeWidth": 2, "fill": look.colour["paper"]},
            stroke={"field": "colour", "scale": None},
            **({"fill": {"field": "colour", "scale": None}} if sky in ("sun", "") else {}),
        )
    ends = []
    for soil in shown.drawn:
        last = max((one for one in points if one.soil == soil), key=lambda one: one.at)
        ends.append((_at(last.at, first), units.of(last.temp_c, "c"), soil, colours[soil][0]))
    told = text_rows(look, ends, height=panel.height, low=low, high=high, room=right - 14)
    for row, (x, y, _, colour) in zip(told, ends, strict=True):
        lead = [{"x": x, "y": y}, {"x": span, "y": row["y"]}]
        panel.add(lead, {"type": "line", "color": colour, "strokeWidth": 1, "opacity": 0.6, "strokeDash": [1, 2]})
        row["x"] = span
    panel.add(told, {"type": "text", "align": "left", "baseline": "middle", "dx": 6}, **TEXT_BY_ROW)
    panels = [panel, *([_covers_panel(shown, units, look, first, span)] if shown.lain else [])]
    return sheet(look, panels, left=left, right=right, foot=round(look.text * 2.1))


def _frame(shown: SoilShown) -> tuple[date, int]:
    """Return the first day drawn and how many days follow: the readings' own, and two weeks at least."""
    first, last = shown.days[0], shown.days[-1]
    more = max(14 - (last - first).days, 2)
    return first - timedelta(days=more // 2), (last - first).days + more


def _at(when: datetime, first: date) -> float:
    return round((when.date() - first).days + (when.hour + when.minute / 60) / 24, 2)


def _covers_panel(shown: SoilShown, units: Units, look: Look, first: date, span: int) -> Panel:
    """Return what lay on each drawn soil as bars, their ends marked where they were put on or taken off."""
    spots = [soil for soil in shown.drawn if any(one.spot == soil for one in shown.lain)]
    row, colour = round(look.text * 2.6), look.colour
    panel = Panel("What lay on the soil", row * len(spots), bare_axis(0, span), bare_axis(0, len(spots)))
    px = (look.width - 40 - (100 if look.narrow else 150)) / span
    bars, ends, words = [], [], []
    for one in shown.lain:
        base = len(spots) - 1 - spots.index(one.spot)
        start = max((one.put_on - first).days, 0)
        stop = min((one.taken_off - first).days if one.taken_off else span, span)
        if stop <= start:
            continue
        bars.append({"x": start, "x2": stop, "y": base + 0.12, "y2": base + 0.34})
        ends += [{"x": at, "y": base + 0.06, "y2": base + 0.44}
                 for at, day in ((start, one.put_on), (stop, one.taken_off))
                 if day and first <= day <= first + timedelta(days=span)]  # fmt: skip
        deep = f", {round(units.of(one.depth_cm, 'cm'), 1):g} {units.name('cm')}" if one.depth_cm else ""
        whole = one.material if one.material == "bare" else f"{one.material}{deep}"
        words.append((start, base, one.spot, whole, (stop - start) * px))
    panel.add(bars, {"type": "bar", "color": colour["leaf-wash"], "stroke": colour["leaf"], "strokeWidth": 1})
    panel.add(ends, {"type": "rule", "color": colour["plum"], "strokeWidth": 3})
    for n, (start, base, spot, whole, room) in enumerate(words):
        first_of_spot = all(other[2] != spot for other in words[:n])
        last_of_spot = all(other[2] != spot for other in words[n + 1 :])
        room += (100 if look.narrow else 150) if last_of_spot else 0
        text = f"{spot}: {whole}" if first_of_spot else whole
        if room > look.text * 2:
            label = [{"x": start, "y": base + 0.66, "text": shortened(look, text, room)}]
            panel.add(label, {"type": "text", "align": "left", "baseline": "middle"}, text={"field": "text"})
    return panel
