"""What was worked out is kept until a record changes that it rests on, and no longer."""

from __future__ import annotations

import gc
import re
import weakref
from datetime import date
from pathlib import Path

from tests_shared import NOON

import advisor.reasoning.derive
from advisor.conversation import Adviser
from advisor.facts import Fact, Recorded
from advisor.language.understand import Understood
from advisor.reasoning.derive.memory import FEW_PLANTS, Memories, Memory, mark_of

TODAY = date(2026, 4, 24)


class Told:
    """Records by kind, a new list for a kind whenever something of it is told."""

    def __init__(self) -> None:
        self.rows: dict[str, list[Fact]] = {"place": [], "spot": [], "plant": [], "stage": [], "work": []}

    def of(self, kind: str) -> list[Fact]:
        return self.rows[kind]

    def tell(self, kind: str, plant: str) -> None:
        row = Fact.of(kind, {"plant": plant}, Recorded(kind, (len(self.rows[kind]) + 1,)))
        self.rows[kind] = [*self.rows[kind], row]


def asked(memory: Memory, kind: str, made: list[str]) -> int:
    """Return how many rows of a kind there are, and note when they were counted."""

    def count() -> int:
        made.append(kind)
        return len(memory.rows(kind))

    return memory.remember(("count", kind), count)


def asked_of(memory: Memory, plant: str, made: list[str]) -> int:
    """Return how many stages a plant has, by what is grouped once for all plants."""

    def groups() -> dict[str, int]:
        found: dict[str, int] = {}
        for row in memory.rows("stage"):
            found[row.text("plant")] = found.get(row.text("plant"), 0) + 1
        return found

    def count() -> int:
        made.append(plant)
        return memory.remember(("groups", ""), groups, mark_of("stage", plant)).get(plant, 0)

    return memory.remember(("of", plant), count)


def test_what_was_made_is_made_once() -> None:
    """Two questions of one day count once; another day counts anew."""
    told, kept, made = Told(), Memories(), list[str]()
    for today in (TODAY, TODAY, date(2026, 4, 25)):
        asked(kept.of(told, today), "stage", made)

    assert made == ["stage", "stage"]


def test_only_what_rests_on_a_changed_kind_is_made_again() -> None:
    """A stage told leaves what rests on works alone."""
    told, kept, made = Told(), Memories(), list[str]()
    memory = kept.of(told, TODAY)
    asked(memory, "stage", made), asked(memory, "work", made)
    told.tell("stage", "old fig")
    memory = kept.of(told, TODAY)

    assert (asked(memory, "stage", made), asked(memory, "work", made)) == (1, 0)
    assert made == ["stage", "work", "stage"]


def test_only_the_plant_that_something_was_told_of_is_made_again() -> None:
    """One fig's stage leaves what rests on another fig's stages alone."""
    told, kept, made = Told(), Memories(), list[str]()
    memory = kept.of(told, TODAY)
    asked_of(memory, "old fig", made), asked_of(memory, "young fig", made)
    told.tell("stage", "old fig")
    memory = kept.of(told, TODAY)

    assert (asked_of(memory, "old fig", made), asked_of(memory, "young fig", made)) == (1, 0)
    assert made == ["old fig", "young fig", "old fig"]


def test_what_rests_on_other_values_rests_on_their_rows() -> None:
    """A sum of what was remembered before is made again when one of its parts is, at once or later."""
    told, kept = Told(), Memories()

    def total() -> int:
        memory = kept.of(told, TODAY)
        asked(memory, "work", [])
        return memory.remember(("total", ""), lambda: asked(memory, "stage", []) + asked(memory, "work", []))

    found = [total()]
    told.tell("work", "old fig")
    found.append(total())
    told.tell("stage", "old fig")
    found.append(total())

    assert found == [0, 1, 2]


def test_what_rests_on_many_plants_rests_on_all() -> None:
    """A count over more plants than are noted one by one is made again for one that it did not look at."""
    told, kept = Told(), Memories()
    names = [f"fig {n}" for n in range(FEW_PLANTS + 1)]

    def total() -> int:
        memory = kept.of(told, TODAY)
        return memory.remember(("all", ""), lambda: sum(asked_of(memory, name, []) for name in names))

    assert total() == 0
    told.tell("stage", names[0])
    assert total() == 1


def test_a_question_keeps_to_the_records_that_it_found() -> None:
    """What one question worked out of older rows is not told by one that began after a row was told."""

    class Earlier(Told):
        def of(self, kind: str) -> list[Fact]:
            return [] if kind == "stage" else told.of(kind)

    told, kept, made = Told(), Memories(), list[str]()
    older = Earlier()
    old = kept.of(older, TODAY)  # began before the row was told, and reads on after
    told.tell("stage", "old fig")
    new = kept.of(told, TODAY)

    assert asked(old, "stage", made) == 0
    assert asked(new, "stage", made) == 1
    assert asked(kept.of(told, TODAY), "stage", made) == 1


def test_the_garden_asked_about_longest_ago_is_given_up() -> None:
    """With room for two gardens the third puts the first out; of too many values the oldest garden's go."""
    gardens = [Told() for _ in range(3)]
    for kept in (Memories(gardens=2), Memories(values=2)):
        made = list[str]()
        for told in (*gardens, gardens[2], gardens[0]):
            asked(kept.of(told, TODAY), "stage", made)
        assert len(made) == 4


def test_derivations_read_records_where_it_is_noted() -> None:
    """No derivation reads records past the scene, which notes what it rests on."""
    folder = Path(advisor.reasoning.derive.__file__).parent
    past = [f"{path.name}: {line.strip()}" for path in sorted(folder.glob("*.py")) if path.name != "scene.py"
            for line in path.read_text(encoding="utf-8").splitlines()
            if re.search(r"\brecords\.(of|who_said|latest|since)\(", line) and path.name != "memory.py"]  # fmt: skip

    assert past == []


def test_nothing_kept_holds_a_garden_file(adviser: Adviser, demo_file: Path) -> None:
    """After a question about the whole garden no value that is kept keeps the opened file alive."""
    with adviser.open(demo_file) as garden:
        for question in ("what-next", "frost-tonight", "what-to-measure", "pots-out", "why-late"):
            plant = "shed fig" if question == "why-late" else ""
            adviser.answer(garden, Understood(question, plant=plant), NOON.date())
        alive = weakref.ref(garden)
    del garden
    gc.collect()

    assert alive() is None
