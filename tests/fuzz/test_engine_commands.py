"""The commands that run all engines over many programs and gardens: what they tell, keep, and survive."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

import engine_gardens
import engines
import pytest
from engine_programs import read_program
from in_pieces import Ended, in_pieces
from wrong_engines import FAULTS

DEADLY = """
import os
from collections import Counter

def work(first, last):
    if first <= 3 < last:
        os.abort()
    return list(range(first, last))
"""


def test_the_command_tells_what_the_programs_held(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A run tells its size, what was in the programs and that engines agree, and writes no case."""
    assert engines.main(["--programs", "12", "--seed", "40", "--keep", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "12 programs" in told and "%  fired" in told
    assert "0 programs over which engines differ, 0 that ended the process" in told
    assert list(tmp_path.iterdir()) == []


def in_this_process(work: Any, first: int, last: int, *_: Any) -> list[Any]:
    return [work(first, last)]


def test_a_difference_is_written_as_a_case(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where an engine is wrong the run fails, names the programs, and writes some cut down with what is to fire."""
    monkeypatch.setattr(engines, "engines", lambda: {"wrong": FAULTS["ignores an unless"]})
    monkeypatch.setattr(engines, "in_pieces", in_this_process)
    assert engines.main(["--programs", "40", "--keep", str(tmp_path)]) == 1
    told = capsys.readouterr().out
    cases = sorted(tmp_path.glob("program_*.json"))
    assert len(cases) == engines.MOST_KEPT and all(case.name in told for case in cases)
    for case in cases:
        program, said = read_program(case.read_text(encoding="utf-8"))
        assert any(rule["unless"] for rule in program.rules) and "wrong" in said["says"]
        assert isinstance(said["fires"], list)


def test_a_garden_over_which_engines_differ_is_cut_down(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where an engine is wrong about a garden the run fails, names garden and question, and prints a small program."""
    for module in (engine_gardens, import_module("gardens_agree")):
        monkeypatch.setattr(module, "engines", lambda *, spread: {"wrong": FAULTS["drops a firing"]})
    monkeypatch.setattr(engine_gardens, "in_pieces", in_this_process)
    import_module("gardens_agree").made_for.cache_clear()
    try:
        assert engine_gardens.main(["--gardens", "1"]) == 1
    finally:
        import_module("gardens_agree").made_for.cache_clear()
    told = capsys.readouterr().out
    assert "garden 0, " in told
    program, _ = read_program(told[told.index("{\n") : told.rindex("}") + 1])
    assert len(program.rules) <= 2 and len(program.facts) <= 3


def test_a_number_that_ends_its_process_ends_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A piece whose process is ended is done again number by number, and only the guilty one is missing."""
    (tmp_path / "deadly_work.py").write_text(DEADLY, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    results = list(in_pieces(import_module("deadly_work").work, 0, 6, piece=2))
    assert [result for result in results if isinstance(result, Ended)] == ["3"]
    assert sorted(number for one in results if not isinstance(one, Ended) for number in one) == [0, 1, 2, 4, 5]
