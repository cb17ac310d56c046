"""What was worked out is kept until a record changes that it rests on, and no longer."""

from __future__ import annotations

import gc
import re
import weakref
from datetime import date, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st
from tests_shared import NOON

import advisor.reasoning.derive
from advisor.conversation import Adviser
from advisor.facts import Fact, Recorded
from advisor.language.understand import Understood
from advisor.reasoning.derive.memory import Memories, Memory
from advisor.reasoning.derive.store import FEW_NAMES, mark_of
from advisor.reasoning.derive.told import Moments, Told

TODAY = date(2026, 4, 24)


class Records:
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
    told, kept, made = Records(), Memories(), list[str]()
    for today in (TODAY, TODAY, date(2026, 4, 25)):
        asked(kept.of(told, today), "stage", made)

    assert made == ["stage", "stage"]


def test_only_what_rests_on_a_changed_kind_is_made_again() -> None:
    """A stage told leaves what rests on works alone."""
    told, kept, made = Records(), Memories(), list[str]()
    memory = kept.of(told, TODAY)
    asked(memory, "stage", made), asked(memory, "work", made)
    told.tell("stage", "old fig")
    memory = kept.of(told, TODAY)

    assert (asked(memory, "stage", made), asked(memory, "work", made)) == (1, 0)
    assert made == ["stage", "work", "stage"]


def test_only_the_plant_that_something_was_told_of_is_made_again() -> None:
    """One fig's stage leaves what rests on another fig's stages alone."""
    told, kept, made = Records(), Memories(), list[str]()
    memory = kept.of(told, TODAY)
    asked_of(memory, "old fig", made), asked_of(memory, "young fig", made)
    told.tell("stage", "old fig")
    memory = kept.of(told, TODAY)

    assert (asked_of(memory, "old fig", made), asked_of(memory, "young fig", made)) == (1, 0)
    assert made == ["old fig", "young fig", "old fig"]


def test_what_rests_on_other_values_rests_on_their_rows() -> None:
    """A sum of what was remembered before is made again when one of its parts is, at once or later."""
    told, kept = Records(), Memories()

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
    told, kept = Records(), Memories()
    names = [f"fig {n}" for n in range(FEW_NAMES + 1)]

    def total() -> int:
        memory = kept.of(told, TODAY)
        return memory.remember(("all", ""), lambda: sum(asked_of(memory, name, []) for name in names))

    assert total() == 0
    told.tell("stage", names[0])
    assert total() == 1


def test_a_question_keeps_to_the_records_that_it_found() -> None:
    """What one question worked out of older rows is not told by one that began after a row was told."""

    class Earlier(Records):
        def of(self, kind: str) -> list[Fact]:
            return [] if kind == "stage" else told.of(kind)

    told, kept, made = Records(), Memories(), list[str]()
    older = Earlier()
    old = kept.of(older, TODAY)  # began before the row was told, and reads on after
    told.tell("stage", "old fig")
    new = kept.of(told, TODAY)

    assert asked(old, "stage", made) == 0
    assert asked(new, "stage", made) == 1
    assert asked(kept.of(told, TODAY), "stage", made) == 1


def woke(memory: Memory, made: list[str]) -> bool:
    """Return whether a fig has two stages, as a settled value that its kin rest on."""

    def make(of: Memory) -> bool:
        made.append("woke")
        return len([row for row in of.rows("stage") if row.text("plant") == "old fig"]) > 1

    return memory.settled(("woke", "old fig"), make, lambda: memory, mark_of("woke", "old fig"))


def beside(memory: Memory, made: list[str]) -> str:
    """Return a text that rests on that settled value."""

    def make() -> str:
        made.append("beside")
        return "later" if woke(memory, made) else "not known"

    return memory.remember(("beside", ""), make)


def test_what_rests_on_a_settled_value_stays_while_that_is_equal() -> None:
    """A stage that leaves the settled value as it was leaves what rests on it; one that changes it does not."""
    told, kept, made = Records(), Memories(), list[str]()
    found = [beside(kept.of(told, TODAY), made)]
    for _ in range(3):
        told.tell("stage", "old fig")
        memory = kept.of(told, TODAY)
        memory.settle(memory)
        found.append(beside(memory, made))

    assert found == ["not known", "not known", "later", "later"]
    assert made == ["beside", "woke", "woke", "woke", "beside", "woke"]


def test_nothing_rests_on_a_settled_value_that_is_not_settled_yet() -> None:
    """Before the settled values are made again, what rests on them is made anew and not told as it was."""
    told, kept, made = Records(), Memories(), list[str]()
    beside(kept.of(told, TODAY), made)
    told.tell("stage", "old fig"), told.tell("stage", "old fig")
    memory = kept.of(told, TODAY)

    assert memory.unsettled
    assert beside(memory, made) == "later"
    assert beside(kept.of(told, TODAY), made) == "later"


def test_a_settled_value_that_cannot_be_made_leaves_nothing_behind() -> None:
    """Where a settled value fails to be made again all is forgotten, and only who asks for it is told of the failure."""
    told, kept, made = Records(), Memories(), list[str]()

    def fails(of: Memory) -> int:
        return 1 // (1 - len(of.rows("stage")))

    memory = kept.of(told, TODAY)
    memory.settled(("fails", ""), fails, lambda: memory, mark_of("fails", ""))
    asked(memory, "work", made)
    told.tell("stage", "old fig")
    memory = kept.of(told, TODAY)
    memory.settle(memory)

    assert asked(memory, "work", made) == 0
    assert made == ["work", "work"]


def row(number: int, plant: str, day: date | None, bbch: int) -> Fact:
    return Fact.of("stage", {"plant": plant, "on": day, "bbch": bbch}, Recorded("stage", (number,)))


FIGS = ("old fig", "young fig", "")
ROWS = st.lists(st.tuples(st.sampled_from(FIGS), st.integers(1, 5), st.integers(0, 2)), max_size=30)


@given(ROWS, st.lists(st.integers(0, 40), max_size=6), st.integers(0, 10))
def test_rows_put_in_their_place_stand_as_if_all_were_ordered(
    rows: list[tuple[str, int, int]], out: list[int], new: int
) -> None:
    """After rows are told and taken out of use each plant's rows, and all, stand as in a garden read anew."""
    every = [row(n, fig, TODAY + timedelta(days=day), bbch) for n, (fig, day, bbch) in enumerate(rows, 1)]
    first = [one for n, one in enumerate(every[: len(every) - new]) if n % 5 != 4]
    now = [one for n, one in enumerate(every) if n not in out]
    moments = Moments(ZoneInfo("Europe/Vienna"))
    before, anew = Told(first, moments), Told(now, moments)
    ends = [moments.midnight(TODAY + timedelta(days=days)) for days in (2, 3, 9)]
    [before.named("plant", fig, ends[-1]) for fig in FIGS], before.oldest_first  # so that there is something to keep
    grown = before.grown(now)

    for end in ends:
        assert [grown.named("plant", fig, end) for fig in FIGS] == [anew.named("plant", fig, end) for fig in FIGS]
        assert grown.span(ends[0], end) == anew.span(ends[0], end)


def test_the_garden_asked_about_longest_ago_is_given_up() -> None:
    """With room for two gardens the third puts the first out; of too many values the oldest garden's go."""
    gardens = [Records() for _ in range(3)]
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
