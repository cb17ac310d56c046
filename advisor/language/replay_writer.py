"""A kind put through the garden's own years, in words: one spot beside another, and now beside what is supposed."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.answers import Answer, Verdict
from advisor.facts import Fact
from advisor.language.render import Speech, listed

FIGURES = ("earliest", "middle", "latest", "frost_years", "frost_low", "frost_high", "hurt_years", "harm",
           "ripe_years", "ripe_of", "years")  # fmt: skip
"""What of a replayed spot is told; where none of it is another, nothing changed."""
OF_REPLAYS = frozenset(("spot_replay", "replay_contrast", "replay_order", "replay_gap"))


def replayed(answer: Answer) -> dict[str, Fact]:
    """Return an answer's replays by spot, in the order of its verdicts, then of their names."""
    found = {fact.text("spot"): fact for fact in answer.replays if fact.kind == "spot_replay"}
    places = {verdict.spot: (verdict.place or 99, verdict.spot) for verdict in answer.verdicts}
    return {spot: found[spot] for spot in sorted(found, key=lambda name: places.get(name, (99, name)))}


def gap_of(answer: Answer) -> str:
    """Return why nothing could be replayed, "" where something was."""
    return next((fact.text("reason") for fact in answer.replays if fact.kind == "replay_gap"), "")


def beside(spot: str, first: str, answer: Answer, speech: Speech) -> list[str]:
    """Return how a spot's years stand beside those of the spot that came first."""
    found = replayed(answer)
    here, best = found.get(spot), found.get(first)
    if here is None:
        reason = gap_of(answer)
        return [f"I cannot put it through your own springs: {reason}."] if reason else []
    at = speech.name(spot)
    if best is None or spot == first:
        return [f"Put through {_springs(here)} of your own weather: at {at} {figures(here, speech)}."]
    apart = _apart(best, here)
    lines = [
        f"Put through {_springs(here)} of your own weather: at {at} {figures(here, speech)}; at {speech.name(first)} "
        f"{figures(best, speech, short=_same_harm(here, best))}."
    ]
    if apart:
        lines.append(f"So {here.text('milestone')} comes {apart} at {at} than at {speech.name(first)}."
                     if "same" not in apart else f"So {here.text('milestone')} comes {apart} at both.")  # fmt: skip
    return lines


def figures(fact: Fact, speech: Speech, *, short: bool = False) -> str:
    """Return a spot's figures: the dates, the killing nights with their range, the ripe autumns."""
    parts = [_dates(fact, speech)]
    if fact.get("frost_counted"):
        night = "such a night" if short else f"a night that {fact.text('harm')}"
        parts.append(f"{night} in {_int(fact, 'frost_years')} of {_int(fact, 'years')}{_range(fact)}")
    if fact.get("ripe_of"):
        parts.append(
            f"fruit ripe by the first autumn freeze in {_int(fact, 'ripe_years')} of {_int(fact, 'ripe_of')} autumns"
        )
    return _and(parts)


def changes(before: Answer, after: Answer, speech: Speech) -> list[str]:
    """Return what a supposition changes in the counts, spot by spot, and what it leaves as it was."""
    old, new = replayed(before), replayed(after)
    if before.about.get("species") != after.about.get("species"):
        return _kinds(old, new, before, after, speech)
    if not old:
        reason = gap_of(before)
        return [f"I cannot put it through your own springs: {reason}."] if reason else []
    if not new:
        return [f"So I could not put it through your own springs: {gap_of(after)}."]
    lines, same = [], []
    for spot, fact in new.items():
        was = old.get(spot)
        if was is None:
            lines.append(f"At {speech.name(spot)}: {figures(fact, speech)}.")
        elif all(fact.get(name) == was.get(name) for name in FIGURES):
            same.append(spot)
        else:
            lines.append(f"At {speech.name(spot)}: {_changed(was, fact, speech, short=bool(lines))}.")
    if same:
        where = f" at {listed([speech.name(spot) for spot in same])}" if lines else ""
        lines.append(f"No date and no count changes{where}: {_kept(same, new, speech)}.")
    return lines


def order_line(before: Answer, after: Answer, speech: Speech) -> str:
    """Return whether another spot would come first, and which spots would be ruled out or no longer."""
    if not (before.verdicts and after.verdicts):
        return ""
    was, now = _firsts(before.verdicts), _firsts(after.verdicts)
    if was == now:
        order = [v.spot for v in before.verdicts] == [v.spot for v in after.verdicts]
        line = f"{'The order stays' if order else 'First stays'}: {_names(now, speech)}{' first' if order else ''}."
    else:
        line = f"First would be {_names(now, speech)}; as it is, {_names(was, speech)}."
    out, still = ({v.spot for v in one.verdicts if not v.place} for one in (after, before))
    for spots, says in ((sorted(out - still), "Ruled out then"), (sorted(still - out), "No longer ruled out")):
        line += f" {says}: {listed([speech.name(spot) for spot in spots])}." if spots else ""
    return line


def rests_on_replays(facts: tuple[Fact, ...]) -> bool:
    """Return whether a conclusion tells what the counts tell already."""
    return any(fact.kind in OF_REPLAYS for fact in facts)


def judged_wall(spot: str, after: Answer, speech: Speech) -> list[str]:
    """Return how the warmth of a spot is known whose wall was supposed otherwise."""
    fact = replayed(after).get(spot)
    if fact is None:
        return []
    at = speech.name(spot)
    if fact.get("days_measured"):
        return [f"The sunny days at {at} were measured as it is, and that stands: what a wall would do to them is not "
                "in the counts."]  # fmt: skip
    low_k, high_k = (fact.number(f"warmer_{end}_k") or 0.0 for end in ("low", "high"))
    return [f"How warm {at} would then be at the buds on sunny days is judged, not measured: "
            f"{_span_k(low_k, high_k, speech)} than at your thermometer."]  # fmt: skip


def told_otherwise(before: Answer, after: Answer, speech: Speech) -> list[str]:
    """Return what rules would say of a spot, or no longer say, beyond the counts."""

    def by_claim(answer: Answer) -> dict[tuple[object, ...], str]:
        return {
            (one.kind, one.claim, one.side, one.about.get("spot")): speech.tell(one.because[0].told)
            for one in answer.conclusions
            if one.kind in ("point", "bar") and not rests_on_replays(one.because[0].facts)
        }

    old, new = by_claim(before), by_claim(after)
    return [
        *(f"No longer: {text}" for key, text in old.items() if key not in new),
        *(f"Then: {text}" for key, text in new.items() if key not in old),
    ]


# ---- parts


def _kinds(
    old: Mapping[str, Fact], new: Mapping[str, Fact], before: Answer, after: Answer, speech: Speech
) -> list[str]:
    """Return two kinds beside each other at each spot."""
    one, other = (speech.called.get(str(a.about["species"]), str(a.about["species"])) for a in (before, after))
    lines = [
        f"I cannot put {_a(name)} through your own springs: {gap_of(answer)}."
        for name, answer, found in ((one, before, old), (other, after, new))
        if not found and gap_of(answer)
    ]
    for spot, fact in new.items():
        told = f"{other}: {figures(fact, speech)}"
        was = old.get(spot)
        if was is not None:
            told += f"; {one}: {figures(was, speech, short=_same_harm(was, fact))}"
        lines.append(f"At {speech.name(spot)}, {told}.")
    return lines


def _changed(was: Fact, now: Fact, speech: Speech, *, short: bool) -> str:
    apart = _apart(was, now)
    parts = [f"{now.text('milestone')} {apart}, {_span(now, speech)} instead of {_span(was, speech)}"
             if apart and "same" not in apart else _dates(now, speech)]  # fmt: skip
    if now.get("frost_counted") and was.get("frost_counted"):
        night = "such a night" if short else f"a night that {now.text('harm')}"
        parts.append(f"{night} {_instead(was, now, 'frost_years', 'years')}")
    if now.get("ripe_of") and was.get("ripe_of"):
        parts.append(f"fruit ripe by the first autumn freeze {_instead(was, now, 'ripe_years', 'ripe_of', ' autumns')}")
    return _and(parts)


def _and(parts: list[str]) -> str:
    """Return parts that hold an "and" of their own, one after the other."""
    return ", and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _instead(was: Fact, now: Fact, count: str, of: str, unit: str = "") -> str:
    told = f"in {_int(now, count)} of {_int(now, of)}{unit}"
    return f"{told} as before" if was.get(count) == now.get(count) else f"{told} instead of {_int(was, count)}"


def _kept(spots: list[str], found: Mapping[str, Fact], speech: Speech) -> str:
    told = [
        f"{_int(found[spot], 'frost_years')} of {_int(found[spot], 'years')} at {speech.name(spot)}"
        for spot in spots
        if found[spot].get("frost_counted")
    ]
    return f"frost years {listed(told)}" if told else "the dates are those told before"


def _dates(fact: Fact, speech: Speech) -> str:
    span = _span(fact, speech)
    return f"{fact.text('milestone')} {span}"


def _span(fact: Fact, speech: Speech) -> str:
    early, late = fact.day("earliest"), fact.day("latest")
    if early is None or late is None:
        return "not reached in a tenth of the years or more"
    return f"between {speech.day(early)} and {speech.day(late)}"


def _apart(one: Fact, other: Fact) -> str:
    """Return by how much the second one's dates are later or earlier, in the middle of years and draws."""
    first, second = one.day("middle"), other.day("middle")
    if first is None or second is None:
        return ""
    days = (second - first).days
    if not days:
        return "at the same time"
    return f"{abs(days)} {'day' if abs(days) == 1 else 'days'} {'later' if days > 0 else 'earlier'}"


def _range(fact: Fact) -> str:
    low, high = _int(fact, "frost_low"), _int(fact, "frost_high")
    return f" ({low} to {high} over the ranges)" if low != high else ""


def _springs(fact: Fact) -> str:
    years = _int(fact, "years")
    return "the one spring" if years == 1 else f"{years} springs"


def _same_harm(one: Fact, other: Fact) -> bool:
    return one.text("harm") == other.text("harm")


def _firsts(verdicts: tuple[Verdict, ...]) -> list[str]:
    return sorted(verdict.spot for verdict in verdicts if verdict.place == 1)


def _span_k(low_k: float, high_k: float, speech: Speech) -> str:
    low, high = (speech.number(abs(by_k), "k") for by_k in (low_k, high_k))
    if low_k < 0 < high_k:
        return f"between {low} colder and {high} warmer"
    return f"{low} to {high} warmer" if high_k > 0 else f"{high} to {low} colder"


def _names(spots: list[str], speech: Speech) -> str:
    told = listed([speech.name(spot) for spot in spots]) or "no spot"
    return f"{told} alike" if len(spots) > 1 else told


def _a(name: str) -> str:
    return f"{'an' if name[:1] in 'aeiou' else 'a'} {name}"


def _int(fact: Fact, name: str) -> int:
    return round(fact.number(name) or 0)
