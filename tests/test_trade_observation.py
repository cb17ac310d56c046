"""A trade observation as a check (common practice, no source).

One spring afternoon soil was read at about 53 to 58 °F under wood chips, 58 °F in a bare raised bed in shade, 61 °F in
pots, 65 °F under stones by a west wall and 66 to 68 °F under stones by a south wall. Names and dates are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from advisor.conversation import Adviser
from advisor.records.store import Garden

NOW = datetime(2026, 4, 20, 22, tzinfo=UTC)
Ask = Callable[[str], dict[str, Any]]

FILES = {
    "place": "name,latitude_deg,longitude_deg,time_zone,units\nInvented Yard,41.5,-73.5,America/New_York,us\n",
    "spot": (
        "name,aspect,wall_side,low_lying,under_cover,sun_h,drainage_cm_h,raised_cm\n"
        "chip bed,flat,,no,none,8,6,\nraised bed,flat,,no,none,7,9,30\nwest wall,W,W,no,none,7,6,\n"
        "south wall,S,S,no,none,9,6,\nyard,flat,,no,none,8,6,\n"
    ),
    "plant": (
        "name,species,spot,growing,planted\nchip fig,fig,chip bed,ground,2020-05-01\n"
        "south fig,fig,south wall,ground,2019-05-01\nwest fig,fig,west wall,ground,2019-05-01\n"
        "tub fig,fig,yard,pot,2019-05-01\nold apricot,apricot,chip bed,ground,2012-04-01\n"
    ),
    "cover": (
        "spot,material,depth_in,put_on\nchip bed,wood chips,4,2025-11-01\nraised bed,bare,,2020-01-01\n"
        "west wall,stones,3,2018-01-01\nsouth wall,stones,3,2018-01-01\n"
    ),
    "stage": (
        "plant,on,bbch,words\nsouth fig,2026-04-06,9,green tips\nwest fig,2026-04-08,9,green tips\n"
        "chip fig,2026-04-19,1,buds only swelling\nold apricot,2026-04-19,57,not open yet\n"
        "tub fig,2026-04-08,9,green tips\n"
    ),
    "inspection": "plant,on,scratch,height\nchip fig,2026-04-19,green,all\n",
}
READINGS = (
    "spot,plant,temp_f,depth_in,at,sky\nchip bed,,55.5,4,2026-04-20T14:00,sun\n"
    "raised bed,,58,4,2026-04-20T14:05,shade\n"
    ",tub fig,61,4,2026-04-20T14:10,sun\nwest wall,,65,4,2026-04-20T14:15,sun\nsouth wall,,67,4,2026-04-20T14:20,sun\n"
)


@pytest.fixture
def yard(put: Any, garden: Garden, adviser: Adviser) -> Ask:
    put(**FILES, soil_reading=READINGS)
    return lambda text: adviser.message({"text": text}, NOW, garden.path)


def points(reply: dict[str, Any], spot: str, side: str) -> dict[str, str]:
    """Return the claims for or against a spot with their size."""
    return {
        c["claim"]: c["size"]
        for c in reply["conclusions"]
        if c["kind"] == "point" and c["about"]["spot"] == spot and c["side"] == side
    }


def test_the_chips_are_the_fig_s_first_cause_with_the_measured_difference(yard: Ask) -> None:
    """55.5 °F against 67 °F is 11.5 °F; the chips lead, and the one day is said with it."""
    reply = yard("why is the chip fig so late?")
    first = reply["conclusions"][0]
    assert (first["kind"], first["claim"], first["grade"], first["basis"]) == (
        "cause",
        "cold-roots",
        "weak",
        "measured",
    )
    assert "wood chips" in first["tell"] and "on a day or two only" in first["tell"]
    measured = {
        fact["fact"]["than"]: round(fact["fact"]["colder_by_k"] * 1.8, 1)
        for place in first["because"]
        for fact in reply["because"][place]["from"]
        if "colder_by_k" in fact["fact"]
    }
    assert measured == {"south wall": pytest.approx(-11.5, abs=0.1), "west wall": pytest.approx(-9.5, abs=0.1)}
    assert "11.5 °F" in reply["reply"] or "9.5 °F" in reply["reply"]


def test_one_day_s_readings_ask_for_more(yard: Ask) -> None:
    """The reply says that it rests on a day or two and asks for readings on more days."""
    reply = yard("why is the chip fig so late?")
    assert any(lack["kind"] == "soil_reading" and "more days" in lack["ask"] for lack in reply["lacking"])


def test_the_shaded_reading_is_not_paired(yard: Ask) -> None:
    """The raised bed was read in shade beside others in sun: no difference to it is claimed."""
    reply = yard("why is the chip fig so late?")
    assert "raised bed" not in reply["reply"]
    assert "raised bed" not in str(reply["because"])


def test_the_south_wall_ranks_warmest_and_says_on_how_little(yard: Ask) -> None:
    """Warmest of the fairly compared spots, on one day: a slight point, and a finding that says so."""
    reply = yard("where do I put another fig?")
    facts = [entry["fact"] for because in reply["because"] for entry in because["from"]]
    ranks = {fact["where"]: fact["place"] for fact in facts if fact["kind"] == "soil_rank"}
    assert ranks["south wall"] == "warmest"
    assert points(reply, "south wall", "for")["warm-soil"] == "slight"
    few = [c for c in reply["conclusions"] if c["claim"] == "few-days-of-readings"]
    assert few and "1 day of readings" in few[0]["tell"]
    assert any(lack["kind"] == "soil_reading" for lack in reply["lacking"])


def test_a_fig_goes_to_the_south_wall_and_an_apricot_away_from_it(yard: Ask) -> None:
    """First for the fig; for the apricot last or nearly so, with the hastened bloom against it."""
    fig, apricot = yard("where do I put another fig?"), yard("where do I put a new apricot?")
    assert fig["spots"][0]["spot"] == "south wall"
    assert "bloom-hastened-by-the-wall" in points(apricot, "south wall", "against")
    order = [entry["spot"] for entry in apricot["spots"]]
    assert order.index("south wall") >= len(order) - 2
    assert apricot["spots"][0]["spot"] not in ("south wall", "west wall")


def test_mulch_is_no_leading_cause_for_the_apricot_s_late_flowers(yard: Ask) -> None:
    """The chips are named only to say that they are no likely cause."""
    reply = yard("why are the old apricot's flowers so late?")
    assert [c["claim"] for c in reply["conclusions"] if c["kind"] == "cause" and c["claim"].startswith("cold")] == []
    told = [c["tell"] for c in reply["conclusions"] if "wood chips" in c["tell"]]
    assert told and all("no likely cause" in text for text in told)


def test_the_stones_get_no_credit_of_their_own(yard: Ask) -> None:
    """No point rests on stones; the reply says that trials disagree."""
    reply = yard("where do I put another fig?")
    assert not [c for c in reply["conclusions"] if c["kind"] == "point" and "stone" in c["tell"].casefold()]
    assert "trials disagree" in reply["reply"]


def test_without_the_readings_no_difference_is_claimed(put: Any, garden: Garden, adviser: Adviser) -> None:
    """Take the readings away and the measured cause goes with them; what is left is weak and asks for them."""
    put(**FILES)
    reply = adviser.message({"text": "why is the chip fig so late?"}, NOW, garden.path)
    cold = [c for c in reply["conclusions"] if c["claim"] == "cold-roots"]
    assert [(c["grade"], c["basis"]) for c in cold] == [("weak", "known")]
    assert any(lack["kind"] == "soil_reading" for lack in reply["lacking"])
