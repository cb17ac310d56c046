"""The night to come told and drawn: the falling air with its range, and lines at what hurts plants there."""

from __future__ import annotations

from typing import Any

from advisor.doors.drawing.look import Look
from advisor.doors.drawing.sheet import (
    TEXT_BY_ROW,
    Panel,
    add_words,
    labelled_axis,
    number_axis,
    sheet,
    shortened,
    text_rows,
)
from advisor.doors.drawing.telling import Column, Telling, Units, few, sentences
from advisor.language.render import Speech, listed
from advisor.reasoning.pictures.tonight import CriticalLine, TonightShown

QUESTION = "How cold will tonight be, and whom would it hurt?"
RISKS = {
    "likely": "in danger",
    "possible": "perhaps in danger",
    "watch": "to be watched",
    "unlikely": "safe",
}
MOST_DOTTED = 2
HARM = {"flower buds": "a tenth of the flower buds die", "new growth": "new growth is damaged"}


def tell_tonight(shown: TonightShown, speech: Speech) -> Telling:
    units = Units(speech)
    columns = (
        Column("plants", "Plants"),
        Column("stage", "Stage"),
        Column("risk", "Tonight"),
        Column("what", "What is hurt"),
        Column(units.key("hurts_at", "c"), f"From, {units.name('c')}", True),
        Column(units.key("kill90", "c"), f"Nine tenths of buds die at, {units.name('c')}", True),
        Column(units.key("expected", "c"), f"Expected low, {units.name('c')}", True),
        Column(units.key("low", "c"), f"At coldest, {units.name('c')}", True),
        Column(units.key("high", "c"), f"At mildest, {units.name('c')}", True),
    )
    night = tuple(units.cell(value, "c") for value in (shown.expected_c, shown.low_c, shown.high_c))
    rows = [
        (", ".join(line.plants), line.stage or None, RISKS[line.risk], HARM[line.organ],
         units.cell(line.hurts_at_c, "c"), units.cell(line.kill90_c, "c"), *night)
        for line in (*shown.lines, *shown.left_out)
    ]  # fmt: skip
    rows += [(name, None, "buds closed", None, None, None, *night) for name in shown.closed]
    rows += [(name, None, "not known", None, None, None, *night) for name in shown.unknown]
    rows = rows or [("", None, "no plant with a recorded stage stands here", None, None, None, *night)]
    return Telling(
        "tonight",
        QUESTION,
        sentences(_low(shown, speech), *_plants(shown, speech), _others(shown, speech)),
        columns,
        tuple(rows),
        sentences(*_limits(shown)),
        _sources(shown),
        _marks(shown),
        draw=lambda look: draw_tonight(shown, speech, look),
    )


def _where(shown: TonightShown, speech: Speech) -> str:
    return f"at {speech.name(shown.spot)}" if shown.spot else "at the station"


def _low(shown: TonightShown, speech: Speech) -> str:
    expected, low, high = (speech.number(value, "c") for value in (shown.expected_c, shown.low_c, shown.high_c))
    by = "the evening's reading" if shown.by == "evening" else "the forecast alone"
    return f"By {by}, about {expected} is to be expected {_where(shown, speech)} toward morning, from {low} to {high}"


def _names(line: CriticalLine, speech: Speech) -> str:
    return listed(few([speech.name(plant) for plant in line.plants]))


def _plants(shown: TonightShown, speech: Speech) -> list[str]:
    risky, said = shown.at_risk, []
    for risk in ("likely", "possible", "watch"):
        parts = [f"{_names(line, speech)} ({_harm(line, speech)})" for line in risky if line.risk == risk]
        if parts:
            said.append(f"{RISKS[risk]}: {listed(few(parts, 3))}")
    if risky:
        return said
    if shown.lines:
        near = shown.lines[0]
        away = speech.number(shown.low_c - near.hurts_at_c, "k")
        return [
            f"Nobody there is in danger: even at its coldest it stays {away} above what hurts {_names(near, speech)}"
        ]
    if shown.closed:
        return [f"{listed(few([speech.name(one) for one in shown.closed]))} had closed buds when last seen"]
    return ["What it does to your plants cannot be said: no stage of a plant there is recorded"]


def _harm(line: CriticalLine, speech: Speech) -> str:
    harm = f"{HARM[line.organ]} from {speech.number(line.hurts_at_c, 'c')} down"
    return f"{line.stage}, where {harm}" if line.stage else harm


def _others(shown: TonightShown, speech: Speech) -> str | None:
    if not shown.others:
        return None
    by_low: dict[str, list[str]] = {}
    for spot, low in shown.others:
        by_low.setdefault(speech.number(low, "c"), []).append(speech.name(spot))
    parts = [f"{low} at {listed(few(spots, 3))}" for low, spots in by_low.items()]
    return f"Elsewhere it is {'; '.join(few(parts, 3))}"


def _limits(shown: TonightShown) -> list[str]:
    said = []
    if shown.by == "forecast" and shown.evening_told:
        said.append(
            "This evening's reading is told, but too few clear nights of this place are recorded for it to say more "
            "than the forecast, which gives the low and not its hour."
        )
    elif shown.by == "forecast":
        said.append(
            "No evening's reading is told yet: a forecast gives the low and not its hour, so that no curve is drawn. "
            "Air and dew point two hours after sunset give the curve."
        )
    elif shown.rough:
        said.append("Too few clear nights of this place are recorded, so that the range is wide and rough.")
    if shown.by == "evening":
        said.append("The curve holds for a still clear night; wind or cloud lifts it.")
    if shown.offset == "supposed":
        said.append("How much colder it gets here is supposed of a hollow; a thermometer there would tell.")
    if shown.unknown:
        said.append(f"What {listed(few(list(shown.unknown)))} can stand is not known.")
    if shown.lines:
        said.append("Published levels are of buds in trials; yours may stand a degree more or less.")
    return said


def _sources(shown: TonightShown) -> tuple[str, ...]:
    by = "Your evening readings and nights" if shown.by == "evening" else "The forecast you told"
    levels = "published levels of bud kill and of damage to new growth (rules/critical_temperatures.toml)"
    return (f"{by}; {levels if shown.lines else 'no level of a plant'}.",)


def _marks(shown: TonightShown) -> tuple[str, ...]:
    line = "bold: expected" if shown.by == "evening" else "bold dashes: the low expected, at whatever hour"
    return (line, "band: from the coldest to the mildest", "dashed across: where harm begins",
            "dotted across: where nine tenths of the buds die")  # fmt: skip


# ---- drawn


def draw_tonight(shown: TonightShown, speech: Speech, look: Look) -> dict[str, Any]:
    units, colour = Units(speech), look.colour
    left, right = 42, 26
    curve = [((when - shown.curve[0][0]).total_seconds() / 3600, *(units.of(value, "c") for value in values))
             for when, *values in shown.curve]  # fmt: skip
    hours = curve[-1][0] if curve else 10.0
    level = [units.of(line.hurts_at_c, "c") for line in shown.lines]
    most = [units.of(line.kill90_c or 0.0, "c") for line in _dotted(shown)]
    values = [value for row in curve for value in row[1:]] + level + most
    low, high = min(values) - 1.5, max(values) + (2.5 if look.narrow else 1.5)
    where = f" at {shown.spot}" if shown.spot else " at the station"
    panel = Panel(
        f"Air{where}, {units.name('c')}",
        300 if look.narrow else 320,
        labelled_axis(0, hours, _clock(shown, hours, us=units.us, narrow=look.narrow), grid=False),
        number_axis(low, high, 8),
    )
    band = [{"x": x, "y": least, "y2": mildest} for x, _, least, mildest in curve]
    panel.add(band, {"type": "area", "color": colour["focus"], "opacity": 0.22})
    for edge in (2, 3):
        rows = [{"x": row[0], "y": row[edge]} for row in curve]
        panel.add(rows, {"type": "line", "color": colour["focus"], "strokeWidth": 1})
    frost = units.of(0.0, "c")
    if low < frost < high:
        panel.add([{"y": frost, "x": 0, "x2": hours}], {"type": "rule", "color": colour["soft"], "strokeWidth": 1})
        clear = all(
            abs(frost - value) > (high - low) / 14 for value in (*level, values[-1], units.of(shown.expected_c, "c"))
        )
        word = [{"x": hours / 2, "y": frost, "text": "freezing", "colour": colour["soft"]}] if clear else []
        panel.add(word, {"type": "text", "baseline": "bottom", "dy": -3}, **TEXT_BY_ROW)
    expected = [{"x": row[0], "y": row[1]} for row in curve]
    dash = [] if shown.by == "evening" else [8, 5]
    panel.add(expected, {"type": "line", "color": colour["focus"], "strokeWidth": 4, "strokeDash": dash})
    _lines(panel, shown, units, look, hours, low, high)
    return sheet(look, [panel], left=left, right=right, foot=round(look.text * 2))


def _lines(panel: Panel, shown: TonightShown, units: Units, look: Look, hours: float, low: float, high: float) -> None:
    """Add a line a level with its words above it, and the night's own words at its end."""
    colour = look.colour
    ends, room = [], look.width - 42 - 26 - 8
    for line in shown.lines:
        tone = colour["ink"] if line.risk == "unlikely" else colour["bad"]
        y = units.of(line.hurts_at_c, "c")
        across = [{"x": 0, "x2": hours, "y": y}]
        panel.add(across, {"type": "rule", "color": tone, "strokeWidth": 2, "strokeDash": [7, 4]})
        if line in _dotted(shown):
            below = [{"x": 0, "x2": hours, "y": units.of(line.kill90_c or 0.0, "c")}]
            panel.add(below, {"type": "rule", "color": tone, "strokeWidth": 2, "strokeDash": [2, 4]})
        ends.append((0.0, y + (high - low) / panel.height * look.text * 0.75, _label(line, units, look, room), tone))
    words = text_rows(look, ends, height=panel.height, low=low, high=high, room=room)
    add_words(panel, look, words, {"align": "left", "baseline": "middle", "dx": 4})
    if shown.curve:
        last = units.of(shown.curve[-1][1], "c")
        now = [{"x": hours, "y": last, "text": units.temperature(shown.expected_c), "colour": colour["ink"]}]
        mark = {"align": "right", "baseline": "bottom", "dx": -2, "dy": -6, "fontWeight": 700}
        add_words(panel, look, now, mark)


def _dotted(shown: TonightShown) -> list[CriticalLine]:
    """Return the levels whose line of nine tenths is drawn too: with more of them nobody could tell whose it is."""
    risky = [line for line in shown.lines if line.kill90_c is not None and line.risk != "unlikely"]
    return risky if len(shown.lines) <= MOST_DOTTED else []


def _label(line: CriticalLine, units: Units, look: Look, room: float) -> str:
    """Return whom a level hurts and how; where it is too long, names are cut and not what happens."""
    others = f" +{len(line.plants) - 1}" if len(line.plants) > 1 else ""
    stage = f", {line.stage}" if line.stage and line.organ == "flower buds" and not look.narrow else ""
    rest = f"{others}: {'a tenth dies' if line.organ == 'flower buds' else 'new growth hurt'}{stage}"
    at = f"{units.temperature(line.hurts_at_c)} "
    return at + shortened(look, line.plants[0], room - look.wide_of(at + rest)) + rest


def _clock(shown: TonightShown, hours: float, *, us: bool, narrow: bool) -> dict[float, str]:
    """Return full hours by the clock, every second or third one, as the grower tells the time."""
    if not shown.curve:
        return {}
    start = shown.curve[0][0]
    first = 60 - start.minute - start.second / 60
    labels = {}
    for n in range(int(hours) + 1):
        at = round(first / 60 + n, 3)
        hour = (start.hour + 1 + n) % 24
        if at <= hours and hour % (3 if narrow else 2) == 0:
            labels[at] = f"{hour % 12 or 12} {'am' if hour < 12 else 'pm'}" if us else f"{hour}:00"
    return labels
