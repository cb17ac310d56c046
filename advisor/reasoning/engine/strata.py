"""Strata: the order in which rules may run so that "unless" is only asked of facts that are complete."""

from __future__ import annotations

from collections.abc import Iterable

from advisor.errors import BadRules
from advisor.reasoning.rulebase import Rule


def strata(rules: Iterable[Rule]) -> list[list[Rule]]:
    """Return the rules in layers: a rule stands above every rule whose conclusions it denies in an ``unless``.

    Raises BadRules where rules deny their own consequences, since no order is sound then.
    """
    listed = list(rules)
    level: dict[str, int] = {rule.conclude: 0 for rule in listed}
    stands: dict[str, int] = {}
    for _ in range(len(level) + 1):
        changed = False
        for rule in listed:
            needs = [level.get(block.kind, 0) for block in rule.when]
            needs += [level[block.kind] + 1 for block in rule.unless if block.kind in level]
            stands[rule.id] = max(needs, default=0)
            if stands[rule.id] > level[rule.conclude]:
                level[rule.conclude] = stands[rule.id]
                changed = True
        if not changed:
            break
    else:
        round_about = sorted({rule.id for rule in listed if any(block.kind in level for block in rule.unless)})
        raise BadRules(
            "ordering the rules",
            f"a conclusion is denied by rules that it feeds; see {', '.join(round_about)}",
            "Let the unless ask for a kind that does not depend on this rule's conclusion",
        )
    layers: list[list[Rule]] = [[] for _ in range(max(stands.values(), default=-1) + 1)]
    for rule in listed:
        layers[stands[rule.id]].append(rule)
    return layers
