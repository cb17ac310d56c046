"""What is called how in a garden: the names that messages may use, and how its grower is spoken to.

Both are kept until a record changes that they rest on.
"""

from __future__ import annotations

from functools import partial

from advisor.language.names import NamedPlant
from advisor.language.render import Speech
from advisor.language.understand import Words
from advisor.reasoning.derive.plants import stand_of
from advisor.reasoning.derive.scene import Scene
from advisor.records.kinds import Vocabulary
from advisor.records.questions import QuestionKinds
from advisor.records.species import Lore


def words_of(scene: Scene, questions: QuestionKinds) -> Words:
    """Return the names that messages about a garden may use."""
    return scene.remember(("words", ""), partial(_words, scene, questions))


def _words(scene: Scene, questions: QuestionKinds) -> Words:
    plants = [
        NamedPlant(name, row.text("species"), stand_of(scene, row, scene.today).spot, row.text("cultivar"))
        for name, row in scene.plants.items()
    ]
    species = tuple((one.id, one.names) for one in scene.lore.species.values())
    trials = [row.text("name") for row in scene.rows("trial")]
    return Words(questions, plants, species, _called(scene.lore), list(scene.spots), trials)


def speech_of(scene: Scene, kinds: Vocabulary) -> Speech:
    """Return how the grower of a garden is spoken to; its place must be told."""
    return scene.remember(("speech", ""), partial(_speech, scene, kinds))


def _speech(scene: Scene, kinds: Vocabulary) -> Speech:
    names = frozenset([*scene.spots, *scene.plants])
    return Speech(scene.place.text("units"), scene.zone, scene.today, kinds, names, _called(scene.lore))


def _called(lore: Lore) -> dict[str, str]:
    return {one.id: one.name for one in lore.species.values()}
