"""What random programs hold beside their usual rules: shapes that chance alone would seldom make."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from engine_programs import Raw
    from random_rules import Making


def is_word(name: str) -> bool:
    return bool(name) and name.replace("_", "a").isalnum()


def _many(made: Making) -> None:
    """Add more rules on one kind than one ruleset of the core holds: of tests, or of blocks behind one."""
    chance = made.chance
    kind, to = chance.choice(made.told), chance.choice(list(made.level))
    first, second = chance.choice(made.fields), chance.choice(made.fields)
    alike = chance.random() < 0.3
    for number in range(chance.randint(245, 280) if alike else chance.randint(65, 130)):
        raw = {"kind": kind} if alike else {"kind": kind, first: {"below": number - 30}}
        when = {"w0": raw}
        if chance.random() < 0.05:
            when["w1"] = {"kind": made.lively(made.told), second: {"same_as": "w0.a"}}
        made.keep(when, {}, {"conclude": to, "tell": "t", second: number % 5})


def _ladder(made: Making) -> None:
    """Add rules that lead from one fact to the next, a step each, at times from kind to kind."""
    chance, step = made.chance, made.chance.choice(made.fields)
    kinds = sorted(made.level, key=lambda one: made.level[one])
    here, last = made.lively(made.told), None
    for number in range(chance.randint(3, 9)):
        kinds = [kind for kind in kinds if last is None or made.level[kind] >= made.level[last]]
        to = kinds[0] if chance.random() < 0.6 else chance.choice(kinds)
        when: Raw = {"w0": {"kind": last or here} if last is None else {"kind": last, step: number}}
        made.keep(when, {}, {"conclude": to, "tell": "t", step: number + 1, "grade": "likely"})
        last = to


def _closure(made: Making) -> None:
    """Add a kind that goes on from itself over joins: whoever is reached reaches those beyond."""
    edge, to = made.lively(made.told), made.chance.choice(list(made.level))
    words = [name for name in made.fields if is_word(name)]
    if len(words) < 2:
        return
    start, end = words[:2]
    then = {"conclude": to, "tell": "t", start: f"{{w0.{start}}}"}
    made.keep({"w0": {"kind": edge}}, {}, {**then, end: f"{{w0.{end}}}"})
    on = {"w0": {"kind": to}, "w1": {"kind": edge, start: {"same_as": f"w0.{end}"}}}
    made.keep(on, {}, {**then, end: f"{{w1.{end}}}"})


def _strange(made: Making) -> None:
    """Add what the lint refuses and the engines still take: no when, joins to what is no earlier block."""
    to, name = made.chance.choice(list(made.level)), made.chance.choice(made.fields)
    unless = {"u0": made.block(made.lively(made.told), {})} if made.chance.random() < 0.5 else {}
    made.keep({}, unless, {"conclude": to, "tell": "t", name: 1})
    for other in ("w1", "w0", "u0", "nowhere"):
        joined = {"kind": made.lively(made.told), name: {"same_as": f"{other}.a"}}
        first = {"kind": made.lively(made.told)}
        blocks = {"w0": joined, "w1": first} if made.chance.random() < 0.5 else {"w0": first}
        made.keep(blocks, {} if len(blocks) > 1 else {"u0": joined}, {"conclude": to, "tell": "t", name: other})


SHAPES: dict[str, Callable[[Making], None]] = {
    "many": _many, "ladder": _ladder, "closure": _closure, "odd": _strange
}  # fmt: skip
SHARES = ("plain",) * 64 + ("many",) * 5 + ("ladder",) * 10 + ("closure",) * 12 + ("silent",) * 4 + ("odd",) * 5
"""How many of a hundred programs are of a shape; nothing is to fire in those that are silent."""
