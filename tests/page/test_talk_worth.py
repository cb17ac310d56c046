"""What is worth asking today, from the garden's own state: all of it answered, none of it about what is not there."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from tests_shared import NOON, counted

from advisor.conversation import Adviser
from advisor.language.paragraphs import paragraphs
from advisor.records.importing import Imported
from advisor.records.store import Garden, NewRow, Said

PLACE = "name,latitude_deg,longitude_deg,time_zone,units\nHill,47,15,Europe/Vienna,metric"
SOUTH = "name,latitude_deg,longitude_deg,time_zone,units\nHill,-38,145,Australia/Melbourne,metric"
Put = Callable[..., Imported]


def texts(adviser: Adviser, garden: Garden, now: datetime = NOON) -> list[str]:
    return [one.text for one in adviser.worth_asking(garden, now)]


@pytest.mark.parametrize("month", range(1, 13))
def test_every_suggestion_is_understood(adviser: Adviser, demo_copy: Path, month: int) -> None:
    """In every month at most five are made, each names only what is there, and each question is answered when sent."""
    now = NOON.replace(year=2026, month=month, day=24)
    with adviser.open(demo_copy) as garden:
        made = adviser.worth_asking(garden, now)
        assert 1 <= len(made) <= 5
        for one in made:
            if not one.starts:
                reply = adviser.message({"text": one.text}, now, demo_copy)
                assert reply["outcome"] == "answered", (one, reply["reply"])


def test_a_line_to_complete_is_logged_once_completed(adviser: Adviser, demo_copy: Path) -> None:
    """The line for the soil, with a figure in its gap, is recorded for the spot that it names."""
    with adviser.open(demo_copy) as garden:
        spot = next(fact.text("spot") for fact in garden.of("soil_reading") if fact.text("spot"))
        line = f"soil {spot} … °C at 10 cm".replace("…", "9.4")
    reply = adviser.message({"text": line}, NOON, demo_copy)
    assert reply["outcome"] == "recorded" and "9.4 °C, 10 cm deep" in reply["reply"]


def test_the_demo_is_asked_why_the_shed_fig_sleeps(adviser: Adviser, demo_copy: Path) -> None:
    """A fig that sleeps while its kin are awake is worth a question; one planted this spring is not."""
    with adviser.open(demo_copy) as garden:
        made = texts(adviser, garden)
    assert "why is the shed fig so slow to wake?" in made
    assert not any("new fig" in text or "persimmon" in text for text in made)


def test_what_was_asked_today_is_not_suggested_again(adviser: Adviser, demo_copy: Path) -> None:
    """A question that was put an hour ago makes room for others; the next day it is back."""
    why = "why is the shed fig so slow to wake?"
    adviser.message({"text": why}, NOON, demo_copy)
    with adviser.open(demo_copy) as garden:
        assert why not in texts(adviser, garden, NOON + timedelta(hours=1))
        assert why in texts(adviser, garden, NOON + timedelta(hours=20))


def test_a_told_frost_comes_first(adviser: Adviser, garden: Garden, put: Put) -> None:
    """A low of 3 °C told for the night leads; one of 3.1 °C does not, nor one told for another night."""
    put(place=PLACE, spot="name\nyard", plant="name,species,spot,growing\nold fig,fig,yard,pot")
    said = Said("message", "m", NOON)
    for low, ahead, leads in ((3.1, 1, False), (-1.0, 4, False), (3.0, 1, True)):
        day = NOON.date()
        row = NewRow("forecast_day", {"issued": day, "for_day": day + timedelta(days=ahead), "min_c": low})
        garden.add([(said, [row])])
        made = texts(adviser, garden)
        assert (made[0] == "will it freeze tonight?") is leads, (low, made)
    assert made[1] == "what must I bring in tonight?"


def test_seasons_are_the_gardens_own(adviser: Adviser, garden: Garden, put: Put) -> None:
    """In the south October is spring: stored pots are asked about, and soil not read is worth reading."""
    put(place=SOUTH, spot="name,under_cover\nstore,shelter\nbed,none",
        plant="name,species,spot,growing\npot fig,fig,store,pot")  # fmt: skip
    spring = texts(adviser, garden, datetime(2026, 10, 5, 2, tzinfo=UTC))
    assert "can the pots go out yet?" in spring and any(text.startswith("soil ") for text in spring)
    assert "can the pots go out yet?" not in texts(adviser, garden, datetime(2026, 4, 5, 2, tzinfo=UTC))


def test_a_running_trial_is_asked_after(adviser: Adviser, garden: Garden, put: Put) -> None:
    """A trial begun and not long over is suggested; one that ended in the year before is not."""
    head = "name,question,differs,from_day,to_day\n"
    put(place=PLACE, spot="name\nyard", plant="name,species,spot\nfig,fig,yard",
        trial=head + "old,does it help?,mulch off,2024-03-01,2024-05-01")  # fmt: skip
    assert "what does my trial show?" not in texts(adviser, garden)
    put(trial=head + "new,does it help?,mulch off,2026-03-01,")
    assert "what does my trial show?" in texts(adviser, garden)


def test_an_empty_garden_has_nothing_to_ask(adviser: Adviser, garden: Garden, put: Put) -> None:
    """Without a plant and a spot nothing is suggested."""
    put(place=PLACE)
    assert texts(adviser, garden) == []


def test_ten_years_of_looks_cost_no_more_than_one(adviser: Adviser, garden: Garden, put: Put) -> None:
    """With 300 plants, the looks of ten years before take no calls more than those of this year alone."""
    put(place=PLACE, spot="name\n" + "\n".join(f"bed {n}" for n in range(30)),
        plant="name,species,spot\n" + "\n".join(f"fig {n},fig,bed {n % 30}" for n in range(300)))  # fmt: skip

    def looked_at(years: range) -> int:
        """Tell the looks of some years; return how many calls it takes then to see what is worth asking."""
        rows = [
            NewRow(
                "stage", {"plant": f"fig {n}", "on": NOON.date().replace(year=year, month=4, day=day), "bbch": day // 3}
            )
            for n in range(300)
            for year in years
            for day in (2, 9, 16, 23)
        ]
        garden.add([(Said("file", f"looks of {years}", NOON), rows)])
        return counted(lambda: texts(adviser, garden))

    assert texts(adviser, garden)
    few = looked_at(range(2026, 2027))
    assert looked_at(range(2016, 2026)) < 1.1 * few


def test_paragraphs_of_a_reply() -> None:
    """Lead-ins, lists, numbered steps, questions to pick from, cautions and disputes are told apart."""
    reply = (
        "This week:\n1. Soak it.\n2. Feed it.\nMind: Pots are heavy: two people.\nYour records disagree: both.\n"
        "Recorded:\n  soil 8 °C\n  soil 9 °C\nOr ask:\n  will it freeze tonight?"
    )
    made = [(one.kind, one.lead, one.text, one.lines) for one in paragraphs(reply)]
    assert made == [
        ("text", "This week", "", []),
        ("steps", "", "", ["Soak it.", "Feed it."]),
        ("caution", "Mind", "Pots are heavy: two people.", []),
        ("dispute", "", "Your records disagree: both.", []),
        ("text", "Recorded", "", []),
        ("items", "", "", ["soil 8 °C", "soil 9 °C"]),
        ("text", "Or ask", "", []),
        ("asks", "", "", ["will it freeze tonight?"]),
    ]


def test_no_word_of_a_reply_is_lost(adviser: Adviser, demo_copy: Path) -> None:
    """What the paragraphs hold is the reply, word for word, for every kind of question."""
    for question in adviser.questions.values():
        text = question.examples[0]
        reply = adviser.message({"text": text}, NOON, demo_copy)["reply"]
        words = " ".join(
            " ".join([f"{one.lead}:" if one.lead else "", one.text, *one.lines]) for one in paragraphs(reply)
        )
        assert re.findall(r"\w+", words) == re.findall(r"\w+", re.sub(r"(?m)^\d+\. ", "", reply)), text
