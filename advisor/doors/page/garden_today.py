"""What the garden page says of the day: the season, and the night to come where something is known of it."""

from __future__ import annotations

from datetime import date, timedelta

from advisor.conversation import Adviser
from advisor.language.render import Speech
from advisor.reasoning.derive.nights import night_low
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.derive.tonight import told_low
from advisor.reasoning.derive.weather import season
from advisor.records.history import RecordsOf
from advisor.records.store import Garden

FORECAST_DAYS = 14
"""No forecast reaches farther, so that older ones say nothing of tonight."""


def season_line(adviser: Adviser, garden: Garden, today: date, speech: Speech) -> str:
    """Return the day and its season, as "24 April, spring"."""
    (found,) = season(Scene(garden, adviser.lore, today, ""))
    return f"{speech.day(today)}, {found.text('name')}"


def night_line(adviser: Adviser, garden: Garden, today: date, speech: Speech) -> str:
    """Return what is known of the night to come, "" where neither a forecast nor an evening's reading was told.

    This evening's reading goes before a forecast: it was taken here.
    """
    if any(not row.get("spot") for row in garden.since("evening", today)):
        for low in night_low(Scene(garden, adviser.lore, today, "")):
            if not low.get("spot"):
                expected, least, most = (
                    speech.value(name, low.values[name]) for name in ("expected_c", "low_c", "high_c")
                )
                return f"This evening's reading leads to about {expected} at the station, between {least} and {most}."
    told = told_low(Scene(RecordsOf(garden, since=today - timedelta(days=FORECAST_DAYS)), adviser.lore, today, ""))
    if told is None:
        return ""
    issued = told.day("issued")
    when = "today" if issued == today else f"on {speech.day(issued)}" if issued else "before"
    sky = f", sky: {told.text('sky')}" if told.text("sky") else ""
    return f"Forecast for tonight: down to {speech.value('min_c', told.values['min_c'])}{sky} (told {when})."
