"""Positions as people write them, and those that are none or can be read two ways."""

from __future__ import annotations

import pytest

from advisor.records.coordinates import Position, find_position, read_position

GRAZ = (47.07, 15.44)
FORMS = [
    ("47.07, 15.44", GRAZ),
    ("47.07 15.44", GRAZ),
    ("47.07,15.44", GRAZ),
    ("47,07; 15,44", GRAZ),
    ("47,07 15,44", GRAZ),
    ("47.07 N 15.44 E", GRAZ),
    ("47.07n 15.44e", GRAZ),
    ("N 47.07 E 15.44", GRAZ),
    ("N47.07, E15.44", GRAZ),
    ("47.07° N, 15.44° E", GRAZ),
    ("47.07º north 15.44º east", GRAZ),
    ("15.44 E 47.07 N", GRAZ),
    ("lat 47.07 lon 15.44", GRAZ),
    ("longitude: 15.44, latitude: 47.07", GRAZ),
    ("Latitude 47.07 N, Longitude 15.44 E", GRAZ),
    ("47°04'12\"N 15°26'24\"E", GRAZ),
    ("47° 4′ 12″ N 15° 26′ 24″ E", GRAZ),
    ("47 04 12 N 15 26 24 E", GRAZ),
    ("47:04:12N 15:26:24E", GRAZ),
    ("N47 04.2 E015 26.4", GRAZ),
    ("47 deg 4.2 min N, 15 deg 26.4 min E", GRAZ),
    ("40.1, -76.5", (40.1, -76.5)),
    ("40.1, −76.5", (40.1, -76.5)),
    ("40.1 N 76.5 W", (40.1, -76.5)),
    ("40° 6' N, 76° 30' W", (40.1, -76.5)),
    ("40.1, 76.5 W", (40.1, -76.5)),
    ("37.81 S 144.96 E", (-37.81, 144.96)),
    ("-37.81, 144.96", (-37.81, 144.96)),
    ("33° 52' S 151° 12' E", (-33.866667, 151.2)),
    ("0, 0", (0.0, 0.0)),
]


@pytest.mark.parametrize(("text", "wanted"), FORMS)
def test_usual_forms_are_read(text: str, wanted: tuple[float, float]) -> None:
    """Degrees, minutes and seconds, letters before and behind, signs, decimal commas, either order with letters."""
    found = read_position(text)
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("+40.20361-075.00417/", (40.20361, -75.00417)),
        ("+4012.22-07500.25/", (40.20367, -75.00417)),
        ("+401213.1-0750015.1/", (40.20364, -75.00419)),
        ("+27.5916+086.5640+8850/", (27.5916, 86.5640)),
        ("geo:13.4125,103.8667", (13.4125, 103.8667)),
    ],
)
def test_forms_of_the_standards_are_read(text: str, wanted: tuple[float, float]) -> None:
    """The examples of ISO 6709, annex H (one point in three widths), and of RFC 5870, section 1."""
    found = read_position(text)
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "latitude and longitude"),
        ("the garden", "latitude and longitude"),
        ("47.07", "latitude and longitude"),
        ("47,15", "latitude and longitude"),
        ("1 2 3", "latitude and longitude"),
        ("47 04 15 26", "latitude and longitude"),
        ("15,44 O 47,07 N", "latitude and longitude"),
        ("47.07 N 15.44 N", "one angle north or south"),
        ("-40 S 15 E", "a minus already says"),
        ("47°64'N 15°26'E", "below 60"),
        ("47.5°30'N 15°26'E", "whole numbers before"),
        ("95 N 20 E", "at most 90°"),
        ("40.1 N 276.5 W", "at most 180°"),
        ("144.96, -37.81", "37.81° south, 144.96° east"),
    ],
)
def test_what_is_no_position_or_two_is_refused(text: str, says: str) -> None:
    """It says what is wanted; an O, which is east in one language and west in another, is not guessed."""
    with pytest.raises(ValueError, match=says):
        read_position(text)


def test_a_position_is_said_as_one_says_it() -> None:
    """With its hemispheres in words, so that a wrong sign is heard."""
    assert str(Position(47.07, 15.44)) == "47.07° north, 15.44° east"
    assert str(Position(-0.5, -76.51234)) == "0.5° south, 76.5123° west"


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("my garden is called North Hill, 47.07 N 15.44 E, metric", "my garden is called North Hill, metric"),
        ("the garden in the north, 47.07 N 15.44 E", "the garden in the"),
    ],
)
def test_a_position_is_found_in_a_message(text: str, left: str) -> None:
    """What is left of the message keeps its own words."""
    found = find_position(text)
    assert found is not None
    assert found[0] == Position(*GRAZ)
    assert found[1].strip(" ,").startswith(left.split(",")[0])


@pytest.mark.parametrize("text", ["picked 7 figs, 3 plums", "soil 12 at 10 cm", "fed 2, watered 3", "planted in 2021"])
def test_other_figures_are_no_position(text: str) -> None:
    """Counts and readings are left alone."""
    assert find_position(text) is None
