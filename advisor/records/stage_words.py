"""What growers and the trade call a stage, and its BBCH code by group of species: ``rules/stage_words.toml``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.records.hardiness import NO_SOURCE, READ_LEVELS
from advisor.records.kinds import read_toml

FILE = "stage_words.toml"
SHORTEST_MISSPELT = 6
"""Letters from which a word of a phrase is known with one slip in it (house judgement)."""
SHORTEST_JOINED = 7
"""Letters from which a phrase of two words is also known written as one (house judgement)."""
STAGE_KEYS = {"words", "phrases", "codes", "nothing", "not_after", "not_before", "not_beside", "doubt_beside"}

Phrase = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Guard:
    """Where a phrase means something else: right after or before a word, or in one sentence with one.

    In one sentence with a word of ``doubt_beside`` it may mean something else.
    """

    not_after: frozenset[str] = frozenset()
    not_before: frozenset[str] = frozenset()
    not_beside: frozenset[str] = frozenset()
    doubt_beside: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class StageWord:
    """One stage: its standing words, the phrases that mean it, its codes by group, or by species where that differs.

    Without codes the phrases say too little to tell the stage. ``nothing`` marks phrases that say that none has begun.
    """

    words: str
    phrases: tuple[Phrase, ...]
    codes: Mapping[str, int]
    nothing: bool
    guard: Guard


@dataclass(frozen=True, slots=True)
class Share:
    """How a share of the flowers is said to be open, and the code from each percentage on."""

    words: str
    phrases: tuple[Phrase, ...]
    of_what: frozenset[str]
    spelt: Mapping[Phrase, int]
    groups: tuple[str, ...]
    codes: tuple[tuple[int, int], ...]
    guard: Guard

    def code(self, percent: float) -> int | None:
        """Return the code of a percentage of flowers open, or None for one that is none."""
        reached = [code for least, code in self.codes if percent >= least]
        return reached[-1] if reached and percent <= 100 else None


@dataclass(frozen=True, slots=True)
class Manner:
    """Words that carry no stage but change what is said of one: fillers, denials, doubts, conditions.

    ``denied_fillers`` are the few that may stand in a phrase that begins with a denial.
    """

    fillers: frozenset[str]
    denied_fillers: frozenset[str]
    dividers: frozenset[str]
    joiners: frozenset[str]
    denials: frozenset[str]
    denial_links: frozenset[str]
    denials_after: tuple[Phrase, ...]
    near_before: tuple[Phrase, ...]
    doubt_before: tuple[Phrase, ...]
    conditions: tuple[Phrase, ...]
    doubt_after: tuple[Phrase, ...]
    other_words: frozenset[str]


@dataclass(frozen=True, slots=True, eq=False)
class StageWords:
    """All stage words. ``group_of`` gives each species' group; ``index`` the phrases by their first word.

    ``known`` are all words of phrases, ``long`` those that are known with a slip, by their first letter.
    """

    group_of: Mapping[str, str]
    stages: tuple[StageWord, ...]
    share: Share
    manner: Manner
    index: Mapping[str, tuple[tuple[Phrase, StageWord], ...]]
    known: frozenset[str]
    long: Mapping[str, tuple[str, ...]]

    def steps(self, species: str) -> dict[int, str]:
        """Return a kind's stages in their order, by BBCH code, each under the first of its standing words."""
        group, found = self.group_of.get(species, ""), dict[int, str]()
        for stage in self.stages:
            code = stage.codes.get(species, stage.codes.get(group))
            if code is not None:
                found.setdefault(code, stage.words)
        return dict(sorted(found.items()))


def load_stage_words(rules: Path) -> StageWords:
    """Read the stage words of a rule base. Raise BadRules where the file does not hold together."""
    raw = read_toml(rules / FILE)
    try:
        _check_sources(raw["sources"])
        group_of, scales = _groups(raw["group"])
        stages = tuple(_stage(entry, group_of, scales) for entry in raw["stage"])
        share = _share(raw["share"], scales)
        manner = _manner(raw["manner"])
    except KeyError as missing:
        raise BadRules(f"reading {FILE}", f"no key {missing}", "Add it; see any other entry") from None
    folder = rules / "species"
    lacking = sorted({path.stem for path in folder.glob("*.toml")} ^ set(group_of)) if folder.exists() else []
    if lacking:
        raise _bad(lacking[0], "in a group or a species, not both", "Give each species of the rule base one group")
    index, known, long = _index(stages, share)
    both = sorted(known & manner.other_words)
    if both:
        raise _bad("other_words", f"{both[0]!r}, which is a word of a phrase", "Drop it")
    return StageWords(group_of, stages, share, manner, index, known, long)


def _groups(entries: Iterable[Mapping[str, Any]]) -> tuple[dict[str, str], dict[str, frozenset[int]]]:
    """Return each species' group and the codes that each group's scale has."""
    group_of: dict[str, str] = {}
    scales: dict[str, frozenset[int]] = {}
    for entry in entries:
        if "only" not in entry and "without" not in entry:
            raise _bad(entry["id"], "no scale", "Give the codes it has (only) or those it lacks (without)")
        scales[entry["id"]] = frozenset(entry.get("only", range(100))) - frozenset(entry.get("without", ()))
        for species in entry["species"]:
            if group_of.setdefault(species, entry["id"]) != entry["id"]:
                raise _bad(species, f"in {group_of[species]} and in {entry['id']}", "Drop one")
    for species, group in group_of.items():
        scales.setdefault(species, scales[group])
    return group_of, scales


def _stage(entry: Mapping[str, Any], group_of: Mapping[str, str], scales: Mapping[str, frozenset[int]]) -> StageWord:
    words = entry["words"]
    unknown = sorted(set(entry) - STAGE_KEYS)
    if unknown:
        raise _bad(words, f"a key {unknown[0]!r}", f"Use {', '.join(sorted(STAGE_KEYS))}")
    codes = dict(entry["codes"])
    for who, code in codes.items():
        if who not in scales:
            raise _bad(words, f"a code for {who!r}", f"Use a group or a species: {', '.join(scales)}")
        if code not in scales[who] or isinstance(code, bool):
            raise _bad(words, f"code {code!r} for {who}, which its scale has not", "Look at the scale again")
    return StageWord(
        words, _phrases(words, entry["phrases"]), codes, bool(entry.get("nothing", False)), _guard(words, entry)
    )


def _share(entry: Mapping[str, Any], scales: Mapping[str, frozenset[int]]) -> Share:
    words = entry["words"]
    groups = tuple(entry["groups"])
    codes = tuple((int(least), code) for least, code in entry["codes"].items())
    if sorted(codes) != list(codes) or sorted(code for _, code in codes) != [code for _, code in codes]:
        raise _bad(words, "percentages or codes out of order", "List both from the lowest up")
    for group in groups:
        if group not in scales:
            raise _bad(words, f"a group {group!r}", f"Use one of {', '.join(scales)}")
        wrong = [code for _, code in codes if code not in scales[group]]
        if wrong:
            raise _bad(words, f"code {wrong[0]} for {group}, which its scale has not", "Look at the scale again")
    spelt = {_phrases(words, [text])[0]: int(percent) for text, percent in entry["spelt"].items()}
    of_what = frozenset(entry["of_what"])
    return Share(words, _phrases(words, entry["phrases"]), of_what, spelt, groups, codes, _guard(words, entry))


def _manner(entry: Mapping[str, Any]) -> Manner:
    parts: dict[str, Any] = {}
    for field in fields(Manner):
        phrases = _phrases(field.name, entry[field.name])
        if str(field.type).startswith("frozenset"):
            several = next((phrase for phrase in phrases if len(phrase) > 1), None)
            if several:
                raise _bad(field.name, f"{' '.join(several)!r}", "Single words only")
            parts[field.name] = frozenset(phrase[0] for phrase in phrases)
        else:
            parts[field.name] = phrases
    return Manner(**parts)


def _guard(words: str, entry: Mapping[str, Any]) -> Guard:
    lists = [frozenset(entry.get(key, ())) for key in ("not_after", "not_before", "not_beside", "doubt_beside")]
    for word in frozenset().union(*lists):
        if len(_phrases(words, [word])[0]) > 1:
            raise _bad(words, f"{word!r} among the words that it may not stand by", "Single words only")
    return Guard(*lists)


def _phrases(where: str, texts: Iterable[str]) -> tuple[Phrase, ...]:
    """Return phrases as words. They are written as they are compared: lower case, letters and digits, single spaces."""
    found = []
    for text in texts:
        words = tuple(text.split())
        if not words or " ".join(words) != text or text != text.casefold() or not text.replace(" ", "").isalnum():
            raise _bad(where, f"{text!r}", "Write phrases in lower case, letters, digits and single spaces only")
        found.append(words)
    if not found:
        raise _bad(where, "no phrases", "List at least one")
    return tuple(found)


def _index(
    stages: Iterable[StageWord], share: Share
) -> tuple[dict[str, tuple[tuple[Phrase, StageWord], ...]], frozenset[str], dict[str, tuple[str, ...]]]:
    """Return the phrases by first word, all words of phrases, and the long ones by first letter."""
    owner: dict[Phrase, StageWord] = {}
    for stage in stages:
        for phrase in stage.phrases:
            if phrase in owner:
                found = f"{' '.join(phrase)!r}, which is also among {owner[phrase].words}"
                raise _bad(stage.words, found, "Keep one")
            owner[phrase] = stage
    for phrase, stage in list(owner.items()):
        joined = "".join(phrase)
        if len(phrase) == 2 and len(joined) >= SHORTEST_JOINED:
            owner.setdefault((joined,), stage)
    by_first: dict[str, list[tuple[Phrase, StageWord]]] = {}
    for phrase, stage in owner.items():
        by_first.setdefault(phrase[0], []).append((phrase, stage))
    known = frozenset(word for phrase in (*owner, *share.phrases) for word in phrase)
    long: dict[str, list[str]] = {}
    for word in sorted(known):
        if len(word) >= SHORTEST_MISSPELT:
            long.setdefault(word[0], []).append(word)
    return {key: tuple(rows) for key, rows in by_first.items()}, known, {key: tuple(row) for key, row in long.items()}


def _check_sources(sources: Iterable[Mapping[str, str]]) -> None:
    for source in sources:
        if source["cite"] not in NO_SOURCE and source.get("read") not in READ_LEVELS:
            raise _bad(source["cite"], f"read {source.get('read')!r}", f"Use one of {READ_LEVELS}")


def _bad(where: str, found: str, do: str) -> BadRules:
    return BadRules(f"reading {FILE}", f"{where}: {found}", do)
