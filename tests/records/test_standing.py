"""Out of use and back with nothing left hanging, and no two rows about one thing; a form is heard once."""

from __future__ import annotations

import threading
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from advisor.conversation import Adviser
from advisor.errors import BadFields, BadInput, NotFound
from advisor.records.by_form import Told, tell
from advisor.records.corrections import bring_back, correct, is_in_use, retire, rulings, undo
from advisor.records.importing import import_path
from advisor.records.store import Garden, NewRow, Said
from advisor.records.undoing import effects_of, run_between, run_of, undo_run

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nTest Hill,47.0,15.0,Europe/Vienna,metric\n"


def by(ref: str) -> Said:
    return Said("page", ref, NOW)


@pytest.fixture
def yard(put, garden: Garden) -> Garden:
    """A garden with a spot, a plant in it, a cover on it and a look at the plant."""
    put(
        place=PLACE,
        spot="name\nbed\n",
        plant="name,species,spot\nfig one,fig,bed\n",
        cover="spot,material,depth_cm,put_on\nbed,straw,8,2026-01-02\n",
        stage="plant,on,bbch\nfig one,2026-04-01,7\n",
    )
    return garden


def test_a_row_comes_back_by_a_ruling(yard: Garden) -> None:
    """Out of use and back: both rulings stay with the row, and what it says counts again."""
    retire(yard, "stage", 1, by("a"), reason="wrong tree")
    bring_back(yard, "stage", 1, by("b"), reason="it was the right one")
    assert is_in_use(yard, "stage", 1)
    assert [(one["in_use"], one["reason"]) for one in rulings(yard, "stage", 1)] == [
        (0, "wrong tree"),
        (1, "it was the right one"),
    ]
    with pytest.raises(BadInput, match="it is in use"):
        bring_back(yard, "stage", 1, by("c"), reason="again")
    with pytest.raises(NotFound):
        bring_back(yard, "stage", 99, by("d"), reason="again")


def test_no_row_comes_back_beside_the_one_that_stands_for_it(yard: Garden, adviser: Adviser) -> None:
    """A cover told anew, and a look put right: the old row stays out as long as the new one is in use."""
    told = tell(
        yard,
        adviser.lore,
        "cover",
        {"spot": "bed", "material": "straw", "put_on": "2026-01-02", "depth_cm": "12"},
        by("a"),
        NOW,
    )
    assert told.rows == (("cover", 2),)
    with pytest.raises(BadInput, match="cover/2 stands for it now"):
        bring_back(yard, "cover", 1, by("b"), reason="back")
    new = correct(yard, "stage", 1, {"bbch": 9}, by("c"), reason="misread")
    with pytest.raises(BadInput, match=f"stage/{new} stands for it now"):
        bring_back(yard, "stage", 1, by("d"), reason="back")
    retire(yard, "stage", new, by("e"), reason="neither")
    bring_back(yard, "stage", 1, by("f"), reason="the first was right")
    assert is_in_use(yard, "stage", 1)


def test_no_second_plant_of_a_name_comes_back(yard: Garden) -> None:
    """A plant taken out of use, and another told under its name with other capitals: the first stays out."""
    retire(yard, "stage", 1, by("a"), reason="x")
    retire(yard, "plant", 1, by("b"), reason="dug out")
    yard.add([(by("c"), [NewRow("plant", {"name": "Fig One", "species": "peach"})])])
    with pytest.raises(BadInput, match="plant/2 stands for it now"):
        bring_back(yard, "plant", 1, by("d"), reason="back")


def test_a_row_does_not_come_back_without_what_it_rests_on(yard: Garden) -> None:
    """A look at a plant that is out of use stays out until the plant is back."""
    retire(yard, "stage", 1, by("a"), reason="x")
    retire(yard, "plant", 1, by("b"), reason="dug out")
    with pytest.raises(BadInput, match="not in use: plant fig one"):
        bring_back(yard, "stage", 1, by("c"), reason="back")
    bring_back(yard, "plant", 1, by("d"), reason="it lives")
    bring_back(yard, "stage", 1, by("e"), reason="back")
    assert [fact.text("plant") for fact in yard.of("stage")] == ["fig one"]


def test_no_correction_makes_a_ring_of_grafts(yard: Garden) -> None:
    """Two hangs on one: one cannot be put right to hang on two."""
    yard.add([(by("a"), [NewRow("plant", {"name": "two", "species": "fig", "grafted_on": "fig one"})])])
    with pytest.raises(BadInput, match="grafted_on"):
        correct(yard, "plant", 1, {"grafted_on": "two"}, by("b"), reason="ring")
    retire(yard, "plant", 2, by("c"), reason="cut off")
    correct(yard, "plant", 1, {"grafted_on": None, "rootstock": "own roots"}, by("d"), reason="no ring now")


def test_two_of_one_moment_do_not_come_back(yard: Garden) -> None:
    """A day's weather out of use stays out where another row tells of that day at that station."""

    def day(low: float) -> NewRow:
        return NewRow("weather_day", {"on": date(2026, 4, 1), "min_c": low, "max_c": 9.0, "source": "s"})

    yard.add([(by("a"), [day(1.0)])])
    retire(yard, "weather_day", 1, by("b"), reason="sun on the sensor")
    yard.add([(by("c"), [day(2.0)])])
    with pytest.raises(BadInput, match="weather_day/2 stands for it"):
        bring_back(yard, "weather_day", 1, by("d"), reason="back")


def test_an_hour_that_comes_back_makes_its_day_anew(put, garden: Garden) -> None:
    """The day's maximum goes with the hour and comes back with it."""
    hours = "at,temp_c,source\n" + "\n".join(f"2026-04-01 {h:02d}:00,{h / 2 + 1},s" for h in range(24))
    put(place=PLACE, weather_hour=hours)
    (row_id,) = [
        n for n, t in ((r, t) for r, t in garden.db.conn.execute("SELECT id, temp_c FROM weather_hour")) if t == 12.5
    ]
    retire(garden, "weather_hour", row_id, by("a"), reason="x")
    bring_back(garden, "weather_hour", row_id, by("b"), reason="right after all")
    assert [fact.number("max_c") for fact in garden.of("weather_day")] == [12.5]


def test_no_correction_makes_a_second_of_one_thing(yard: Garden) -> None:
    """A plant is not renamed to another's name, nor a look made the same as another."""
    yard.add([(by("a"), [NewRow("plant", {"name": "two", "species": "fig"})])])
    yard.add([(by("b"), [NewRow("stage", {"plant": "fig one", "on": date(2026, 4, 2), "bbch": 7})])])
    with pytest.raises(BadInput, match="plant/1 tells of the same thing"):
        correct(yard, "plant", 2, {"name": "FIG one"}, by("c"), reason="name")
    with pytest.raises(BadInput, match="stage/1 tells of the same thing"):
        correct(yard, "stage", 2, {"on": date(2026, 4, 1)}, by("d"), reason="day")


def test_a_trial_with_members_keeps_its_name(yard: Garden) -> None:
    """A trial is known to its members by its name: neither renamed nor taken away under them."""
    trial = NewRow("trial", {"name": "mulch", "question": "q", "differs": "d", "from_day": date(2026, 1, 1)})
    yard.add([(by("a"), [trial, NewRow("trial_member", {"trial": "mulch", "side": "a", "plant": "fig one"})])])
    with pytest.raises(BadInput, match="recorded under its name: trial_member/1"):
        correct(yard, "trial", 1, {"name": "chips"}, by("b"), reason="name")
    with pytest.raises(BadInput, match="rest on it: trial_member/1"):
        retire(yard, "trial", 1, by("c"), reason="over")


def test_undoing_the_middle_of_three_leaves_the_last(yard: Garden, adviser: Adviser) -> None:
    """Told, told anew, told anew again: taking back the second does not bring the first beside the third."""
    cells = {"spot": "bed", "material": "straw", "put_on": "2026-01-02"}
    for ref, depth in (("a", "10"), ("b", "12")):
        tell(yard, adviser.lore, "cover", {**cells, "depth_cm": depth}, by(ref), NOW)
    with pytest.raises(NotFound):
        undo(yard, "a", Said("undo", "a", NOW))
    assert [fact.number("depth_cm") for fact in yard.of("cover")] == [12.0]
    undo(yard, "b", Said("undo", "b", NOW))
    assert [fact.number("depth_cm") for fact in yard.of("cover")] == [10.0]
    undo(yard, "a", Said("undo", "a", NOW))
    assert [fact.number("depth_cm") for fact in yard.of("cover")] == [8.0]


def test_what_came_with_a_row_is_shown_before_it_is_taken_back(yard: Garden) -> None:
    """The effects that are shown are those that undoing has; what rests on it is named and nothing is done."""
    told = yard.add(
        [
            (
                by("a"),
                [NewRow("spot", {"name": "new"}), NewRow("plant", {"name": "two", "species": "fig", "spot": "new"})],
            )
        ]
    )
    run = run_of(yard, yard.row(*told[0])["said_id"])
    assert effects_of(yard, run).taken == (("plant", 2), ("spot", 2))
    yard.add([(by("b"), [NewRow("stage", {"plant": "two", "on": date(2026, 4, 1), "bbch": 7})])])
    assert effects_of(yard, run).resting == (("stage", 2),)
    with pytest.raises(BadInput, match="later records rest on it: stage/2"):
        undo_run(yard, run, Said("undo", "a", NOW))
    undo(yard, "b", Said("undo", "b", NOW))
    assert undo_run(yard, run, Said("undo", "a", NOW)) == [("plant", 2), ("spot", 2)]
    assert not effects_of(yard, run)


def test_what_an_undo_would_bring_back_needs_what_it_rests_on(yard: Garden) -> None:
    """A cover taken out, then its spot: undoing the first alone would leave a cover on no spot."""
    retire(yard, "cover", 1, by("a"), reason="x")
    retire(yard, "stage", 1, by("b"), reason="x")
    retire(yard, "plant", 1, by("c"), reason="x")
    retire(yard, "spot", 1, by("d"), reason="x")
    with pytest.raises(BadInput, match="not in use: spot bed"):
        undo(yard, "a", Said("undo", "a", NOW))


def test_an_import_of_several_files_is_taken_back_whole(garden: Garden, adviser: Adviser, tmp_path: Path) -> None:
    """Files that rest on each other go together, and can all be imported again."""
    (tmp_path / "files").mkdir()
    for name, text in {
        "place": PLACE,
        "spot": "name,said_by\nbed,ann\nhill,bob\n",
        "plant": "name,species,spot\nfig,fig,bed\n",
    }.items():
        (tmp_path / "files" / f"{name}.csv").write_text(text)
    done = import_path(garden, tmp_path / "files", adviser.lore, NOW)
    assert done.told is not None
    taken = undo_run(garden, run_between(garden, *done.told), Said("undo", "import", NOW))
    assert sorted(taken) == [("place", 1), ("plant", 1), ("spot", 1), ("spot", 2)]
    again = import_path(garden, tmp_path / "files", adviser.lore, NOW)
    assert again.added == {"place": 1, "spot": 2, "plant": 1}
    assert import_path(garden, tmp_path / "files", adviser.lore, NOW).told is None


# ---- a form is heard once


STAGE = {"plant": "fig one", "on": "2026-04-20", "bbch": "9"}


def test_the_same_form_brings_its_rows_once(yard: Garden, adviser: Adviser) -> None:
    """Sent twice, the second brings nothing and says what the first brought, whatever it holds."""
    first = tell(yard, adviser.lore, "stage", STAGE, by("f1"), NOW)
    assert (first.rows, first.again) == ((("stage", 2),), False)
    assert tell(yard, adviser.lore, "stage", {**STAGE, "bbch": "10"}, by("f1"), NOW) == Told(first.rows, again=True)
    assert len(yard.of("stage")) == 2


def test_two_at_once_of_the_same_form_bring_one_row(yard: Garden, adviser: Adviser) -> None:
    """Two hands on one button: of eight sendings at once, one brings a row and seven are told of it."""
    found: list[Told] = []

    def send() -> None:
        with adviser.open(yard.path) as garden:
            found.append(tell(garden, adviser.lore, "stage", STAGE, by("f1"), NOW))

    threads = [threading.Thread(target=send) for _ in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert [one.rows for one in found] == [(("stage", 2),)] * 8
    assert sum(one.again for one in found) == 7
    with adviser.open(yard.path) as garden:
        assert len(garden.of("stage")) == 2


def test_what_is_recorded_already_is_named(yard: Garden, adviser: Adviser) -> None:
    """Another form that tells the same brings nothing and leads to the row, also to one that is out of use."""
    told = tell(yard, adviser.lore, "stage", STAGE, by("f1"), NOW)
    assert tell(yard, adviser.lore, "stage", STAGE, by("f2"), NOW) == Told(same=told.rows[0])
    retire(yard, *told.rows[0], by("r"), reason="x")
    assert tell(yard, adviser.lore, "stage", STAGE, by("f3"), NOW) == Told(same=told.rows[0])


def test_a_day_of_weather_by_form_stands_for_the_day_before_told(yard: Garden, adviser: Adviser) -> None:
    """One day has one row: told again with another minimum, the new row stands for the old one."""
    cells = {"on": "2026-04-20", "min_c": "1", "max_c": "9", "source": "porch"}
    tell(yard, adviser.lore, "weather_day", cells, by("a"), NOW)
    told = tell(yard, adviser.lore, "weather_day", {**cells, "min_c": "-2"}, by("b"), NOW)
    assert told.rows == (("weather_day", 2),)
    assert [fact.number("min_c") for fact in yard.of("weather_day")] == [-2.0]
    assert tell(yard, adviser.lore, "weather_day", {**cells, "min_c": "-2"}, by("c"), NOW).same == ("weather_day", 2)
    with pytest.raises(BadFields) as caught:
        tell(yard, adviser.lore, "weather_day", {**cells, "min_c": "cold"}, by("d"), NOW)
    assert [fault.field for fault in caught.value.faults] == ["min_c"]
