"""Which facts a question is asked of: all that its rules can use, or those about what it named."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence

from advisor.fact_base import FactBase
from advisor.facts import Fact
from advisor.language.understand import Understood
from advisor.reasoning.derive import OF_PLANT, Scene, derive_each, derive_kinds
from advisor.reasoning.derive.plants import stand_of, trunk_of
from advisor.records.kinds import Kind, Vocabulary
from advisor.records.questions import QuestionKind

PER_PLANT = {"plant", "base_c"}
"""Fields of a kind that is derived for one plant at a time; a base temperature belongs to a plant's kind."""
TWO_SOILS = ("where", "than")


def facts_asked(
    scene: Scene,
    meant: Understood,
    question: QuestionKind,
    wanted: Collection[str],
    kinds: Vocabulary,
    like: FactBase | None = None,
) -> FactBase:
    """Return the facts of the wanted kinds that a question is asked of; what is alike is shared with ``like``."""
    if question.must_name == "none" or question.may_name:
        return FactBase.joined(_narrowed(scene, meant, question, wanted, kinds), like)
    return FactBase.joined(derive_kinds(scene, frozenset(wanted), kinds), like)


def _narrowed(
    scene: Scene, meant: Understood, question: QuestionKind, wanted: Iterable[str], kinds: Vocabulary
) -> Iterator[FactBase]:
    """Yield the facts for a question that need name nothing, in parts: of every plant, or of what it did name.

    What is derived about one plant at a time is derived for each; then what is about other kinds of tree or other
    spots than those named is left out. A plant that is named stands for its spot too, and a tree for its limbs.
    """
    spots = meant.spots
    parts = list(derive_kinds(scene, wanted, kinds))
    names = {name for name, row in scene.plants.items() if meant.species in ("", row.text("species"))}
    each = [name for name in wanted if kinds[name].origin == "derived" and PER_PLANT & set(kinds[name].about)]
    others = names
    if meant.plant:
        others = _limbs(scene, meant, question)
        names = {meant.plant, *others}
        spot = stand_of(scene, scene.plants[meant.plant], scene.today).spot if scene.focus else ""
        spots = spots or ((spot,) if spot else ())
    else:
        there = {kind for part in parts for kind in part.kinds()}
        each = [name for name in each if name not in there and kinds[name].derived_by not in OF_PLANT]
    parts += derive_each(scene, tuple(sorted(others)), each, kinds)
    about = {"", *names}
    yield from (
        part
        if not meant.trial and not spots and part.texts("plant") <= about
        else FactBase(
            fact
            for fact in part
            if (not meant.trial or _of_trial(fact, kinds[fact.kind], meant.trial))
            and _is_about(fact, kinds[fact.kind], about, spots)
        )
        for part in parts
    )


def _limbs(scene: Scene, meant: Understood, question: QuestionKind) -> set[str]:
    """Return the limbs grafted to the tree that a question names, where it need not be about one plant alone."""
    if question.must_name != "none" or scene.focus is None:
        return set()
    return {name for name, row in scene.plants.items() if trunk_of(scene, row) == scene.focus}


def _of_trial(fact: Fact, kind: Kind, trial: str) -> bool:
    """Return whether a fact is of this trial, or of none; what was changed outside any is left out beside it."""
    name = fact.text("name") if kind.name == "trial" else fact.text("trial")
    return name in ("", trial) and kind.name != "change_made"


def _is_about(fact: Fact, kind: Kind, plants: Collection[str], spots: Sequence[str]) -> bool:
    """Return whether a fact is about none but these plants, and about these spots: both where it sets two beside."""
    if fact.text("plant") not in plants:
        return False
    if not spots:
        return True
    there = [fact.text(field.name) for field in kind.fields.values() if field.type == "spot" or field.name in TWO_SOILS]
    there = [name for name in ([fact.text("name")] if kind.name == "spot" else there) if name]
    if not there:
        return True
    return any(name in spots for name in there) if len(spots) == 1 else all(name in spots for name in there)
