"""What is told of a spot that wants a tree, and of trees that stand in the wrong spot."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.answers import Answer, Conclusion, Verdict
from advisor.facts import Fact
from advisor.language.render import Speech, counted, listed, sentence_case
from advisor.language.sentences import Draft, footing, lower, tell, with_article

FEWEST_KINDS, MOST_KINDS = 3, 5
MOST_POINTS = 2
"""Points to each side that are told of a kind."""
MOST_TREES = 3
MOST_FAIR = 6
"""Trees that stand right and are named; of more the count is told."""
FROST_POINTS = ("its-springs-on-record", "frost-nearly-every-spring", "near-the-edge-of-frost")
RIPE_POINTS = ("season-too-short", "ripens-before-the-freeze")


# ---- what to plant


def what_to_plant(answer: Answer, speech: Speech) -> Draft:
    """Tell the best kinds for a spot, each with what speaks for and against it, and those ruled out with why."""
    open_kinds = [one for one in answer.verdicts if one.place]
    barred = [one for one in answer.verdicts if not one.place]
    if not answer.verdicts:
        return Draft(answer.not_known)
    spot = speech.name(answer.subject)
    if not open_kinds:
        first, *rest = _ruled_out(barred, speech, len(barred))
        return Draft(f"At {spot} every kind I know is ruled out. {first}", rest)
    good = [one for one in open_kinds if not one.strong and one.score > 0]
    best = good[:MOST_KINDS]
    told = best or open_kinds[:FEWEST_KINDS]
    names = [_called(one, speech) for one in told]
    if not best:
        head = f"At {spot} no kind I know would be at home; the least bad: {listed(names)}."
    elif len(told) == 1:
        head = f"At {spot} I would plant {with_article(names[0])}."
    else:
        same = sum(one.score == told[0].score for one in told)
        first = listed([with_article(name) for name in names[:same]], "or")
        then = f", then {listed([with_article(name) for name in names[same:]], 'or')}" if names[same:] else ""
        head = f"At {spot} I would plant {first}{', which weigh the same' if same > 1 else ' first'}{then}."
    shared = _shared(open_kinds, speech)
    body = [f"Whatever grows there: {' '.join(shared.values())}"] if shared else []
    alike: dict[str, list[str]] = {}
    for one in told:
        alike.setdefault(_few_words(one, set(shared)), []).append(_called(one, speech))
    body += [f"{sentence_case(listed(names))}: {words}." for words, names in alike.items()]
    if level := [_called(one, speech) for one in good[MOST_KINDS:] if one.score == told[-1].score]:
        body.append(f"No worse than the last of these: {listed(level)}.")
    body += _by_its_years(told, speech)
    points = [point for point in told[0].points if point.side == "for"]
    if points:
        body.append(f"How it works: {points[0].because[0].how_it_works} ({footing(points[0])})")
    body += _partners(answer, told, speech)
    poor: dict[str, list[str]] = {}
    for one in open_kinds:
        against = [point for point in one.points if point.side == "against"]
        if one not in told and against and (one.strong or one.score < 0):
            poor.setdefault(_in_words(against[0]), []).append(_called(one, speech))
    if poor:
        body.append(f"Rather not: {'; '.join(f'{listed(names)} ({why})' for why, names in poor.items())}.")
    return Draft(head, body + _ruled_out(barred, speech))


def _by_its_years(told: Sequence[Verdict], speech: Speech) -> list[str]:
    """Say which kinds the garden's own years were put to, where they were not put to all that are told."""
    by_years = [one for one in told if any(_replay(point) for point in one.points)]
    if not by_years or len(by_years) == len(told):
        return []
    names = listed([_called(one, speech) for one in by_years])
    return [f"Judged by your own years of weather: {names}. The others only by how the spot lies."]


def _partners(answer: Answer, told: Sequence[Verdict], speech: Speech) -> list[str]:
    """Say what the kinds told want of others of their kind, in one line for each that is wanted."""
    order = [one.species for one in told]
    wanted: dict[str, list[Conclusion]] = {}
    for one in answer.conclusions:
        if one.kind == "finding" and one.about.get("species") in order:
            wanted.setdefault(one.claim, []).append(one)
    lines = []
    for first, *others in wanted.values():
        names = [speech.called.get(one.about["species"], one.about["species"]) for one in others]
        lines.append(tell(first, speech) + (f" The same goes for {listed(names)}." if names else ""))
    return lines


def _shared(verdicts: Sequence[Verdict], speech: Speech) -> dict[str, str]:
    """Return what is said in the same words of every kind there, by claim: it tells of the spot and sets none apart."""
    if len(verdicts) < 2:
        return {}
    said = [{one.claim: tell(one, speech) for one in verdict.points} for verdict in verdicts]
    return {claim: text for claim, text in said[0].items() if all(other.get(claim) == text for other in said[1:])}


def _few_words(verdict: Verdict, without: set[str]) -> str:
    sides = []
    for side in ("for", "against"):
        points = [one for one in verdict.points if one.side == side and one.claim not in without][:MOST_POINTS]
        if points:
            sides.append(f"{side}: {listed([_in_words(one) for one in points])}")
    return "; ".join(sides) or "nothing more is known for or against"


def _in_words(one: Conclusion) -> str:
    """Return a point in a few words, with its count of years where it has one."""
    replay = _replay(one)
    if replay and one.claim in FROST_POINTS:
        if not replay.number("frost_years"):
            return f"no killing frost in {int(replay.number('years') or 0)} springs"
        return f"a killing frost in {_count(replay, 'frost_years', 'years')} springs"
    if replay and one.claim in RIPE_POINTS:
        return f"a ripe crop in {_count(replay, 'ripe_years', 'ripe_of')} autumns"
    return one.claim.replace("-", " ")


def _count(fact: Fact, what: str, of: str) -> str:
    return f"{int(fact.number(what) or 0)} of {int(fact.number(of) or 0)}"


def _replay(one: Conclusion) -> Fact | None:
    return next((fact for entry in one.because for fact in entry.facts if fact.kind == "spot_replay"), None)


def _ruled_out(barred: Sequence[Verdict], speech: Speech, count: int = 0) -> list[str]:
    """Return one line for each reason that rules kinds out; names are needless where one rules out all of ``count``."""
    why: dict[str, list[Verdict]] = {}
    for one in barred:
        why.setdefault(one.strong[0].claim, []).append(one)
    lines = []
    for kinds in why.values():
        alone = len(why) == 1 and len(kinds) == count
        names = [_called(one, speech) for one in kinds]
        reasons = {tell(one.strong[0], speech) for one in kinds}
        reason = tell(kinds[0].strong[0], speech)
        if len(reasons) > 1 and kinds[0].strong[0].claim in FROST_POINTS:
            names = [f"{name} ({_in_words(one.strong[0])})" for name, one in zip(names, kinds, strict=True)]
            reason = ""
        elif len(reasons) > 1:
            reason = f"{reason.rstrip('.')}; the others likewise."
        lines.append(reason if alone else f"Ruled out: {listed(names)}{': ' if reason else '.'}{reason}")
    return lines


def _called(verdict: Verdict, speech: Speech) -> str:
    return speech.called.get(verdict.species, verdict.species)


# ---- the wrong spot


def wrong_spot(answer: Answer, speech: Speech) -> Draft:
    """Tell which trees stand badly, what it costs to leave them, where they would be better, and what to do instead."""
    by_tree: dict[str, list[Verdict]] = {}
    for one in answer.verdicts:
        by_tree.setdefault(one.plant, []).append(one)
    if not by_tree:
        return Draft(answer.not_known)
    astray = [tree for tree in by_tree.values() if tree[0].strong]
    fair = [tree[0] for tree in by_tree.values() if not tree[0].strong]
    if not astray:
        return _all_fair(answer, fair, speech)
    names = [f"{speech.name(tree[0].plant)} at {speech.name(tree[0].spot)}" for tree in astray]
    if len(by_tree) == 1:
        head = sentence_case(f"{names[0]} stands in a poor spot for its kind.")
    else:
        stand = "stands" if len(names) == 1 else "stand"
        head = f"Of {counted(len(by_tree), 'tree')} I can weigh, {listed(names)} {stand} in a wrong spot."
    head += f" {_trouble(astray[0][0], speech)}"
    body: list[str] = []
    for number, (own, *better) in enumerate(astray[:MOST_TREES]):
        name = sentence_case(speech.name(own.plant))
        trouble = [] if number == 0 else [_trouble(own, speech)]
        parts = [*trouble, _cost(own, better, speech), _better(better, speech)]
        body.append(f"{name}: {' '.join(part for part in parts if part)}")
    if more := names[MOST_TREES:]:
        body.append(f"I can say as much of {listed([name.split(' at ')[0] for name in more])}; ask by name.")
    aside = [one for one in answer.conclusions if one.kind == "finding"]
    body += _what_instead(aside, speech)
    if len(fair) > MOST_FAIR:
        body.append(f"Nothing strong speaks against where the other {len(fair)} stand.")
    elif fair:
        body.append(f"Nothing strong against where it stands: {listed([speech.name(one.plant) for one in fair])}.")
    minded = [one.because[0].cautions[-1] for one in aside] + [astray[0][0].strong[0].because[0].cautions[0]]
    return Draft(head, body, cautions=tuple(dict.fromkeys(minded)))


def _all_fair(answer: Answer, fair: Sequence[Verdict], speech: Speech) -> Draft:
    if len(fair) == 1:
        own = fair[0]
        head = f"{sentence_case(speech.name(own.plant))} is in no wrong spot: nothing strong speaks against it there."
        return Draft(head, [sentence_case(f"{speech.name(own.spot)}: {_few_words(own, set())}.")])
    names = listed([speech.name(one.plant) for one in fair])
    return Draft(f"None that I can tell: nothing strong speaks against where {names} stand.")


def _what_instead(aside: Sequence[Conclusion], speech: Speech) -> list[str]:
    """Return what can be done for the trees, each thing once; where nobody told a tree's age, only if it is old."""
    groups: dict[tuple[str, bool], list[Conclusion]] = {}
    for one in aside:
        groups.setdefault((one.claim, bool(one.because[0].unknown)), []).append(one)
    lines = []
    for (_, unknown), (first, *others) in groups.items():
        text = tell(first, speech)
        text = f"If it is no young tree: {lower(text, speech)}" if unknown else text
        names = listed([speech.name(one.about["plant"]) for one in others])
        lines.append(f"{text} The same goes for {names}." if names else text)
    return lines


def _trouble(own: Verdict, speech: Speech) -> str:
    """Return what rules a tree's own spot out, or the strongest points against it."""
    bars = [one for one in own.strong if one.kind == "bar"]
    return " ".join(tell(one, speech) for one in (bars or own.strong)[:MOST_POINTS])


def _cost(own: Verdict, better: Sequence[Verdict], speech: Speech) -> str:
    """Return what leaving a tree costs: crops by its own years where they tell, else how the trouble works."""
    for one in own.strong:
        replay = _replay(one)
        if replay is None:
            continue
        if one.claim in FROST_POINTS:
            what, years, of, when = _lost(replay), "frost_years", "years", "springs"
        else:
            what, years, of, when = "its main crop to ripen in time", "ripe_years", "ripe_of", "autumns"
        there = next((fact for spot in better for point in spot.points if (fact := _replay(point))), None)
        beside = f"; at {speech.name(better[0].spot)} in {_count(there, years, of)}" if there else ""
        return f"Left there, expect {what} in {_count(replay, years, of)} {when} such as yours{beside}."
    return f"The cost of leaving it: {own.strong[0].because[0].how_it_works}" if own.strong else ""


def _lost(replay: Fact) -> str:
    return "its new shoots frozen" if replay.text("milestone") == "waking" else "a crop lost or cut short"


def _better(better: Sequence[Verdict], speech: Speech) -> str:
    if not better:
        return "No spot outdoors that is recorded would suit it better."
    return f"Better for its kind: {speech.name(better[0].spot)} ({_few_words(better[0], set())})."
