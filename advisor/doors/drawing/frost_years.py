"""Bloom against killing nights told and drawn: a grid of spots and years, and one spot's springs by date."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from typing import Any

from advisor.doors.drawing.look import Look
from advisor.doors.drawing.sheet import Panel, bare_axis, day_labels, labelled_axis, sheet, shortened
from advisor.doors.drawing.telling import Column, Telling, Units, a_tree, day_cell, few, sentences
from advisor.language.render import Speech, counted, listed
from advisor.reasoning.pictures.frost_years import FrostYearsShown, SpotYears, YearAtSpot

QUESTION = "In which years would frost have caught a tree?"
FEWEST_YEARS = 10
"""Springs below which a count is no measure of a spot: as many as the program wants for its advice where to plant."""
CROSS = "M-.6,-.6L.6,.6M-.6,.6L.6,-.6"
STATES = {
    "caught": "caught",
    "maybe": "perhaps caught",
    "hurt": "a tenth or more lost",
    "free": "not hurt",
    "not reached": "stage not reached",
}
MOST_YEARS = {True: 12, False: 26}


def tell_frost_years(shown: FrostYearsShown, speech: Speech) -> Telling:
    units, stage = Units(speech), "Waking" if shown.waking else "First flower"
    columns = (
        Column("spot", "Spot"),
        Column("year", "Year", True),
        Column("came_of_it", "What came of it"),
        Column("first", stage),
        Column("first_low", f"{stage}, early end"),
        Column("first_high", f"{stage}, late end"),
        Column("worst_night", "Worst night"),
        Column(units.key("night", "c"), f"Low that night, {units.name('c')}", True),
        Column("stage", "Stage that it met"),
    )
    rows = tuple(_row(spot, one, shown, units) for spot in shown.spots for one in spot.years)
    return Telling(
        "frost-years",
        f"In which years would frost have caught {a_tree(shown.species.name)}?",
        sentences(*_says(shown, speech), _one_spot(shown, speech)),
        columns,
        rows,
        sentences(*_limits(shown, speech)),
        tuple(f"{part}." for part in ("Your daily weather and spots", shown.source) if part),
        _marks(shown),
        draw=lambda look: draw_frost_years(shown, speech, look),
    )


def _row(spot: SpotYears, one: YearAtSpot, shown: FrostYearsShown, units: Units) -> tuple[Any, ...]:
    def day(place: int | None) -> str | None:
        return None if place is None else f"{shown.first_day + timedelta(days=place):%m-%d}"

    return (
        spot.spot, one.year, STATES[one.state], day(one.first), day(one.first_low), day(one.first_high),
        day_cell(one.night), units.cell(one.night_c, "c"), one.stage or None,
    )  # fmt: skip


# ---- in words


def _says(shown: FrostYearsShown, speech: Speech) -> list[str]:
    if shown.by == "records":
        return [_recorded(shown, speech)]
    count = len(shown.spots[0].years)
    best, worst = shown.spots[0], shown.spots[-1]
    years = f"{shown.spots[0].years[0].year} to {shown.spots[0].years[-1].year}"
    said = [
        f"Your own weather of {counted(count, 'spring')} ({years}), put to {a_tree(shown.species.name)} at each spot"
    ]
    if best.frost_years[1] == worst.frost_years[1]:
        places = "at every spot alike" if len(shown.spots) > 1 else f"at {speech.name(best.spot)}"
        said[0] += f": a night that {shown.harm} comes in {_of(best, count)} {places}"
    else:
        alike = [speech.name(one.spot) for one in shown.spots if one.frost_years[1] == best.frost_years[1]]
        said[0] += (
            f": a night that {shown.harm} comes in {_of(best, count)} at {listed(few(alike, 3))}, "
            f"and in {_of(worst, count)} at {speech.name(worst.spot)}"
        )
    caught = Counter(year for spot in shown.spots for year in spot.caught)
    everywhere = sorted(year for year, spots in caught.items() if spots == len(shown.spots))
    if everywhere and len(shown.spots) > 1:
        said.append(f"In {listed([str(year) for year in everywhere])} no spot would have saved it")
    return said


def _of(spot: SpotYears, count: int) -> str:
    low, middle, high = spot.frost_years
    range_ = f" ({low} to {high}, given what is not known)" if low != high else ""
    return f"{middle} of {count}{range_}"


def _one_spot(shown: FrostYearsShown, speech: Speech) -> str | None:
    if shown.by == "records":
        return None
    spot, firsts = shown.spot, sorted(one.first for one in shown.spot.years if one.first is not None)
    stage = "wakes" if shown.waking else "flowers first"
    said = f"At {speech.name(spot.spot)} it {stage} "
    if not firsts:
        return f"{said}in none of these springs"
    ends = [_short(shown, place, speech) for place in dict.fromkeys((firsts[0], firsts[-1]))]
    said += f"from {ends[0]} to {ends[-1]}" if len(ends) > 1 else f"on {ends[0]}"
    caught = [one for one in spot.years if one.state == "caught" and one.night is not None and one.night_c is not None]
    if not caught:
        return f"{said}; no year is marked as caught there"
    nights = [f"{speech.day(one.night)} ({speech.number(one.night_c, 'c')})"
              for one in caught if one.night is not None and one.night_c is not None]  # fmt: skip
    return f"{said}; caught on {listed(few(nights, 4))}"


def _short(shown: FrostYearsShown, place: int, speech: Speech) -> str:
    day = shown.first_day + timedelta(days=place)
    return f"{day:%B} {day.day}" if speech.units == "us" else f"{day.day} {day:%B}"


def _recorded(shown: FrostYearsShown, speech: Speech) -> str:
    years = shown.spot.years
    hurt = [str(one.year) for one in years if one.state == "hurt"]
    what = f"in {listed(hurt)}" if hurt else "in none"
    seen = f"{counted(len(years), 'year')} with a recorded first flower of {a_tree(shown.species.name)}"
    return f"Of {seen}, a night cold enough that it {shown.harm} followed within six weeks {what}"


def _limits(shown: FrostYearsShown, speech: Speech) -> list[str]:
    count = len(shown.spot.years)
    said = []
    if count < FEWEST_YEARS:
        said.append(f"{counted(count, 'spring')} {'is' if count == 1 else 'are'} few: ten begin to show a spot.")
    if shown.by == "records":
        said.append(f"By recorded dates and the station's nights alone, since {shown.caution}.")
        return said
    said.append(
        "Dates are reckoned from chill, then warmth; a year is marked caught where more than half of 64 draws "
        "over what is not known say so, so that marks and count may differ by one."
    )
    own = counted(shown.own_years, "year")
    said.append(f"Fitted to {own} of your own dates." if shown.own_years else "None of your own dates is in it yet.")
    if shown.caution:
        said.append(f"{shown.caution[0].upper()}{shown.caution[1:]}.")
    if len(shown.spots) > len(shown.drawn):
        said.append(f"{len(shown.drawn)} of {counted(len(shown.spots), 'spot')} are drawn; the table has all.")
    if count > MOST_YEARS[True]:
        said.append(f"A phone shows the last {MOST_YEARS[True]} years, a wide screen {MOST_YEARS[False]}.")
    return said


def _marks(shown: FrostYearsShown) -> tuple[str, ...]:
    words = {
        "caught": "full square with a cross: caught",
        "maybe": "empty square with a cross: perhaps caught",
        "hurt": "triangle: a tenth or more lost",
        "free": "dot: not hurt",
        "not reached": "stroke: the stage was not reached",
    }
    there = {one.state for spot in shown.spots for one in spot.years}
    stage = "waking" if shown.waking else "first flower"
    dates = f"by date: a thin line from {stage} to small fruit, thick where {stage} may have fallen"
    return (*(word for state, word in words.items() if state in there), dates)


# ---- drawn


def draw_frost_years(shown: FrostYearsShown, speech: Speech, look: Look) -> dict[str, Any]:
    units, left = Units(speech), 120 if look.narrow else 190
    years = [one.year for one in shown.spot.years][-MOST_YEARS[look.narrow] :]
    drawn = [one for one in shown.spots if one.spot in shown.drawn]
    grid = _grid(drawn, years, look, left)
    dates = _dates(shown, years, units, look, left)
    panels = [grid, dates] if shown.by == "replay" else [dates]
    return sheet(look, panels, left=left, right=16, foot=round(look.text * 1.9))


def _grid(drawn: list[SpotYears], years: list[int], look: Look, left: int) -> Panel:
    row = round(look.text * 1.7)
    room = (look.width - left - 16) / max(len(years), 1)
    full = room > look.wide_of("2026 ")
    labels = {float(n): str(year) if full else f"{year % 100:02d}" for n, year in enumerate(years)}
    axis = labelled_axis(-0.5, len(years) - 0.5, labels, grid=False)
    panel = Panel("Each spot, year by year", row * len(drawn), axis, bare_axis(0, len(drawn)))
    height = {one.spot: len(drawn) - n - 0.5 for n, one in enumerate(drawn)}
    names = [{"x": -0.5, "y": height[one.spot], "text": shortened(look, one.spot, left - 12)} for one in drawn]
    panel.add(names, {"type": "text", "align": "right", "baseline": "middle", "dx": -6}, text={"field": "text"})
    place = {year: n for n, year in enumerate(years)}
    cells = [(one.state, {"x": place[one.year], "y": height[spot.spot]})
             for spot in drawn for one in spot.years if one.year in place]  # fmt: skip
    _signs(panel, cells, look)
    return panel


def _signs(panel: Panel, cells: list[tuple[str, dict[str, Any]]], look: Look) -> None:
    """Add a sign a state, told apart by shape and filling, colour aside."""
    colour, point = look.colour, {"type": "point", "opacity": 1, "strokeWidth": 1.8}
    by = {state: [cell for one, cell in cells if one == state] for state in STATES}
    square = {**point, "shape": "square", "size": 150}
    panel.add(by["caught"], {**square, "fill": colour["bad"], "stroke": colour["bad"]})
    panel.add(by["maybe"], {**square, "fill": colour["paper"], "stroke": colour["bad"]})
    panel.add(by["caught"], {**point, "shape": CROSS, "size": 90, "stroke": colour["paper"]})
    panel.add(by["maybe"], {**point, "shape": CROSS, "size": 60, "stroke": colour["bad"]})
    panel.add(
        by["hurt"], {**point, "shape": "triangle-down", "size": 90, "stroke": colour["warn"], "fill": colour["paper"]}
    )
    panel.add(by["free"], {**point, "shape": "circle", "size": 22, "fill": colour["leaf"], "stroke": colour["leaf"]})
    panel.add(by["not reached"], {**point, "shape": "stroke", "size": 50, "stroke": colour["soft"]})


def _dates(shown: FrostYearsShown, years: list[int], units: Units, look: Look, left: int) -> Panel:
    """Return one spot's springs by date: the tender time of each year and its worst night."""
    told = [one for one in shown.spot.years if one.year in years]
    places = [place for one in told for place in (one.first_low, one.first_high, one.over, one.night_at) if place]
    low, high = min(places, default=140) - 4, max(places, default=220)
    high += max(12, round((high - low) * (0.32 if look.narrow else 0.12)))  # room for the words beside a night
    row = round(look.text * 1.6)
    labels = day_labels(look, shown.first_day + timedelta(days=low), high - low, look.width - left - 16, us=units.us)
    axis = labelled_axis(low, high, {low + n: text for n, text in labels.items()})
    heading = (
        f"{'Waking' if shown.waking else 'Bloom'} at {shown.spot.spot}" if shown.by == "replay" else "First flowers"
    )
    panel = Panel(heading, row * len(told), axis, bare_axis(0, len(told)))
    at = {one.year: len(told) - n - 0.5 for n, one in enumerate(told)}
    colour = look.colour
    panel.add(
        [{"x": low, "y": at[one.year], "text": str(one.year)} for one in told],
        {"type": "text", "align": "right", "baseline": "middle", "dx": -6},
        text={"field": "text"},
    )
    thin = [{"x": one.first, "x2": one.over, "y": at[one.year]} for one in told if one.first and one.over]
    panel.add(thin, {"type": "rule", "color": colour["leaf"], "strokeWidth": 2})
    thick = [{"x": one.first_low, "x2": one.first_high, "y": at[one.year]} for one in told if one.first_low]
    panel.add(thick, {"type": "rule", "color": colour["leaf"], "strokeWidth": 8, "opacity": 0.55})
    starts = [{"x": one.first, "y": at[one.year] - 0.32, "y2": at[one.year] + 0.32} for one in told if one.first]
    panel.add(starts, {"type": "rule", "color": colour["leaf"], "strokeWidth": 2})
    nights = [one for one in told if one.night_at is not None and one.night_c is not None and one.state != "free"]
    _signs(panel, [(one.state, {"x": one.night_at, "y": at[one.year]}) for one in nights], look)
    words = [{"x": one.night_at, "y": at[one.year], "text": units.temperature(one.night_c or 0.0)} for one in nights]
    panel.add(words, {"type": "text", "align": "left", "baseline": "middle", "dx": 10}, text={"field": "text"})
    return panel
