"""How well messages are understood: ``python tests/shared/score_messages.py [--show missed] [file ...]``.

Sends every message and talk of fixtures/conversations, or of the files named, to a copy of its garden, and compares
what was logged, answered and asked back with what the files say. Wrong log entries are listed one by one. Nothing here
passes or fails; the exit code is 0.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import tempfile
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, tzinfo
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2]))  # so that the checkout is measured, not what is installed

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.records.importing import import_path
from advisor.records.store import Garden

FOLDER = Path(__file__).parents[2] / "fixtures" / "conversations"
DAY = "2026-04-24T18:00"
IMPORTED = datetime(2026, 4, 24, 6, 0, tzinfo=UTC)
TURN_S = 10
"""Seconds between the turns of a talk: all within the minute that the files name."""
NEAR = 0.06
"""Numbers agree within this: the files round to a tenth."""
EMPTY = "empty"
"""A garden file of which nothing is told yet."""
NOT_LOGGED = ("weather_day", "weather_station", "weather_doubt", "advice")
"""Kinds that are worked out from what was logged, or tell what was answered."""
BESIDE = {"words", "note", "source"}
"""Fields that may hold more than a message's values."""
ALWAYS = ("error", "value logged that was not told", "row logged that the reply does not list")
SHOWS = ("wrong", "missed", "outcome", "question", "says")
NUMBER_OF = re.compile(r"\{number of ([^}]+)\}")
Row = dict[str, Any]


@dataclass
class Turn:
    """One message sent, and what must come of it."""

    text: str
    sent_at: str
    expected: Mapping[str, Any]
    in_talk: bool = False


@dataclass
class Script:
    """Turns that go to one copy of a garden, and where they stand."""

    where: str
    garden: str
    turns: list[Turn]


@dataclass
class Score:
    """Counts over all turns, and lines that tell what went astray, by what they show."""

    counts: Counter[str] = field(default_factory=Counter)
    seconds: list[float] = field(default_factory=list)
    lines: dict[str, list[str]] = field(default_factory=lambda: {name: [] for name in (*ALWAYS, *SHOWS)})
    outcome_pairs: Counter[tuple[str, str]] = field(default_factory=Counter)

    def line(self, shows: str, where: str, text: str, told: str) -> None:
        """Keep a line about a turn."""
        self.lines[shows].append(f"{where}: {text!r}\n      {told}")


def read_scripts(path: Path) -> Iterator[Script]:
    """Yield the messages and talks of a file."""
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    for number, one in enumerate(data.get("message", []), 1):
        turn = Turn(one["text"], one.get("sent_at", DAY), one)
        yield Script(f"{path.stem} {number}", one.get("garden", "garden"), [turn])
    for talk in data.get("talk", []):
        turns = [Turn(one["text"], talk.get("sent_at", DAY), one, in_talk=True) for one in talk["turn"]]
        yield Script(f"{path.stem}: {talk['name']}", talk.get("garden", "garden"), turns)


def load_garden(adviser: Adviser, name: str, folder: Path) -> Path:
    """Import a garden of the fixtures into a new file."""
    path = folder / f"{name}.db"
    with adviser.open(path, create=True) as garden:
        if name != EMPTY:
            import_path(garden, FOLDER / name, adviser.lore, IMPORTED)
        garden.db.conn.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # so that the one file is all of it
    return path


def zone_of(garden: Garden) -> tzinfo:
    """Return a garden's zone; one without a place goes by UTC."""
    return garden.zone() if garden.of("place") else UTC


# ---- one turn


def spelt(text: str, last_reply: Mapping[str, Any]) -> str:
    """Return a turn's text with the number under which the reply before offered a choice, 0 where it did not."""

    def number(found: re.Match[str]) -> str:
        wanted = found[1].casefold()
        choices = last_reply.get("choices", [])
        named = [one for one in choices if str(one.get("text", "")).casefold() == wanted]
        named = named or [one for one in choices if wanted in str(one.get("text", "")).casefold()]
        return str(named[0]["number"]) if named else "0"

    return NUMBER_OF.sub(number, text)


def last_ids(garden: Garden) -> dict[str, int]:
    """Return the highest row of every table that a turn may add to."""
    tables = [name for name, kind in garden.kinds.items() if kind.origin == "recorded"] + ["ruling"]
    return {name: garden.db.conn.execute(f"SELECT COALESCE(MAX(id), 0) FROM {name}").fetchone()[0] for name in tables}


def rows_added(garden: Garden, before: Mapping[str, int]) -> Iterator[tuple[str, int]]:
    """Yield the rows that were logged since, but not what was worked out from them."""
    for kind, last in last_ids(garden).items():
        if kind != "ruling" and kind not in NOT_LOGGED:
            yield from ((kind, row) for row in range(before[kind] + 1, last + 1))


def row_of(garden: Garden, kind: str, row_id: int) -> Row:
    """Return a row's values as the files write them: ISO days, times in the garden's own clock."""
    values: Row = {"kind": kind}
    for name, value in garden.values_of(kind, row_id).items():
        if isinstance(value, datetime):
            values[name] = value.astimezone(zone_of(garden)).strftime("%Y-%m-%dT%H:%M")
        else:
            values[name] = value.isoformat() if isinstance(value, date) else value
    return values


def only_ends(garden: Garden, kind: str, row_id: int) -> bool:
    """Return whether a row is an older cover told anew with the day on which it was taken off."""
    if kind != "cover" or "taken_off" not in garden.values_of(kind, row_id):
        return False
    found = garden.db.conn.execute("SELECT 1 FROM ruling WHERE kind = ? AND replaced_by = ?", [kind, row_id])
    return found.fetchone() is not None


def rows_out(garden: Garden, before: Mapping[str, int]) -> int:
    """Return how many rows were ruled out of use since."""
    query = "SELECT COUNT(DISTINCT kind || '/' || row_id) FROM ruling WHERE NOT in_use AND id > ?"
    return int(garden.db.conn.execute(query, [before["ruling"]]).fetchone()[0])


# ---- comparing


def agrees(wanted: Any, got: Any) -> bool:
    """Return whether a value is the one wanted: numbers to a tenth, words in any case.

    >>> agrees(12.2, 12.222), agrees("Brown Turkey", "brown turkey"), agrees(True, 1), agrees(12.5, None)
    (True, True, False, False)
    """
    if isinstance(wanted, bool) or isinstance(got, bool):
        return wanted is got
    if isinstance(wanted, int | float) and isinstance(got, int | float):
        return abs(wanted - got) <= NEAR
    if isinstance(wanted, str) and isinstance(got, str):
        return wanted.casefold() == got.casefold()
    return bool(wanted == got)


def matches(wanted: Row, row: Row) -> bool:
    """Return whether a row has every value wanted of it.

    >>> matches({"kind": "growth", "leaves": 6}, {"kind": "growth", "leaves": 6, "shoot_cm": 34})
    True
    """
    return all(agrees(value, row.get(name)) for name, value in wanted.items())


def shown(row: Row) -> str:
    """Return a row in a line."""
    return f"{row['kind']} " + ", ".join(f"{name} {value}" for name, value in row.items() if name != "kind")


def score_rows(score: Score, where: str, text: str, wanted: Sequence[Row], rows: Sequence[Row]) -> None:
    """Count what was logged right, wrong and twice, and what was missed."""
    score.counts["wanted"] += len(wanted)
    score.counts["logged"] += len(rows)
    for one in wanted:
        if any(matches(one, row) for row in rows):
            score.counts["found"] += 1
        else:
            score.line("missed", where, text, f"misses {shown(one)}")
    told: list[Row] = []
    for row in rows:
        fits = [one for one in wanted if matches(one, row)]
        if not fits or row in told:
            what = "twice" if fits else "logs"
            score.line("wrong", where, text, f"{what} {shown(row)}")
            continue
        told.append(row)
        score.counts["right"] += 1
        more = row.keys() - {name for one in fits for name in one} - BESIDE
        more -= {"growing"} if row["kind"] == "plant" else set()
        if more:
            values = ", ".join(f"{name} {row[name]}" for name in sorted(more))
            score.line(ALWAYS[1], where, text, f"{row['kind']} with {values}")


def subject(question: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a question is about: plant, species, spots in any order."""
    spots = [*question.get("spots", []), *(question[name] for name in ("spot", "beside") if question.get(name))]
    named = {name: question[name] for name in ("plant", "species") if question.get(name)}
    return named | ({"spots": sorted(spots)} if spots else {})


def score_question(score: Score, where: str, text: str, wanted: Mapping[str, Any] | None, reply: Row) -> None:
    """Count whether the question answered is the one asked."""
    got = reply.get("question") or {}
    is_answered = reply["outcome"] == "answered" and bool(got.get("kind"))
    score.counts["asked"] += wanted is not None
    score.counts["answered"] += is_answered
    if is_answered and wanted and got["kind"] == wanted["kind"]:
        score.counts["kinds_right"] += 1
        score.counts["subjects_right"] += subject(got) == subject(wanted)
        if subject(got) == subject(wanted):
            return
    if is_answered or wanted:
        score.line("question", where, text, f"asks {wanted}, {reply['outcome']} {got or ''}")


def score_turn(score: Score, where: str, turn: Turn, text: str, reply: Row, rows: Sequence[Row], out: int) -> None:
    """Count one turn."""
    wanted = turn.expected
    score.counts["turns"] += 1
    score_rows(score, where, text, wanted.get("records", []), rows)
    score.counts["outcomes"] += reply["outcome"] == wanted["outcome"]
    if reply["outcome"] != wanted["outcome"]:
        score.outcome_pairs[wanted["outcome"], reply["outcome"]] += 1
        score.line("outcome", where, text, f"is {wanted['outcome']}, was {reply['outcome']}")
    unlabelled = wanted["outcome"] == "answered" and "question" not in wanted
    if "question" in wanted or not (turn.in_talk or unlabelled):  # in talks a follow-up may repeat the question before
        score_question(score, where, text, wanted.get("question"), reply)
    if "retired" in wanted:
        score.counts["retired_wanted"] += 1
        score.counts["retired_right"] += out == wanted["retired"]
    for piece in wanted.get("says", []):
        score.counts["says_wanted"] += 1
        if piece.casefold() in reply["reply"].casefold():
            score.counts["says_right"] += 1
        else:
            score.line("says", where, text, f"does not say {piece!r}")


# ---- all of them


def play(adviser: Adviser, script: Script, path: Path, score: Score) -> None:
    """Send the turns of a script to its own copy of a garden and count what comes of them."""
    reply: Row = {}
    for number, turn in enumerate(script.turns, 1):
        where = script.where if len(script.turns) == 1 else f"{script.where} ({number})"
        text = spelt(turn.text, reply)
        with adviser.open(path) as garden:
            before, zone = last_ids(garden), zone_of(garden)
        now = datetime.fromisoformat(turn.sent_at).replace(tzinfo=zone) + timedelta(seconds=TURN_S * (number - 1))
        start = perf_counter()
        try:
            reply = adviser.message({"text": text, "sent_at": now.isoformat()}, now, path)
        except Exception as error:
            score.line(ALWAYS[0], where, text, f"{type(error).__name__}: {error}")
            reply = {"outcome": "error", "reply": "", "recorded": []}
        score.seconds.append(perf_counter() - start)
        with adviser.open(path) as garden:
            told = [(str(one["kind"]), int(one["id"])) for one in reply.get("recorded", [])]
            added = list(rows_added(garden, before))
            refs = [ref for ref in dict.fromkeys([*told, *added]) if not only_ends(garden, *ref)]
            for kind, row in (ref for ref in added if ref not in told):
                score.line(ALWAYS[2], where, text, f"{kind}/{row}")
            rows = [row_of(garden, *ref) for ref in refs]
            score_turn(score, where, turn, text, reply, rows, rows_out(garden, before))


def share(part: int, whole: int) -> str:
    """Return a share in words.

    >>> share(3, 4), share(0, 0)
    ('3 of 4, 75.0 %', 'none')
    """
    return f"{part} of {whole}, {100 * part / whole:.1f} %" if whole else "none"


def told(score: Score, shows: Iterable[str]) -> Iterator[str]:
    """Yield the lines of the report."""
    n = score.counts
    yield f"turns                {n['turns']}"
    for name, part, whole in (
        ("records, precision", "right", "logged"),
        ("records, recall", "found", "wanted"),
        ("outcomes agree", "outcomes", "turns"),
        ("questions, precision", "kinds_right", "answered"),
        ("questions, recall", "kinds_right", "asked"),
        ("and their subjects", "subjects_right", "kinds_right"),
        ("rows out of use", "retired_right", "retired_wanted"),
        ("replies say", "says_right", "says_wanted"),
    ):
        yield f"{name:<20} {share(n[part], n[whole])}"
    yield f"WRONG log entries    {len(score.lines['wrong'])}"
    if score.seconds:
        yield f"a message takes      {1000 * median(score.seconds):.1f} ms, at most {1000 * max(score.seconds):.1f} ms"
    for (wanted, got), count in score.outcome_pairs.most_common():
        yield f"  {wanted} came out as {got}: {count}"
    for name, lines in score.lines.items():
        if lines and name in (*ALWAYS, *shows):
            yield f"\n{name}: {len(lines)}"
            yield from (f"  {line}" for line in lines)


def main(arguments: Sequence[str] | None = None) -> None:
    """Score the files named, or all of them, and print what was found."""
    parser = argparse.ArgumentParser(description="How well messages are understood.")
    parser.add_argument("files", nargs="*", type=Path, help="files of messages or talks; all if none is named")
    parser.add_argument("--garden", help="only what goes to this garden: garden or garden_us")
    parser.add_argument("--show", action="append", choices=SHOWS, default=["wrong"], help="list these one by one")
    options = parser.parse_args(arguments)
    files = options.files or sorted([*FOLDER.glob("messages_*.toml"), *FOLDER.glob("talks_*.toml")])
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    score = Score()
    with tempfile.TemporaryDirectory() as folder_name:
        folder = Path(folder_name)
        gardens: dict[str, Path] = {}
        for script in (script for path in files for script in read_scripts(path)):
            if options.garden in (None, script.garden):
                if script.garden not in gardens:
                    gardens[script.garden] = load_garden(adviser, script.garden, folder)
                copy = Path(shutil.copy(gardens[script.garden], folder / "copy.db"))
                play(adviser, script, copy, score)
                for left in folder.glob("copy.db*"):
                    left.unlink()
    print("\n".join(told(score, options.show)))


if __name__ == "__main__":
    main()
