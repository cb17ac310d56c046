"""A sheet of panels, one under the other, as one Vega-Lite specification of a known width and height."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from advisor.doors.drawing.look import Look

Rows = Sequence[Mapping[str, Any]]
MARGIN = 6
TITLE_LINES = 2.2
"""Height of a panel's heading in lines of text."""
ELLIPSIS = "…"


@dataclass
class Panel:
    """One panel: its heading, its height [px], and its layers, which share ``x`` and ``y``.

    ``x`` and ``y`` are what an encoding says of scale and axis; both run over plain numbers.
    """

    heading: str
    height: int
    x: dict[str, Any]
    y: dict[str, Any]
    layers: list[dict[str, Any]] = field(default_factory=list)

    def add(self, rows: Rows, mark: Mapping[str, Any], **encoding: Any) -> None:
        """Add a layer of marks, one a row. A row's ``x`` and ``y`` stand where it says, unless the encoding differs."""
        if not rows:
            return
        places: dict[str, Any] = {}
        for name, axis in (("x", self.x), ("y", self.y)):
            if name in rows[0]:
                places[name] = {"field": name, "type": "quantitative", **axis}
        for name in ("x2", "y2"):
            if name in rows[0]:
                places[name] = {"field": name}
        self.layers.append({"data": {"values": list(rows)}, "mark": dict(mark), "encoding": {**places, **encoding}})


def sheet(look: Look, panels: Sequence[Panel], *, left: int, right: int, foot: int) -> dict[str, Any]:
    """Return panels as one specification. ``left`` and ``right`` are room beside them, ``foot`` below each. [px]"""
    colour, text = look.colour, look.text
    head = round(TITLE_LINES * text)
    spacing, last = foot + head, foot if panels[-1].x.get("axis") else MARGIN
    width = look.width - left - right
    views = [
        {
            "width": width,
            "height": panel.height,
            "title": {"text": shortened(look, panel.heading, look.width - 2 * MARGIN), "offset": text * 0.6,
                      "frame": "group", "anchor": "start", "dx": MARGIN - left},
            "layer": panel.layers,
        }
        for panel in panels
    ]  # fmt: skip
    height = head + sum(panel.height for panel in panels) + spacing * (len(panels) - 1) + last
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v5.json",
        "usermeta": {"width": look.width, "height": height},
        "background": colour["paper"],
        "autosize": {"type": "none"},
        "padding": {"left": left, "right": right, "top": head, "bottom": last},
        "bounds": "flush",
        "spacing": spacing,
        "vconcat": views,
        "resolve": {"scale": {"x": "independent", "y": "independent"}},
        "config": {
            "aria": False,
            "font": "sans-serif",
            "view": {"stroke": None},
            "title": {"fontSize": text, "fontWeight": 600, "color": colour["ink"]},
            "axis": {
                "labelFontSize": text, "labelColor": colour["ink"], "title": None, "gridColor": colour["line"],
                "gridOpacity": 0.6, "domainColor": colour["soft"], "tickColor": colour["soft"], "labelPadding": 4,
            },
            "text": {"fontSize": text, "color": colour["ink"]},
            "rule": {"color": colour["soft"]},
        },
    }  # fmt: skip


def shortened(look: Look, text: str, room: float) -> str:
    """Return a text cut to the room that there is: its start and its end, since names that are alike differ there."""
    most = max(int(room / look.wide_of("m")), 3)
    if len(text) <= most:
        return text
    tail = (most - 1) // 2
    return f"{text[: most - 1 - tail].rstrip()}{ELLIPSIS}{text[-tail:].lstrip()}"


def spread(places: Sequence[float], least: float, low: float, high: float) -> list[float]:
    """Return places moved apart so that neighbours keep a distance, within bounds where they fit, order kept.

    >>> spread([10, 11, 40], 15, 0, 100)
    [10, 25, 40]
    """
    order = sorted(range(len(places)), key=lambda n: places[n])
    moved = [float(places[n]) for n in order]
    for n in range(1, len(moved)):
        moved[n] = max(moved[n], moved[n - 1] + least)
    over = moved[-1] - high if moved else 0.0
    if over > 0:
        moved[-1] -= over
        for n in range(len(moved) - 2, -1, -1):
            moved[n] = min(moved[n], moved[n + 1] - least)
    if moved and moved[0] < low:
        moved = [low + n * least for n in range(len(moved))] if moved[-1] - low < least * len(moved) else moved
    found = [0.0] * len(places)
    for n, place in zip(order, moved, strict=True):
        found[n] = round(place, 1) if place % 1 else int(place)
    return found


def ticks(low: float, high: float, most: int) -> list[float]:
    """Return round numbers from low to high, at most so many, in steps of 1, 2 or 5 times a power of ten.

    >>> ticks(-3.2, 12, 6)
    [0, 5, 10]
    """
    steps = [factor * 10**power for power in range(-1, 6) for factor in (1, 2, 5)]
    step = next((one for one in steps if (high - low) / one < most), steps[-1])
    found, n = [], -int(-low // step)
    while n * step <= high + 1e-9:
        value = round(n * step, 3)
        found.append(int(value) if float(value).is_integer() else value)
        n += 1
    return found


def number_axis(low: float, high: float, most: int = 6, *, zero: bool = False, grid: bool = True) -> dict[str, Any]:
    """Return scale and axis of plain numbers, a step beyond what they hold."""
    low, high = (min(low, 0.0) if zero else low), (high if high > low else low + 1)
    return {
        "scale": {"domain": [low, high], "zero": False, "nice": False},
        "axis": {"values": ticks(low, high, most), "grid": grid, "ticks": False, "domain": False},
    }


def labelled_axis(low: float, high: float, labels: Mapping[float, str], *, grid: bool = True) -> dict[str, Any]:
    """Return scale and axis with labels of our own at some values; none of them is a grower's word."""
    said = ", ".join(f"'{value:g}': '{text}'" for value, text in labels.items())
    return {
        "scale": {"domain": [low, high], "zero": False, "nice": False},
        "axis": {"values": list(labels), "labelExpr": f"({{{said}}})[datum.value]", "grid": grid, "labelFlush": False,
                 "labelOverlap": False},
    }  # fmt: skip


def bare_axis(low: float, high: float) -> dict[str, Any]:
    """Return a scale without an axis."""
    return {"scale": {"domain": [low, high], "zero": False, "nice": False}, "axis": None}


def day_labels(look: Look, first: date, days: int, room: float, *, us: bool = False) -> dict[float, str]:
    """Return labels for a span of days, counted from the first: months where it is long, else every so many days."""
    wide = look.wide_of("Mmm 00 ")
    if days > 75:
        starts = [first + timedelta(days=n) for n in range(days + 1) if (first + timedelta(days=n)).day == 1]
        step = next(n for n in (1, 2, 3, 6, 12) if len(starts) / n * look.wide_of("Mmm ") <= room)
        return {float((day - first).days): f"{day:%b}" for day in starts[::step]}
    step = next((n for n in (1, 2, 7, 14, 28) if (days + 1) / n * wide <= room), 56)
    return {float(n): short_day(first + timedelta(days=n), us=us) for n in range(0, days + 1, step)}


def short_day(day: date, *, us: bool) -> str:
    """Return a day in a few letters, in the grower's order.

    >>> short_day(date(2026, 4, 5), us=False), short_day(date(2026, 4, 5), us=True)
    ('5 Apr', 'Apr 5')
    """
    return f"{day:%b} {day.day}" if us else f"{day.day} {day:%b}"


def text_rows(
    look: Look, ends: Iterable[tuple[float, float, str, str]], *, height: float, low: float, high: float, room: float
) -> list[dict[str, Any]]:
    """Return labels moved apart up and down: (x, y, text, colour) in, rows with ``y`` in the axis' numbers out."""
    found = list(ends)
    per_px = (high - low) / height
    from_top = [(high - y) / per_px for _, y, _, _ in found]
    moved = spread(from_top, look.text * 1.15, look.text * 0.4, height - look.text * 0.3)
    return [
        {"x": x, "y": high - at * per_px, "text": shortened(look, text, room), "colour": colour}
        for (x, _, text, colour), at in zip(found, moved, strict=True)
    ]


TEXT_BY_ROW = {"text": {"field": "text"}, "color": {"field": "colour", "scale": None}}
"""How a layer of text takes its words and its colour from its rows."""


def add_words(panel: Panel, look: Look, rows: Rows, mark: Mapping[str, Any]) -> None:
    """Add words by row, with the colour that each row has, on a rim of paper that keeps them clear of lines."""
    paper = {"stroke": look.colour["paper"], "strokeWidth": 4, "strokeJoin": "round"}
    panel.add(rows, {"type": "text", **mark, **paper}, text={"field": "text"})
    panel.add(rows, {"type": "text", **mark}, **TEXT_BY_ROW)
