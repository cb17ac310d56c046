"""What random programs are made of: values that engines are known to mix up, and names that are odd but legal.

A kind is named by its file, a field and a block by a key that TOML takes in quotes; the lint asks nothing more of them.
What a template or a join names must be a word without a point.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from random import Random
from typing import Any

USUAL: list[Any] = ["x", "y", "z", "porch fig", 5, 4.9, 2, 1, 0, True, False, date(2026, 4, 1)]
ALIKE: list[list[Any]] = [
    [5, 5.0, "5", "5.0", "05"], [1, 1.0, True, "1", "true", "True"], [0, -0.0, 0.0, False, "0", "", "false", "nil"],
    [date(2026, 4, 1), "2026-04-01", datetime(2026, 4, 1, tzinfo=UTC), "2026-04-01T00:00:00+00:00"],
    [1e-07, 0.0000001, "1e-07", 1.0000001e-07], [1e22, 10**22, "1e+22", 1e22 + 4e6], [0.1 + 0.2, 0.3],
    [2**53, 2**53 + 1, float(2**53)], [2**63, 2**64, -(2**63), 2**70], [10**400, float("inf"), -(10**400)],
    [float("inf"), -float("inf"), 1.7976931348623157e308, float("nan"), "inf", "nan"], [5e-324, -5e-324, 0],
    ["a", "A", "ä", "a\u0308", "ａ"], ["x", "x ", " x", "x\n", "x\x00y", "x\ty", "x\r\ny"], ["FALSE", "TRUE", "nil"],
    ['"', '\\"', "\\", "\\\\", "'", '"x"', "\\n", "\n"], ["(x)", "(", ")", ")(", "((x) y)", ";x", "x;y", "; (x)"],
    ["?x", "$?x", "?", "&x", "x&y", "~x", "|", "=5", ":(> 5 4)", "<5>", "<-", "=>", "[x]", "{x}", "{w0.a}"],
    ["Grüße", "Ω", "\U0001f4a7", "\u202e", "null", "absent", "t0", "c0", "in", "$ne", "%s", "*", "-", "x" * 5000],
]  # fmt: skip
"""Values that stand together are easily taken for one another."""
NUMBERS: list[Any] = [-2.5, 0, 1, 4.9, 5, 5.1, 1e-07, 1e18, 1e22, -1e300, 2**53, 2**53 + 1, 2**70, 5e-324]
"""Thresholds; the lint refuses one that is not finite."""
PLAIN_FIELDS = ["a", "b", "n", "spot", "plant", "depth_cm"]
ODD_FIELDS = [
    "", "t", "sid", "id", "_", "p0", "a=", "a~", "a#", "a?0", "a.b", "a b", "ü", '"', "\\", "<5>", "$ne", "$and", "A",
    "?a", "(a)", "a;b", "a&b", "line\nbreak", "not", "test", "name", "is-a", "5", "long" * 60, "grade", "size",
]  # fmt: skip
PLAIN_KINDS = [
    "reading",
    "stage",
    "cover",
    "cause",
    "cold",
    "late",
    "warning",
    "night",
    "look",
    "task",
    "thing",
    "told",
]
ODD_KINDS = [
    "$go0", "$go1", "$start", "<5>", "<-0.0>", "t", "a.b", "a b", "ü", '"', "\\", "(k)", "k;", "?k", "initial-fact",
    "rule", "Reading", "READING", "not", "k\nl", "MAIN::k", "k" * 180, "5", "-", "&", "{k}",
]  # fmt: skip
ODD_BLOCKS = ["p0", "p1", "go", "u0", "f", "not", "ü", "?w", "w 1", "w-1", "kind", "(w)", "5", "w;"]
IDS = ["r", "a-rule-", "Z", "ü", "10", "9", "rule ", "(r)", "b;", '"r"']


def some_names(chance: Random, plain: list[str], odd: list[str], count: int, odd_share: float) -> list[str]:
    """Return so many different names, each of them odd by a chance of ``odd_share``."""
    names: dict[str, None] = {}
    while len(names) < count:
        names[chance.choice(odd if chance.random() < odd_share else plain)] = None
    return list(names)


def like(chance: Random, value: Any) -> Any:
    """Return a value that is easily taken for this one, or any odd one where none is."""
    groups = [alike for alike in ALIKE if any(repr(value) == repr(one) for one in alike)]
    return chance.choice(chance.choice(groups or ALIKE))


def odd_value(chance: Random) -> Any:
    return chance.choice(chance.choice(ALIKE))


def is_threshold(value: Any) -> bool:
    """Return whether a rule may compare with this value: a number that is finite."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < float("inf")
