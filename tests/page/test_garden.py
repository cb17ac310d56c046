"""The garden's page: the day, the lists with their state, filters, and records at odds."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from big_garden import fill
from flask.testing import FlaskClient
from garden_pages import ODD, SAID, client_for, imported, page, to, told, words
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.records.store import NewRow

DAY = date(2026, 4, 24)
HEAVIEST = 100_000
"""Bytes of a page on one bar of signal: about ten seconds at 80 kbit/s (house judgement)."""


@pytest.fixture
def large(adviser: Adviser, tmp_path: Path) -> Path:
    """A garden of 300 plants and ten years."""
    path = tmp_path / "large.db"
    with adviser.open(path, create=True) as garden:
        fill(garden, 300)
    return path


def test_the_garden_at_a_glance(client: FlaskClient) -> None:
    """The place, the season, each spot with cover and soil, each plant with its stage and when that was seen."""
    says = words(page(client, "/garden"))
    assert "Quellhang" in says and "24 April, spring." in says
    assert "shed bed wood chips, 11 cm; soil 8.9 °C, read 2 days ago; 2 plants: 1 asleep and 1 awake" in says
    assert "shed fig fig, Brown Turkey; still asleep, all others are out, seen 2 days ago; in the ground" in says
    assert "old plum European plum; not looked at this year; last full bloom, 362 days ago" in says
    assert "38 of 38 plants" in says


def test_us_growers_read_their_own_units(adviser: Adviser, tmp_path: Path) -> None:
    """Fahrenheit and inches on every page of the US garden, and not one Celsius or centimetre."""
    client = client_for(adviser, imported(adviser, "demo_us", tmp_path / "us.db"), NOON)
    text = words(page(client, "/garden"))
    assert "°F" in text
    for path in ("/garden", to("spot", "patio"), to("spot", "south wall"), to("plant", "barrel fig")):
        says = words(page(client, path))
        assert "°C" not in says and " cm" not in says and " litres" not in says
    assert "Pot 25 gallons" in words(page(client, to("plant", "barrel fig")))


def test_records_at_odds_are_told_in_words_with_a_way_to_each(client: FlaskClient) -> None:
    """What cannot all be true is a warning, each record of it in words and linked."""
    text = page(client, "/garden")
    says = words(text)
    assert "Black pot fig was moved to pot yard and to south wall on one day, 10 April" in says
    assert '<a href="/records/move/23">' in text and "2026-" not in says


@pytest.mark.parametrize(
    ("query", "there", "not_there"),
    [
        ("kind=apricot", ["gate apricot", "wall apricot"], ["shed fig", "house plum"]),
        ("place=store", ["porch fig two", "store fig"], ["shed fig", "tall pot fig"]),
        ("state=asleep", ["shed fig", "store fig"], ["gate apricot", "glass fig"]),
        ("state=in+bloom", ["house plum", "long pear"], ["shed fig", "gate apricot"]),
        ("state=awake", ["gate apricot", "glass fig"], ["shed fig", "house plum"]),
        ("state=in+pots", ["tall pot fig", "pot peach"], ["shed fig"]),
        ("state=under+cover", ["glass fig", "store fig"], ["shed fig", "tall pot fig"]),
        ("state=not+looked+at", ["old plum"], ["shed fig"]),
        ("kind=fig&state=asleep&place=shed+bed", ["shed fig"], ["store fig", "yellow plum"]),
    ],
)
def test_plants_by_kind_place_and_state(
    client: FlaskClient, query: str, there: list[str], not_there: list[str]
) -> None:
    """A filter shows the plants that fit it and no others, and can be taken away."""
    text = page(client, f"/garden?{query}").split('id="plants"')[1]
    for name in there:
        assert f'href="{to("plant", name)}"' in text
    for name in not_there:
        assert f'href="{to("plant", name)}"' not in text
    assert "Show all" in text


def test_a_filter_that_nothing_fits_says_so(client: FlaskClient) -> None:
    """No plant is no error; a made-up kind or page is none either."""
    for query in ("kind=no-such", "state=<b>", "kind=apricot&state=in+pots"):
        assert "0 of 38 plants" in words(page(client, f"/garden?{query}"))
    for number in ("0", "-1", "99999999999", "x", "7"):
        assert "38 of 38 plants" in words(page(client, f"/garden?page={number}&spots={number}"))


def test_tonight_where_something_is_told_of_it(adviser: Adviser, tmp_path: Path) -> None:
    """A forecast for the coming night is told with its day; an evening read here goes before it; an old one is not told."""
    forecast = {"issued": DAY - timedelta(days=1), "for_day": DAY + timedelta(days=1), "min_c": -2.0, "sky": "clear"}
    path = told(adviser, tmp_path / "g.db", ("forecast_day", forecast))
    client = client_for(adviser, path, NOON)
    assert "Forecast for tonight: down to -2 °C, sky: clear (told on 23 April)." in words(page(client, "/garden"))
    with adviser.open(path) as garden:
        garden.add([(SAID, [NewRow("evening", {"on": DAY, "temp_c": 5.0, "dew_point_c": -1.0})])])
    assert "This evening's reading leads to about " in words(page(client, "/garden"))
    late = client_for(adviser, path, NOON + timedelta(days=3))
    assert "No forecast and no evening reading is told for tonight." in words(page(late, "/garden"))


def test_an_empty_garden_says_how_to_begin(adviser: Adviser, tmp_path: Path) -> None:
    """No file, and a file without a place, lead to where a garden is set up; without spots it says so."""
    for path in (tmp_path / "none.db", tmp_path / "bare.db"):
        if path.stem == "bare":
            adviser.open(path, create=True).db.conn.close()
        client = client_for(adviser, path, NOON)
        for address in ("/garden", "/garden/plan"):
            assert client.get(address).headers["Location"] == "/start"
    client = client_for(adviser, told(adviser, tmp_path / "place.db"), NOON)
    says = words(page(client, "/garden"))
    assert "No spots are told yet" in says and "No plants are told yet" in says
    assert "No spots are told yet" in words(page(client, "/garden/plan"))


def test_names_nearly_alike_stay_apart(adviser: Adviser, tmp_path: Path) -> None:
    """Each of several names that begin alike has a page of its own, and no page takes another's records."""
    client = client_for(adviser, imported(adviser, "conversations/garden", tmp_path / "c.db"), NOON)
    text = page(client, "/garden")
    for name in ("porch fig", "porch fig two", "small pot 1", "small pot 2", "small pot 3"):
        assert text.count(f'href="{to("plant", name)}"') == 1
        assert f"<h1>{name}</h1>" in page(client, to("plant", name))
    assert "Porch fig two" not in page(client, to("plant", "porch fig")).split('id="history"')[1]


@pytest.mark.parametrize("name", ODD)
def test_any_name_has_a_page(adviser: Adviser, tmp_path: Path, name: str) -> None:
    """Slashes, tags, quotes, accents and other scripts are shown as they are, lead where they say, and do nothing."""
    spot, plant = {"name": name}, {"name": name, "species": "fig", "spot": name}
    path = told(
        adviser, tmp_path / "g.db", ("spot", spot), ("plant", plant), ("stage", {"plant": name, "on": DAY, "bbch": 9})
    )
    client = client_for(adviser, path, NOON)
    for of in ("spot", "plant"):
        assert f'href="{to(of, name)}"' in page(client, "/garden")
        assert name in words(page(client, to(of, name)).replace("<h1>", "[").split("</h1>")[0].split("[")[1])
    assert "<b>bold" not in page(client, "/garden") + page(client, to("plant", name)) + page(client, "/garden/plan")
    assert name in words(page(client, f"/garden?place={to('x', name)[10:]}"))


def test_a_name_that_is_not_there_is_told_with_the_nearest(client: FlaskClient) -> None:
    """An unknown spot or plant is a page of its own with what was meant, perhaps."""
    assert "Did you mean &#39;shed fig&#39;?" in page(client, to("plant", "shed figg"), 404)
    assert "no spot called" in page(client, to("spot", "nowhere at all"), 404)


def test_a_large_garden_stays_light(adviser: Adviser, large: Path) -> None:
    """With 300 plants and ten years of records every page is under a hundred thousand bytes, and each plant is reached."""
    client = client_for(adviser, large, NOON)
    for path in ("/garden", "/garden/plan", to("spot", "bed 1"), to("spot", "winter store"), to("plant", "fig 1")):
        assert len(page(client, path).encode()) < HEAVIEST
    found: set[str] = set()
    for number in range(1, 7):
        text = page(client, f"/garden?page={number}").split('id="plants"')[1]
        found |= {part.split('"')[0] for part in text.split('href="/garden/plant/')[1:]}
    assert len(found) == 300


def test_the_day_is_the_gardens_own(adviser: Adviser, tmp_path: Path) -> None:
    """Late in the evening by world time it is tomorrow where the garden lies."""
    client = client_for(adviser, told(adviser, tmp_path / "g.db"), datetime.fromisoformat("2026-04-24T22:30:00+00:00"))
    assert "25 April, spring." in words(page(client, "/garden"))
