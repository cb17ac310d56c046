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
    of_one: dict[tuple[str, str, str], list[Conclusion]] = {}
    claims = {claim for pair in opposites for claim in (pair.take, pair.leave)}
    for one in conclusions:
        if one.claim in claims:
            by_claim.setdefault(one.claim, []).append(one)
            of_one.setdefault((one.claim, *_whom(one)), []).append(one)
    left: dict[int, Dispute] = {}
    for pair in opposites:
        for taken in by_claim.get(pair.take, ()):
            for other in of_one.get((pair.leave, *_whom(taken)), ()) if any(_whom(taken)) else ():
                if id(other) not in left and id(taken) not in left:
                    left[id(other)] = Dispute(taken, other, pair.why)
    return [one for one in conclusions if id(one) not in left], list(left.values())


def _whom(one: Conclusion) -> tuple[str, str]:
    """Return the plant that a conclusion is about, else its spot: what stands against it is about the same."""
    plant = one.about.get("plant", "")
    return plant, "" if plant else one.about.get("spot", "")
