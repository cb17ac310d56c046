"""Write the parts of README.md and DEVELOPERS.md that are made from the rule base: ``python deploy/write_docs.py``.

The tests compare what stands there with what this would write.
"""

from __future__ import annotations

import re
import tempfile
from datetime import datetime, time
from pathlib import Path

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import DEMO_DAY, QUESTIONS, load_demo

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


PARTS = {"README.md": ("demo", demo_answer), "DEVELOPERS.md": ("kinds", kinds_table)}


def written(text: str, mark: str, part: str) -> str:
    """Return a text with the part between its marks replaced. Raises ValueError where the marks are not there."""
    pattern = rf"(<!-- {mark} -->\n).*?(<!-- /{mark} -->)"
    if not re.search(pattern, text, re.DOTALL):
        raise ValueError(f"no marks <!-- {mark} --> in the text")
    return re.sub(pattern, lambda found: f"{found[1]}{part}\n{found[2]}", text, flags=re.DOTALL)


def main() -> None:
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    for name, (mark, make) in PARTS.items():
        path = TOP / name
        path.write_text(written(path.read_text(encoding="utf-8"), mark, make(adviser)), encoding="utf-8")


if __name__ == "__main__":
    main()
