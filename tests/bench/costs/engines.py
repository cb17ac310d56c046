"""The engines alone, of both makers and the plain one, for the same rules and facts; and a proof followed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from advisor.fact_base import FactBase, Proof
from advisor.language.understand import Understood, understand
from advisor.reasoning.engine import Following, make_engine, makers_here
from costs.gardens import QUESTIONS, Asked, Gardens, Size, day_of
from costs.timing import cpu_of, repeated, table

MOST_FOR_THE_PLAIN = 60
"""Plants up to which the plain evaluator is run, which sets every fact beside every other."""
MOST_TIMES = 1.5
"""How many times the other fast maker's time the preferred maker may take."""


@dataclass
class Run:
    """Milliseconds of the processor that each maker took over the same facts, and after one plant's changed."""

    question: str
    size: Size
    rules: int
    facts: int
    firings: int
    by_maker: dict[str, float]
    changed: int
    followed: float
    from_nothing: float


def engines(gardens: Gardens, size: Size, most: int, budget_s: float) -> list[Run]:
    """Return what every question's rules cost each maker in a garden."""
    with gardens.copy(size) as asked:
        return [_run(asked, question, text, most, budget_s) for question, text in QUESTIONS.items()]


def _run(asked: Asked, question: str, text: str, most: int, budget_s: float) -> Run:
    adviser, day = asked.adviser, day_of(question)
    base = adviser.engine_of(question)[1].base
    with adviser.open(asked.path) as garden:
        meant = understand(text, adviser.words(garden, day))
    facts = _facts(asked, meant, question)
    makers = [one for one in makers_here() if one != "plain" or asked.size.plants <= MOST_FOR_THE_PLAIN]
    made = {maker: make_engine(base, maker) for maker in makers}
    proofs: dict[str, Proof] = {}
    by_maker = {}
    for maker, engine in made.items():
        proofs[maker] = engine.run(facts)
        by_maker[maker] = cpu_of(repeated(lambda engine=engine: engine.run(facts), most, budget_s))
    first = makers[0]
    asked.tell(day)
    after = _facts(asked, meant, question)
    way = Following(made[first])
    changed = len({id(fact) for fact in facts} ^ {id(fact) for fact in after})
    followed = cpu_of(repeated(lambda: way.run(after, proofs[first]), most, budget_s))
    from_nothing = cpu_of(repeated(lambda: way.run(after), most, budget_s))
    firings = len(proofs[first].firings)
    return Run(question, asked.size, len(base.rules), len(facts), firings, by_maker, changed, followed, from_nothing)


def _facts(asked: Asked, meant: Understood, question: str) -> FactBase:
    adviser = asked.adviser
    with adviser.open(asked.path) as garden:
        scene = adviser._asked(garden, meant, day_of(question))
        return adviser.facts(scene, meant)


def tell_engines(found: Sequence[Run]) -> None:
    """Print the makers side by side, and whether the mark between the two fast ones holds."""
    makers = list(found[0].by_maker)
    print(f"\n{found[0].size}: milliseconds of the processor that the rules of each question take")
    both = {"durable", "clips"} <= set(makers)
    rows = []
    for one in found:
        row: list[object] = [
            one.question,
            one.rules,
            one.facts,
            one.firings,
            *(one.by_maker[maker] for maker in makers),
        ]
        if both:
            ratio = one.by_maker["durable"] / one.by_maker["clips"]
            row += [ratio, "holds" if ratio <= MOST_TIMES else "does not hold"]
        rows.append([*row, one.changed, one.followed, one.from_nothing])
    ratio_names = ["durable/clips", f"mark {MOST_TIMES}"] if both else []
    table(("question", "rules", "facts", "firings", *makers, *ratio_names, "changed", "followed", "run anew"), rows)
    if both:
        whole = sum(one.by_maker["durable"] for one in found) / sum(one.by_maker["clips"] for one in found)
        held = sum(one.by_maker["durable"] <= MOST_TIMES * one.by_maker["clips"] for one in found)
        print(f"  durable/clips over all: {whole:.2f}; the mark holds for {held} of {len(found)} questions")


def tell_making(gardens: Gardens, most: int, budget_s: float) -> None:
    """Print what it costs to make the engines of all questions."""
    bases = [gardens.adviser.engine_of(question)[1].base for question in QUESTIONS]
    rows = [(maker, cpu_of(repeated(lambda maker=maker: [make_engine(base, maker) for base in bases], most, budget_s)))
            for maker in makers_here()]  # fmt: skip
    print(f"\nmilliseconds of the processor to make the engines of all {len(bases)} questions")
    table(("maker", "ms"), rows)
