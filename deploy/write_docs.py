"""Write the parts of README.md and DEVELOPERS.md that are made from the rule base: ``python deploy/write_docs.py``.

The tests compare what stands there with what this would write.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterator
from datetime import datetime, time
from itertools import groupby
from pathlib import Path

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import DEMO_DAY, QUESTIONS, load_demo
from advisor.reasoning.lint import READ_LEVELS
from advisor.records.kinds import read_toml

TOP = Path(__file__).resolve().parents[1]
ORIGINS = ("recorded", "derived", "concluded")


def demo_answer(adviser: Adviser) -> str:
    """Return the demo's first question and answer as a quotation."""
    with tempfile.TemporaryDirectory() as folder:
        path = load_demo(adviser, Path(folder))
        with adviser.open(path) as garden:
            now = datetime.combine(DEMO_DAY, time(12), garden.zone())
        reply = adviser.message({"text": QUESTIONS[0]}, now, path)["reply"]
    return "\n>\n".join(f"> {line}" for line in (f"**{QUESTIONS[0]}**", *reply.split("\n")))


def kinds_table(adviser: Adviser) -> str:
    """Return the table of kinds."""
    lines = ["| kind | origin | what it holds |", "|---|---|---|"]
    for kind in sorted(adviser.base.kinds.values(), key=lambda kind: (ORIGINS.index(kind.origin), kind.name)):
        lines.append(f"| `{kind.name}` | {kind.origin} | {kind.says} |")
    return "\n".join(lines)


def rules_index(adviser: Adviser) -> str:
    """Return every rule by topic: its id, how well it is supported, and what it says."""
    lines: list[str] = []
    rules = sorted(adviser.base.rules.values(), key=lambda rule: (rule.topic, rule.id))
    for topic, group in groupby(rules, key=lambda rule: rule.topic):
        told = list(group)
        lines += ["", f"### {topic}: {len(told)}", ""]
        lines += [f"* `{rule.id}` ({rule.strength}): {rule.says}" for rule in told]
    return "\n".join(lines[1:])


def bibliography(adviser: Adviser) -> str:
    """Return every work cited by rules, species and data files: how far it was read at best, and how often cited."""
    cited: dict[str, list[str]] = {}
    for rule in adviser.base.rules.values():
        for source in rule.sources:
            if source.is_published:
                cited.setdefault(source.cite, []).append(source.read)
    for species in adviser.lore.species.values():
        for entry in species.sources:
            if entry.get("read") in READ_LEVELS:
                cited.setdefault(entry["cite"], []).append(entry["read"])
    for path in sorted(adviser.settings.rules.glob("*.toml")):
        for entry in cites_in(read_toml(path)):
            if entry.get("read") in READ_LEVELS:
                cited.setdefault(entry["cite"], []).append(entry["read"])
    lines = []
    for cite in sorted(cited, key=str.casefold):
        read = min(cited[cite], key=READ_LEVELS.index)
        times = f", cited {len(cited[cite])} times" if len(cited[cite]) > 1 else ""
        lines.append(f"* {cite} [{read}{times}]")
    return "\n".join(lines)


def cites_in(raw: object) -> Iterator[dict[str, str]]:
    """Yield every source in a file that was read: a table with a ``cite``, or with a ``source`` that is a text."""
    if isinstance(raw, dict):
        cite = raw.get("cite", raw.get("source"))
        if isinstance(cite, str):
            yield {"cite": cite, "read": raw.get("read", "")}
        for value in raw.values():
            yield from cites_in(value)
    elif isinstance(raw, list):
        for value in raw:
            yield from cites_in(value)


Part = Callable[[Adviser], str]
PARTS: dict[str, dict[str, Part]] = {
    "README.md": {"demo": demo_answer},
    "DEVELOPERS.md": {"kinds": kinds_table, "rules": rules_index, "bibliography": bibliography},
}


def written(text: str, mark: str, part: str) -> str:
    """Return a text with the part between its marks replaced. Raises ValueError where the marks are not there."""
    pattern = rf"(<!-- {mark} -->\n).*?(<!-- /{mark} -->)"
    if not re.search(pattern, text, re.DOTALL):
        raise ValueError(f"no marks <!-- {mark} --> in the text")
    return re.sub(pattern, lambda found: f"{found[1]}{part}\n{found[2]}", text, flags=re.DOTALL)


def main() -> None:
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    for name, parts in PARTS.items():
        text = (TOP / name).read_text(encoding="utf-8")
        for mark, make in parts.items():
            text = written(text, mark, make(adviser))
        (TOP / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
