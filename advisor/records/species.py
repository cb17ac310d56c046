"""What is known of a species, and of the things that cover soil: ``rules/species/*.toml``, ``rules/materials.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.records.kinds import read_toml

WAKES = ("early", "middle", "late")
BLOOMS = ("very early", "early", "middle", "late", "hidden")
GROUPS = ("organic", "stone", "film", "living", "bare")


@dataclass(frozen=True)
class Species:
    """One species. ``names`` are what a grower may call it, in lower case; ``name`` is what replies call it.

    ``base_c`` is the base temperature of its heat sums. [°C]
    """

    id: str
    botanical: str
    name: str
    names: tuple[str, ...]
    wakes: str
    bloom: str
    flowers_first: bool
    heat_lover: bool
    wet_hater: bool
    shade_bearer: bool
    roots_from_below: bool
    base_c: float
    sources: tuple[Mapping[str, str], ...]
    cultivars: Mapping[str, Mapping[str, Any]]

    def trait(self, cultivar: str, name: str) -> Any:
        """Return a trait, the cultivar's own where it is known apart."""
        return self.cultivars.get(cultivar.casefold(), {}).get(name, getattr(self, name))


@dataclass(frozen=True)
class Material:
    """Something that covers soil; ``group`` decides which rules it concerns."""

    id: str
    names: tuple[str, ...]
    group: str


@dataclass(frozen=True)
class Lore:
    """All species and materials, and how to find one by a name a grower uses."""

    species: Mapping[str, Species]
    materials: Mapping[str, Material]

    def species_called(self, name: str) -> Species | None:
        wanted = name.strip().casefold()
        return next((s for s in self.species.values() if wanted == s.id or wanted in s.names), None)

    def material_called(self, name: str) -> Material | None:
        wanted = name.strip().casefold()
        return next((m for m in self.materials.values() if wanted == m.id or wanted in m.names), None)


def _species(path: Path) -> Species:
    raw = read_toml(path)
    where = f"reading species {path.name}"
    try:
        found = Species(
            id=raw["id"],
            botanical=raw["botanical"],
            name=raw["names"][0],
            names=tuple(name.casefold() for name in raw["names"]),
            wakes=raw["wakes"],
            bloom=raw["bloom"],
            flowers_first=raw["flowers_first"],
            heat_lover=raw["heat_lover"],
            wet_hater=raw["wet_hater"],
            shade_bearer=raw["shade_bearer"],
            roots_from_below=raw["roots_from_below"],
            base_c=float(raw["base_c"]),
            sources=tuple(raw["sources"]),
            cultivars={name.casefold(): spec for name, spec in raw.get("cultivars", {}).items()},
        )
    except KeyError as missing:
        raise BadRules(where, f"no key {missing}", "Add it; see any other species") from None
    if found.id != path.stem:
        raise BadRules(where, f"its id is {found.id!r}", "Give file and id the same name")
    if found.wakes not in WAKES or found.bloom not in BLOOMS:
        raise BadRules(where, f"wakes {found.wakes!r}, bloom {found.bloom!r}", f"Use {WAKES} and {BLOOMS}")
    return found


def load_lore(rules: Path) -> Lore:
    """Read all species and materials of a rule base. Raise BadRules where a file does not hold together."""
    species = {path.stem: _species(path) for path in sorted((rules / "species").glob("*.toml"))}
    materials: dict[str, Material] = {}
    path = rules / "materials.toml"
    for raw in read_toml(path).get("material", []) if path.exists() else []:
        material = Material(raw["id"], tuple(n.casefold() for n in raw.get("names", ())), raw["group"])
        if material.group not in GROUPS:
            raise BadRules("reading materials.toml", f"{material.id}: group {material.group!r}", f"Use one of {GROUPS}")
        materials[material.id] = material
    taken: dict[str, str] = {}
    for owner, names in [(s.id, (s.id, *s.names)) for s in species.values()] + [
        (m.id, (m.id, *m.names)) for m in materials.values()
    ]:
        for name in dict.fromkeys(names):
            if taken.setdefault(name, owner) != owner:
                raise BadRules(
                    "reading species and materials", f"{taken[name]} and {owner} both claim {name!r}", "Drop one"
                )
    return Lore(species, materials)
