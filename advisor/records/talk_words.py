"""The words by which a message is read, from ``rules/talk.toml``: each list as one pattern."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from advisor.errors import BadRules
from advisor.records.kinds import read_toml

FILE = "talk.toml"
GAP = r"(?:\W+\w+){0,6}?\W+"
"""What "..." stands for: up to six words."""


@dataclass(frozen=True)
class TalkWords:
    """Patterns by section and name, such as ``pattern("work", "pinched")``."""

    sections: Mapping[str, Mapping[str, re.Pattern[str]]]
    words: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """The single words of each section's phrases, those with any ending left out."""

    def pattern(self, section: str, name: str) -> re.Pattern[str]:
        return self.sections[section][name]

    def has(self, section: str, name: str, text: str) -> bool:
        """Return whether a text has one of the phrases of a list."""
        return bool(self.sections[section][name].search(text))

    def first(self, section: str, text: str) -> str:
        """Return the name of the list in a section whose phrase stands first in a text, the longer of two; "" for none.

        >>> words = TalkWords({"sky": {"sun": phrases(["sun"]), "shade": phrases(["shade"])}})
        >>> words.first("sky", "10 cm, in the shade")
        'shade'
        """
        hits = [
            (match.start(), -len(match[0]), name)
            for name, pattern in self.sections[section].items()
            if (match := pattern.search(text))
        ]
        return min(hits)[2] if hits else ""


def phrases(listed: Sequence[str]) -> re.Pattern[str]:
    """Return a pattern for any of some phrases: "*" is any ending, "..." some words, the longest tried first.

    >>> bool(phrases(["took ... off"]).search("Took the old chips off the bed"))
    True
    """
    made = []
    for phrase in sorted(listed, key=len, reverse=True):
        parts = [r"\s+".join(_word(word) for word in part.split()) for part in phrase.split("...")]
        made.append(GAP.join(part.strip() for part in parts))
    return re.compile(rf"(?<!\w)(?:{'|'.join(made)})(?!\w)", re.IGNORECASE)


def _word(word: str) -> str:
    return re.escape(word).replace(r"\*", r"\w*").replace("'", "['’]")


def load_talk_words(rules: Path) -> TalkWords:
    """Read the word lists of a rule base. Raise BadRules where the file does not hold together."""
    raw = read_toml(rules / FILE)
    sections: dict[str, dict[str, re.Pattern[str]]] = {}
    words: dict[str, set[str]] = {}
    for section, lists in _flat(raw):
        for name, listed in lists.items():
            if not isinstance(listed, list) or not all(isinstance(word, str) and word.strip() for word in listed):
                raise BadRules(f"reading {FILE}", f"[{section}] {name} is no list of phrases", "List phrases in quotes")
            sections.setdefault(section, {})[name] = phrases(listed)
            words.setdefault(section, set()).update(word for phrase in listed for word in re.findall(r"[a-z]+", phrase))
    return TalkWords(sections, {section: frozenset(found) for section, found in words.items()})


def _flat(raw: Mapping[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """Return each table with its dotted name, tables within tables apart."""
    found = []
    for section, lists in raw.items():
        inner = {name: value for name, value in lists.items() if isinstance(value, dict)}
        found.append((section, {name: value for name, value in lists.items() if name not in inner}))
        found += [(f"{section}.{name}", value) for name, value in inner.items()]
    return found
