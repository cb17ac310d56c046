"""Rules that advise opposite things for one plant or spot: which is taken, which is left, and why.

``rules/opposites.toml`` names the pairs that cannot both be followed. Of a cause that one record supports and another
rules out, the one on better ground is taken; that is settled where conclusions are merged (``explain``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from advisor.answers import Conclusion, Dispute
from advisor.errors import BadRules
from advisor.records.kinds import read_toml

FILE = "opposites.toml"


@dataclass(frozen=True, slots=True)
class Opposite:
    """Two claims that cannot both be followed: ``take`` stands, ``leave`` is dropped."""

    take: str
    leave: str
    why: str


def load_opposites(rules: Path) -> tuple[Opposite, ...]:
    """Read the pairs. Raise BadRules where one is not whole or two of them contradict each other."""
    path = rules / FILE
    found: list[Opposite] = []
    for raw in read_toml(path)["opposite"] if path.exists() else ():
        try:
            one = Opposite(raw["take"], raw["leave"], raw["why"])
        except KeyError as missing:
            raise BadRules(f"reading {FILE}", f"no key {missing}", "Give take, leave and why") from None
        if any((other.take, other.leave) in ((one.leave, one.take), (one.take, one.leave)) for other in found):
            raise BadRules(f"reading {FILE}", f"{one.take} and {one.leave} twice", "Keep one of the two")
        found.append(one)
    return tuple(found)


def settled(
    conclusions: Sequence[Conclusion], opposites: Sequence[Opposite]
) -> tuple[list[Conclusion], list[Dispute]]:  # fmt: skip
    """Return the conclusions without those that a taken one stands against, and what was left for what."""
    by_claim: dict[str, list[Conclusion]] = {}
    for one in conclusions:
        by_claim.setdefault(one.claim, []).append(one)
    left: dict[int, Dispute] = {}
    for pair in opposites:
        for taken in by_claim.get(pair.take, ()):
            for other in by_claim.get(pair.leave, ()):
                if _of_one(taken, other) and id(other) not in left and id(taken) not in left:
                    left[id(other)] = Dispute(taken, other, pair.why)
    return [one for one in conclusions if id(one) not in left], list(left.values())


def _of_one(one: Conclusion, other: Conclusion) -> bool:
    """Return whether two conclusions are about one plant, or about one spot where neither is about a plant."""
    name = "plant" if "plant" in one.about or "plant" in other.about else "spot"
    return bool(one.about.get(name)) and one.about.get(name) == other.about.get(name)
