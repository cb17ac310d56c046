"""What is known of a species, and of the things that cover soil: ``rules/species/*.toml``, ``rules/materials.toml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
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
NOTHING_OF_FROST = Hardiness(30.0, {}, {}, {}, 0.0)
NOTHING_OF_NEEDS = PublishedNeeds((), (), ())
GROUPS = ("organic", "stone", "film", "living", "bare")
SELF_FERTILE = ("yes", "no", "partly")


@dataclass(frozen=True)
class Species:
    """One species. ``names`` are what a grower may call it, in lower case; ``name`` is what replies call it.

    ``base_c`` is the base temperature of its heat sums. [°C] ``mature_spread_m`` is how wide its crown grows on the
    stock usual for a garden tree, ``spread_on_m`` the same by a word of the stock's name. [m] ``damp_hater`` says that
    rots and spots follow wet leaves, ``thirsty`` that it suffers on dry thin soil.
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
    mature_spread_m: float
    self_fertile: str
    damp_hater: bool
    thirsty: bool
    sources: tuple[Mapping[str, str], ...]
    cultivars: Mapping[str, Mapping[str, Any]]
    spread_on_m: Mapping[str, float] = field(default_factory=dict)

    def trait(self, cultivar: str, name: str) -> Any:
        """Return a trait, the cultivar's own where it is known apart."""
        return self.cultivars.get(cultivar.casefold(), {}).get(name, getattr(self, name))

    def spread_m(self, rootstock: str = "") -> float:
        """Return how wide the crown grows on a stock, the usual width where its name says nothing. [m]"""
        said = rootstock.casefold().replace("-", " ").replace("semi dwarf", "")
        return next((width for word, width in self.spread_on_m.items() if word in said), self.mature_spread_m)


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
            mature_spread_m=float(raw["mature_spread_m"]),
            self_fertile=raw["self_fertile"],
            damp_hater=raw["damp_hater"],
            thirsty=raw["thirsty"],
            sources=tuple(raw["sources"]),
            cultivars={name.casefold(): spec for name, spec in raw.get("cultivars", {}).items()},
            spread_on_m={word.casefold(): float(width) for word, width in raw.get("spread_on_m", {}).items()},
        )
    except KeyError as missing:
        raise BadRules(where, f"no key {missing}", "Add it; see any other species") from None
    if found.id != path.stem:
        raise BadRules(where, f"its id is {found.id!r}", "Give file and id the same name")
    if found.wakes not in WAKES or found.bloom not in BLOOMS:
        raise BadRules(where, f"wakes {found.wakes!r}, bloom {found.bloom!r}", f"Use {WAKES} and {BLOOMS}")
    if found.self_fertile not in SELF_FERTILE or not 0 < found.mature_spread_m < 30:
        wrong = f"self_fertile {found.self_fertile!r}, mature_spread_m {found.mature_spread_m:g}"
        raise BadRules(where, wrong, f"Use one of {SELF_FERTILE}, and metres above 0 and below 30")
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
