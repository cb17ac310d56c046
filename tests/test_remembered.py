"""Nothing that is remembered between questions is other than it would be made anew, whatever was told or taken back.

Every value that is kept is held to the one that an adviser makes who remembers nothing, not only what shows in a reply.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pytest
from grown_garden import TODAY, synthetic_garden

from advisor.conversation import Adviser
from advisor.fact_base import FactBase
from advisor.facts import Concluded, Derived, Fact, Recorded
from advisor.language.understand import Understood
from advisor.reasoning.derive.memory import Memories
from advisor.reasoning.derive.scene import Scene
from advisor.reasoning.planting import WHAT_TO_PLANT, WRONG_SPOT
from advisor.records.corrections import bring_back, correct, retire, undo
from advisor.records.importing import import_path
from advisor.records.reading import GardenReader
from advisor.records.store import Garden, NewRow, Said
from advisor.talk.supposing import Supposed, Supposition

NOW = datetime(2026, 4, 24, 20, tzinfo=UTC)
EVENING = datetime(2026, 4, 24, 18, tzinfo=UTC)
ASKED = (
    Understood("what-next"),
    Understood("frost-tonight"),
    Understood("what-to-measure"),
    Understood("compare-spots"),
    Understood("why-late", plant="fig 7"),
    Understood("when-wake", plant="fig 4"),
    Understood("where-to-plant", species="fig"),
    Understood("what-to-pinch"),
    Understood("what-to-plant", spots=("bed 2",)),
    Understood("wrong-spot"),
)


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


TOLD: tuple[tuple[str, Mapping[str, object]], ...] = (
    ("stage", {"plant": "fig 7", "on": ago(1), "bbch": 9}),
    ("stage", {"plant": "fig 3", "on": TODAY, "bbch": 0}),
    ("stage", {"plant": "fig 4", "on": ago(370), "bbch": 11}),
    ("stage", {"plant": "fig 4", "on": TODAY + timedelta(days=2), "bbch": 15}),
    ("soil_reading", {"spot": "bed 2", "temp_c": 18.4, "depth_cm": 10, "at": EVENING, "sky": "sun"}),
    ("soil_reading", {"plant": "fig 3", "temp_c": 11.0, "depth_cm": 10, "at": EVENING, "sky": "sun"}),
    ("move", {"plant": "fig 3", "to_spot": "bed 2", "on": ago(2)}),
    ("work", {"plant": "fig 3", "on": ago(1), "what": "watered"}),
    ("work", {"spot": "bed 1", "on": ago(1), "what": "watered"}),
    ("work", {"plant": "fig 1", "on": ago(330), "what": "fed"}),
    ("work", {"plant": "fig 2", "on": ago(40), "what": "wrapped"}),
    ("growth", {"plant": "fig 1", "on": ago(3), "shoot_cm": 20, "leaves": 6}),
    ("inspection", {"plant": "fig 3", "on": ago(1), "root_ball": "dry"}),
    ("inspection", {"plant": "fig 5", "on": ago(1), "scratch": "green", "height": "all"}),
    ("harm", {"plant": "fig 5", "on": ago(4), "cause": "frost", "extent": "most"}),
    ("crop", {"plant": "fig 5", "on": ago(210), "weight_kg": 3.0, "first_ripe": True}),
    ("forecast_day", {"issued": TODAY, "for_day": TODAY + timedelta(days=1), "min_c": -4.0, "sky": "clear"}),
    ("evening", {"on": TODAY, "temp_c": 6.0, "dew_point_c": 1.0}),
    ("weather_day", {"on": TODAY, "min_c": -3.0, "max_c": 9.0, "rain_mm": 0.0}),
    ("weather_day", {"on": ago(1), "spot": "bed 2", "min_c": -3.5, "max_c": 9.0}),
    ("cover", {"spot": "bed 3", "material": "bare", "put_on": ago(3)}),
    ("obstruction", {"spot": "bed 1", "bearing_from_deg": 100, "bearing_to_deg": 160, "height_deg": 20}),
    ("advice", {"on": ago(20), "question": "what-next", "conclusion": "task", "claim": "soak-the-pot",
                "rules": "look-again-soon", "plant": "fig 3"}),
    ("plant", {"name": "new fig", "species": "fig", "spot": "bed 1", "growing": "ground"}),
    ("spot", {"name": "new bed"}),
)  # fmt: skip


@pytest.fixture(scope="module")
def planted(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A garden of ten figs and three years, to be copied."""
    folder = tmp_path_factory.mktemp("planted")
    (folder / "files").mkdir()
    with adviser.open(folder / "garden.db", create=True) as garden:
        import_path(garden, synthetic_garden(folder / "files", 10, 3), adviser.lore, NOW)
    return folder / "garden.db"


@pytest.fixture
def path(planted: Path, tmp_path: Path) -> Path:
    """The garden to change at will."""
    (tmp_path / "garden.db").write_bytes(planted.read_bytes())
    return tmp_path / "garden.db"


# ---- holding what is kept to what would be made anew


class Spelled:
    """Values spelled out down to their rows, so that two of the same content compare equal."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[object, object]] = {}

    def out(self, value: object) -> object:
        if value is None or isinstance(value, str | bool | int | float | date):
            return value
        if id(value) not in self._known:
            self._known[id(value)] = value, hash(repr(self._parts(value)))
        return self._known[id(value)][1]

    def _parts(self, value: Any) -> object:
        if isinstance(value, Fact):
            origin = value.origin
            behind = origin.facts if isinstance(origin, Derived | Concluded) else origin
            return value.kind, list(value.values.items()), self.out(behind)
        if isinstance(value, dict | MappingProxyType):
            return [(self.out(key), self.out(one)) for key, one in value.items()]
        if isinstance(value, set | frozenset):
            return sorted(map(str, map(self.out, value)))
        if isinstance(value, list | tuple | FactBase):
            return [self.out(one) for one in value]
        if is_dataclass(value):
            return type(value).__name__, [self.out(getattr(value, field.name)) for field in fields(value)]
        if callable(value):
            return type(value).__name__
        if hasattr(value, "tolist"):
            return value.tolist()
        inside = {name: one for name, one in vars(value).items() if not name.startswith("_")}
        return type(value).__name__, self.out(inside) if type(value).__module__.startswith("advisor") else repr(value)


def kept_by(adviser: Adviser) -> dict[object, object]:
    """Return every value that an adviser keeps of the garden it was asked about last."""
    *_, (_, store) = adviser._memories._kept.values()
    return {key: entry[0] for key, entry in store.values.items()}


def fresh(adviser: Adviser) -> Adviser:
    return replace(adviser, _memories=Memories())


def facts_of(adviser: Adviser, records: Any, meant: Understood, today: date) -> list[Fact]:
    """Return the facts that a question is asked of, and have what came of advice and the best places worked out."""
    scene = replace(adviser.scene(records, today), question=meant.question, plant=meant.plant, species=meant.species)
    adviser.histories(records, today)
    if meant.question in (WHAT_TO_PLANT, WRONG_SPOT):
        adviser.answer(records, meant, today)
    return list(adviser.facts(scene, meant))


def differing(own: Adviser, path: Path, today: date = TODAY) -> list[object]:
    """Ask all questions of an adviser and of one that remembers nothing; return the keys of values that differ, and
    the questions whose facts or their order do."""
    plain, spelled, wrong = fresh(own), Spelled(), list[object]()
    with own.open(path) as garden:
        for meant in ASKED:
            found = [[spelled.out(fact) for fact in facts_of(one, garden, meant, today)] for one in (own, plain)]
            wrong += [meant.question] if found[0] != found[1] else []
    kept, anew = kept_by(own), kept_by(plain)
    assert anew
    return wrong + [key for key in kept if key in anew and spelled.out(kept[key]) != spelled.out(anew[key])]


def tell(path: Path, own: Adviser, ref: str, kind: str, values: Mapping[str, Any]) -> None:
    with own.open(path) as garden:
        garden.add([(Said("message", ref, NOW + timedelta(hours=1)), [NewRow(kind, dict(values))])])


# ---- what may happen to records


def test_no_kept_value_is_other_than_it_would_be_made(adviser: Adviser, path: Path) -> None:
    """After each kind of row is told, and after each is undone, every value kept is the one that is made anew."""
    own = fresh(adviser)
    assert differing(own, path) == []
    for number, (kind, values) in enumerate(TOLD):
        tell(path, own, f"m{number}", kind, values)
        assert differing(own, path) == [], f"{kind} {dict(values)}"
    for number in reversed(range(len(TOLD))):
        with own.open(path) as garden:
            undo(garden, f"m{number}", Said("undo", "u", NOW))
        if number % 3 == 0:
            assert differing(own, path) == [], f"undone to {number}"


def test_many_things_told_between_two_questions(adviser: Adviser, path: Path) -> None:
    """All of it told at once, and undone at once, leaves no value as it was."""
    own = fresh(adviser)
    differing(own, path)
    for number, (kind, values) in enumerate(TOLD[:-2]):
        tell(path, own, f"m{number}", kind, values)
    assert differing(own, path) == []
    for number in reversed(range(len(TOLD) - 2)):
        with own.open(path) as garden:
            undo(garden, f"m{number}", Said("undo", "u", NOW))
    assert differing(own, path) == []


def _corrected(garden: Garden) -> Iterator[None]:
    said = Said("message", "c", NOW)
    looks = [row.origin.row_ids[0] for row in garden.of("stage") if row.text("plant") == "fig 4"]  # type: ignore[union-attr]
    correct(garden, "stage", looks[-1], {"bbch": 0}, said, reason="misread")
    yield
    retire(garden, "stage", looks[0], said, reason="another tree")
    yield
    bring_back(garden, "stage", looks[0], said, reason="it was this one")
    yield
    correct(garden, "plant", 3, {"name": "old fig"}, said, reason="its name")
    yield
    correct(garden, "place", 1, {"usual_last_frost": "05-20"}, said, reason="later up here")
    yield


def test_corrections_retired_rows_and_new_names(adviser: Adviser, path: Path) -> None:
    """A row corrected, retired or brought back, a plant renamed and the place corrected change all that rests on it."""
    own = fresh(adviser)
    differing(own, path)
    with own.open(path) as garden:
        steps = _corrected(garden)
        for number, _ in enumerate(steps):
            assert differing(own, path) == [], f"after correction {number}"


def test_files_imported_between_two_questions(adviser: Adviser, path: Path, tmp_path: Path) -> None:
    """Rows of many plants that come by one file, and days of weather, change all that rests on them."""
    own = fresh(adviser)
    differing(own, path)
    folder = tmp_path / "more"
    folder.mkdir()
    looks = "".join(f"fig {n},{ago(n % 5)},11\n" for n in range(1, 10))
    (folder / "stage.csv").write_text(f"plant,on,bbch\n{looks}", encoding="utf-8")
    (folder / "weather_day.csv").write_text(f"on,min_c,max_c\n{TODAY},1.0,22.0\n", encoding="utf-8")
    with own.open(path) as garden:
        assert import_path(garden, folder, own.lore, NOW).added
    assert differing(own, path) == []


WRITES = """
import sys
from datetime import UTC, date, datetime
from pathlib import Path
from advisor.config import find_rules
from advisor.records.kinds import load_kinds
from advisor.records.store import Garden, NewRow, Said
with Garden(Path(sys.argv[1]), load_kinds(find_rules())) as garden:
    said = Said("message", "elsewhere", datetime(2026, 4, 24, 19, tzinfo=UTC))
    garden.add([(said, [NewRow("stage", {"plant": "fig 7", "on": date(2026, 4, 22), "bbch": 9})])])
"""


def test_what_another_process_writes(adviser: Adviser, path: Path) -> None:
    """A row written by another process is seen by the next question."""
    own = fresh(adviser)
    differing(own, path)
    subprocess.run([sys.executable, "-c", WRITES, str(path)], check=True, cwd=Path(__file__).parents[1])
    with own.open(path) as garden:
        assert any(row.text("plant") == "fig 7" and row.day("on") == date(2026, 4, 22) for row in garden.of("stage"))
    assert differing(own, path) == []


def test_other_days(adviser: Adviser, path: Path) -> None:
    """Tomorrow, the next year, a day of last summer and today again each have values of their own."""
    own = fresh(adviser)
    days = (TODAY, TODAY + timedelta(days=1), TODAY + timedelta(days=250), date(2025, 7, 1), TODAY)
    for number, day in enumerate(days):
        assert differing(own, path, day) == [], f"on {day}"
        tell(path, own, f"d{number}", *TOLD[number])


def test_earlier_knowledge_and_what_is_supposed(adviser: Adviser, path: Path) -> None:
    """Asked as of an earlier time, or with a cover supposed, no value of today's records is told, and none is kept."""
    own = fresh(adviser)
    differing(own, path)
    tell(path, own, "late", *TOLD[0])
    gone = frozenset({("cover", 2)})
    bare = Fact.of("cover", {"spot": "bed 2", "material": "bare", "put_on": TODAY}, Recorded("cover", (0,)))
    spelled = Spelled()
    for meant in ASKED:
        with GardenReader(path, own.base.kinds, as_of=NOW) as past, own.open(path) as garden:
            for records in (past, Supposed(garden, Supposition("", gone, (bare,)))):
                found = [
                    [spelled.out(fact) for fact in facts_of(one, records, meant, TODAY)] for one in (own, fresh(own))
                ]
                assert found[0] == found[1]
    assert differing(own, path) == []


@pytest.mark.parametrize(
    ("question", "kind", "seen", "then"),
    [
        ("what-next", "stage", {"bbch": 11}, {"bbch": 13}),
        ("frost-tonight", "stage", {"bbch": 11}, {"bbch": 13}),
        ("what-to-pinch", "crop", {"crop": "main"}, {"crop": "breba"}),
        ("what-to-pinch", "growth", {"shoot_cm": 20, "leaves": 6}, {"shoot_cm": 22, "leaves": 7}),
        ("pots-out", "move", {"to_spot": "bed 1"}, {"to_spot": "bed 2"}),
    ],
)
def test_what_did_not_change_is_the_very_same(
    adviser: Adviser, path: Path, question: str, kind: str, seen: Mapping[str, object], then: Mapping[str, object]
) -> None:
    """After one fig's look the facts about figs that it says nothing of are the same objects, so that whoever keeps
    what was proved of them need not compare them."""
    own = fresh(adviser)
    asked = Understood(question)

    def facts() -> list[Fact]:
        with own.open(path) as garden:
            return facts_of(own, garden, asked, TODAY)

    facts()
    tell(path, own, "first", kind, {"plant": "fig 7", "on": ago(1), **seen})
    before = {id(fact): fact for fact in facts()}
    tell(path, own, "second", kind, {"plant": "fig 7", "on": TODAY, **then})
    after = facts()

    new = {(fact.kind, fact.text("plant")) for fact in after if id(fact) not in before}
    assert new
    assert {plant for _, plant in new} == {"fig 7"}


def test_a_fig_that_wakes_changes_what_its_kin_are_set_beside(adviser: Adviser, path: Path) -> None:
    """Where a look brings a fig to its waking, its kin are compared anew, and so is what rests on that."""
    own = fresh(adviser)
    with own.open(path) as garden:
        before = facts_of(own, garden, Understood("why-late", plant="fig 7"), TODAY)
        kin = next(row.text("name") for row in garden.of("plant") if row.text("growing") == "ground")
        names = {
            row.text("plant") for row in garden.of("stage") if row.day("on") and (row.day("on") or TODAY) > ago(60)
        }
    assert kin in names
    tell(path, own, "asleep", "stage", {"plant": kin, "on": TODAY, "bbch": 0})
    with own.open(path) as garden:
        after = facts_of(own, garden, Understood("why-late", plant="fig 7"), TODAY)

    def awake(facts: list[Fact]) -> set[float | None]:
        return {fact.number("awake") for fact in facts if fact.kind == "kin_awake"}

    assert awake(before) != awake(after)


def test_a_scene_that_asks_for_nothing_settles_first(adviser: Adviser, path: Path) -> None:
    """The first scene after a row was told may already ask about a plant: it sees the kin as they are now."""
    own = fresh(adviser)
    differing(own, path)
    tell(path, own, "asleep", "stage", {"plant": "fig 4", "on": TODAY, "bbch": 0})
    with own.open(path) as garden:
        memory = own._memories.of(garden, TODAY)
        assert memory.unsettled
        scene = Scene(garden, own.lore, TODAY, "why-late", plant="fig 7", memory=memory)
        assert not memory.unsettled
        spelled = Spelled()
        found = [spelled.out(fact) for fact in scene.derived("kin_awake")]
        anew = [spelled.out(fact) for fact in Scene(garden, own.lore, TODAY, "", plant="fig 7").derived("kin_awake")]
    assert found == anew
