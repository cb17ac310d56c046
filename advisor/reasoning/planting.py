"""Where to plant, the other way round: which kind for a spot, and which tree stands in the wrong one.

Both are put to the same rules as the place for a new tree, kind by kind; a question reads its records once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from advisor.answers import Answer, Conclusion, Verdict
from advisor.reasoning.derive import Scene
from advisor.reasoning.derive.neighbours import trees_at
from advisor.reasoning.derive.scene import together

WHAT_TO_PLANT = "what-to-plant"
WRONG_SPOT = "wrong-spot"
PARTNERS = ("no-partner", "another-sort")
"""What is found of a kind for lack of others of it, wherever it stands."""

Weighed = tuple[Sequence[Verdict], Sequence[Conclusion]]
"""Every spot's verdict for the kind that a scene seeks a place for, and the findings beside them."""
Weigh = Callable[[Scene], Weighed]
Pair = tuple[Verdict, list[Verdict], list[Conclusion]]
"""A tree's own spot, the best spot for it where its own is a wrong one, and what was found of it."""


def kinds_for(scene: Scene, spot: str, weigh: Weigh) -> Answer:
    """Return how each kind of tree would fare at a spot, best first; of equals the kinds that grow here come first."""
    found: list[Verdict] = []
    findings: dict[str, list[Conclusion]] = {}
    for species in scene.lore.species if spot else ():
        key = ("weighed for a spot", (spot, species, scene.sort))
        told, findings[species] = scene.remember(key, partial(_kind_at, scene, spot, species, weigh))
        found += told
    grown = {plant.text("species") for plant in scene.plants.values()}
    found.sort(key=lambda one: (not one.place, -one.score, one.species not in grown, one.species))
    placed: list[Verdict] = []
    for place, one in enumerate(found, start=1):
        level = placed and placed[-1].place and placed[-1].score == one.score
        placed.append(replace(one, place=0 if not one.place else placed[-1].place if level else place))
    beside = [finding for one in placed if one.place for finding in findings[one.species]]
    return _answer(scene, WHAT_TO_PLANT, spot, placed, beside, {"spots": (spot,)} if spot else {})


def _kind_at(scene: Scene, spot: str, species: str, weigh: Weigh) -> tuple[list[Verdict], list[Conclusion]]:
    """Return the verdict on a spot for a kind, if there is one, and what was found of its partners."""
    verdicts, beside = weigh(replace(scene, plant="", species=species))
    at_spot = [replace(one, species=species) for one in verdicts if one.spot == spot and one.points]
    return at_spot, [one for one in beside if one.claim in PARTNERS]


def trees_astray(scene: Scene, weigh: Weigh) -> Answer:
    """Return how each tree's own spot fares for its kind, the worst first, each with the best spot for it behind.

    Weighed are trees in the ground outdoors. A tree's own crown takes no room from it, and its flowers set no others
    of its own. A better spot is one outdoors that is open to the kind and weighs more.
    """
    about = {name: value for name, value in (("plant", scene.plant), ("species", scene.species)) if value}
    pairs: list[Pair] = []
    for spot, row in scene.spots.items():
        for tree in trees_at(scene, spot) if row.text("under_cover") in ("", "none") else ():
            name, species = tree.text("name"), tree.text("species")
            if (scene.plant or name) != name or (scene.species or species) != species:
                continue
            key = ("weighed at its spot", (name, spot, scene.sort))
            pair = scene.remember(key, partial(_tree_at, scene, name, spot, species, weigh))
            if pair is not None:
                pairs.append(pair)
    pairs.sort(key=lambda pair: (not pair[0].strong, pair[0].place > 0, pair[0].score, pair[0].plant))
    verdicts = [one for own, better, _ in pairs for one in (own, *better)]
    findings = [one for _, _, found in pairs for one in found]
    return _answer(scene, WRONG_SPOT, scene.plant or scene.species, verdicts, findings, about)


def _tree_at(scene: Scene, name: str, spot: str, species: str, weigh: Weigh) -> Pair | None:
    """Return how a tree's own spot fares for its kind; None where nothing is known of that."""
    verdicts, beside = weigh(replace(scene, plant=name, species=species))
    told = [replace(one, plant=name, species=species) for one in verdicts]
    own = next((one for one in told if one.spot == spot and one.points), None)
    if own is None:
        return None
    better = [one for one in told if one.place and (own.place == 0 or one.score > own.score)]
    better = [one for one in better if scene.spots[one.spot].text("under_cover") in ("", "none")]
    found = [one for one in beside if one.about.get("plant") == name]
    return (own, better[:1], found) if own.strong else (own, [], [])


def _answer(
    scene: Scene,
    question: str,
    subject: str,
    verdicts: Iterable[Verdict],
    findings: Iterable[Conclusion],
    about: Mapping[str, str | tuple[str, ...]],
) -> Answer:
    """Return an answer with the points of its verdicts as its conclusions, ranked as they are told.

    Every plant and spot of the garden was weighed for it: as a tree, a place, a partner, or for the room it takes.
    """
    conclusions: list[Conclusion] = []
    ranked: list[Verdict] = []
    for verdict in verdicts:
        named = {"plant": verdict.plant} if verdict.plant else {}
        first = len(conclusions) + 1
        points = [replace(one, about={**one.about, **named}, rank=n) for n, one in enumerate(verdict.points, first)]
        conclusions += points
        ranked.append(replace(verdict, points=tuple(points)))
    first = len(conclusions) + 1
    conclusions += [replace(one, rank=place) for place, one in enumerate(findings, first)]
    weighed = tuple(together([*scene.plants.values(), *scene.spots.values()]))
    return Answer(question, subject, tuple(conclusions), verdicts=tuple(ranked), about=about, weighed=weighed)
