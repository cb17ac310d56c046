"""What was advised in a talk is kept, and later replies say what came of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest.mock import Mock, patch
from uuid import uuid4

from click.testing import CliRunner
from tests_shared import NOON

from advisor.answers import History
from advisor.conversation import Adviser
from advisor.doors.command_line import main
from advisor.reasoning import outcomes
from advisor.reasoning.derive.memory import Memories
from advisor.records.store import NewRow, Said

Says = Callable[..., dict[str, Any]]


def sender(adviser: Adviser, path: Path) -> Says:
    def send(text: str, days: float = 0) -> dict[str, Any]:
        at: datetime = NOON + timedelta(days=days)
        return adviser.message({"text": text}, at, path)

    return send


def advice(adviser: Adviser, path: Path) -> list[tuple[str, str, str]]:
    with adviser.open(path) as garden:
        return [(row.text("claim"), row.text("plant"), row.text("rules")) for row in garden.of("advice")]


def test_a_task_is_kept_with_its_rules_and_records(adviser: Adviser, demo_copy: Path) -> None:
    """The advice to open the mulch is a row of its own, resting on the rows that the reply names."""
    sender(adviser, demo_copy)("why is the shed fig so late?")

    assert ("open-the-mulch", "shed fig", "open-the-mulch-of-a-late-waker") in advice(adviser, demo_copy)
    with adviser.open(demo_copy) as garden:
        row = next(row for row in garden.of("advice") if row.text("claim") == "open-the-mulch")
    assert row.text("records").split()


def test_the_same_advice_asked_for_again_in_a_week_is_kept_once(adviser: Adviser, demo_copy: Path) -> None:
    """Asking twice is no second piece of advice; asking after a week is."""
    send = sender(adviser, demo_copy)
    for days in (0, 3, 7.1):
        send("why is the shed fig so late?", days)

    kept = [one for one in advice(adviser, demo_copy) if one[0] == "open-the-mulch" and one[1] == "shed fig"]
    assert len(kept) == 2


def test_advice_that_failed_says_so_where_its_rule_is_cited(adviser: Adviser, demo_copy: Path) -> None:
    """The mulch came off as advised and the fig slept on for four weeks: the next time the rule owns up to it."""
    send = sender(adviser, demo_copy)
    send("why is the shed fig so late?")
    taken = send("took the wood chips off the shed bed", 1)
    assert taken["outcome"] == "recorded", taken["reply"]
    send("shed fig still asleep", 20)
    send("put 8 cm of wood chips on the shed bed again", 21)
    send("shed fig still asleep", 29)

    reply = send("why is the shed fig so late?", 30)

    assert "open-the-mulch-of-a-late-waker has done here: given 1 time, followed 1, held 0, failed 1" in reply["reply"]
    entry = next(one for one in reply["because"] if one["rule"] == "open-the-mulch-of-a-late-waker")
    assert entry["history"] == {"given": 1, "followed": 1, "held": 0, "failed": 1}


def test_kept_advice_is_not_what_undo_takes_back(adviser: Adviser, demo_copy: Path) -> None:
    """Undo after a question is about the last thing told, never about the adviser's own notes."""
    send = sender(adviser, demo_copy)
    send("wall fig bud break today")
    send("why is the shed fig so late?", 0.01)
    kept = advice(adviser, demo_copy)

    send("undo", 0.02)

    assert advice(adviser, demo_copy) == kept


def test_each_rule_s_history_is_told_by_a_command(adviser: Adviser, demo_copy: Path) -> None:
    """advisor check --history: what was given, and what came of it."""
    none = CliRunner().invoke(main, ["check", "--history", "--garden", str(demo_copy)])
    sender(adviser, demo_copy)("why is the shed fig so late?")

    told = CliRunner().invoke(main, ["check", "--history", "--garden", str(demo_copy)])

    assert none.output == "No advice has been given in this garden before today.\n"
    assert "open-the-mulch-of-a-late-waker: given 1, followed 0, held 0, failed 0\n" in told.output


def test_a_deed_asked_about_by_name_is_answered_first(adviser: Adviser, demo_copy: Path) -> None:
    """Asked whether to feed: where no task is feeding, that is said before the list; where one is, the list says it."""
    send = sender(adviser, demo_copy)

    assert send("should I feed the shed fig?")["reply"].startswith(
        "Nothing in your records of the shed fig calls for feeding now."
    )
    assert "Nothing in your records" not in send("should I feed the pots now?")["reply"]


def test_advice_of_years_that_are_over_is_judged_anew_by_what_is_told_of_them(
    adviser: Adviser, demo_copy: Path
) -> None:
    """What was advised in an earlier year is judged once, until a record of that year is told, corrected or undone:
    one of this year changes nothing."""
    own, today = replace(adviser, _memories=Memories()), NOON.date()
    given = [
        NewRow("advice", {"on": date(year, 4, 20), "question": "why-late", "conclusion": "task", "plant": "shed fig",
                          "spot": "shed bed", "claim": "open-the-mulch", "rules": "a-rule"})
        for year in (2023, 2024)
    ]  # fmt: skip

    def histories() -> History | None:
        with own.open(demo_copy) as garden:
            found = own.histories(garden, today)
            assert found == replace(adviser, _memories=Memories()).histories(garden, today)
        return found.get("a-rule")

    def tell(*rows: NewRow) -> None:
        with own.open(demo_copy) as garden:
            garden.add([(Said("message", f"told {uuid4()}", NOON), rows)])

    tell(*given)
    begun = histories()
    assert begun and (begun.given, begun.followed) == (2, 0)
    judged = Mock(side_effect=outcomes._came_of)
    with patch.object(outcomes, "_came_of", judged):
        tell(NewRow("stage", {"plant": "shed fig", "on": today - timedelta(days=1), "bbch": 7}))
        assert histories() == begun
        assert sum(call.args[1].get("rules") == "a-rule" for call in judged.call_args_list) == 2  # by who knew nothing
    tell(NewRow("cover", {"spot": "shed bed", "material": "straw", "put_on": date(2024, 1, 5),
                          "taken_off": date(2024, 4, 25)}))  # fmt: skip
    followed = histories()
    assert followed and (followed.followed, followed.failed) == (1, 1)
    tell(NewRow("stage", {"plant": "shed fig", "on": date(2024, 5, 2), "bbch": 9}))
    held = histories()
    assert held and (held.followed, held.held, held.failed) == (1, 1, 0)
