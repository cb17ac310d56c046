"""What the reasoning hands to the wording: conclusions in order, what they rest on, what is lacking.

Templates stay templates here; only ``language.reply`` turns them into sentences, in the grower's units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from advisor.facts import Fact


@dataclass(frozen=True)
class Told:
    """A sentence with ``{block.field}`` in it, and the facts that fill it."""

    template: str
    bound: Mapping[str, Fact]


@dataclass(frozen=True)
class Because:
    """One firing behind a conclusion: the rule in words, and the facts that matched it.

    ``unknown`` holds what no record settled, as questions to the grower.
    """

    rule: str
    says: str
    how_it_works: str
    strength: str
    sources: tuple[str, ...]
    cautions: tuple[str, ...]
    told: Told
    facts: tuple[Fact, ...]
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True)
class Conclusion:
    """One conclusion with every firing that reached it, the strongest first.

    ``grade`` is a cause's grade, or a point's size; ``side`` a point's side. ``basis`` says what it rests on at best:
    measured in this garden, computed from its weather, or known of the kind. ``strength`` is that of the weakest
    rule on the way. ``within_days``, ``loss`` and ``minutes`` are a task's: when it wants doing, what a miss costs, how
    long it takes for one plant.
    """

    kind: str
    about: Mapping[str, str]
    claim: str
    strength: str
    basis: str
    because: tuple[Because, ...]
    grade: str = ""
    side: str = ""
    effect: float = 0.0
    rank: int = 0
    within_days: int = 7
    loss: str = ""
    minutes: int = 0


@dataclass(frozen=True)
class Lacking:
    """One thing to find out, and the claims it would settle. ``others`` are further subjects that want the same."""

    kind: str
    ask: Told
    settles: tuple[str, ...]
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class Verdict:
    """How a spot fares: its place in the order from 1 (equal spots share one), 0 where it is ruled out."""

    spot: str
    place: int
    score: int
    points: tuple[Conclusion, ...]


@dataclass(frozen=True)
class Answer:
    """A whole answer, ready to be put into words.

    ``about`` is what the question named: a plant, a kind of tree, spots. ``not_known`` is what to say where there is
    no conclusion.
    """

    question: str
    subject: str
    conclusions: tuple[Conclusion, ...]
    lacking: tuple[Lacking, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    state: Mapping[str, Fact] = field(default_factory=dict)
    about: Mapping[str, str | tuple[str, ...]] = field(default_factory=dict)
    not_known: str = ""
