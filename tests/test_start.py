"""The set-up program: one clear line with the remedy before anything is built."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest
import start

PROGRAM = Path(start.__file__)


@pytest.mark.parametrize("version", [(3, 11), (3, 12), (3, 13)])
def test_pythons_that_can_run_it(version: tuple[int, int]) -> None:
    """Python 3.11 to 3.13 are fine."""
    assert start.python_fault(version) == ""


@pytest.mark.parametrize("version", [(2, 7), (3, 6), (3, 10), (3, 14), (4, 0)])
def test_pythons_that_cannot(version: tuple[int, int]) -> None:
    """Any other says which it is and what to do, in one line."""
    fault = start.python_fault(version)
    assert f"{version[0]}.{version[1]}" in fault and "3.11 to 3.13" in fault and "\n" not in fault


@pytest.mark.parametrize(
    ("version", "found", "header_there", "lack"),
    [
        ((3, 11), (), True, "No C compiler"),
        ((3, 12), ("gcc",), False, "headers are missing"),
        ((3, 12), ("cc",), True, ""),
        ((3, 13), (), False, ""),
    ],
)
def test_without_what_the_first_engine_is_built_with_the_other_is_used(
    version: tuple[int, int], found: tuple[str, ...], header_there: bool, lack: str
) -> None:
    """A missing compiler or missing headers are told apart, and stop nothing; 3.13 builds nothing."""
    said = start.cannot_build(version, lambda name: name if name in found else None, header_there)
    assert lack in said and bool(said) == bool(lack)
    assert "the rule engine that comes built is used alone" in said or not said


@pytest.mark.parametrize("way", ["demo", "test"])
def test_all_but_the_engine_that_is_built_is_installed(way: str) -> None:
    """Where it cannot be built, every other package of pyproject.toml is still asked for."""
    wanted = start.packages(way, start.BUILT)
    assert any(one.startswith("clipspy") for one in wanted) and any(one.startswith("flask") for one in wanted)
    assert not any("durable" in one for one in wanted)
    assert any(one.startswith("pytest") for one in wanted) == (way == "test")


def other_pythons() -> list[str]:
    """Return Pythons on this machine that cannot run the adviser."""
    found = [path for name in ("python2.7", "python3.6", "python3.10", "python3.14") if (path := shutil.which(name))]
    found += map(str, Path(os.environ.get("PYENV_ROOT", "none")).glob("versions/*/bin/python"))
    code = "import sys; sys.exit((3, 11) <= sys.version_info[:2] <= (3, 13))"
    return [
        path for path in found if subprocess.run([path, "-c", code], capture_output=True, check=False).returncode == 0
    ]


def test_other_pythons_on_this_machine_say_so() -> None:
    """Each Python here that cannot run the adviser reads the program far enough to say that, in one line."""
    others = other_pythons()
    if not others:
        pytest.skip("no other Python on this machine to try it with")
    for path in others:
        done = subprocess.run([path, str(PROGRAM), "demo"], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout) == (2, ""), path
        assert done.stderr.count("\n") == 1 and "the adviser runs on 3.11 to 3.13" in done.stderr, path


def test_it_says_what_it_can_run(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a way to run, or with an unknown one, it lists them."""
    with pytest.raises(SystemExit) as stopped:
        start.main(["party"])
    assert stopped.value.code == 2
    assert "demo|test|check" in capsys.readouterr().err
