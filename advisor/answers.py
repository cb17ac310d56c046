"""What the reasoning hands to the wording: conclusions in order, what they rest on, what is lacking.

Templates stay templates here; only ``language.reply`` turns them into sentences, in the grower's units.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from advisor.facts import Fact, Firing

LOSSES = ("tree", "crop", "growth", "knowledge", "")
"""What a miss of a task may cost, the gravest first."""


@dataclass(frozen=True)
class Told:
    """A sentence with ``{block.field}`` in it, and the facts that fill it."""

    template: str
    bound: Mapping[str, Fact]


@dataclass(frozen=True)
class History:
    """A rule's own history in one garden: how often its advice was given, followed, held and failed."""

    given: int = 0
    followed: int = 0
    held: int = 0
    failed: int = 0
    last_failed: date | None = None


@dataclass(frozen=True)
class Because:
    """One firing behind a conclusion: the rule in words, and the facts that matched it.

    ``unknown`` holds what no record settled, as questions to the grower. ``owner`` is "" for a rule of ours, "yours"
    for one that the grower wrote, "yours for ours" for one that stands for a rule of ours. ``firing`` is the firing
    itself.
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
    owner: str = ""
    firing: Firing | None = field(default=None, compare=False, repr=False)


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

    @cached_property
    def key(self) -> tuple[str, tuple[tuple[str, str], ...], str, str]:
        """What is claimed of whom: conclusions of one key are one conclusion."""
        return (self.kind, tuple(sorted(self.about.items())), self.claim, self.side)


@dataclass(frozen=True)
class Dispute:
    """Two conclusions that cannot both stand: the one taken, the one left, and why."""

    taken: Conclusion
    left: Conclusion
    why: str


@dataclass(frozen=True)
class Lacking:
    """One thing to find out, and the claims it would settle. ``others`` are further subjects that want the same.

    ``spots`` and ``plants`` are those that the asking names, ``others`` among them, so that a form can be filled in
    for them; ``field`` is the one field that is wanted, "" where it is the record as a whole.
    """

    kind: str
    ask: Told
    settles: tuple[str, ...]
    others: tuple[str, ...] = ()
    spots: tuple[str, ...] = ()
    plants: tuple[str, ...] = ()
    field: str = ""


@dataclass(frozen=True)
class Verdict:
    """How a spot fares: its place in the order from 1 (equal spots share one), 0 where it is ruled out.

    ``species`` and ``plant`` are for whom, where an answer weighs for several; kinds are then set in order for a spot.
    """

    spot: str
    place: int
    score: int
    points: tuple[Conclusion, ...]
    species: str = ""
    plant: str = ""

    @property
    def strong(self) -> tuple[Conclusion, ...]:
        """What rules the spot out, and the strong points against it."""
        against = [one for one in self.points if one.side == "against" and one.grade == "strong"]
        return (*(one for one in self.points if one.kind == "bar"), *against)


@dataclass(frozen=True)
class Answer:
    """A whole answer, ready to be put into words.

    ``about`` is what the question named: a plant, a kind of tree, spots. ``not_known`` is what to say where there is
    no conclusion. ``disputes`` are conclusions that rules drew against each other. ``silent`` are rules of the
    grower's, by id and by what they say, that stand for a rule of ours which would have spoken here, and say nothing.
    ``weighed`` are facts that might have spoken against the answer or for another one, and did not.
    ``history`` is what came of earlier advice of the rules cited. ``replays`` are the facts of a kind put through the
    garden's own years at each spot, or the one fact that tells why it cannot be.
    """

    question: str
    subject: str
    conclusions: tuple[Conclusion, ...]
    lacking: tuple[Lacking, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    state: Mapping[str, Fact] = field(default_factory=dict)
    about: Mapping[str, str | tuple[str, ...]] = field(default_factory=dict)
    not_known: str = ""
    disputes: tuple[Dispute, ...] = ()
    silent: tuple[tuple[str, str], ...] = ()
    weighed: tuple[Fact, ...] = ()
    history: Mapping[str, History] = field(default_factory=dict)
    replays: tuple[Fact, ...] = ()
