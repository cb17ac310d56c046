"""The place, the first step of setting a garden up: told, said back with the clocks it may keep, and recorded."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from math import isclose

from advisor.conversation import Adviser
from advisor.doors.page.forms import Input, as_typed
from advisor.errors import BadFields
from advisor.facts import Fact, Recorded, Value
from advisor.records.by_form import add_told, corrected_values
from advisor.records.coordinates import WANTED, Position, read_position
from advisor.records.corrections import correct
from advisor.records.remembered import month_day
from advisor.records.store import Garden, Said
from advisor.records.time_zones import clock_fault, clock_shown, meant_instead, zone_called, zone_places, zones_near

UNITS = (("", "choose"), ("metric", "metric: °C, cm, metres, litres"), ("us", "US: °F, inches, feet, gallons"))
HEIGHT = re.compile(r"([-+]?\d+(?:[.,]\d+)?)\s*(m|metres?|meters?|ft|feet|foot)?\.?", re.IGNORECASE)
PLACE_FIELDS = ("name", "at", "units", "time_zone", "other_zone", "elevation", "usual_last_frost", "usual_first_frost")
"""What the two halves of the step post."""


@dataclass
class PlaceForm:
    """What was typed of a place, and what is wrong with it by field."""

    typed: dict[str, str]
    faults: dict[str, str] = field(default_factory=dict)
    position: Position | None = None
    instead: Position | None = None
    """The position that was meant, where the one told does not go with its clock."""

    @classmethod
    def of(cls, form: Mapping[str, str]) -> PlaceForm:
        """Return what was typed, with the faults of its first half: name, where, units."""
        typed = {name: " ".join(form.get(name, "").split()) for name in PLACE_FIELDS}
        made = cls(typed)
        if not typed["name"]:
            made.faults["name"] = "The garden wants a name: any will do"
        if typed["units"] not in ("metric", "us"):
            made.faults["units"] = "Choose one: every figure you type and read is in it"
        try:
            made.position = read_position(typed["at"])
        except ValueError as error:
            nothing = f"Wanted: {WANTED}"
            made.faults["at"] = f"{typed['at']!r} is not read: wanted {error}" if typed["at"] else nothing
        return made

    def first_half(self) -> list[Input]:
        """Return the inputs that tell name, place and units."""
        return [
            self._input("name", "Name of the garden", "Any name, such as Hill End"),
            self._input("at", "Where it lies: latitude and longitude", AT_HINT),
            self._input("units", "Units", "How your thermometer and your tape count", choices=UNITS),
        ]

    def second_half(self) -> list[Input]:
        """Return the inputs that one may leave empty."""
        unit = "ft" if self.typed["units"] == "us" else "m"
        return [
            self._input("elevation", "Height above the sea", "Helps with how sun and cold are reckoned", unit=unit),
            self._input("usual_last_frost", "Usual last frost of spring", "As 10 May, or 05-10: your own idea of it"),
            self._input("usual_first_frost", "Usual first frost of autumn", "As 12 October, or 10-12"),
        ]

    def zone(self) -> str:
        """Return the time zone chosen or typed, "" for none, with a fault where it cannot be."""
        other = self.typed["other_zone"]
        zone = zone_called(other or self.typed["time_zone"])
        if other and not zone:
            self.faults["other_zone"] = f"{other!r} is no time zone: wanted a name such as Europe/Vienna"
        elif not zone:
            self.faults["time_zone"] = "Choose the clock that your garden keeps"
        return zone

    def zones(self, browser: str, now: datetime) -> list[tuple[str, str]]:
        """Return the zones offered, each with what its clocks show: the browser's own first, then those near."""
        assert self.position is not None
        names = list(dict.fromkeys([*([browser] if browser in zone_places() else []), *zones_near(self.position, now)]))
        mine = {browser: ", as this device has it"}
        return [(name, clock_shown(name, now).replace("_", " ") + mine.get(name, "")) for name in names]

    def cells(self, zone: str) -> dict[str, str]:
        """Return the place as a row's cells, the unit of the height in its column's name."""
        assert self.position is not None
        typed = self.typed
        cells = {
            "name": typed["name"],
            "latitude_deg": str(self.position.latitude_deg),
            "longitude_deg": str(self.position.longitude_deg),
            "time_zone": zone,
            "units": typed["units"],
            "usual_last_frost": month_day(typed["usual_last_frost"]),
            "usual_first_frost": month_day(typed["usual_first_frost"]),
        }
        height = HEIGHT.fullmatch(typed["elevation"])
        feet = ((height and height[2]) or ("ft" if typed["units"] == "us" else "m")).casefold().startswith("f")
        return cells | {"elevation_ft" if feet else "elevation_m": height[1] if height else typed["elevation"]}

    def take(self, error: BadFields) -> None:
        """Take the faults of a row to the fields that were typed."""
        ours = {"elevation_m": "elevation", "elevation_ft": "elevation", "latitude_deg": "at", "longitude_deg": "at"}
        for fault in error.faults:
            name = ours.get(fault.field, fault.field)
            self.faults[name] = f"{fault.found}: wanted {fault.wanted}"

    def _input(
        self, name: str, label: str, hint: str, *, unit: str = "", choices: Sequence[tuple[str, str]] = ()
    ) -> Input:  # fmt: skip
        return Input(
            name, label, "choice" if choices else "text", self.typed[name], unit, hint, self.faults.get(name, ""),
            name in ("name", "at", "units"), tuple(choices),
        )  # fmt: skip


AT_HINT = "As a map or a phone shows it: 47.07, 15.44 or 47°04'N 15°26'E; 40.1 N 76.5 W; 37.8 S 145 E"


def place_of(garden: Garden) -> Fact | None:
    """Return the place recorded, None where there is none."""
    return garden.place() if garden.of("place") else None


def version(place: Fact | None) -> str:
    """Return which row of the place a page was made from, so that a page left open overwrites nothing unseen."""
    return str(place.origin.row_ids[0]) if place and isinstance(place.origin, Recorded) else ""


def typed_of(garden: Garden) -> dict[str, str]:
    """Return the recorded place as one would type it."""
    place = place_of(garden)
    if place is None:
        return {}
    us = place.text("units") == "us"
    lat, lon = place.values["latitude_deg"], place.values["longitude_deg"]
    fields = {name: garden.kinds["place"].fields[name] for name in ("elevation_m",)}
    height = place.get("elevation_m")
    return {
        **{name: str(place.values[name]) for name in ("name", "units", "time_zone")},
        **{name: place.text(name) for name in ("usual_last_frost", "usual_first_frost")},
        "at": f"{lat}, {lon}",
        "elevation": as_typed(fields["elevation_m"], height, garden, us=us) if height is not None else "",
    }


def record_place(
    adviser: Adviser, garden: Garden, form: PlaceForm, seen: str, said: Said, now: datetime
) -> bool:  # fmt: skip
    """Record the place, or what changes of it, and return whether it stands; the form takes what is wrong.

    ``seen`` is the row that the page was made from: where another stands now, nothing is written.
    """
    zone = form.zone()
    if form.faults or form.position is None:
        return False
    against = clock_fault(zone, form.position, now)
    if against:
        form.instead = meant_instead(form.position, zone)
        form.faults["time_zone"] = against
        return False
    cells = form.cells(zone)
    place = place_of(garden)
    try:
        if place is None:
            add_told(garden, adviser.lore, "place", cells, said, now)
            return True
        row = int(version(place))
        changes = corrected_values(garden, adviser.lore, "place", row, cells, now)
    except BadFields as error:
        form.take(error)
        return False
    if same(place.values, changes):
        return True
    if seen != version(place):
        form.faults["name"] = f"{place.text('name')} was told meanwhile in another window; send again to put this there"
        return False
    correct(garden, "place", row, changes, said, reason="set up anew")
    return True


def same(values: Mapping[str, Value], changes: Mapping[str, Value | None]) -> bool:
    """Return whether changes leave a row as it is, but for what is lost where feet are shown for metres."""
    return all(_as_good_as(name, values.get(name), value) for name, value in changes.items())


def _as_good_as(name: str, one: Value | None, other: Value | None) -> bool:
    if name == "elevation_m" and isinstance(one, int | float) and isinstance(other, int | float):
        return isclose(one, other, abs_tol=0.01)
    return one == other
