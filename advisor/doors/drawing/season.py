"""Chill and heat told and drawn: this year bold, earlier years thin, their middle dashed, the need as a band."""

from __future__ import annotations

from typing import Any

from advisor.doors.drawing.look import Look
from advisor.doors.drawing.sheet import (
    TEXT_BY_ROW,
    Panel,
    day_labels,
    labelled_axis,
    number_axis,
    sheet,
    text_rows,
)
from advisor.doors.drawing.telling import Column, Telling, Units, a_tree, sentences
from advisor.language.render import Speech, counted
from advisor.reasoning.pictures.season import Need, SeasonShown, YearSums

QUESTION = "How far is this season beside earlier ones?"
CHILL_UNITS = {"chill portions": "portions", "chilling hours": "hours", "Utah chill units": "units"}
ALIKE_SHARE = 0.05
"""Within this of the middle year a sum is called about the same (house judgement)."""


def tell_season(shown: SeasonShown, speech: Speech) -> Telling:
    units = Units(speech)
    chill = CHILL_UNITS[shown.chill_metric]
    columns = (
        Column("year", "Year", True),
        Column(f"chill_{chill}", f"{_capital(shown.chill_metric)} by {speech.day(shown.last_day)}", True),
        Column(units.key("heat", "dd"), f"Warmth by {speech.day(shown.last_day)}, {units.name('dd')}", True),
    )
    return Telling(
        "season",
        QUESTION,
        sentences(_chill(shown, speech), _heat(shown, speech), *_need(shown, speech)),
        columns,
        tuple(_row(shown, one, units) for one in (*shown.earlier, shown.this)),
        sentences(*_limits(shown, speech)),
        tuple(f"{part}." for part in ("Your daily weather", *([shown.need.source] if shown.need else []))),
        ("bold: this season", "thin: an earlier season", "dashed: the middle of the earlier ones")
        if shown.earlier else (),
        draw=lambda look: draw_season(shown, speech, look),
    )  # fmt: skip


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def _row(shown: SeasonShown, one: YearSums, units: Units) -> tuple[Any, ...]:
    chill = [value for place, value in one.chill if place <= shown.at]
    heat = [value for place, value in one.heat if place <= shown.at]
    return (
        one.year,
        round(chill[-1], 1) if chill else None,
        units.cell(heat[-1], "dd", 0) if heat else None,
    )


def _beside(value: float, usual: float) -> str:
    if abs(value - usual) <= ALIKE_SHARE * max(usual, 1.0):
        return "about the same as"
    return "more than" if value > usual else "less than"


def _of_chill(value: float, shown: SeasonShown) -> str:
    return f"{value:.0f} {shown.chill_metric}"


def _chill(shown: SeasonShown, speech: Speech) -> str:
    now = shown.this.chill[-1][1]
    said = f"By {speech.day(shown.last_day)} this winter gave {_of_chill(now, shown)}"
    if shown.usual_chill is None:
        return f"{said}; no earlier winter is recorded beside it"
    middle = "the winter before" if shown.years == 1 else f"the middle of {counted(shown.years, 'earlier winter')}"
    return f"{said}, {_beside(now, shown.usual_chill)} {middle} by that day ({shown.usual_chill:.0f})"


def _heat(shown: SeasonShown, speech: Speech) -> str | None:
    if not shown.this.heat:
        return "Warmth is not counted before the turn of the year"
    now = shown.this.heat[-1][1]
    said = f"Warmth above {speech.number(shown.base_c, 'c')} came to {speech.number(now, 'dd')}"
    if shown.usual_heat is None:
        return said
    return f"{said}, {_beside(now, shown.usual_heat)} usual ({speech.number(shown.usual_heat, 'dd')})"


def _need(shown: SeasonShown, speech: Speech) -> list[str]:
    need, name = shown.need, shown.species.name
    if need is None:
        return [f"What chill {a_tree(name)} needs is not published in a measure kept here"]
    return [_chill_need(need, shown, speech), *_heat_need(need, name)]


def _range(low: float, high: float) -> str:
    return f"{low:.0f}" if round(low) == round(high) else f"{low:.0f} to {high:.0f}"


def _chill_need(need: Need, shown: SeasonShown, speech: Speech) -> str:
    wanted = f"{_range(need.chill_low, need.chill_high)} {shown.chill_metric}"
    said = f"{_capital(a_tree(shown.species.name))} is published to need {wanted}"
    if need.high_on is not None:
        return f"{said}: all of it was met on {speech.day(need.high_on)}"
    share = speech.number(need.chill_now / need.chill_high, "share")
    if need.low_on is not None:
        return f"{said}: the lower end was met on {speech.day(need.low_on)}, and {share} of the upper end is reached"
    return f"{said}: {share} of the upper end is reached"


def _heat_need(need: Need, name: str) -> list[str]:
    if need.heat_now is None or need.heat_low is None or need.heat_high is None:
        return []
    first, last = (round(100 * need.heat_now / end) for end in (need.heat_high, need.heat_low))
    stage = "wakes" if need.stage == "wake" else "flowers"
    if last >= 100 and first >= 100:
        return [f"The warmth after which it {stage} has come as well"]
    share = f"{first} %" if first == last else f"{first} to {last} %"
    return [f"Of the warmth after which it then {stage}, {share} is reached"]


def _limits(shown: SeasonShown, speech: Speech) -> list[str]:
    said = ["Sums are of the station's air; a wall, a roof or a hollow has its own."]
    if shown.years < 3:
        few = counted(shown.years, "earlier season") if shown.years else "no earlier season"
        said.insert(0, f"With {few} on record little can be said of what is usual here.")
    if shown.filled_days:
        days = f"{counted(shown.filled_days, 'missing day')} of this season {'is' if shown.filled_days == 1 else 'are'}"
        said.append(f"{days} taken as the mean of the days beside.")
    if shown.chill_metric == "chilling hours":
        said.append("Chilling hours count nothing in frost, so that hard winters look short of them.")
    if shown.need is not None and shown.need.heat_now is not None:
        said.append("Warmth toward a stage is counted hour by hour from the day the middle of the chill was met.")
    if shown.years > len(shown.drawn):
        said.append(f"The last {len(shown.drawn)} earlier seasons are drawn; the middle counts all {shown.years}.")
    return said


# ---- drawn


def draw_season(shown: SeasonShown, speech: Speech, look: Look) -> dict[str, Any]:
    units = Units(speech)
    chill = _panel(shown, look, units, "chill", _capital(shown.chill_metric))
    above = speech.number(shown.base_c, "c")
    heat = _panel(shown, look, units, "heat", f"Warmth above {above}, {units.name('dd')}")
    return sheet(look, [chill, heat], left=52, right=62, foot=round(look.text * 1.9))


def _panel(shown: SeasonShown, look: Look, units: Units, which: str, heading: str) -> Panel:
    unit, colour = "dd" if which == "heat" else "", look.colour
    series = {
        one.year: [(x, units.of(y, unit) if unit else y) for x, y in getattr(one, which)]
        for one in (*shown.earlier, shown.this)
    }
    middle = [(x, units.of(y, unit) if unit else y) for x, y in getattr(shown.middle, which)] if shown.middle else []
    need = shown.need if which == "chill" else None
    tops = [y for points in series.values() for x, y in points if x <= shown.span]
    high = max([*tops, need.chill_high if need else 0.0, 1.0]) * 1.05
    height = 180 if look.narrow else 210
    labels = day_labels(look, shown.first_day, shown.span, look.width - 114)
    panel = Panel(heading, height, labelled_axis(0, shown.span, labels), number_axis(0, high, zero=True))
    if need is not None:
        band = [
            {"x": 0, "x2": shown.span, "y": need.chill_low, "y2": max(need.chill_high, need.chill_low + high / 150)}
        ]
        panel.add(band, {"type": "rect", "color": colour["plum-wash"], "stroke": colour["plum"], "strokeDash": [2, 3]})
    for year in shown.drawn:
        rows = [{"x": x, "y": y} for x, y in series[year] if x <= shown.span]
        panel.add(rows, {"type": "line", "color": colour["soft"], "strokeWidth": 1, "opacity": 0.7})
    panel.add([{"x": x, "y": y} for x, y in middle if x <= shown.span],
              {"type": "line", "color": colour["ink"], "strokeWidth": 2, "strokeDash": [6, 4]})  # fmt: skip
    this = [{"x": x, "y": y} for x, y in series[shown.year]]
    panel.add(this, {"type": "line", "color": colour["leaf"], "strokeWidth": 4})
    panel.add(this[-1:], {"type": "point", "color": colour["leaf"], "filled": True, "size": 70, "opacity": 1})
    ends = []
    if middle:
        inside = [(x, y) for x, y in middle if x <= shown.span]
        ends.append((shown.span, inside[-1][1], "middle", colour["ink"]))
    panel.add(
        text_rows(look, ends, height=height, low=0, high=high, room=60),
        {"type": "text", "align": "left", "baseline": "middle", "dx": 4},
        **TEXT_BY_ROW,
    )
    if this:
        now = [{"x": this[-1]["x"], "y": this[-1]["y"], "text": str(shown.year), "colour": colour["leaf"]}]
        left = this[-1]["x"] > shown.span * 0.2
        mark = {"type": "text", "align": "right" if left else "left", "dx": -8 if left else 8, "dy": -8}
        panel.add(now, {**mark, "fontWeight": 700}, **TEXT_BY_ROW)
    if need is not None:
        word = f"{shown.species.name} needs {_range(need.chill_low, need.chill_high)}"
        tall = (need.chill_high - need.chill_low) / high * height > look.text * 1.5
        early = need.chill_high > high / 2  # the lines are still below it at the start, and past it at the end
        at = [{"x": 0 if early else shown.span, "y": need.chill_high, "text": word, "colour": colour["plum"]}]
        place = {"align": "left" if early else "right", "dx": 6 if early else -6}
        lie = {"baseline": "top", "dy": 5} if tall else {"baseline": "bottom", "dy": -4}
        panel.add(at, {"type": "text", **place, **lie}, **TEXT_BY_ROW)
    return panel
