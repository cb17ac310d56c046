"""A small garden in memory: rows as a grower would tell them, as facts with row numbers."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from advisor.facts import Fact, Recorded
from advisor.records.species import Lore, Material, Species

ZONE = ZoneInfo("Europe/Vienna")


def kind_of_tree(key: str, **more: Any) -> Species:
    """Make a species with traits of a fig unless others are given."""
    traits: dict[str, Any] = {
        "id": key, "botanical": key, "name": key, "names": (key,), "wakes": "late", "bloom": "hidden",
        "flowers_first": False,
        "heat_lover": True, "wet_hater": True, "shade_bearer": False, "roots_from_below": True, "base_c": 10.0,
        "mature_spread_m": 4.0, "self_fertile": "yes", "damp_hater": False, "thirsty": False,
        "sources": (), "cultivars": {},
    }  # fmt: skip
    return Species(**{**traits, **more})


LORE = Lore(
    {
        "fig": kind_of_tree("fig"),
        "apricot": kind_of_tree("apricot", wakes="early", bloom="very early", flowers_first=True, base_c=4.5),
    },
    {
        "wood chips": Material("wood chips", (), "organic"),
        "stones": Material("stones", (), "stone"),
        "bare": Material("bare", (), "bare"),
    },
)


class SmallGarden:
    """Records by kind; each method tells one row and returns the garden, so that rows are told in a chain."""

    def __init__(self, latitude_deg: float = 47.0) -> None:
        self.rows: dict[str, list[Fact]] = {}
        self.said_by: dict[tuple[str, int], str] = {}
        self.tell("place", name="Test Hill", latitude_deg=latitude_deg, longitude_deg=15.0, time_zone=ZONE.key,
                  units="metric")  # fmt: skip

    def of(self, kind: str) -> list[Fact]:
        return self.rows.get(kind, [])

    def who_said(self, kind: str) -> dict[int, str]:
        return {row: by for (of, row), by in self.said_by.items() if of == kind}

    def by(self, kind: str, name: str) -> SmallGarden:
        """Note who told the last row of a kind."""
        self.said_by[kind, len(self.rows[kind])] = name
        return self

    def tell(self, kind: str, **values: Any) -> SmallGarden:
        rows = self.rows.setdefault(kind, [])
        rows.append(Fact.of(kind, values, Recorded(kind, (len(rows) + 1,))))
        return self

    def spot(self, name: str, **more: Any) -> SmallGarden:
        return self.tell("spot", name=name, **more)

    def plant(
        self, name: str, spot: str = "bed", species: str = "fig", growing: str = "ground", **more: Any
    ) -> SmallGarden:
        return self.tell("plant", name=name, spot=spot, species=species, growing=growing, **more)

    def stage(self, plant: str, on: str, bbch: int) -> SmallGarden:
        return self.tell("stage", plant=plant, on=date.fromisoformat(on), bbch=bbch)

    def cover(self, spot: str, material: str, put_on: str, taken_off: str = "", **more: Any) -> SmallGarden:
        off = date.fromisoformat(taken_off) if taken_off else None
        return self.tell(
            "cover", spot=spot, material=material, put_on=date.fromisoformat(put_on), taken_off=off, **more
        )

    def soil(
        self, spot: str, at: str, temp_c: float, sky: str = "sun", depth_cm: float = 10, plant: str = ""
    ) -> SmallGarden:
        when = datetime.fromisoformat(at).replace(tzinfo=ZONE)
        where = {"plant": plant} if plant else {"spot": spot}
        return self.tell("soil_reading", at=when, temp_c=temp_c, sky=sky, depth_cm=depth_cm, **where)

    def move(self, plant: str, to_spot: str, on: str) -> SmallGarden:
        return self.tell("move", plant=plant, to_spot=to_spot, on=date.fromisoformat(on))

    def weather(self, on: str, min_c: float, max_c: float) -> SmallGarden:
        return self.tell("weather_day", on=date.fromisoformat(on), min_c=min_c, max_c=max_c)
