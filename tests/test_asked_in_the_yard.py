"""Questions as they are asked with wet hands, in the demo garden: the answer is to what was asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Ask = Callable[[str], dict[str, Any]]


@pytest.mark.parametrize(
    "text", ["which of the pots wants water first", "must I water the tub", "are the pots thirsty"]
)
def test_who_wants_water_is_told_by_the_watering_alone(ask: Ask, text: str) -> None:
    """The driest pot first, and no other work; nothing of it is taken for a plan."""
    reply = ask(text)
    claims = [one["claim"] for one in reply["conclusions"]]
    assert reply["outcome"] == "answered" and reply["question"] == {"kind": "what-next"}
    assert claims and {claim.split("-")[0] for claim in claims} <= {"soak", "water", "drink", "let"}
    assert reply["conclusions"][0]["about"] == {"plant": "store fig"} and "what next" in reply["reply"]


def test_a_deed_that_nothing_calls_for_is_said_so_with_the_rest(ask: Ask) -> None:
    """Where no task is the deed asked about, the week's work is told after that."""
    reply = ask("should I wrap the figs")
    assert reply["reply"].startswith("Nothing in your records calls for wrapping now.") and reply["conclusions"]


@pytest.mark.parametrize(
    "text", ["is it worth moving the small pots in", "should the small pots go in", "can the small pots go out"]
)
def test_small_pots_are_pots_and_no_slip_of_a_name(ask: Ask, text: str) -> None:
    """Answered for all pots, though one plant is called nearly so."""
    reply = ask(text)
    assert (reply["outcome"], reply["question"]) == ("answered", {"kind": "pots-out"})
    assert len({one["about"]["plant"] for one in reply["conclusions"] if "plant" in one["about"]}) > 2


def test_why_a_bed_is_cold_is_answered_by_what_is_known_and_no_more(ask: Ask) -> None:
    """What lies on it and how it lies is told, what was read too, and that a reading proves no reason."""
    reply = ask("why is the shed bed cold")
    assert reply["question"] == {"kind": "compare-spots", "spots": ["shed bed"]}
    assert "not why" in reply["reply"] and "wood chips on shed bed" in reply["reply"]
    assert ask("is the shed bed cold, which spot is warmest")["outcome"] in ("answered", "asked-back")
