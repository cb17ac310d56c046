"""What is recorded of one plant or spot, and new fields in old files."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path

import pytest
from big_garden import DAY, NOW, fill, name_of

from advisor.conversation import Adviser
from advisor.facts import Fact
from advisor.records.corrections import retire
from advisor.records.history import APART, RecordsOf, history_of, last_about
from advisor.records.kinds import Field
from advisor.records.store import Garden, NewRow, Said

SAID = Said("file", "test.csv", NOW)
PLACE = {"name": "P", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "UTC", "units": "metric"}
PLACE_ROW = NewRow("place", PLACE)


@pytest.fixture(scope="module")
def large(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A garden of 60 plants and ten years."""
    path = tmp_path_factory.mktemp("large") / "garden.db"
    with adviser.open(path, create=True) as garden:
        fill(garden, 60)
    return path


def held(fact: Fact, garden: Garden) -> str:
    value = fact.values[garden.kinds[fact.kind].holds_on]
    return value.isoformat() if isinstance(value, date | datetime) else str(value)


def naming(garden: Garden, of: str, name: str) -> list[Fact]:
    """Return every row that names a plant or spot, by reading all of them."""
    found = []
    for kind in garden.kinds.values():
        fields = [one.name for one in kind.fields.values() if one.type == of and one.name != "grafted_on"]
        if kind.origin == "recorded" and kind.holds_on and kind.name not in APART:
            found += [fact for fact in garden.of(kind.name) if any(fact.get(one) == name for one in fields)]
    return [fact for fact in found if kind_day(fact, garden)]


def kind_day(fact: Fact, garden: Garden) -> object:
    return fact.get(garden.kinds[fact.kind].holds_on)


@pytest.mark.parametrize(("of", "name"), [("plant", name_of(5)), ("spot", "bed 2"), ("spot", "winter store")])
def test_a_history_page_by_page_is_the_whole_history(adviser: Adviser, large: Path, of: str, name: str) -> None:
    """The pages together hold each row that names the thing once, the newest first."""
    with adviser.open(large) as garden:
        pages: list[Sequence[Fact]] = []
        while not pages or pages[-1]:
            pages.append(history_of(garden, of, name, most=40, skip=40 * len(pages)).rows)
        told = [fact for page in pages for fact in page]
        wanted = naming(garden, of, name)
        assert history_of(garden, of, name, most=1).total == len(told) == len(wanted) > 40
        assert {(fact.kind, fact.origin) for fact in told} == {(fact.kind, fact.origin) for fact in wanted}
        days = [held(fact, garden)[:10] for fact in told]
        assert days == sorted(days, reverse=True)


def test_what_is_out_of_use_is_no_part_of_a_history(garden: Garden) -> None:
    """A row taken out of use is left out, and so is a logger's weather; a name that is nowhere has no history."""
    plant = NewRow("plant", {"name": "f", "species": "fig", "spot": "bed"})
    looks = [NewRow("stage", {"plant": "f", "on": date(2026, 4, day), "bbch": 1}) for day in (1, 2)]
    night = NewRow("weather_day", {"on": DAY, "spot": "bed", "min_c": 1.0, "max_c": 9.0, "source": "logger"})
    garden.add([(SAID, [PLACE_ROW, NewRow("spot", {"name": "bed"}), plant, *looks, night])])
    retire(garden, "stage", 2, SAID, reason="wrong tree")
    assert [fact.day("on") for fact in history_of(garden, "plant", "f", most=9).rows] == [date(2026, 4, 1)]
    assert history_of(garden, "spot", "bed", most=9).total == history_of(garden, "plant", "no", most=9).total == 0


def test_records_cut_down_to_some_plants(adviser: Adviser, large: Path) -> None:
    """Of each kind those rows are there that name the plants or spots, as reading all of them finds; no other plant."""
    with adviser.open(large) as garden:
        some = RecordsOf(garden, (name_of(2), name_of(3)), ("bed 3",))
        assert [fact.text("name") for fact in some.of("plant")] == [name_of(2), name_of(3)]
        for kind, fields in {
            "stage": ("plant",),
            "move": ("plant", "to_spot"),
            "soil_reading": ("plant", "spot"),
        }.items():
            wanted = [
                fact.key for fact in garden.of(kind)
                if any(fact.get(one) in (name_of(2), name_of(3), "bed 3") for one in fields)
            ]  # fmt: skip
            assert [fact.key for fact in some.of(kind)] == wanted != []
        assert [fact.day("on") for fact in RecordsOf(garden, since=DAY).of("weather_day")] == [DAY]


def test_an_old_file_takes_a_new_field(adviser: Adviser, tmp_path: Path) -> None:
    """A garden file made before spots had a bearing opens, keeps its rows, and takes one from then on."""
    kinds = dict(adviser.base.kinds)
    spot = kinds["spot"]
    old: dict[str, Field] = {
        name: one for name, one in spot.fields.items() if name not in ("bearing_deg", "distance_m")
    }
    kinds["spot"] = type(spot)(**{**spot.__dict__, "fields": old})
    with Garden(tmp_path / "old.db", kinds, create=True) as garden:
        garden.add([(SAID, [NewRow("spot", {"name": "bed", "aspect": "S"})])])
    with adviser.open(tmp_path / "old.db") as garden:
        assert dict(garden.of("spot")[0].values) == {"name": "bed", "aspect": "S"}
        garden.add([(SAID, [NewRow("spot", {"name": "wall", "bearing_deg": 200.0, "distance_m": 6.5})])])
        assert garden.of("spot")[1].number("bearing_deg") == 200


def test_the_last_rows_of_a_kind_are_those_of_a_look_at_all_rows(adviser: Adviser, large: Path) -> None:
    """Picked by the index, the last rows about plants and spots are the ones that reading every row finds."""
    with adviser.open(large) as garden:
        for kind in ("stage", "work", "move", "soil_reading"):
            fields = [one for one in ("plant", "spot", "to_spot") if one in garden.kinds[kind].fields]
            for names in ([name_of(5)], ["bed 2"], ["bed 1", name_of(7)], ["nowhere"]):
                about = [fact for fact in garden.of(kind) if any(fact.get(one) in names for one in fields)]
                about.sort(key=lambda fact: (held(fact, garden), fact.origin.row_ids), reverse=True)
                found = last_about(garden, garden.kinds[kind], names, 12)
                assert {fact.origin for fact in found} == {fact.origin for fact in about[:12]}, (kind, names)


def test_the_last_rows_that_tell_of_a_deed(garden: Garden) -> None:
    """With a deed only works that say so are counted, and none that was taken out of use."""
    garden.add(
        [
            (
                SAID,
                [
                    PLACE_ROW,
                    NewRow("spot", {"name": "bed"}),
                    NewRow("plant", {"name": "f", "species": "fig", "spot": "bed"}),
                ],
            )
        ]
    )
    deeds = ("pruned", "fed", "pruned", "fed")
    garden.add(
        [
            (
                SAID,
                [
                    NewRow("work", {"plant": "f", "on": date(2026, 4, n + 1), "what": what})
                    for n, what in enumerate(deeds)
                ],
            )
        ]
    )
    retire(garden, "work", 3, SAID, reason="another tree")
    found = last_about(garden, garden.kinds["work"], ["f"], 2, "pruned")
    assert [fact.day("on") for fact in found] == [date(2026, 4, 1)]
