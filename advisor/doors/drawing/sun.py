"""The sun at a spot told and drawn: hours by month beside open ground, and its ways over the sky, hidden or not."""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from typing import Any

from advisor.doors.drawing.look import Look
from advisor.doors.drawing.sheet import Panel, add_words, labelled_axis, number_axis, sheet
from advisor.doors.drawing.telling import Column, Telling, few, sentences
from advisor.language.render import Speech, listed
from advisor.reasoning.pictures.sun import SunPath, SunShown

QUESTION = "When does the sun reach a spot?"
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip
COMPASS = {0: "N", 45: "NE", 90: "E", 135: "SE", 180: "S", 225: "SW", 270: "W", 315: "NW", 360: "N"}
FULL_SUN_H = 6
"""Hours of direct sun from which growers speak of full sun (common practice, no source)."""
FAR_APART_H = 2.0
"""Hours by which a count may fall short of the reckoning before something must be missing (house judgement)."""
BACK_DEG = 180


def tell_sun(shown: SunShown, speech: Speech) -> Telling:
    columns = (
        Column("month", "Month"),
        Column("direct_sun_h", "Direct sun, hours a day", True),
        Column("plus_minus_h", "Give or take", True),
        Column("open_ground_h", "Open ground, hours a day", True),
    )
    rows = tuple(
        (month, round(hours, 1), round(width, 1), round(possible, 1))
        for month, hours, width, possible in zip(MONTHS, shown.hours, shown.width, shown.possible, strict=True)
    )
    return Telling(
        "sun",
        f"When does the sun reach {speech.name(shown.spot)}?",
        sentences(_hours(shown, speech), *_spells(shown, speech), _counted(shown, speech)),
        columns,
        rows,
        sentences(*_limits(shown, speech)),
        ("What you told of the spot; the sun's way by astronomy.",),
        ("full bar: direct sun here; outline: on open ground", "thick line: the sun reaches the spot",
         "dotted line: the sun is hidden", "shaded: what hides the sky"),
        draw=lambda look: draw_sun(shown, speech, look),
    )  # fmt: skip


def _hours(shown: SunShown, speech: Speech) -> str:
    best, least = (pick(range(12), key=lambda n: shown.hours[n]) for pick in (max, min))
    most = "" if shown.told else "at most "
    ends = f"{speech.number(round(shown.hours[least], 1), 'h')} in {MONTHS[least]}"
    ends += f" and {speech.number(round(shown.hours[best], 1), 'h')} in {MONTHS[best]}"
    full = [n for n in range(12) if shown.hours[n] >= FULL_SUN_H]
    enough = f"; six hours or more in {_months(full)}" if 0 < len(full) < 12 else ""
    return f"{speech.name(shown.spot)} has {most}between {ends} of direct sun on a clear day{enough}"


def _months(months: list[int]) -> str:
    """Return months as runs over the turn of the year: "March to October"."""
    starts = [n for n in months if (n - 1) % 12 not in months]
    runs = []
    for start in starts:
        end = start
        while (end + 1) % 12 in months and (end + 1) % 12 != start:
            end = (end + 1) % 12
        runs.append(MONTHS[start] if end == start else f"{MONTHS[start]} to {MONTHS[end]}")
    return listed(runs)


def _spells(shown: SunShown, speech: Speech) -> list[str]:
    said = []
    for path in (shown.paths[0], shown.paths[-1]):
        if path.spells:
            times = [f"{_time(start, speech)} to {_time(end, speech)}" for start, end in path.spells]
            said.append(f"on {_name(path, speech)} from {listed(times)}")
        else:
            said.append(f"on {_name(path, speech)} not at all")
    return [f"It is lit {listed(said)}"]


def _name(path: SunPath, speech: Speech) -> str:
    return f"{path.day:%B} {path.day.day}" if speech.units == "us" else f"{path.day.day} {path.day:%B}"


def _time(when: datetime, speech: Speech) -> str:
    if speech.units == "us":
        return f"{when.hour % 12 or 12}:{when.minute:02d} {'am' if when.hour < 12 else 'pm'}"
    return f"{when.hour}:{when.minute:02d}"


def _counted(shown: SunShown, speech: Speech) -> str | None:
    if shown.counted_h is None:
        return None
    hours = max(shown.paths, key=lambda path: max((point[1] for point in _points(path)), default=0.0)).hours
    counted, reckoned = (speech.number(round(value, 1), "h") for value in (shown.counted_h, hours))
    said = f"You counted {counted} near midsummer; by this it is {reckoned} on the longest day"
    return f"{said}, so something hides the sun that is not told" if hours - shown.counted_h > FAR_APART_H else said


def _limits(shown: SunShown, speech: Speech) -> list[str]:
    said = []
    if shown.told:
        said.append(
            f"Hidden by {listed(few(list(shown.things)))} as you told it; a bearing read 2° wrong is counted in."
        )
    else:
        said.append(
            "Only its wall and slope are counted: nothing is told of houses, trees or hills that hide the sun, "
            "so that there may be less than this."
        )
    said.append("Clear days, no cloud. A wall is taken to be long and tall beside the plant.")
    if shown.other_spots:
        said.append(f"Other spots to look at: {listed(few([speech.name(one) for one in shown.other_spots]))}.")
    return said


# ---- drawn


def draw_sun(shown: SunShown, speech: Speech, look: Look) -> dict[str, Any]:
    return sheet(look, [_bars(shown, look), _sky(shown, speech, look)], left=36, right=14, foot=round(look.text * 2))


def _bars(shown: SunShown, look: Look) -> Panel:
    letters = {float(n): month[:1] if look.narrow else month[:3] for n, month in enumerate(MONTHS)}
    high = max(shown.possible) * 1.12
    panel = Panel(
        "Direct sun, hours a day by month",
        170 if look.narrow else 190,
        labelled_axis(-0.6, 11.6, letters, grid=False),
        number_axis(0, high, zero=True),
    )
    open_ground = [{"x": n - 0.4, "x2": n + 0.4, "y": 0, "y2": hours} for n, hours in enumerate(shown.possible)]
    outline = {"type": "rect", "fillOpacity": 0, "stroke": look.colour["soft"], "strokeWidth": 1}
    panel.add(open_ground, {**outline, "strokeDash": [3, 2]})
    here = [{"x": n - 0.4, "x2": n + 0.4, "y": 0, "y2": hours} for n, hours in enumerate(shown.hours)]
    panel.add(here, {"type": "rect", "color": look.colour["warn"]})
    words = [{"x": n, "y": hours, "text": f"{hours:.0f}"} for n, hours in enumerate(shown.hours)]
    least_h = look.text * 1.4 / panel.height * high
    tall = [word for word, hours in zip(words, shown.hours, strict=True) if hours > least_h]
    inside = {"type": "text", "baseline": "top", "dy": 4, "color": look.colour["paper"], "fontWeight": 600}
    panel.add(tall, inside, text={"field": "text"})
    low = [word for word in words if word not in tall]
    panel.add(low, {"type": "text", "baseline": "bottom", "dy": -2}, text={"field": "text"})
    return panel


def _sky(shown: SunShown, speech: Speech, look: Look) -> Panel:
    """Return the sky unrolled: bearing across, height up; centred on the noon sun wherever that stands."""
    noon = _noon(shown)
    turn = 0 if 90 <= noon <= 270 else BACK_DEG  # with the noon sun in the north, north belongs in the middle

    def across(bearing: float) -> float:
        return (bearing + turn) % 360 if (bearing + turn) % 360 or bearing == 0 else 360.0

    ways = [point for path in shown.paths for point in _points(path)]
    first = max(min(across(point[0]) for point in ways) - 12, 0)
    last = min(max(across(point[0]) for point in ways) + 12, 360)
    labels = {across(float(at)): word for at, word in COMPASS.items() if first <= across(float(at)) <= last}
    top = max(point[1] for point in ways) + 10
    panel = Panel(
        "The sun's way, degrees above the horizon",
        230 if look.narrow else 270,
        labelled_axis(first, last, labels, grid=False),
        number_axis(0, top, 6, zero=True),
    )
    skyline = sorted((across(bearing), min(high, top)) for bearing, high in shown.skyline if bearing < 360)
    shade = [{"x": bearing, "y": 0, "y2": high} for bearing, high in skyline if first <= bearing <= last]
    panel.add(shade, {"type": "area", "color": look.colour["soft"], "opacity": 0.35, "interpolate": "step",
                      "line": {"color": look.colour["soft"], "strokeWidth": 1}})  # fmt: skip
    for n, path in enumerate(shown.paths):
        colour = look.series(n)[0]
        lines = [(piece, {"strokeWidth": 2, "strokeDash": [1, 5]}) for piece in path.hidden]
        lines += [(piece, {"strokeWidth": 4}) for piece in path.lit]
        for piece, how in lines:
            for rows in _unbroken([{"x": across(bearing), "y": high} for bearing, high, _ in piece]):
                panel.add(rows, {"type": "line", "color": colour, **how})
        if points := _points(path):
            bearing, high, _ = max(points, key=lambda point: point[1])
            name = [{"x": across(bearing), "y": high, "text": _name(path, speech), "colour": colour}]
            add_words(panel, look, name, {"baseline": "bottom", "dy": -5})
    return panel


def _unbroken(rows: list[dict[str, float]]) -> list[list[dict[str, float]]]:
    """Return a way cut where it leaves the sheet on one side and comes in on the other."""
    cuts = [n for n in range(1, len(rows)) if abs(rows[n]["x"] - rows[n - 1]["x"]) > BACK_DEG]
    return [rows[start:end] for start, end in pairwise([0, *cuts, len(rows)])]


def _noon(shown: SunShown) -> float:
    """Return the bearing of the sun at its highest on the day on which that is lowest: south, or north in the south."""
    tops = [max(points, key=lambda point: point[1]) for path in shown.paths if (points := _points(path))]
    return min(tops, key=lambda point: point[1])[0] if tops else 180.0


def _points(path: SunPath) -> list[tuple[float, float, datetime]]:
    return [point for piece in (*path.lit, *path.hidden) for point in piece]
