"""Sound inputs with random damage: refused by an error of ours or taken, never a crash, a hang or a half-done write.

CI tries some hundred of each sort; ``FUZZ=20000`` in the environment tries that many.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON

from advisor.config import find_rules
from advisor.conversation import Adviser
from advisor.errors import AdvisorError
from advisor.reasoning.lint import lint
from advisor.reasoning.rulebase import load_rules
from advisor.records.importing import import_path
from advisor.records.questions import load_questions
from advisor.records.store import Garden

TOP = Path(__file__).resolve().parents[2]
TRIES = int(os.environ.get("FUZZ", "300"))
LONGEST_S = 30
ODD = [
    "", "\x00", "\r", "\n", "\n\n", '"', "'", ",", ";", "\t", "=1+1", "-", "−", "°", "½", "\u202e", "\u200b", "\ufeff",
    "é", "e\u0301", "ß", "İ", "💧", "\ud7ff", "9" * 400, "1e999", "-0", "NaN", "٣", "0x10", "1_000", "%s", "{0}", "{a.b}",
    "../../x", "<b>", "' OR 1=1 --", "10000-01-01", "0000-00-00", "24:60", "-40 °F", "a" * 5000, "(" * 200, "why " * 100,
]  # fmt: skip


@contextmanager
def no_hang() -> Iterator[None]:
    """Fail what takes longer than anybody would wait."""

    def stop(*_: object) -> None:
        raise TimeoutError(f"longer than {LONGEST_S} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(LONGEST_S)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def damaged(text: str, chance: random.Random) -> str:
    """Return a text with up to four pieces cut out, doubled, moved, or put in from a list of odd ones."""
    for _ in range(chance.randint(1, 4)):
        a, b = sorted((chance.randint(0, len(text)), chance.randint(0, len(text))))
        b = min(b, a + chance.choice((1, 3, 20, 200)))
        piece = text[a:b]
        to = chance.randint(0, len(text))
        match chance.randint(0, 4):
            case 0:
                text = text[:a] + text[b:]
            case 1:
                text = text[:b] + piece * chance.randint(1, 5) + text[b:]
            case 2:
                text = text[:to] + piece + text[to:]
            case 3:
                text = text[:a] + chance.choice(ODD) + text[b:]
            case 4:
                text = text[:a] + "".join(chance.sample(piece, len(piece))) + text[b:]
    return text


def counts(garden: Garden) -> dict[str, int]:
    recorded = [name for name, kind in garden.kinds.items() if kind.origin == "recorded"]
    return {name: garden.db.table(name).count for name in [*recorded, "said", "ruling", "thing"]}


@pytest.mark.skipif(not hasattr(signal, "SIGALRM"), reason="needs a system with alarms")
def test_damaged_files(adviser: Adviser, tmp_path: Path) -> None:
    """A damaged file goes in whole, or is refused by an error of ours and changes nothing."""
    chance = random.Random(11)
    seeds = [*sorted((TOP / "fixtures" / "demo").glob("*.csv")), *sorted((TOP / "fixtures" / "demo_us").glob("*.csv")),
             *sorted((TOP / "fixtures" / "bad_records").glob("*.*"))]  # fmt: skip
    taken = refused = 0
    with adviser.open(tmp_path / "garden.db", create=True) as garden:
        for name in ("place", "spot", "plant"):
            import_path(garden, TOP / "fixtures" / "demo" / f"{name}.csv", adviser.lore, NOON)
        for number in range(TRIES):
            seed = chance.choice(seeds)
            lines = seed.read_bytes().decode("utf-8", "replace").splitlines(keepends=True)[:40]
            content = damaged("".join(lines), chance).encode("utf-8", "surrogatepass")
            if chance.random() < 0.1:
                content = bytes(chance.randbytes(200)) + content
            file = tmp_path / f"{seed.stem}{chance.choice(('.csv', '.csv', '.tsv', '.jsonl', '.txt'))}"
            file.write_bytes(content)
            before = counts(garden)
            try:
                with no_hang():
                    import_path(garden, file, adviser.lore, NOON, keep_good=chance.random() < 0.3)
                taken += 1
            except AdvisorError:
                refused += 1
                assert counts(garden) == before, (number, content)
            file.unlink()
        assert garden.db.execute("PRAGMA foreign_key_check").fetchall() == []
    assert taken and refused


def messages() -> list[str]:
    found: list[str] = []
    for path in sorted((TOP / "fixtures" / "conversations").glob("messages_*.toml")):
        for entries in tomllib.loads(path.read_text(encoding="utf-8")).values():
            if isinstance(entries, list):
                found += [one["text"] for one in entries if isinstance(one, dict) and "text" in one]
    return found


@pytest.mark.skipif(not hasattr(signal, "SIGALRM"), reason="needs a system with alarms")
def test_damaged_messages(adviser: Adviser, demo_copy: Path) -> None:
    """A damaged message gets a reply of the contract, or is refused by an error of ours."""
    chance, seeds = random.Random(12), messages()
    assert len(seeds) > 1000
    outcomes = {"answered", "recorded", "noted", "asked-back", "not-understood", "declined", "undone"}
    for number in range(TRIES):
        text = damaged(chance.choice(seeds), chance)
        if chance.random() < 0.2:
            text = f"{text} {damaged(chance.choice(seeds), chance)}"
        try:
            with no_hang():
                reply: dict[str, Any] = adviser.message({"text": text, "id": f"f{number}"}, NOON, demo_copy)
        except AdvisorError:
            continue
        assert reply["outcome"] in outcomes and reply["reply"].strip(), text
        assert len(reply["short"]) <= 306, text


def damaged_rules(folder: Path, chance: random.Random, files: Sequence[Path]) -> None:
    """Damage one rule of a copy of the rule base."""
    file = chance.choice(files)
    file.write_bytes(damaged(file.read_text(encoding="utf-8"), chance).encode("utf-8", "surrogatepass"))


@pytest.mark.skipif(not hasattr(signal, "SIGALRM"), reason="needs a system with alarms")
def test_damaged_rules(tmp_path: Path) -> None:
    """A damaged rule is refused by an error of ours or by the lint, or is a sound rule still."""
    chance = random.Random(13)
    rules = find_rules()
    for part in ("kinds", "questions", "species"):
        shutil.copytree(rules / part, tmp_path / part)
    for path in rules.glob("*.toml"):
        shutil.copy(path, tmp_path / path.name)
    topic = tmp_path / "soil"
    whole = sorted((rules / "soil").glob("*.toml"))
    questions = load_questions(rules)
    for _ in range(max(30, TRIES // 5)):
        shutil.rmtree(topic, ignore_errors=True)
        topic.mkdir()
        files = [Path(shutil.copy(path, topic / path.name)) for path in chance.sample(whole, 3)]
        damaged_rules(topic, chance, files)
        try:
            with no_hang():
                said = lint(load_rules(tmp_path), questions)
        except AdvisorError:
            continue
        assert all(isinstance(one, str) and one for one in said)
