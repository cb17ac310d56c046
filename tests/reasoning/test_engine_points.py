"""What durable_rules cannot be trusted with, point by point, beside our engine on the same program.

Each point first shows what the stock library does with a program written its own way, in a process of its own. Whether
a misread of memory ends a process turns on what lies there, so those run with switches of the GNU C library that put
each allocation on pages of its own or fill it with a pattern. All was seen with durable_rules 2.0.28, the version that
``pyproject.toml`` asks for; no outside source describes it.
"""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from collections.abc import Mapping
from datetime import UTC, date, datetime
from itertools import product
from typing import Any

import pytest
from small_rules import base_of, child, fact, in_child, rule, run

from advisor.errors import BadRules, EngineFailed
from advisor.fact_base import Proof
from advisor.facts import Value
from advisor.reasoning.engine import ReferenceEngine
from advisor.reasoning.engine.conclude import MOST_FACTS

core = pytest.importorskip("durable_rules_engine", reason="the compiled core is not installed")

from advisor.reasoning.engine import durable, durable_program  # noqa: E402
from advisor.reasoning.engine.durable import DurableEngine as Engine  # noqa: E402

APART = {"MALLOC_MMAP_THRESHOLD_": "1024"}
"""Each allocation on pages of its own: a read beyond it ends the process."""
FILLED = {"MALLOC_PERTURB_": "85"}
"""New memory filled with a pattern: a pointer that nobody set leads nowhere."""
CRASHES = (-signal.SIGSEGV, -signal.SIGBUS, -signal.SIGABRT)


def stock(script: str, switches: Mapping[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """Run a script written for the stock library in a process of its own."""
    return child("import json\nfrom durable.lang import *\n" + script, switches)


def saw(script: str) -> Any:
    """Return what a stock script printed last, read as JSON."""
    done = stock(script)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def ended(*runs: subprocess.CompletedProcess[str]) -> None:
    """Hold that a process was ended by a signal; skip where the memory it misread did it no harm on this machine."""
    assert {done.returncode for done in runs} <= {0, *CRASHES}, runs
    if not any(done.returncode in CRASHES for done in runs):
        pytest.skip("not to be seen on this machine: what was misread lay in memory of the process")


def bound(proof: Proof, *fields: str) -> list[tuple[Value | None, ...]]:
    """Return the named fields of the facts of each firing, block after block."""
    return [tuple(one.get(name) for one in firing.bound.values() for name in fields) for firing in proof.firings]


# ---- 1. a cross-fact conjunction whose last test is false

STOCK_FALSE_LAST = """
for number in range(COUNT):
    with ruleset(f't{number}'):
        @when_all(c.a << m.x > 0, c.b << (m.y > 0) & (m.y > c.a.x + 5))
        def r(c): print('fired')
assert_fact('t0', {'x': 1})
try:
    assert_fact('t0', {'y': 6})
except Exception:
    pass
"""

CORE_FALSE_LAST = """
from core_alone import fired
tests = [{"$gt": {"y": 0.0}}, {"$gt": {"y": {"p0": "y"}}}, *LAST]
rules = {f"r{number}": {"all": [{"p0": {"x": 1.0}}, {"p1": {"$and": tests}}], "cap": 200} for number in range(COUNT)}
print([len(fired(rules, [{"x": 1.0, "y": y}, {"y": 6.0}])) for y in (9.0, 5.0)])
"""


def joined_on_two_fields() -> list[Any]:
    rules = base_of(rule({"a": {"kind": "a"}, "b": {"kind": "b", "k": {"same_as": "a.k"}, "x": {"same_as": "a.x"}}}))
    facts = [fact("a", k="s", x=1), fact("b", k="s", x=2), fact("b", k="t", x=1), fact("b", k="s", x=1, n=0)]
    return bound(run(rules, facts), "k", "x")


def test_1_a_false_last_join_ends_the_stock_process() -> None:
    """The stock library reads beyond its tests where the last of several across facts is false."""
    ended(*(stock(STOCK_FALSE_LAST.replace("COUNT", str(count)), APART) for count in (1, 2, 3, 4)))


def test_1_an_always_true_join_at_the_end_cures_it() -> None:
    """The core itself does the same, and no longer with a last test that always holds."""
    counts, always = (1, 2, 3, 4), "[{'$gte': {'_': {'p0': '_'}}}]"
    scripts = [CORE_FALSE_LAST.replace("COUNT", str(count)) for count in counts]
    cured = [child(script.replace("LAST", always), APART) for script in scripts]
    assert [done.stdout for done in cured] == [f"[0, {count}]\n" for count in counts]
    ended(*(child(script.replace("LAST", "[]"), APART) for script in scripts))


def test_1_our_joins_hold_or_fail_in_safety() -> None:
    """Of three facts that share one field or both with another, ours finds the one that shares both."""
    assert in_child(joined_on_two_fields, APART | FILLED) == [["s", 1, "s", 1]]


def test_1_every_block_with_a_join_ends_in_one_that_holds() -> None:
    """No join is the last test of its conjunction, in a when or an unless."""
    same = {"kind": "b", "x": {"same_as": "a.x"}}
    program = Engine(base_of(rule({"a": {"kind": "a"}, "b": same}, unless={"c": same}))).program
    _, b, _, c = json.loads(program.sets[0].text)["r0"]["all"]
    assert b["p1"]["$and"][-1] == c["u0$not"]["$and"][-1] == {"$gte": {"_": {"p0": "_"}}}


# ---- 2. none() while facts arrive

UNLESS_LATE = (
    rule({"r": {"kind": "reading", "late": True}}, then="late", plant="{r.plant}"),
    rule({"p": {"kind": "plant"}}, unless={"l": {"kind": "late", "plant": {"same_as": "p.plant"}}}, plant="{p.plant}"),
)


def test_2_stock_none_fires_too_early() -> None:
    """The stock library takes a fact for absent that stands later in the same batch."""
    script = """
fired = []
with ruleset('t'):
    @when_all(c.a << m.t == 'A', none((m.t == 'B') & (m.k == c.a.k)))
    def r(c): fired.append(c.a.k)
assert_facts('t', [{'t': 'A', 'k': 1}, {'t': 'A', 'k': 2}, {'t': 'B', 'k': 1}, {'t': 'B', 'k': 2}])
print(sorted(fired))
"""
    assert saw(script) == [1, 2]


def test_2_our_unless_waits_until_all_is_there() -> None:
    """An unless is asked once every given fact is there, in whatever order they came."""
    rules = base_of(rule({"a": {"kind": "a"}}, unless={"b": {"kind": "b", "k": {"same_as": "a.k"}}}))
    facts = [fact("a", k=1), fact("a", k=2), fact("a", k=3), fact("b", k=1), fact("b", k=2)]
    assert bound(run(rules, facts), "k") == bound(run(rules, reversed(facts)), "k") == [(3,)]


def test_2_our_unless_waits_for_conclusions() -> None:
    """An unless on a concluded kind is asked once nothing more can be concluded of it."""
    facts = [fact("plant", plant="fig"), fact("plant", plant="pear"), fact("reading", plant="fig", late=True)]
    concluded = run(base_of(*UNLESS_LATE), facts).of("found")
    assert [one.get("plant") for one in concluded] == ["pear"]


def test_2_rules_that_deny_their_own_consequences_are_refused() -> None:
    """A rule base with no sound order is not compiled."""
    late_unless_found = rule({"p": {"kind": "plant"}}, then="late", unless={"f": {"kind": "found"}})
    with pytest.raises(BadRules, match="denied by rules that it feeds"):
        Engine(base_of(*UNLESS_LATE, late_unless_found))


def test_2_one_fact_never_matches_two_blocks() -> None:
    """A rule that compares two readings means two."""
    rules = base_of(rule({"a": {"kind": "a"}, "b": {"kind": "a", "k": {"same_as": "a.k"}}}))
    assert not run(rules, [fact("a", k=1), fact("a", k=2)]).firings
    assert bound(run(rules, [fact("a", k=1, n=0), fact("a", k=1, n=9)]), "n") == [(0, 9), (9, 0)]


def test_2_a_fact_that_a_rule_rests_on_can_also_deny_it() -> None:
    """An unless is met by any fact, one that a when block matched among them; the core looks at the others only."""
    rules = base_of(rule({"a": {"kind": "a"}}, unless={"b": {"kind": "a", "k": {"at_least": 2}}}))
    assert bound(run(rules, [fact("a", k=1)]), "k") == [(1,)]
    assert bound(run(rules, [fact("a", k=2)]), "k") == []


# ---- 3. deleting a state in which nothing fired


def runs_in_which_nothing_fires() -> int:
    engine = Engine(base_of(rule({"a": {"kind": "a"}, "b": {"kind": "b"}})))
    return sum(len(engine.run([fact("a", k=number)]).firings) for number in range(50))


def test_3_deleting_a_silent_state_ends_the_stock_process() -> None:
    """The stock library frees what it never set where no rule has fired."""
    script = """
with ruleset('t'):
    @when_all(c.a << m.t == 'A', c.b << m.t == 'B')
    def r(c): pass
assert_fact('t', {'t': 'A', 'sid': 's1'})
delete_state('t', 's1')
"""
    ended(stock(script, FILLED))


def test_3_our_silent_runs_end_well() -> None:
    """A run in which no rule fires leaves nothing behind and ends nothing."""
    assert in_child(runs_in_which_nothing_fires, FILLED) == 0


# ---- 4. facts are known by a 32-bit hash of their id


def hashed(text: str) -> int:
    """Return the core's hash of an id: 32-bit FNV-1a."""
    value = 0x811C9DC5
    for byte in text.encode():
        value = (value ^ byte) * 16777619 % 2**32
    return value


def test_4_stock_ids_of_equal_hash_are_one_fact() -> None:
    """The stock library refuses a second fact whose id hashes alike, and forgets that it did if another comes last."""
    one, other = "4872dda126a9b45373e278ed83fa66b6", "eb926f4de043c626b935656be04d59f4"
    assert hashed(one) == hashed(other)  # two MD5 sums of small numbers, found by trying some 77,000
    script = """
seen = []
with ruleset('t'):
    @when_all(m.t == 'A')
    def r(c): pass
for sid, more in (('s1', []), ('s2', [{'t': 'X', 'sid': 's2'}])):
    try:
        assert_facts('t', [{'t': 'A', 'sid': sid, 'id': 'ONE'}, {'t': 'A', 'sid': sid, 'id': 'OTHER'}, *more])
    except Exception as error:
        seen.append(type(error).__name__)
print(json.dumps(seen))
""".replace("ONE", one).replace("OTHER", other)
    assert saw(script) == ["MessageObservedException", "MessageNotHandledException"]


def test_4_our_ids_are_told_apart() -> None:
    """The ids of a run at its largest, the core's own id for a session, and the sessions have hashes of their own.

    The names of sessions are used again, so that there are as many as there ever were runs at once.
    """
    ids = {hashed(str(number)) for number in range(2 * MOST_FACTS)}
    assert len(ids) == 2 * MOST_FACTS
    assert not any(hashed(f"sid-s{number}") in ids for number in range(50_000))
    assert len({hashed(f"s{number}") for number in range(50_000)}) == 50_000


def test_4_our_facts_all_count() -> None:
    """Of thousands of facts each is seen, once."""
    proof = run(base_of(rule({"a": {"kind": "a", "k": {"at_least": 0}}})), [fact("a", k=n) for n in range(3000)])
    assert sorted(bound(proof, "k")) == [(number,) for number in range(3000)]


def test_4_a_run_without_end_is_stopped() -> None:
    """A rule that goes on feeding itself ends in an error that says so, in both engines."""
    rules = base_of(rule({"a": {"kind": "a"}}, then="a", k="{a.k}+"))
    with pytest.MonkeyPatch.context() as patch:
        for module in ("passes", "reference", "conclude"):
            patch.setattr(f"advisor.reasoning.engine.{module}.MOST_FACTS", 50)
        for engine in (Engine(rules), ReferenceEngine(rules)):
            with pytest.raises(EngineFailed, match="more than 50 facts"):
                engine.run([fact("a", k="x")])


def test_4_each_beside_each_is_stopped() -> None:
    """A rule that sets each fact beside each other one ends in the same error, though it concludes few facts."""
    rules = base_of(rule({"a": {"kind": "a"}, "b": {"kind": "a"}}, then="b", of="pairs"))
    with pytest.MonkeyPatch.context() as patch:
        for module in ("passes", "reference", "conclude"):
            patch.setattr(f"advisor.reasoning.engine.{module}.MOST_FACTS", 50)
        for engine in (Engine(rules), ReferenceEngine(rules)):
            assert len(engine.run([fact("a", k=n) for n in range(7)]).firings) == 42
            with pytest.raises(EngineFailed, match="more than 50 facts, or conclusions"):
                engine.run([fact("a", k=n) for n in range(8)])


def test_4_sessions_are_few() -> None:
    """Runs one after another use one session's name."""
    engine = Engine(base_of(rule({"a": {"kind": "a"}})))
    names = []
    for _ in range(5):
        made = durable._Run(engine, engine._open())
        names.append(made.sid)
        made.proof([fact("a", k=1)])
    assert len(set(names)) == 1


# ---- 5. what equals what

EQUAL_VALUES: list[list[Value]] = [
    [5, 5.0], [1, 1.0], [0, -0.0, 0.0], [True], [False], ["5"], ["5.0"], ["true"], ["1"], [""],
    [date(2026, 4, 1)], ["2026-04-01"], [datetime(2026, 4, 1, tzinfo=UTC)], ["a,\"b\": 'c\\"], ["ü"],
]  # fmt: skip
"""Values that say the same stand together."""


def test_5_stock_equality_is_not_in_child() -> None:
    """The stock library joins 5 to "5" and True to "true", and does not join 5 to 5.0."""
    script = """
pairs = [(5, 5.0), ("5", 5), (True, "true"), (5, 5)]
joined = []
with ruleset('t'):
    @when_all(c.a << m.t == 'A', c.b << (m.t == 'B') & (m.k == c.a.k))
    def r(c): joined.append(int(c.a.sid))
for number, (one, other) in enumerate(pairs):
    assert_facts('t', [{'t': 'A', 'k': one, 'sid': str(number)}, {'t': 'B', 'k': other, 'sid': str(number)}])
print(json.dumps(joined))
"""
    assert saw(script) == [1, 2, 3]


def test_5_our_values_join_where_they_say_the_same() -> None:
    """Joins, equality with a constant, its opposite and a list all go by one meaning of equal."""
    values = [(group, value) for group, alike in enumerate(EQUAL_VALUES) for value in alike]
    for (group, one), (other_group, other) in product(values, values):
        same = group == other_group
        rules = base_of(
            rule({"a": {"kind": "a"}, "b": {"kind": "b", "k": {"same_as": "a.k"}}}, then="joined"),
            rule({"a": {"kind": "a"}}, unless={"b": {"kind": "b", "k": {"same_as": "a.k"}}}, then="apart"),
            rule({"a": {"kind": "a", "k": other}}, then="equal"),
            rule({"a": {"kind": "a", "k": {"not": other}}}, then="unequal"),
            rule({"a": {"kind": "a", "k": {"one_of": ["none of these", other]}}}, then="listed"),
        )
        proof = Engine(rules).run([fact("a", k=one), fact("b", k=other)])
        concluded = {firing.conclusion.kind for firing in proof.firings}
        assert concluded == ({"joined", "equal", "listed"} if same else {"apart", "unequal"}), (one, other)


# ---- 6. numbers as text


def test_6_stock_drops_what_follows_a_small_number() -> None:
    """The stock library loses a fact with 1e-07, 1e+22 or infinity, and all after it, without an error."""
    script = """
known = []
with ruleset('t'):
    @when_all(m.t == 'A')
    def r(c): known.append((int(c.m.sid), c.m.n))
for number, odd in enumerate((1e-07, 1e22, float('inf'))):
    assert_facts('t', [{'t': 'A', 'n': n, 'sid': str(number)} for n in (1, odd, 3)])
print(json.dumps(known))
"""
    assert saw(script) == [[0, 1], [1, 1], [2, 1]]


def test_6_our_numbers_compare_as_numbers() -> None:
    """Any number compares with any threshold as in arithmetic, and hides no fact that comes after it."""
    most = sys.float_info.max
    numbers = [-float("inf"), -most, -1e300, -1e22, -5, -1e-07, 0, 5e-324, 1e-07, 0.1 + 0.2, 0.3, 5, 5.1]
    numbers += [2**53 + 1, 1e16, 1e22, 2**70, most, float("inf")]
    comparisons = {
        "at_least": float.__ge__, "at_most": float.__le__, "above": float.__gt__, "below": float.__lt__
    }  # fmt: skip
    for threshold in (0.3, 1e-07, -1e-07, 0, 5, 2**53, 1e22, -1e300, most, -most):
        rules = base_of(*(rule({"a": {"kind": "a", "n": {name: threshold}}}, then=name) for name in comparisons))
        proof = run(rules, [fact("a", n=number) for number in numbers])
        for name, compare in comparisons.items():
            passed = {firing.bound["a"].get("n") for firing in proof.firings if firing.conclusion.kind == name}
            assert passed == {number for number in numbers if compare(float(number), float(threshold))}


def test_6_only_numbers_compare() -> None:
    """A text, a date or a yes passes no comparison with a number."""
    rules = base_of(rule({"a": {"kind": "a", "n": {"at_least": -9}}}), rule({"a": {"kind": "a", "n": {"below": 9e9}}}))
    odd = ["5", True, date(2026, 4, 1), datetime(2026, 4, 1, tzinfo=UTC), float("nan")]
    assert bound(run(rules, [*(fact("a", n=value) for value in odd), fact("a", n=5)]), "n") == [(5,), (5,)]


# ---- 7. fields that are not known


def test_7_stock_fails_on_an_absent_field() -> None:
    """The stock library stops with error 311 where a test across facts looks at a field that is absent."""
    script = """
with ruleset('t'):
    @when_all(c.a << m.t == 'A', c.b << (m.t == 'B') & (m.k > c.a.k + 1))
    def r(c): pass
said = []
for sid, kept in (('s1', {}), ('s2', {'k': 'x'})):
    assert_fact('t', {'t': 'A', 'sid': sid, **kept})
    try:
        assert_fact('t', {'t': 'B', 'sid': sid, 'k': 1})
    except Exception as error:
        said.append(str(error)[-3:])
print(json.dumps(said))
"""
    assert saw(script) == ["311", "312"]


@pytest.mark.parametrize("absent", [{}, {"k": None}])
def test_7_an_absent_field_passes_nothing(absent: dict[str, None]) -> None:
    """An absent field passes no test and joins to nothing, on either side; the facts beside it still do."""
    tests: list[Any] = [5, {"not": 5}, {"one_of": [5]}, {"at_least": 5}, {"below": 5}]
    assert not run(base_of(*(rule({"a": {"kind": "a", "k": test}}) for test in tests)), [fact("a", **absent)]).firings
    rules = base_of(rule({"a": {"kind": "a"}, "b": {"kind": "b", "k": {"same_as": "a.k"}}}))
    facts = [fact("a", **absent), fact("b", **absent), fact("a", k=5), fact("b", k=5.0), fact("b", k=6)]
    assert bound(run(rules, facts), "k") == [(5, 5.0)]


def test_7_an_absent_field_blocks_nothing() -> None:
    """An unless that joins to an absent field is not met; one that joins to a known field still is."""
    rules = base_of(rule({"a": {"kind": "a"}}, unless={"b": {"kind": "b", "k": {"same_as": "a.k"}}}))
    assert bound(run(rules, [fact("a", n=1), fact("a", k=5), fact("b", k=5), fact("b")]), "n", "k") == [(1, None)]


def test_7_every_field_that_is_joined_to_is_there() -> None:
    """A field that a when joins to is asked to exist, and one that an unless joins to is sent even where absent."""
    joined = {"kind": "b", "k": {"same_as": "a.k"}, "n": {"same_as": "a.n"}}
    program = Engine(base_of(rule({"a": {"kind": "a"}, "b": joined}, unless={"c": joined}))).program
    first, *_, last = json.loads(program.sets[0].text)["r0"]["all"]
    assert first["p0"]["$and"][1:] == [{"$ex": {"k=": 1}}, {"$ex": {"n=": 1}}]
    assert last["u0$not"]["$and"][1:-1] == [{"k=": {"p0": "k~"}}, {"n=": {"p0": "n~"}}]
    sent = json.loads(program.wire(7, "s1", fact("a", k=1), {}))
    assert (sent["k~"], sent["n~"], sent["k="], sent.get("n=")) == ("t0", "absent", "t0", None)


def test_7_a_join_to_a_block_that_is_not_there_yet_matches_nothing() -> None:
    """A join to a later block, to an unless block or to none keeps a when silent and an unless unmet."""
    facts = [fact("a", k=5), fact("b", k=5)]
    for other in ("b", "a", "u", "nowhere"):
        joined = {"kind": "a", "k": {"same_as": f"{other}.k"}}
        early = rule({"a": joined, "b": {"kind": "b"}}, unless={"u": {"kind": "c"}})
        assert not run(base_of(early), facts).firings
    for other in ("u", "v", "nowhere"):
        joined = {"kind": "b", "k": {"same_as": f"{other}.k"}}
        unmet = rule({"a": {"kind": "a"}}, unless={"u": joined, "v": {"kind": "c"}})
        assert bound(run(base_of(unmet), facts), "k") == [(5,)]


# ---- 8. alternatives and absence


def test_8_stock_alternatives_fire_twice() -> None:
    """The stock library fires once for each alternative that holds, and without end on a bare absence."""
    script = """
import os
fired = []
with ruleset('t'):
    @when_all((m.x == 1) | (m.y == 1))
    def r(c): fired.append('or')
with ruleset('u'):
    @when_all(-m.x)
    def s(c):
        fired.append('absent')
        if len(fired) > 500:
            print(json.dumps(fired[:3]), flush=True)
            os._exit(0)
assert_fact('t', {'x': 1, 'y': 1})
assert_fact('u', {'y': 1})
print('[]')
"""
    assert saw(script) == ["or", "or", "absent"]


def test_8_our_lists_fire_once() -> None:
    """A fact whose value stands in a list, even twice, fires the rule once; rules that share a list both fire."""
    listed = {"kind": "a", "k": {"one_of": [5, "x", 5.0, 5]}}
    rules = base_of(rule({"a": listed}), rule({"a": listed}), rule({"a": {"kind": "b", "k": {"one_of": [5]}}}))
    assert bound(run(rules, [fact("a", k=5), fact("a", k=6), fact("b", k=6)]), "k") == [(5,), (5,)]


def test_8_a_rule_without_when_fires_once() -> None:
    """A rule that asks for nothing fires, and one of nothing but an unless where that is not met."""
    assert len(run(base_of(rule({})), []).firings) == 1
    rules = base_of(rule({}, unless={"a": {"kind": "a"}}))
    assert len(run(rules, []).firings) == 1
    assert not run(rules, [fact("a")]).firings


# ---- 9. how much one ruleset holds


def test_9_stock_refuses_a_fact_that_passes_many_tests() -> None:
    """The stock library stops with error 303 where a fact passes more than 64 tests, and fires none of the rules."""
    script = """
fired = []
with ruleset('t'):
    for level in range(70):
        @when_all(m.x > level)
        def r(c): fired.append(1)
try:
    assert_fact('t', {'x': 1000})
except Exception as error:
    print(json.dumps([str(error)[-3:], len(fired)]))
"""
    assert saw(script) == ["303", 0]


def test_9_many_rules_behind_one_test_end_the_stock_process() -> None:
    """The stock library writes beyond its list where 256 rules stand behind one test."""
    script = """
with ruleset('t'):
    for number in range(256):
        @when_all(m.t == 'A')
        def r(c): pass
assert_fact('t', {'t': 'A'})
"""
    ended(stock(script, FILLED))


def test_9_our_rules_are_spread_over_rulesets() -> None:
    """Any number of rules may look at one fact: with tests of their own, with joins, or with the same test."""
    own = [rule({"a": {"kind": "a", "n": {"above": level}}}) for level in range(100)]
    joined = [rule({"a": {"kind": "a"}, "b": {"kind": "b", "k": {"same_as": "a.k"}}}) for _ in range(100)]
    last = {"kind": "a", "f33": {"above": 0}}  # many tests behind one of many: more at a time than there are tests
    wide = [rule({"a": {"kind": "a", f"f{number}": {"above": 0}}}) for number in range(34)]
    wide += [rule({"a": {**last, f"f{number}": {"above": 0}}}) for number in range(33)]
    alike = [rule({"a": {"kind": "a", "k": 9}}, unless={"c": {"kind": "c"}}) for _ in range(300)]
    rules = base_of(*wide, *own, *joined, *alike)
    facts = [fact("a", k=9, n=1000, **{f"f{number}": 1 for number in range(34)}), fact("b", k=9)]
    assert len(run(rules, facts).firings) == len(rules.rules)
    for ruleset in Engine(rules).program.sets:
        assert ruleset.blocks < 255 and all(len(tests) < 64 for tests in ruleset.tests.values())


def test_9_a_chain_runs_across_rulesets() -> None:
    """What a rule of one ruleset concludes is seen by the rules of the others."""
    links = [rule({"a": {"kind": "a", "k": n, "n": {"above": n}}}, then="a", k=n + 1, n="{a.n}") for n in range(100)]
    rules = base_of(*reversed(links))
    assert len(Engine(rules).program.sets) > 1
    assert [one.get("k") for one in run(rules, [fact("a", k=0, n=1000)]).of("a")] == list(range(101))


def test_9_a_rule_too_large_for_the_core_is_refused() -> None:
    """A rule with more when blocks than the core holds facts of a firing is named before it is run."""
    with pytest.raises(BadRules, match="15 when blocks"):
        Engine(base_of(rule({f"a{n}": {"kind": f"a{n}"} for n in range(15)})))
    most = rule({f"a{n}": {"kind": f"a{n}"} for n in range(14)}, unless={"b": {"kind": "b"}})
    assert len(run(base_of(most), [fact(f"a{n}") for n in range(14)]).firings) == 1


# ---- 10. what is sent


def test_10_an_empty_batch_ends_the_stock_process() -> None:
    """The stock library reads what it never set where it is handed no fact."""
    script = """
with ruleset('t'):
    @when_all(m.x > 1)
    def r(c): pass
assert_facts('t', [])
"""
    ended(stock(script))


def test_10_stock_refuses_a_fact_of_many_fields() -> None:
    """The stock library stops with error 302 at 255 fields."""
    script = """
with ruleset('t'):
    @when_all(m.x > 1)
    def r(c): pass
try:
    assert_fact('t', {**{f'f{number}': 1 for number in range(255)}, 'x': 2})
except Exception as error:
    print(str(error)[-3:])
"""
    assert saw(script) == 302


def test_10_no_facts_prove_nothing() -> None:
    """No facts, facts of kinds that no rule looks at, and no rules at all give an empty proof."""
    rules = base_of(rule({"a": {"kind": "a"}}))
    assert Engine(rules).run([]).firings == []
    assert len(Engine(rules).run([fact("elsewhere", k=1)]).facts) == 1
    assert Engine(base_of()).run([fact("a", k=1)]).firings == []


def test_10_an_empty_batch_is_never_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    """A ruleset is told of nothing where none of the facts concern it."""
    monkeypatch.setattr(durable_program, "MOST_BLOCKS", 2)
    batches: list[str] = []

    def watched(handle: int, batch: str) -> Any:
        batches.append(batch)
        return assert_facts(handle, batch)

    assert_facts = core.assert_facts
    monkeypatch.setattr(core, "assert_facts", watched)
    engine = Engine(base_of(rule({"a": {"kind": "a"}}), rule({"b": {"kind": "b"}, "c": {"kind": "c"}})))
    assert len(engine.program.sets) == 2
    assert len(engine.run([fact("a")]).firings) == 1
    assert len(batches) == 2 and all(json.loads(batch) for batch in batches)  # a start and the fact, to one of the two


def test_10_only_what_rules_look_at_is_sent() -> None:
    """Of a fact with hundreds of fields the few that rules look at are sent."""
    rules = base_of(rule({"a": {"kind": "a", "x": {"above": 1}, "k": 5}}))
    wide = fact("a", x=2, k=5, **{f"f{number}": number for number in range(300)})
    assert len(run(rules, [wide]).firings) == 1
    program = Engine(rules).program
    sent = json.loads(program.wire(7, "s1", wide, dict(program.tokens)))
    assert sent == {"id": "7", "sid": "s1", "_": 1.0, "t": "a", "k=": "c0", "x#": 2.0}


def test_10_names_are_sent_as_words() -> None:
    """A kind or field of an odd name is sent as a word, so that it is no number, no signal of ours and no path."""
    names = ["<5>", "$go0", "$start", "a.b", "", 'k"', "ü"]
    rules = base_of(*(rule({"a": {"kind": kind, name: 1}}) for kind in names for name in names))
    facts = [fact(kind, **{name: 1}) for kind in names for name in names]
    assert len(run(rules, facts).firings) == len(names) ** 2
    texts = "".join(ruleset.text for ruleset in Engine(rules).program.sets)
    assert not any(json.dumps(name)[1:-1] in texts for name in ("<5>", "$go1", "a.b", 'k"', "ü"))


def test_10_more_fields_than_the_core_takes_are_refused() -> None:
    """A rule base that asks for more of one kind than a fact can carry is refused before it is run."""
    lists = [rule({"a": {"kind": "a", "k": {"one_of": [number, "x"]}}}) for number in range(241)]
    assert len(run(base_of(*lists[:240]), [fact("a", k="x")]).firings) == 240
    with pytest.raises(BadRules, match="241 fields and lists of a"):
        Engine(base_of(*lists))


# ---- 11. the order of firings

STOCK_ORDER = """
fired = []
with ruleset('t'):
    @when_all(m.t == 'A')
    def r(c): fired.append(c.m.k)
assert_facts('t', [{'t': 'A', 'k': number, 'id': str(number)} for number in ORDER])
print(json.dumps(fired))
"""


def test_11_stock_order_turns_on_the_order_of_facts() -> None:
    """The stock library fires for the last fact first, under any hash seed."""
    for order in ([1, 2, 3], [3, 1, 2]):
        for seed in ("1", "2"):
            done = stock(STOCK_ORDER.replace("ORDER", str(order)), {"PYTHONHASHSEED": seed})
            assert json.loads(done.stdout) == order[::-1]


def test_11_our_order_is_of_our_own() -> None:
    """Firings come by rule and facts, whatever the order of the facts; the first to conclude a fact supplies it."""
    rules = base_of(*(rule({"a": {"kind": "a"}, "b": {"kind": "b"}}) for _ in range(3)))
    facts = [fact("a", k=2), fact("b", k=1), fact("b", k="x"), fact("a", k=1)]
    for given in (facts, facts[::-1], sorted(facts, key=repr)):
        proof = run(rules, given)
        order = [(firing.rule, firing.bound["a"].get("k"), firing.bound["b"].get("k")) for firing in proof.firings]
        assert order == list(product(("r0", "r1", "r2"), (1, 2), (1, "x")))
        assert proof.of("found") == [proof.firings[0].conclusion]


# ---- 12. after an error

MANY = base_of(*(rule({"a": {"kind": "a", "n": {"above": level}}}) for level in range(70)))


def failing_engine() -> Engine:
    """Return an engine whose rules all stand in one ruleset, so that a large number is too much for the core."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(durable_program, "MOST_TESTS", 1000)
        return Engine(MANY)


def errors_and_answers() -> list[int]:
    """Return how many of 100 runs failed, and the firings of those between them."""
    engine, failed, fired = failing_engine(), 0, set()
    for _ in range(100):
        try:
            engine.run([fact("a", n=1000)])
        except EngineFailed:
            failed += 1
        fired.add(len(engine.run([fact("a", n=30), fact("a", n=9)]).firings))
    return [failed, *fired]


def test_12_stock_state_is_wrong_after_an_error() -> None:
    """The stock library, having stopped at a fact with an absent field, misses what follows."""
    script = """
fired = []
with ruleset('t'):
    @when_all(c.a << m.t == 'A', c.b << (m.t == 'B') & (m.k > c.a.k + 1))
    def r(c): fired.append((c.a.k, c.b.k))
for fact in ({'t': 'A', 'k': 1}, {'t': 'A'}, {'t': 'B', 'k': 5}):
    try:
        assert_fact('t', fact)
    except Exception:
        pass
print(json.dumps(fired))
"""
    assert saw(script) == []


def test_12_trouble_is_reported_and_left_behind() -> None:
    """An error of the core is reported as ours, and the next run has rulesets that never saw it."""
    engine = failing_engine()
    before = engine._rulesets
    with pytest.raises(EngineFailed, match=r"the engine stopped: .* 303"):
        engine.run([fact("a", n=1000)])
    assert len(engine.run([fact("a", n=30)]).firings) == 30
    assert engine._rulesets is not before


def test_12_a_refused_id_is_trouble() -> None:
    """A fact that the core takes for one that it knows is an error, never passed over."""
    engine = Engine(base_of(rule({"a": {"kind": "a"}})))
    wire = engine.program.wire
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine.program, "wire", lambda number, *rest: wire(7, *rest))
        with pytest.raises(EngineFailed, match="answered with 2"):
            engine.run([fact("a", k=1), fact("a", k=2)])
    assert len(engine.run([fact("a", k=1), fact("a", k=2)]).firings) == 2


def test_12_many_errors_end_nothing() -> None:
    """A hundred errors, and the answers between them, leave the process whole."""
    assert in_child(errors_and_answers, FILLED) == [100, 39]
