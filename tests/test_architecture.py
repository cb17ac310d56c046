"""Imports point down only, and each outside library is known in one place."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[1] / "advisor"
LAYERS = {
    "facts": 0, "fact_base": 0, "errors": 0, "config": 0, "answers": 0, "written": 0, "calc": 0,
    "records": 1,
    "reasoning": 2, "language": 2,
    "talk": 3,
    "conversation": 4,
    "doors": 5,
}  # fmt: skip
ONLY_IN = {
    "clips": {"reasoning/engine/"},
    "durable_rules_engine": {"reasoning/engine/"},
    "durable": set(),
    "spellchecker": {"language/said/spelling.py"},
    "sqlite_utils": {"records/schema.py", "records/opening.py"},
    "sqlite3": {"records/opening.py", "records/backing_up.py", "records/keys.py", "records/moving.py"},
    "flask": {"doors/"},
    "werkzeug": {"doors/"},
    "waitress": {"doors/"},
    "click": {"doors/"},
    "prometheus_client": {"doors/watching.py"},
    "apispec": {"doors/api/document.py"},
    "vl_convert": {"doors/drawing/"},
    "phonenumbers": {"doors/bridge/numbers.py"},
    "astral": {"calc/daylight.py"},
    "distributed": {"doors/nightly/rounds.py"},
    "gunicorn": set(),
    "numpy": {"calc/"},
    "scipy": {"calc/distributions.py"},
}


def imports(source: str) -> set[str]:
    """Return the dotted names that a module imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
    return found


def faults(path: str, source: str) -> list[str]:
    """Return what is wrong with a module's imports; ``path`` is within the package."""
    own = path.split("/")[0].removesuffix(".py")
    wrong = []
    for name in sorted(imports(source)):
        first, *rest = name.split(".")
        if first == "advisor" and rest and rest[0] in LAYERS:
            other = rest[0]
            same_floor = LAYERS[other] == LAYERS.get(own, -1) and other != own and LAYERS[other] > 0
            ground = own == "calc" or (other == "calc" and own not in ("reasoning", "conversation", "talk"))
            if other != own and (LAYERS[other] > LAYERS.get(own, 9) or same_floor or ground):
                wrong.append(f"{path} imports {name}")
        if first in ONLY_IN and not any(path.startswith(place) for place in ONLY_IN[first]):
            wrong.append(f"{path} imports {name}")
    return wrong


MODULES = sorted(path.relative_to(TOP).as_posix() for path in TOP.rglob("*.py"))


@pytest.mark.parametrize("path", [path for path in MODULES if path != "__init__.py"])
def test_imports_point_down(path: str) -> None:
    """A module imports from its own layer's package or below it, and no library that is another's."""
    assert faults(path, (TOP / path).read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("language/reply.py", "from advisor.reasoning.explain import explain"),
        ("reasoning/explain.py", "import advisor.language.reply"),
        ("records/store.py", "from advisor.conversation import Adviser"),
        ("calc/soil_pairs.py", "from advisor.facts import Fact"),
        ("language/render.py", "from advisor.calc import calendar"),
        ("conversation.py", "import flask"),
        ("reasoning/derive/scene.py", "import sqlite_utils"),
        ("doors/http.py", "from durable.lang import ruleset"),
    ],
)
def test_a_wrong_direction_is_found(path: str, source: str) -> None:
    """The check refuses an import that points up, sideways, or to another module's library."""
    assert len(set(faults(path, source))) >= 1


@pytest.mark.parametrize("library", ["clips", "durable_rules_engine"])
def test_one_module_imports_each_library_of_an_engine(library: str) -> None:
    """A single module knows each library that matches facts."""
    users = [path for path in MODULES if library in imports((TOP / path).read_text(encoding="utf-8"))]
    assert len(users) == 1


def test_modules_stay_readable() -> None:
    """No module has grown past 350 lines."""
    long = {path: n for path in MODULES if (n := len((TOP / path).read_text(encoding="utf-8").splitlines())) > 350}
    assert long == {}
