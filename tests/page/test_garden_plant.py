"""The pages of a plant and of a spot: what they tell, and a stage recorded by one tap."""

from __future__ import annotations

import re
import threading
from datetime import date, timedelta
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from garden_pages import SAID, client_for, imported, page, stages_of, to, told, words
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.facts import Recorded
from advisor.records.store import NewRow

DAY = date(2026, 4, 24)
ASK = re.compile(
    r'<form method="post" action="/talk"><input type="hidden" name="id" value="([^"]+)"><button[^>]* name="text" value="([^"]+)"'
)


def form_id(text: str) -> str:
    return re.search(r'action="/garden/stage".*?name="id" value="([^"]+)"', text, re.S)[1]  # type: ignore[index]


def buttons(text: str) -> dict[str, int]:
    """Return the stages that a plant's page offers, by word."""
    return {word: int(code) for code, word in re.findall(r'name="bbch" value="(\d+)">([^<(]+?)(?: \(|<)', text)}


def tap(client: FlaskClient, plant: str, code: int, form: str = "") -> str:
    """Tap a stage on a plant's page and return where that leads."""
    form = form or form_id(page(client, to("plant", plant)))
    answer = client.post("/garden/stage", data={"plant": plant, "bbch": str(code), "id": form})
    assert answer.status_code == 303
    return answer.headers["Location"]


# ---- what a plant's page tells


def test_what_a_plant_is_and_where_it_stands(client: FlaskClient) -> None:
    """Kind, cultivar, stock, place with its link, how it is grown, and its stage with its day."""
    says = words(page(client, to("plant", "wall pear")))
    assert "Kind Pear Cultivar Williams Rootstock quince Stands at west wall Grown in the ground" in says
    text = page(client, to("plant", "store fig"))
    assert '<a href="/garden/spot/store">store</a>' in text and "in a pot, under a shelter" in words(text)
    assert "store , since 15 November 2025" in words(text).split("Where it stood")[1]
    assert re.search(r"Pot soil [\d.]+ °C, read \w+", words(page(client, to("plant", "tall pot fig"))))


def test_its_years_stand_beside_each_other(adviser: Adviser, tmp_path: Path) -> None:
    """The first day of each milestone by growing year, autumn counted to its own year; what was not seen is told as that."""
    looks = [
        ("2024-03-20", 1),
        ("2024-04-02", 9),
        ("2024-04-09", 11),
        ("2024-10-30", 95),
        ("2025-04-11", 9),
        ("2026-04-20", 1),
    ]
    rows = [("stage", {"plant": "f", "on": date.fromisoformat(on), "bbch": code}) for on, code in looks]
    path = told(
        adviser, tmp_path / "g.db", ("spot", {"name": "s"}), ("plant", {"name": "f", "species": "fig", "spot": "s"}), *rows,
        ("crop", {"plant": "f", "on": date(2024, 8, 30)}),
    )  # fmt: skip
    says = words(page(client_for(adviser, path, NOON), to("plant", "f")))
    assert "Year Swelling Awake Ripe Leaf fall" in says  # a fig's flowers are hidden in the fruit
    assert "2026 20 Apr – not seen" in says and "2024 20 Mar 2 Apr 30 Aug 30 Oct" in says
    assert "This year: buds swelling on 20 April." in says


def test_limbs_of_one_stem_are_one_tree(adviser: Adviser, tmp_path: Path) -> None:
    """The page of a tree or of any of its limbs shows them all, each with its own state, the others linked."""
    client = client_for(adviser, imported(adviser, "conversations/garden", tmp_path / "c.db"), NOON)
    names = ("family apple", "family apple red limb", "family apple green limb")
    for name in names:
        tree = page(client, to("plant", name)).split('class="tree"')[1].split("<h2>")[0]
        assert f"<strong>{name}</strong>" in tree
        assert [one for one in names if f'href="{to("plant", one)}"' in tree] == [one for one in names if one != name]
    assert '<dt>Grafted on</dt><dd><a href="/garden/plant/family%20apple">' in page(client, to("plant", names[1]))
    assert "One stem" not in page(client, to("plant", "old pear"))


def test_grafts_that_go_round_do_no_harm(adviser: Adviser, tmp_path: Path) -> None:
    """Two plants told to be grafted on each other are a slip in the records, and their pages still open."""
    path = told(adviser, tmp_path / "g.db", ("spot", {"name": "s"}), *(
        ("plant", {"name": one, "species": "apple", "spot": "s", "grafted_on": other}) for one, other in ("ab", "ba")
    ))  # fmt: skip
    for name in "ab":
        assert f"<h1>{name}</h1>" in page(client_for(adviser, path, NOON), to("plant", name))


def test_advice_and_what_came_of_it(adviser: Adviser, demo_copy: Path) -> None:
    """Advice asked for is kept and shown with its reason; when a later record shows that it was followed, that is said."""
    adviser.message({"text": "why is the shed fig late?"}, NOON, demo_copy)
    now = words(page(client_for(adviser, demo_copy, NOON), to("plant", "shed fig")))
    assert "24 April: Open the mulch." in now and "Given today; nothing later is recorded yet." in now
    later = NOON + timedelta(days=9)
    for text in ("raked the chips off the shed bed", "shed fig bud break"):
        assert adviser.message({"text": text}, later, demo_copy)["outcome"] == "recorded"
    says = words(page(client_for(adviser, demo_copy, later + timedelta(days=1)), to("plant", "shed fig")))
    assert "Done. It did what it was for." in says.split("Advice given")[1].split("Open the mulch.")[1][:300]


# ---- questions and links


@pytest.mark.parametrize("path", [to("plant", "shed fig"), to("spot", "south wall"), to("spot", "store"), "/garden"])
def test_each_question_on_a_page_is_one_that_is_answered(
    adviser: Adviser, client: FlaskClient, demo_copy: Path, path: str
) -> None:
    """What a button asks is understood as it stands, and each has an id of its own, so that two taps ask once."""
    found = ASK.findall(page(client, path))
    assert len({key for key, _ in found}) == len(found) > 0
    for key, text in found:
        reply = adviser.message({"text": text, "id": key}, NOON, demo_copy)
        assert reply["outcome"] == "answered", (text, reply["reply"])


def test_a_spot_is_asked_only_what_fits_it(client: FlaskClient) -> None:
    """Nothing is to be planted in a shelter or on paving."""
    for name, fits in (("store", False), ("pot yard", False), ("south wall", True)):
        asked = [text for _, text in ASK.findall(page(client, to("spot", name)))]
        assert any(text.startswith("What could I plant") for text in asked) is fits


def test_logging_leads_to_a_form_with_the_name_filled_in(client: FlaskClient) -> None:
    """Links to the forms carry the plant or spot."""
    assert 'href="/records/new/inspection?plant=shed+fig"' in page(client, to("plant", "shed fig"))
    assert 'href="/records/new/soil_reading?spot=south+wall"' in page(client, to("spot", "south wall"))
    assert 'href="/pictures?spot=south+wall"' in page(client, to("spot", "south wall"))


# ---- a spot


def test_a_spot_and_what_stands_there(client: FlaskClient) -> None:
    """What is told, its state now with the soils read about then, the plants, and its history, newest first."""
    says = words(page(client, to("spot", "south wall")))
    assert "Cover stones, 6 cm Soil 12.4 °C, read 2 days ago" in says
    assert "Other soils read about then west wall 12.6 °C, read 3 days ago" in says
    assert "9 hours near midsummer and 8 hours in mid-spring on a clear day, as you told" in says
    assert "Cold nights never measured" in says
    assert "wall fig fig, Brown Turkey; leafing out" in says
    assert says.index("22 April 18:30") < says.index("18 April 13:52") < says.index("10 April")


def test_a_measured_cold_spot_tells_its_difference(adviser: Adviser, tmp_path: Path) -> None:
    """A thermometer of the spot's own beside the station, on many clear nights, gives the difference with its count."""
    rows = []
    for n in range(24):
        on = date(2026, 3, 20) + timedelta(days=n)
        rows.append(("weather_day", {"on": on, "min_c": 2.0 + n % 3, "max_c": 16.0 + n % 3, "source": "s"}))
        rows.append(("weather_day", {"on": on, "min_c": -1.0 + n % 3, "max_c": 16.0, "source": "h", "spot": "hollow"}))
    path = told(adviser, tmp_path / "g.db", ("spot", {"name": "hollow", "low_lying": True}), *rows)
    says = words(page(client_for(adviser, path, NOON), to("spot", "hollow")))
    assert re.search(r"Cold nights 3 °C colder than the station, over \d\d calm clear nights", says)


# ---- a stage by one tap


def test_only_stages_near_the_present_one_are_offered(client: FlaskClient) -> None:
    """A sleeping fig is offered what comes next, not ripe fruit; a cherry in flower the end of its bloom."""
    assert list(buttons(page(client, to("plant", "shed fig")))) == [
        "dormant", "buds swelling", "buds elongating", "bud break", "leafing out", "half in leaf",
    ]  # fmt: skip
    assert {"full bloom", "petal fall", "bloom over"} <= set(buttons(page(client, to("plant", "big cherry"))))


def test_one_tap_records_a_stage_and_says_it_back(adviser: Adviser, client: FlaskClient, demo_copy: Path) -> None:
    """The tap leads to the plant's page, which says what was recorded; a reload of it records nothing."""
    where = tap(client, "shed fig", 9)
    for _ in range(2):
        assert "Recorded: Shed fig bud break, 24 April." in words(page(client, where))
    assert stages_of(adviser, demo_copy, "shed fig")[-1] == ("2026-04-24", 9)
    assert "Now Bud break, seen today" in words(page(client, to("plant", "shed fig")))


def test_a_double_tap_records_once(adviser: Adviser, client: FlaskClient, demo_copy: Path) -> None:
    """Eight sendings of one form at once, and one more later, are one record."""
    before, form = stages_of(adviser, demo_copy, "shed fig"), form_id(page(client, to("plant", "shed fig")))
    threads = [
        threading.Thread(target=tap, args=(client.application.test_client(), "shed fig", 9, form)) for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    tap(client, "shed fig", 9, form)
    assert stages_of(adviser, demo_copy, "shed fig") == [*before, ("2026-04-24", 9)]


def test_undo_takes_it_back_and_twice_does_nothing(adviser: Adviser, client: FlaskClient, demo_copy: Path) -> None:
    """Undo beside what was recorded brings the records back as they were; a second tap on it changes nothing."""
    before = stages_of(adviser, demo_copy, "shed fig")
    ref = tap(client, "shed fig", 9).split("said=")[1]
    for _ in range(2):
        answer = client.post("/garden/undo", data={"plant": "shed fig", "ref": ref})
        assert answer.status_code == 303
        assert "Taken back" in words(page(client, answer.headers["Location"]))
    assert stages_of(adviser, demo_copy, "shed fig") == before
    tap(client, "shed fig", 9)
    assert stages_of(adviser, demo_copy, "shed fig") == [*before, ("2026-04-24", 9)]


def test_a_stale_page_brings_nothing_back(adviser: Adviser, client: FlaskClient, demo_copy: Path) -> None:
    """A form sent again after its record was taken back records nothing, and the page says that nothing was added."""
    before, form = stages_of(adviser, demo_copy, "shed fig"), form_id(page(client, to("plant", "shed fig")))
    ref = tap(client, "shed fig", 9, form).split("said=")[1]
    client.post("/garden/undo", data={"plant": "shed fig", "ref": ref})
    assert "nothing was added" in words(page(client, tap(client, "shed fig", 9, form)))
    assert stages_of(adviser, demo_copy, "shed fig") == before


def test_another_stage_from_the_same_page_is_another_record(
    adviser: Adviser, client: FlaskClient, demo_copy: Path
) -> None:
    """Who goes back and taps another stage records it; the same stage of the day told anew adds nothing and says so."""
    form = form_id(page(client, to("plant", "big cherry")))
    tap(client, "big cherry", 67, form)
    tap(client, "big cherry", 69, form)
    assert stages_of(adviser, demo_copy, "big cherry")[-2:] == [("2026-04-24", 67), ("2026-04-24", 69)]
    assert "is recorded for today already" in words(page(client, tap(client, "big cherry", 69)))
    assert len([one for one in stages_of(adviser, demo_copy, "big cherry") if one == ("2026-04-24", 69)]) == 1


@pytest.mark.parametrize(
    "form",
    [
        {"plant": "shed fig", "bbch": "9"}, {"plant": "shed fig", "bbch": "x", "id": "a"}, {"plant": "shed fig", "bbch": "60", "id": "a"},
        {"plant": "shed fig", "bbch": "9", "id": "a b"}, {"plant": "no fig", "bbch": "9", "id": "a"}, {},
    ],
)  # fmt: skip
def test_a_form_that_is_not_whole_records_nothing(
    adviser: Adviser, client: FlaskClient, demo_copy: Path, form: dict[str, str]
) -> None:
    """A form without its parts, of a stage that the kind has not, or of no plant here, is refused as a page."""
    before = demo_copy.read_bytes() and stages_of(adviser, demo_copy, "shed fig")
    assert client.post("/garden/stage", data=form).status_code in (404, 422)
    assert stages_of(adviser, demo_copy, "shed fig") == before


def test_one_plants_undo_leaves_other_records_alone(adviser: Adviser, client: FlaskClient, demo_copy: Path) -> None:
    """Undo knows only what was told from a page: a file or a message cannot be undone through it."""
    with adviser.open(demo_copy) as garden:
        counts = {kind: len(garden.of(kind)) for kind in ("stage", "plant", "cover")}
        garden.add([(SAID, [NewRow("stage", {"plant": "shed fig", "on": DAY, "bbch": 5})])])
    for ref in ("stage.csv", "test", "", "demo"):
        client.post("/garden/undo", data={"plant": "shed fig", "ref": ref})
    with adviser.open(demo_copy) as garden:
        assert {kind: len(garden.of(kind)) for kind in counts} == {**counts, "stage": counts["stage"] + 1}
        assert isinstance(garden.of("stage")[-1].origin, Recorded)
