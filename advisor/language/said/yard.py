"""The garden as messages speak of it: spots and plants by name, what lies and stands where, what was last spoken of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from advisor.language.names import NamedPlant


@dataclass(frozen=True, slots=True)
class YardPlant:
    """A plant: where it stands now, whether in a pot, and where it last stood outdoors ("" where that is not known)."""

    name: str
    species: str
    spot: str = ""
    cultivar: str = ""
    in_pot: bool = False
    under_cover: bool = False
    outdoor_spot: str = ""

    @property
    def named(self) -> NamedPlant:
        return NamedPlant(self.name, self.species, self.spot, self.cultivar)


@dataclass(frozen=True, slots=True)
class YardSpot:
    """A spot: whether it is a shelter or under glass, and the material that lies there with its row ("" for none)."""

    name: str
    shelter: bool = False
    material: str = ""
    cover_row: int = 0
    row: int = 0
    aspect: str = ""


@dataclass(frozen=True)
class Yard:
    """All that a message may speak of. ``species`` and ``materials`` are (id, names a grower uses)."""

    plants: Sequence[YardPlant]
    spots: Sequence[YardSpot]
    species: Sequence[tuple[str, Sequence[str]]]
    materials: Sequence[tuple[str, Sequence[str]]]
    us: bool = False
    spoken_plants: tuple[str, ...] = ()
    spoken_spots: tuple[str, ...] = ()

    @property
    def units(self) -> str:
        return "us" if self.us else "metric"

    def plant(self, name: str) -> YardPlant | None:
        return next((plant for plant in self.plants if plant.name == name), None)

    def spot(self, name: str) -> YardSpot | None:
        return next((spot for spot in self.spots if spot.name == name), None)

    def moved(self, goals: Mapping[str, str]) -> Yard:
        """Return the yard once pots were moved to spots, by the pot's name: "all in last night, out again today"."""
        if not goals:
            return self
        shelters = {spot.name for spot in self.spots if spot.shelter}

        def now(plant: YardPlant) -> YardPlant:
            goal = goals.get(plant.name)
            if goal is None:
                return plant
            outdoors = plant.outdoor_spot if plant.under_cover else plant.spot
            under = goal in shelters
            return replace(plant, spot=goal, under_cover=under, outdoor_spot=outdoors if under else goal)

        return replace(self, plants=[now(plant) for plant in self.plants])

    def called(self, species: str) -> str:
        return next((names[0] for key, names in self.species if key == species), species)
