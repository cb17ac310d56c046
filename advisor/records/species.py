"""What is known of a species, and of the things that cover soil: ``rules/species/*.toml``, ``rules/materials.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.records.hardiness import FILE as FROST_FILE
from advisor.records.hardiness import Hardiness, load_hardiness
from advisor.records.kinds import read_toml
from advisor.records.requirements import FILE as NEEDS_FILE
from advisor.records.requirements import PublishedNeeds, load_requirements

WAKES = ("early", "middle", "late")
BLOOMS = ("very early", "early", "middle", "late", "hidden")
COVERS_FILE = "cover_effects.toml"
NOTHING_OF_FROST = Hardiness(30.0, {}, {}, {})
NOTHING_OF_NEEDS = PublishedNeeds((), (), ())
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
    """All species and materials, and how to find one by a name a grower uses; and what is published of them.

    ``cover_effects`` are the entries of ``cover_effects.toml``, checked for the materials that they name.
    """

    species: Mapping[str, Species]
    materials: Mapping[str, Material]
    hardiness: Hardiness = NOTHING_OF_FROST
    needs: PublishedNeeds = NOTHING_OF_NEEDS
    cover_effects: tuple[Mapping[str, Any], ...] = ()

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
    return Lore(
        species,
        materials,
        load_hardiness(rules) if (rules / FROST_FILE).exists() else NOTHING_OF_FROST,
        load_requirements(rules) if (rules / NEEDS_FILE).exists() else NOTHING_OF_NEEDS,
        _cover_effects(rules, materials),
    )


def _cover_effects(rules: Path, materials: Mapping[str, Material]) -> tuple[Mapping[str, Any], ...]:
    path = rules / COVERS_FILE
    entries = tuple(read_toml(path)["effect"]) if path.exists() else ()
    for number, entry in enumerate(entries, start=1):
        unknown = [name for name in entry["materials"] if name not in materials]
        if unknown or entry["group"] not in GROUPS:
            found = f"effect {number}: {', '.join(unknown) or entry['group']}"
            raise BadRules(f"reading {COVERS_FILE}", found, "Name materials and groups of materials.toml")
    return entries
