"""An answer as data: conclusions, the tree of reasons down to recorded rows, and the rows themselves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from advisor.answers import Because, Conclusion, History
from advisor.facts import Concluded, Derived, Fact, Recorded, Value
from advisor.language.bounds import MOST_FACTS, MOST_KEPT, MOST_WHOLE
from advisor.language.record_rows import Run, runs
from advisor.language.render import Speech

EVERY = 1_000_000_000


def conclusion_data(one: Conclusion, places: Mapping[int, int], speech: Speech) -> dict[str, Any]:
    """Return a conclusion as data; ``places`` says where each of its reasons that is sent stands, by its identity."""
    made = {
        "kind": one.kind,
        "about": dict(one.about),
        "claim": one.claim,
        "tell": speech.tell(one.because[0].told),
        "rule": one.because[0].rule,
        "strength": one.strength,
        "basis": one.basis,
        "rank": one.rank,
        "because": [places[id(entry)] for entry in one.because if id(entry) in places],
    }
    if one.grade:
        made["size" if one.kind == "point" else "grade"] = one.grade
    if one.side:
        made["side"] = one.side
    if one.kind == "task":
        made |= {"within_days": one.within_days, "loss": one.loss, "minutes": one.minutes}
    return made


def because_data(entry: Because, speech: Speech, history: History | None = None) -> dict[str, Any]:
    """Return one reason as data, with what came of the rule's earlier advice in this garden where there was any."""
    told = history and {"given": history.given, "followed": history.followed, "held": history.held,
                        "failed": history.failed}  # fmt: skip
    room = Room()
    return {
        "rule": entry.rule,
        "says": entry.says,
        "how_it_works": entry.how_it_works,
        "strength": entry.strength,
        "sources": list(entry.sources),
        "tell": speech.tell(entry.told),
        "from": [fact_data(fact, speech, room) for fact in entry.facts],
        "not_known": list(entry.unknown),
        **({"owner": entry.owner} if entry.owner else {}),
        **({"history": told} if told else {}),
    }


@dataclass
class Room:
    """How many facts below a reason may still be sent."""

    left: int = MOST_FACTS


def fact_data(fact: Fact, speech: Speech, room: Room | None = None) -> dict[str, Any]:
    """Return a fact as data, with all that it rests on, down to recorded rows.

    Where it rests on more than there is room for, ``more`` says how many facts are left out there.
    """
    room = room or Room()
    made: dict[str, Any] = {"fact": {"kind": fact.kind, **{name: plain(value) for name, value in fact.values.items()}}}
    match fact.origin:
        case Recorded(kind, row_ids):
            made |= {"origin": "recorded", "record": f"{kind}/{spans(row_ids)}"}
        case Derived(function, facts):
            made |= {"origin": "derived", "by": function, **_below(facts, speech, room)}
            reckoned = speech.kinds[fact.kind]
            if reckoned.method:
                made |= {"method": speech.measured(reckoned.method), "trust": speech.measured(reckoned.trust)}
        case Concluded(rule, facts):
            made |= {"origin": "concluded", "rule": rule, **_below(facts, speech, room)}
    return made


def _below(facts: Sequence[Fact], speech: Speech, room: Room) -> dict[str, Any]:
    made: list[dict[str, Any]] = []
    for fact in facts if len(facts) <= MOST_WHOLE else facts[:MOST_KEPT]:
        if room.left <= 0:
            break
        room.left -= 1
        made.append(fact_data(fact, speech, room))
    more = len(facts) - len(made)
    return {"from": made, **({"more": more} if more else {})}


def plain(value: Value) -> str | bool | int | float:
    """Return a value as JSON has it: dates and times as ISO 8601."""
    return value if isinstance(value, str | bool | int | float) else value.isoformat()


def spans(ids: Iterable[int]) -> str:
    """Return row numbers as spans.

    >>> spans([3, 4, 5, 9])
    '3-5,9'
    """
    return ",".join(str(first) if first == last else f"{first}-{last}" for first, last in runs(ids))


def rows_behind(facts: Iterable[Fact], most_each: int = EVERY) -> dict[str, list[Run]]:
    """Return by kind every recorded row that facts rest on, in runs.

    Below each of them at most so many facts are looked at, those nearest to it in the order told.
    """
    found: dict[str, set[int]] = {}
    seen: set[int] = set()
    for fact in facts:
        _collect(fact, found, seen, Room(most_each))
    return {kind: runs(found[kind]) for kind in sorted(found)}


def _collect(fact: Fact, found: dict[str, set[int]], seen: set[int], room: Room) -> None:
    if id(fact) in seen or room.left < 0:
        return
    seen.add(id(fact))
    room.left -= 1
    if isinstance(fact.origin, Recorded):
        found.setdefault(fact.origin.kind, set()).update(fact.origin.row_ids)
    else:
        for below in fact.origin.facts:
            _collect(below, found, seen, room)
