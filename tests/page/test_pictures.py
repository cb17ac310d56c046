"""The pictures as drawn, sent and shown: sound SVG from nowhere else, words and numbers alike, kept while they hold."""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient
from tests_shared import NOON

from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.doors.drawing import library
from advisor.doors.drawing.catalogue import PICTURES, Gallery, Kept, read_choice
from advisor.doors.drawing.look import SIZES, THEMES, Look
from advisor.doors.drawing.sheet import spread, ticks
from advisor.doors.drawing.telling import Telling
from advisor.doors.http import create_app
from advisor.errors import BadInput, NotFound
from advisor.reasoning.pictures import Choice
from advisor.records.importing import import_path
from advisor.records.store import Garden, NewRow, Said

TOP = Path(__file__).resolve().parents[2]
NAME = "<b>\"&' bed"
SVG = "{http://www.w3.org/2000/svg}"
US_EVENING = date(2026, 4, 20)
LOOKS = [Look(theme, size) for theme in THEMES for size in SIZES]


@pytest.fixture(scope="module")
def us_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The US demo garden."""
    path = tmp_path_factory.mktemp("us") / "us.db"
    with adviser.open(path, create=True) as garden:
        import_path(garden, TOP / "fixtures" / "demo_us", adviser.lore, datetime(2026, 4, 26, 12, tzinfo=UTC))
    return path


@pytest.fixture(scope="module")
def odd_file(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A garden whose names could break a drawing or a page."""
    path = tmp_path_factory.mktemp("odd") / "odd.db"
    rows = [
        NewRow("place", {"name": NAME, "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "UTC", "units": "metric"}),
        NewRow("spot", {"name": NAME, "low_lying": True, "aspect": "S", "slope_deg": 5.0}),
        NewRow("spot", {"name": "a/b é", "wall_side": "S"}),
        NewRow("plant", {"name": f"{NAME} fig", "species": "fig", "spot": NAME, "growing": "ground"}),
        NewRow("plant", {"name": "=1+1", "species": "apricot", "spot": NAME, "growing": "ground"}),
        NewRow("stage", {"plant": f"{NAME} fig", "on": date(2026, 4, 20), "bbch": 9}),
        NewRow("stage", {"plant": "=1+1", "on": date(2026, 4, 20), "bbch": 65}),
        NewRow("cover", {"spot": NAME, "material": "wood chips", "put_on": date(2026, 4, 10)}),
        NewRow("evening", {"on": date(2026, 4, 24), "temp_c": 4.0, "dew_point_c": -2.0}),
        NewRow("obstruction", {"spot": NAME, "bearing_from_deg": 90.0, "bearing_to_deg": 140.0, "elevation_deg": 20.0,
                               "what": NAME}),
    ]  # fmt: skip
    rows += [
        NewRow("soil_reading", {"spot": spot, "temp_c": 9.0 + day / 10, "depth_cm": 10.0, "sky": "sun",
                                "at": datetime(2026, 4, day, 12, tzinfo=UTC)})
        for spot in (NAME, "a/b é") for day in (5, 12, 19)
    ]  # fmt: skip
    with adviser.open(path, create=True) as garden:
        garden.add([(Said("file", "odd", NOON), rows)])
    return path


@pytest.fixture
def demo(adviser: Adviser, demo_file: Path) -> Iterator[Gallery]:
    with adviser.open(demo_file) as garden:
        yield Gallery(adviser, garden, NOON.date(), Kept())


@pytest.fixture
def us(adviser: Adviser, us_file: Path) -> Iterator[Gallery]:
    with adviser.open(us_file) as garden:
        yield Gallery(adviser, garden, US_EVENING, Kept())


@pytest.fixture
def odd(adviser: Adviser, odd_file: Path) -> Iterator[Gallery]:
    with adviser.open(odd_file) as garden:
        yield Gallery(adviser, garden, NOON.date(), Kept())


def drawn(telling: Telling, look: Look = Look()) -> ElementTree.Element:  # noqa: B008
    return ElementTree.fromstring(library.svg(telling.sheet(look)))


def texts(root: ElementTree.Element) -> list[str]:
    return ["".join(node.itertext()) for node in root.iter(f"{SVG}text")]


# ---- drawings


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: f"{look.size}-{look.theme}")
@pytest.mark.parametrize("name", PICTURES)
def test_a_drawing_is_sound_and_keeps_to_itself(us: Gallery, name: str, look: Look) -> None:
    """Well-formed, as wide as its screen, text of 12 pixels and more, no script, no address, no value that is none."""
    sheet = us.tell(name).sheet(look)
    text = library.svg(sheet)
    root = ElementTree.fromstring(text)
    width, height = root.get("width"), root.get("height")
    assert (width, root.get("viewBox")) == (str(look.width), f"0 0 {width} {height}")
    assert {node.tag for node in root.iter()} <= {SVG + tag for tag in
            ("svg", "title", "desc", "rect", "g", "path", "line", "text", "defs", "clipPath")}  # fmt: skip
    values = [value for node in root.iter() for value in node.attrib.values()]
    assert not [value for value in values if "http" in value or "url(" in value or "NaN" in value or "undef" in value]
    assert not [key for node in root.iter() for key in node.attrib if "href" in key or key.startswith("on")]
    sizes = {float(str(node.get("font-size")).removesuffix("px")) for node in root.iter(f"{SVG}text")}
    assert sizes and min(sizes) >= 12
    assert {node.get("font-family") for node in root.iter(f"{SVG}text")} == {"sans-serif"}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PICTURES)
def test_no_label_runs_off_the_paper(us: Gallery, demo: Gallery, name: str, size: str) -> None:
    """Every text starts and ends on the drawing, by the place it is written at and a letter's usual width."""
    look = Look("light", size)
    for gallery in (us, demo):
        telling = gallery.tell(name)
        if telling.nothing:
            continue
        for node, x in _placed(drawn(telling, look)):
            wide = 0.5 * look.text * len("".join(node.itertext()))
            start = {"start": x, "middle": x - wide / 2, "end": x - wide}[node.get("text-anchor", "start")]
            assert start >= -2 and start + wide <= look.width + 2, (name, "".join(node.itertext()), start, wide)


def _placed(node: ElementTree.Element, x: float = 0.0) -> Iterator[tuple[ElementTree.Element, float]]:
    """Yield each text with its place from the left, the moves of the groups round it added up."""
    moved = re.match(r"translate\((-?[\d.e-]+)", node.get("transform", ""))
    x += float(moved[1]) if moved else 0.0
    if node.tag == f"{SVG}text":
        yield node, x
    for child in node:
        yield from _placed(child, x)


def test_a_mark_stands_for_each_reading(us: Gallery) -> None:
    """As many dots as readings, a label a soil, and a bar a cover."""
    telling = us.tell("soil")
    root = drawn(telling)
    shapes = [node for node in root.iter() if "mark-symbol" in (node.get("class") or "")]
    assert sum(len(list(group)) for group in shapes) == len([row for row in telling.rows if row[-1] == "yes"])
    assert {str(row[0]) for row in telling.rows if row[-1] == "yes"} <= set(texts(root))
    bars = next(node for node in root.iter() if node.get("class", "").startswith("mark-rect role-mark concat_1"))
    assert len(list(bars)) == 4


def test_a_row_and_its_marks_stand_for_a_plant(demo: Gallery) -> None:
    """Every drawn plant has its name and as many dates as the table tells."""
    telling = demo.tell("stages")
    root = drawn(telling)
    dates = sum(1 for row in telling.rows for cell in row[3:-2] if cell) + sum(1 for row in telling.rows if row[-1])
    symbols = [node for node in root.iter() if "mark-symbol" in (node.get("class") or "")]
    assert sum(len(list(group)) for group in symbols) == dates
    assert {str(row[0]) for row in telling.rows} - set(texts(root)) <= {"family apple sunny limb"}


def test_states_are_told_apart_without_colour(demo: Gallery) -> None:
    """Each state of a year at a spot has a sign of its own shape."""
    root = drawn(demo.tell("frost-years"))
    paths = [{re.sub(r"[\d.,-]+", "", child.get("d", "")) for child in group}
             for group in root.iter() if "mark-symbol" in (group.get("class") or "")]  # fmt: skip
    assert len({frozenset(shapes) for shapes in paths}) >= 4  # squares, crosses, triangles, dots


def test_colours_are_those_of_the_pages() -> None:
    """A drawing cannot read the style sheet, so its colours are held to it here."""
    style = (TOP / "advisor" / "doors" / "page" / "static" / "style.css").read_text(encoding="utf-8")
    light, dark = (dict(re.findall(r"--([\w-]+): (#\w+)", part)) for part in style.split("@media", 1))
    for theme, values in (("light", light), ("dark", dark)):
        for name, colour in THEMES[theme].items():
            assert values[name] == colour


@pytest.mark.parametrize("theme", THEMES)
def test_words_and_lines_stand_out(theme: str) -> None:
    """Text has a contrast of 4.5 at least to the paper, and a line 3 (WCAG 2.2, 1.4.3 and 1.4.11)."""
    colour = THEMES[theme]
    for name in ("ink", "soft", "leaf", "plum", "warn", "bad", "focus"):
        assert _contrast(colour[name], colour["paper"]) >= 4.5
    assert _contrast(colour["plum"], colour["plum-wash"]) >= 4.5
    assert _contrast(colour["leaf"], colour["leaf-wash"]) >= 3
    assert _contrast(colour["paper"], colour["warn"]) >= 4.5


def _contrast(one: str, other: str) -> float:
    """Return the ratio of relative luminances, as WCAG 2.2 defines it."""

    def luminance(colour: str) -> float:
        parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("name", ["tonight", "soil", "stages", "sun"])
def test_a_name_is_a_name_and_nothing_else(odd: Gallery, name: str) -> None:
    """Markup and quotes in names neither break a drawing nor become part of it."""
    telling = odd.tell(name)
    root = drawn(telling)
    assert not list(root.iter(f"{SVG}b")) and not list(root.iter("b"))
    assert "".join(root.itertext()).count("<b>") >= 1


def test_what_xml_cannot_hold_is_left_out(us: Gallery) -> None:
    """A control character in a name does not spoil a drawing (XML 1.0, production 2)."""
    sheet = us.tell("soil").sheet(Look())
    sheet["vconcat"][0]["title"]["text"] = "a\x00\x1b\ufffeb"
    assert "ab" in texts(ElementTree.fromstring(library.svg(sheet)))


def test_a_png_is_as_wide_as_twice_its_drawing(us: Gallery) -> None:
    """Sharp on a phone's screen; size read from the file's header (PNG, 3rd ed., 11.2.1)."""
    image = library.png(us.tell("sun").sheet(Look("light", "phone")))
    assert image[:8] == b"\x89PNG\r\n\x1a\n" and int.from_bytes(image[16:20], "big") == 656


def test_neighbours_are_moved_apart_within_bounds() -> None:
    """Labels keep their distance and their order, and stay between top and foot where they fit."""
    moved = spread([50.0, 50.0, 51.0, 99.0], 15, 0, 100)
    assert moved == sorted(moved) and min(b - a for a, b in pairwise(moved)) >= 15
    assert moved[0] >= 0 and moved[-1] <= 100
    assert ticks(-3.2, 12, 6) == [0, 5, 10] and len(ticks(0, 2137, 6)) <= 6


# ---- words and tables


def test_words_tell_the_numbers_of_the_table(us: Gallery) -> None:
    """What a sentence says can be counted in the rows behind it, in the grower's units."""
    soil, sun = us.tell("soil"), us.tell("sun")
    assert [column.key for column in soil.columns][2:4] == ["temp_f", "depth_in"]
    days = {str(row[1])[:10] for row in soil.rows}
    soils = {row[0] for row in soil.rows}
    assert soil.says[0].startswith(f"{len(soil.rows)} readings of {len(soils)} soils on {len(days)} days from April 5")
    hours = [float(str(row[1])) for row in sun.rows]
    assert f"between {min(hours):g} hours" in sun.says[0] and f"and {max(hours):g} hours" in sun.says[0]


def test_words_of_the_night_tell_its_numbers(us: Gallery) -> None:
    """The expected low, its range and who is in danger are those of the table."""
    telling = us.tell("tonight")
    expected, low, high = telling.rows[0][-3:]
    assert (
        f"about {expected:g} °F is to be expected" in telling.says[0]
        and f"from {low:g} °F to {high:g} °F" in telling.says[0]
    )
    assert telling.rows[0][2] == "perhaps in danger" and telling.says[1].startswith(
        "Perhaps in danger: the corner mulberry"
    )


def test_words_of_frost_years_tell_the_counts(demo: Gallery) -> None:
    """The spots of the sentence have the counts of caught years that the table has, give or take one."""
    telling = demo.tell("frost-years")
    caught = [row for row in telling.rows if row[0] == "hollow" and row[2] == "caught"]
    told = re.search(r"in (\d) of 5 \(1 to 5, given what is not known\) at the hollow", telling.says[0])
    assert told and abs(int(told[1]) - len(caught)) <= 1
    assert "caught on 17 April 2024" in telling.says[-1] and [row[6] for row in caught] == ["2024-04-17"]


def test_one_day_of_readings_is_called_one_day(adviser: Adviser, garden: Garden) -> None:
    """A picture of a single day says that it shows that weather."""
    place = {"name": "Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "UTC", "units": "metric"}
    reading = {"spot": "bed", "temp_c": 9.0, "depth_cm": 10.0, "at": datetime(2026, 4, 5, 12, tzinfo=UTC)}
    rows = [NewRow("place", place), NewRow("spot", {"name": "bed"}), NewRow("soil_reading", reading)]
    garden.add([(Said("file", "one", NOON), rows)])
    telling = Gallery(adviser, garden, NOON.date(), Kept()).tell("soil")
    assert telling.limits[0].startswith("One day of readings is one day")


def test_an_empty_garden_says_what_would_bring_each_picture(adviser: Adviser, garden: Garden) -> None:
    """No frame without anything in it: each picture says why, and how the grower tells the record."""
    place = {"name": "Hill", "latitude_deg": 47.0, "longitude_deg": 15.0, "time_zone": "UTC", "units": "us"}
    garden.add([(Said("file", "one", NOON), [NewRow("place", place)])])
    for telling in Gallery(adviser, garden, NOON.date(), Kept()).tell_all():
        assert telling.nothing and len(telling.says) == 2 and telling.says[0].startswith("Nothing to show yet: ")
        with pytest.raises(NotFound, match="Nothing to show yet"):
            telling.sheet(Look())
    assert "54 at 4 in" in " ".join(Gallery(adviser, garden, NOON.date(), Kept()).tell("soil").says)


def test_the_night_is_the_same_without_the_looks_of_earlier_years(adviser: Adviser, us: Gallery, odd: Gallery) -> None:
    """What tonight's picture leaves unread changes nothing of it."""
    for gallery in (us, odd):
        short = gallery.tell("tonight")
        whole = {telling.name: telling for telling in replace(gallery, kept=Kept()).tell_all()}["tonight"]
        assert (short.says, short.rows) == (whole.says, whole.rows)


# ---- kept


def test_nothing_is_reckoned_twice_for_one_state(adviser: Adviser, demo_copy: Path) -> None:
    """A second look takes what is kept; a new record makes it anew; no more is kept than is allowed."""
    kept = Kept(most=4)
    with adviser.open(demo_copy) as garden:
        first = Gallery(adviser, garden, NOON.date(), kept).tell("soil")
        assert Gallery(adviser, garden, NOON.date(), kept).tell("soil") is first and kept.made == 1
    adviser.message({"text": "soil shed bed 11 at 10 cm, sun"}, NOON, demo_copy)
    with adviser.open(demo_copy) as garden:
        second = Gallery(adviser, garden, NOON.date(), kept).tell("soil")
        assert kept.made == 2 and len(second.rows) == len(first.rows) + 1
        Gallery(adviser, garden, NOON.date(), kept).tell_all()
    assert len(kept) == 4


def test_undo_makes_a_picture_anew(adviser: Adviser, demo_copy: Path) -> None:
    """A row taken out of use is gone from the picture."""
    with adviser.open(demo_copy) as garden:
        before = Gallery(adviser, garden, NOON.date()).tell("soil").rows
    for text in ("soil shed bed 11 at 10 cm, sun", "undo"):
        adviser.message({"text": text}, NOON, demo_copy)
    with adviser.open(demo_copy) as garden:
        assert Gallery(adviser, garden, NOON.date()).tell("soil").rows == before


def test_the_same_sheet_is_drawn_once(us: Gallery) -> None:
    """A drawing is kept by what it shows."""
    sheet = us.tell("season").sheet(Look("dark", "phone"))
    library.svg(sheet)
    before = library._svg.cache_info()
    library.svg(us.tell("season").sheet(Look("dark", "phone")))
    after = library._svg.cache_info()
    assert (after.misses, after.hits) == (before.misses, before.hits + 1) and after.maxsize is not None


# ---- sent


def test_a_drawing_is_sent_under_its_own_policy(client: FlaskClient) -> None:
    """Nothing may be fetched or run by it, and a browser that has it is told so."""
    answer = client.get("/pictures/soil.svg?theme=dark&size=phone")
    assert (answer.status_code, answer.mimetype) == (200, "image/svg+xml")
    assert answer.headers["Content-Security-Policy"] == "default-src 'none'; style-src 'unsafe-inline'"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    again = client.get("/pictures/soil.svg?theme=dark&size=phone", headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    client.post("/messages", json={"text": "soil shed bed 11 at 10 cm, sun"})
    later = client.get("/pictures/soil.svg?theme=dark&size=phone", headers={"If-None-Match": answer.headers["ETag"]})
    assert (later.status_code, later.headers["ETag"] == answer.headers["ETag"]) == (200, False)


def test_table_and_data_are_the_same(client: FlaskClient) -> None:
    """CSV and JSON hold the rows that the page shows."""
    told = client.get("/pictures/stages.json?kind=apricot").get_json()
    lines = list(csv.DictReader(io.StringIO(client.get("/pictures/stages.csv?kind=apricot").get_data(as_text=True))))
    assert [line["plant"] for line in lines] == [row["plant"] for row in told["rows"]]
    assert len(lines) > 1 and {line["kind"] for line in lines} == {"apricot"}
    assert told["nothing"] is False and told["says"] and told["limits"]


def test_a_text_that_a_spreadsheet_would_run_is_sent_as_text(odd: Gallery) -> None:
    """A plant called =1+1 stays a name in the table's file."""
    assert "\r\n'=1+1," in odd.tell("stages").csv()


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/pictures/nothing.svg", 404),
        ("/pictures/nothing", 404),
        ("/pictures/soil.gif", 404),
        ("/pictures/soil.svg?spot=nowhere", 404),
        ("/pictures/soil.svg?plant=nobody", 404),
        ("/pictures/season.svg?kind=banana", 404),
        ("/pictures/soil.svg?theme=pink", 422),
        ("/pictures/soil.svg?size=huge", 422),
        ("/pictures/soil.svg?year=20x6", 422),
        ("/pictures/tonight.svg", 404),
        ("/pictures/soil.svg?year=1999", 404),
    ],
)
def test_what_is_not_there_is_said(client: FlaskClient, path: str, status: int) -> None:
    """Names, looks and years that there are none of get an error with a way out, not another picture."""
    answer = client.get(path, headers={"Accept": "application/json"})
    assert answer.status_code == status and answer.get_json()["do"]


def test_a_choice_reads_names_as_they_are_told(adviser: Adviser, demo_file: Path) -> None:
    """Several spots, a kind by its name, and capitals that do not matter; no choice is the picture's own."""
    with adviser.open(demo_file) as garden:
        asked = {"spot": ["Shed Bed", "south wall", ""], "kind": ["Figs"], "plant": [""], "year": ["2025"]}
        assert read_choice(adviser, garden, asked) == Choice(("shed bed", "south wall"), "", "fig", 2025)
        assert read_choice(adviser, garden, {}) == Choice()
        with pytest.raises(BadInput, match="four digits"):
            read_choice(adviser, garden, {"year": ["٢٠٢٦"]})


# ---- pages


def page_of(adviser: Adviser, path: Path, day: datetime) -> FlaskClient:
    own = replace(adviser, settings=replace(adviser.settings, garden=path))
    client = create_app(own, lambda: day).test_client()
    client.environ_base["HTTP_ACCEPT"] = "text/html"
    return client


def test_what_matters_today_comes_first(adviser: Adviser, client: FlaskClient, us_file: Path) -> None:
    """On a frosty evening tonight leads; else the season's pictures do, and what has nothing to show is last."""
    frosty = page_of(adviser, us_file, datetime(2026, 4, 20, 22, tzinfo=UTC)).get("/pictures").get_data(as_text=True)
    assert re.findall(r'<section id="([\w-]+)"', frosty)[0] == "tonight"
    mild = client.get("/pictures").get_data(as_text=True)
    assert re.findall(r'<section id="([\w-]+)"', mild) == ["soil", "stages", "season", "frost-years", "sun"]
    assert mild.index("Nothing to show yet") > mild.index('id="sun"')


def test_a_page_draws_nothing_and_fetches_late(client: FlaskClient) -> None:
    """All drawings but the first are fetched when they come into view, each in the size and theme that fits."""
    library._svg.cache_clear()
    text = client.get("/pictures").get_data(as_text=True)
    assert library._svg.cache_info().misses == 0
    images = re.findall(r"<img [^>]*>", text)
    assert ["lazy" in image for image in images] == [False, True, True, True, True]
    assert all('alt="' in image and 'width="328"' in image for image in images)
    assert text.count("prefers-color-scheme: dark") == 2 * len(images)


def test_every_address_on_the_page_leads_to_what_it_says(client: FlaskClient) -> None:
    """Drawings, tables and pages that are linked are there, with what was chosen."""
    text = client.get("/pictures/soil?spot=shed+bed").get_data(as_text=True)
    found = {path.replace("&amp;", "&") for path in re.findall(r'(?:src|srcset|href)="(/pictures[^"]*)"', text)}
    assert len(found) == 6 and all(client.get(path).status_code == 200 for path in found)
    assert all("shed+bed" in path for path in found - {"/pictures"})


def test_a_choice_that_is_not_there_stands_by_its_field(client: FlaskClient) -> None:
    """What was typed is kept, with what is wrong with it; the picture shows its own choice meanwhile."""
    answer = client.get("/pictures/soil?" + urlencode({"spot": "<i>nix"}))
    text = answer.get_data(as_text=True)
    assert answer.status_code == 422
    assert 'value="&lt;i&gt;nix"' in text and 'id="soil-spot-fault"' in text and "<i>nix" not in text
    assert "/pictures/soil.svg?size=phone&amp;theme=light" in text


def test_names_are_escaped_on_the_page(adviser: Adviser, odd_file: Path) -> None:
    """Markup in names is shown as typed, and links to them hold."""
    client = page_of(adviser, odd_file, NOON)
    text = client.get("/pictures").get_data(as_text=True)
    assert "<b>" not in text and "&lt;b&gt;" in text
    for name in (NAME, "a/b é"):
        asked = client.get("/pictures/soil?" + urlencode({"spot": name}))
        assert asked.status_code == 200
        drawing = client.get("/pictures/soil.svg?" + urlencode({"spot": name, "theme": "dark"}))
        assert drawing.status_code == 200 and ElementTree.fromstring(drawing.data) is not None


def test_without_a_garden_the_page_says_how_to_start(adviser: Adviser, tmp_path: Path) -> None:
    """No file, or a file without a place, is not an error: the page names the questions and leads to the start."""
    for path in (tmp_path / "none.db", tmp_path / "empty.db"):
        if path.name == "empty.db":
            adviser.open(path, create=True).__exit__(None, None, None)
        answer = page_of(adviser, path, NOON).get("/pictures")
        text = answer.get_data(as_text=True)
        assert answer.status_code == 200 and 'href="/start"' in text and "Which soil is warm" in text


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["soil", "frost-years", "tonight"])
def test_axe_finds_nothing_on_a_picture(
    browser: Any, demo_site: str, axe: Callable[[Any], list[str]], name: str, scheme: str
) -> None:
    """A picture's own page, its table open, has no fault of accessibility that axe-core knows."""
    page = browser.new_page(color_scheme=scheme)
    page.goto(f"{demo_site}/pictures/{name}")
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true })")
    assert axe(page) == []
    page.close()


def test_a_phone_gets_the_narrow_drawing_at_its_full_size(phone: Any, demo_site: str) -> None:
    """At 360 pixels a drawing is shown as wide as it was drawn, so that its text is 12 pixels at least."""
    phone.goto(f"{demo_site}/pictures/stages")
    phone.wait_for_function("document.querySelector('img').complete")
    shown = phone.evaluate(
        "(() => { const i = document.querySelector('img'); return [i.currentSrc, i.clientWidth, i.naturalWidth] })()"
    )
    assert "size=phone" in shown[0] and shown[1] >= shown[2] == 328
    assert phone.evaluate("document.documentElement.scrollWidth") <= 360


# ---- the command


def test_the_command_writes_what_its_ending_asks_for(demo_file: Path, tmp_path: Path) -> None:
    """A drawing as SVG or PNG, the table as CSV, and the words on the screen."""
    for form, start in ((".svg", b"<svg "), (".png", b"\x89PNG"), (".csv", b"soil,at,temp_c")):
        out = tmp_path / f"soil{form}"
        asked = [
            "picture",
            "soil",
            "--spot",
            "shed bed",
            "--garden",
            str(demo_file),
            "--today",
            "2026-04-24",
            "--out",
            str(out),
        ]
        done = CliRunner().invoke(main, asked)
        assert done.exit_code == 0 and "Which soil is warm" in done.output and out.read_bytes().startswith(start)


@pytest.mark.parametrize(
    "asked",
    [
        ["soil", "--out", "x.gif"],
        ["nothing"],
        ["soil", "--spot", "nowhere"],
        ["tonight", "--out", "x.svg"],
        ["soil", "--theme", "pink"],
    ],
)
def test_the_command_says_what_is_wrong(demo_file: Path, tmp_path: Path, asked: list[str]) -> None:
    """Found and way out on the screen, exit 2, and no file."""
    copy = Path(shutil.copy(demo_file, tmp_path / "garden.db"))
    done = CliRunner().invoke(main, ["picture", *asked, "--garden", str(copy), "--today", "2026-04-24"])
    assert done.exit_code == 2 and not list(tmp_path.glob("x.*"))
