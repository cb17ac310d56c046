"""The talk with a garden that has no place yet: what is told of the place is gathered until it can be recorded.

Nothing is guessed: what is lacking is asked for one by one, and a clock is proposed by the position and chosen.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any

from advisor.facts import Fact, Value
from advisor.language.said.drafts import Draft
from advisor.language.said.places import FOOT_M, read_place
from advisor.language.said.replies import recorded_reply, sentence_reply
from advisor.language.understand import chosen
from advisor.records.coordinates import Position
from advisor.records.messages import Message, message_before
from advisor.records.store import Garden, Said
from advisor.records.time_zones import clock_fault, clock_shown, meant_instead, zone_called, zones_near
from advisor.talk.base import CHOICE_HOURS, Answerer
from advisor.talk.telling import faults_of, record

EXAMPLE = "my garden is called Hill End, 47.07 N 15.44 E, metric"
ASKED = ("where", "name", "units", "time_zone")
ASKS = {
    "where": "Where does it lie? Tell latitude and longitude, as a map shows them: 47.07 N 15.44 E.",
    "name": "What is the garden called?",
    "units": "Do you measure in metric units or in US ones?",
    "time_zone": "Which clock does the garden keep?",
}
UNITS = (("metric", "metric: °C, cm, litres"), ("us", "US: °F, inches, gallons"))
ASKS_FIRST = re.compile(r"\?\s*$")
SPOKEN_ZONES = {
    "eastern": "America/New_York", "central": "America/Chicago", "mountain": "America/Denver",
    "pacific": "America/Los_Angeles",
}  # fmt: skip
"""Zones as they are spoken of in North America, and the clock of each."""
SPOKEN_ZONE = re.compile(rf"\b({'|'.join(SPOKEN_ZONES)})\b", re.IGNORECASE)
OF_NAME = re.compile(r"\b(?:garden|place)\b", re.IGNORECASE)
OF_HEIGHT = re.compile(r"\b(?:elev\w*|altitude|above|asl|sea|(?:ft|feet|m|met\w+) up)\b", re.IGNORECASE)
"""What is said of the garden once its place is begun, and not of a fig's name or a fence's height."""
NEXT_SPOTS = (
    "Next, tell me your spots, one at a time or in a row: new spot south wall, faces south, stone wall; "
    "or spots: south wall, north bed and shed."
)
NEXT_PLANTS = "Next, tell me what grows there: planted a fig at the {spot} in 2019, call it old fig."
NO_SPOT = "No spot is recorded in this garden yet. Tell me one: new spot south wall, faces south."
NO_PLANT = "No plant is recorded in this garden yet. Tell me one: new plant: fig in a 20 l pot, call it tub 1."


@dataclass
class Starting:
    """One message to a garden without a place, and what was told of the place before it."""

    adviser: Answerer
    garden: Garden
    message_id: str
    text: str
    at: datetime

    def reply(self) -> dict[str, Any]:
        """Return the reply, not yet kept."""
        talk, before = self.adviser.talk_words, self._before
        if talk.pattern("follow", "undo").fullmatch(self.text.strip().strip(".! ").casefold()):
            forgot = "What you told of the place is forgotten. " if before else ""
            return sentence_reply("undone" if before else "not-understood", f"{forgot}{self._how()}")
        means = chosen(self.text, self._choices) or self._by_name()
        if means is not None:
            return self._go_on({**before, **means["means"]["place"]})
        heard = read_place(self.text, talk, self._asked)
        if heard.ask:
            return self._asking(before, heard.ask)
        values = self._of_the_place(heard.values, before)
        if not values:
            return self._kindly(before)
        return self._go_on({**before, **values})

    def _of_the_place(self, values: Mapping[str, Value], before: Mapping[str, Value]) -> dict[str, Value]:
        """Return what was told without what is known already and is not said of the garden: a fig may be called
        something too, and a fence is some feet high."""
        kept = dict(values)
        if before.get("name") and not OF_NAME.search(self.text):
            kept.pop("name", None)
        if before and not OF_HEIGHT.search(self.text):
            kept.pop("elevation_m", None)
        return kept

    @cached_property
    def _last(self) -> Message | None:
        last = message_before(self.garden, self.message_id)
        late = last is not None and abs(self.at - last.received_at) > timedelta(hours=CHOICE_HOURS)
        return None if last is None or last.reply is None or last.outcome != "asked-back" or late else last

    @property
    def _before(self) -> dict[str, Value]:
        return dict((self._last.reply or {}).get("place", {})) if self._last else {}

    @property
    def _choices(self) -> list[Mapping[str, Any]]:
        return list((self._last.reply or {}).get("choices", [])) if self._last else []

    @property
    def _asked(self) -> str:
        return str((self._last.reply or {}).get("asked", "")) if self._last else ""

    def _by_name(self) -> Mapping[str, Any] | None:
        """Return the choice of the zone that a message names: "Vienna"."""
        if self._asked != "time_zone":
            return None
        spoken = SPOKEN_ZONE.search(self.text)
        zone = SPOKEN_ZONES[spoken[1].casefold()] if spoken else zone_called(self.text.strip(" .!"))
        return next((one for one in self._choices if one["means"]["place"].get("time_zone") == zone and zone), None)

    def _go_on(self, told: dict[str, Value]) -> dict[str, Any]:
        """Ask for what is lacking, or record the place."""
        at = position_of(told)
        there = {"where": at, "name": told.get("name"), "units": told.get("units"), "time_zone": told.get("time_zone")}
        lacks = next((name for name in ASKED if not there[name]), "")
        if at is not None and told.get("time_zone"):
            zone = str(told["time_zone"])
            against = clock_fault(zone, at, self.at)
            if against:
                return self._which_place(told, at, zone, against)
        if not lacks:
            return self._record(told)
        return self._asking(told, ASKS[lacks], lacks)

    def _which_place(self, told: dict[str, Value], at: Position, zone: str, against: str) -> dict[str, Any]:
        """Ask which of position and clock is wrong."""
        ways: list[tuple[str, dict[str, Value]]] = []
        other = meant_instead(at, zone)
        if other is not None:
            lat, lon = other.latitude_deg, other.longitude_deg
            ways.append((str(other), {"latitude_deg": lat, "longitude_deg": lon}))
        ways.append((f"{at}, with another clock", {"time_zone": ""}))
        return self._asking(told, against, "where", ways)

    def _asking(
        self, told: dict[str, Value], ask: str, asked: str = "", ways: list[tuple[str, dict[str, Value]]] | None = None
    ) -> dict[str, Any]:
        if ways is None:
            ways = self._ways(told, asked)
        lines = [f"So far: {said_so_far(told)}."] if told else []
        lines += [ask, *(f"{number}. {text}" for number, (text, _) in enumerate(ways, start=1))]
        if ways:
            other = " or with the name of another, such as Europe/Vienna" if asked == "time_zone" else ""
            lines.append(f"Answer with the number{other}.")
        choices = [{"number": n, "text": text, "means": {"place": means}} for n, (text, means) in enumerate(ways, 1)]
        made = sentence_reply("asked-back", "\n".join([*lines, "Nothing is recorded yet."]))
        return {**made, "choices": choices, "place": told, "asked": asked}

    def _ways(self, told: dict[str, Value], asked: str) -> list[tuple[str, dict[str, Value]]]:
        at = position_of(told)
        if asked == "units":
            return [(text, {"units": units}) for units, text in UNITS]
        if asked == "time_zone" and at is not None:
            return [(clock_shown(name, self.at), {"time_zone": name}) for name in zones_near(at, self.at)]
        return []

    def _kindly(self, told: dict[str, Value]) -> dict[str, Any]:
        """Say what has to be told first, where a message tells nothing of it."""
        if told:
            return self._asking(
                told, f"I did not find that in your message. {ASKS[self._asked or 'where']}", self._asked
            )
        what = "I can answer that once I know the garden" if ASKS_FIRST.search(self.text) else "Your words are kept"
        return sentence_reply("asked-back", f"{what}. {self._how()}")

    def _how(self) -> str:
        return (
            "This garden has no place yet, so tell me first its name, where it lies and your units, for example: "
            f"{EXAMPLE}."
        )

    def _record(self, told: dict[str, Value]) -> dict[str, Any]:
        draft = Draft("place", {name: value for name, value in told.items() if value != ""})
        faults = faults_of(self.garden, self.adviser.lore, [draft], self.at)
        if faults:
            return self._asking({}, f"I cannot record that as it stands: {'; '.join(faults)}. {self._how()}")
        said = Said("message", self.message_id, self.at)
        rows = record(self.garden, self.adviser.lore, [draft], said, self.text, self.at)
        speech = self.adviser.speech(self.garden, self.at.astimezone(self.garden.zone()).date())
        reply = recorded_reply(rows, [(kind, self.garden.values_of(kind, row)) for kind, row in rows], speech)
        return with_line(reply, NEXT_SPOTS)


def position_of(told: Mapping[str, Value]) -> Position | None:
    """Return the position that was told, None where none was."""
    lat, lon = told.get("latitude_deg"), told.get("longitude_deg")
    return Position(float(lat), float(lon)) if isinstance(lat, int | float) and isinstance(lon, int | float) else None


def said_so_far(told: Mapping[str, Value]) -> str:
    """Return what was told of a place, in words."""
    at = position_of(told)
    parts = [str(told["name"])] if told.get("name") else []
    parts += [f"at {at}"] if at else []
    if isinstance(height := told.get("elevation_m"), int | float):
        us = told.get("units") == "us"
        parts.append(f"{height / FOOT_M:.0f} ft above the sea" if us else f"{height:g} m above the sea")
    parts += [{"us": "US units"}.get(str(told["units"]), "metric units")] if told.get("units") else []
    parts += [f"the clock of {told['time_zone']}"] if told.get("time_zone") else []
    frosts = {"usual_last_frost": "last", "usual_first_frost": "first"}
    parts += [f"{which} frost {told[name]}" for name, which in frosts.items() if told.get(name)]
    return ", ".join(parts)


def with_line(reply: Mapping[str, Any], line: str) -> dict[str, Any]:
    """Return a reply with one more line."""
    return {**reply, "reply": f"{reply['reply']}\n{line}"}


def with_next_step(reply: dict[str, Any], spots: Sequence[Fact], plants: Sequence[Fact]) -> dict[str, Any]:
    """Return a reply with what to tell next, where a garden has no spot or no plant yet.

    It is said where spots were just told, and where a message could not be answered for want of them.
    """
    if plants and spots:
        return reply
    if reply["outcome"] == "recorded" and spots and not plants:
        told = [one["kind"] for one in reply.get("recorded", [])]
        return with_line(reply, NEXT_PLANTS.format(spot=spots[-1].text("name"))) if "spot" in told else reply
    if reply["outcome"] in ("asked-back", "not-understood") and not reply.get("choices"):
        return with_line(reply, NO_PLANT if spots else NO_SPOT)
    return reply
