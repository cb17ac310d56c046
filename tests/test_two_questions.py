"""One message with two questions: each answer in it keeps its reasons, its facts and its order."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from tests_shared import NOON, leaves

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.language.said.replies import joined
from advisor.talk.unfolding import unfold

Ask = Callable[[str], dict[str, Any]]
LATE, PUT = "why is the shed fig late?", "where do I put a new apricot?"
TWO = f"{LATE} {PUT}"
AND = "why is the shed fig late and where do I put a new apricot?"
PUT_BOTH = "where do I put a new apricot? where do I put a new fig?"
WITH_A_LINE = f"pruned the wall fig. {PUT} {LATE}"


@pytest.fixture
def alone(adviser: Adviser, demo_file: Path, tmp_path: Path) -> Ask:
    """Ask one question of a garden that was asked nothing before."""

    def asked(text: str) -> dict[str, Any]:
        fresh = Path(shutil.copy(demo_file, tmp_path / "fresh.db"))
        return adviser.message({"text": text}, NOON, fresh)

    return asked


def with_reasons(reply: dict[str, Any]) -> list[tuple[object, ...]]:
    """Return each conclusion with what its places in ``because`` lead to."""
    return [
        (one["kind"], one["claim"], one["about"], one["rule"], [reply["because"][place] for place in one["because"]])
        for one in reply["conclusions"]
    ]


@pytest.mark.parametrize("text", [TWO, AND])
def test_each_conclusion_keeps_its_own_reasons(ask: Ask, alone: Ask, text: str) -> None:
    """Asked together, each conclusion leads to the reasons that it has where its question is asked alone."""
    assert with_reasons(ask(text)) == with_reasons(alone(LATE)) + with_reasons(alone(PUT))


@pytest.mark.parametrize("text", [TWO, PUT_BOTH, WITH_A_LINE])
def test_a_reply_to_several_parts_keeps_to_the_contract(ask: Ask, text: str) -> None:
    """No two conclusions have one rank, and the records named are those under the reasons, the state and the log line."""
    reply = ask(text)

    assert [one["rank"] for one in reply["conclusions"]] == list(range(1, len(reply["conclusions"]) + 1))
    for one in reply["conclusions"]:
        assert reply["because"][one["because"][0]]["rule"] == one["rule"]
    named = {(one["kind"], row) for one in reply["records"] for row in range(one["id"], one.get("to", one["id"]) + 1)}
    told = {(one["kind"], one["id"]) for one in reply["recorded"]}
    behind = {row for reason in reply["because"] for row in leaves(reason["from"])} | leaves(reply["state"])
    assert named == behind | told


def test_what_stands_beside_the_second_answer_is_there_too(ask: Ask, alone: Ask) -> None:
    """The order of the spots and what was weighed are not lost because the other question comes first."""
    reply, put, late = ask(TWO), alone(PUT), alone(LATE)

    assert [(one["spot"], one["place"]) for one in reply["spots"]] == [(s["spot"], s["place"]) for s in put["spots"]]
    assert reply["weighed"] == late["weighed"] + put["weighed"]
    assert reply["state"] == late["state"] != []


def test_two_orders_of_spots_say_of_which_tree_each_is(ask: Ask, alone: Ask) -> None:
    """A spot that is first for one tree and fifth for another is told with the tree."""
    found = {(one["species"], one["place"], one["spot"]) for one in ask(PUT_BOTH)["spots"]}

    assert found == {
        (kind, one["place"], one["spot"])
        for kind in ("apricot", "fig")
        for one in alone(f"where do I put a new {kind}?")["spots"]
    }


def test_disputes_of_either_answer_are_told() -> None:
    """Where rules disagree behind the second answer, the reply to both says so."""

    def part(text: str, **more: Any) -> dict[str, Any]:
        lists = ("conclusions", "because", "records", "recorded", "lacking", "cautions")
        return {
            "outcome": "answered",
            "reply": text,
            "short": text,
            "question": {},
            **{name: [] for name in lists},
            **more,
        }

    first, second = part("Wait."), part("Water.", disputes=[{"taken": "water", "left": "wait"}])
    assert joined([first, second])["disputes"] == second["disputes"]
    assert "disputes" not in joined([first, part("Go on.")])


def test_why_and_more_after_two_answers_lead_to_the_same_reasons(ask: Ask) -> None:
    """What follows up such a reply repeats its conclusions with its reasons."""
    first = ask(TWO)
    assert with_reasons(ask("more")) == with_reasons(first)
    assert with_reasons(ask("why")) == with_reasons(first)


def test_the_page_tells_each_conclusion_by_its_own_rules(ask: Ask, adviser: Adviser, demo_copy: Path) -> None:
    """Unfolded, on the page too, each conclusion begins with the rule that reached it."""
    reply = ask(TWO)
    with adviser.open(demo_copy) as garden:
        lines = unfold(reply, garden, adviser.speech(garden, NOON.date()))
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    page = create_app(own, lambda: NOON).test_client().get(f"/talk/{reply['id']}").text

    assert [line.reasons[0].rule for line in lines] == [one["rule"] for one in reply["conclusions"]]
    assert page.count('class="conclusion"') == len(reply["conclusions"])
