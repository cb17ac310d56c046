"""What is sent about a large garden is bounded and says so; asked again it is not made again, and never stale."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from grown_garden import TODAY, synthetic_garden
from tests_shared import counted

from advisor.conversation import Adviser
from advisor.doors.http import create_app
from advisor.language.bounds import MOST_KEPT, MOST_REASONS, MOST_WHOLE
from advisor.language.understand import Understood
from advisor.reasoning.derive.memory import Memories
from advisor.records.corrections import undo
from advisor.records.importing import import_path
from advisor.records.messages import keep_message, keep_reply, message, outlines_before_place
from advisor.records.store import Garden, NewRow, Said

NOW = datetime(2026, 4, 24, 18, tzinfo=UTC)
PLANTS = 300
MOST_BYTES = 300_000
LONG = {"what-next": "", "frost-tonight": "", "pots-out": "", "why-late": "fig 7", "when-wake": ""}
WORDS = "what should I do next?"
FORM_ID = re.compile("[0-9a-f]{32}")
_number = count()


def meant(question: str) -> Understood:
    return Understood(question, plant=LONG[question], species="fig" if question == "when-wake" else "")


def fresh(adviser: Adviser) -> Adviser:
    """Return the adviser with nothing remembered."""
    return replace(adviser, _memories=Memories())


def made(adviser: Adviser, folder: Path, plants: int, years: int) -> Path:
    (folder / "files").mkdir()
    with adviser.open(folder / "garden.db", create=True) as garden:
        import_path(garden, synthetic_garden(folder / "files", plants, years, 8), adviser.lore, NOW)
    return folder / "garden.db"


@pytest.fixture(scope="module")
def large(adviser: Adviser, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A garden of 300 figs, asked and not told anything."""
    return made(adviser, tmp_path_factory.mktemp("large"), PLANTS, 2)


def ask(adviser: Adviser, path: Path, text: str = WORDS, now: datetime = NOW) -> dict[str, Any]:
    """Return the reply to a message without its id."""
    reply = adviser.message({"text": text, "id": f"asked-{next(_number)}"}, now, path)
    return {name: value for name, value in reply.items() if name != "id"}


# ---- bounds


def gist(text: str) -> str:
    """Return the first sentence but for its first letters, since a line of the text may begin in its own way."""
    return text.removesuffix(".").split(". ")[0][10:]


@pytest.mark.parametrize("question", LONG)
def test_a_reply_about_300_plants_is_bounded(adviser: Adviser, large: Path, question: str) -> None:
    """The data of a reply stays within its bounds, and says how much it leaves out."""
    with adviser.open(large) as garden:
        answer, reply = adviser.told(garden, meant(question), TODAY)

    assert len(reply.text.encode()) < MOST_BYTES
    assert len(reply["conclusions"]) <= (MOST_KEPT if len(answer.conclusions) > MOST_WHOLE else MOST_WHOLE)
    assert len(reply["because"]) <= MOST_WHOLE
    assert len(reply["records"]) <= MOST_WHOLE and len(reply["weighed"]) <= MOST_WHOLE
    left = reply["left_out"]
    assert len(reply["conclusions"]) + left["conclusions"] == len(answer.conclusions)
    assert len(reply["because"]) + left["reasons"] == sum(len(one.because) for one in answer.conclusions)
    assert "ask about one plant" in left["says"]


@pytest.mark.parametrize("question", ["what-next", "frost-tonight"])
def test_what_the_text_tells_has_its_reasons(adviser: Adviser, large: Path, question: str) -> None:
    """Each conclusion that the text tells in full is sent, with a reason that is there; places lead to its rule."""
    with adviser.open(large) as garden:
        answer, reply = adviser.told(garden, meant(question), TODAY)
        speech = adviser.speech(garden, TODAY)
    sent = {(one["kind"], one["claim"], *sorted(one["about"].items())) for one in reply["conclusions"]}
    told = [one for one in answer.conclusions if gist(speech.tell(one.because[0].told)) in reply["reply"]]

    assert len(answer.conclusions) > MOST_WHOLE and len(told) > 3
    first = {one.claim: one for one in reversed(told)}
    assert {(one.kind, one.claim, *sorted(one.about.items())) for one in first.values()} <= sent
    assert [one["rank"] for one in reply["conclusions"]] == sorted(one["rank"] for one in reply["conclusions"])
    for one in reply["conclusions"]:
        assert reply["because"][one["because"][0]]["rule"] == one["rule"]
    assert len(reply["because"]) <= MOST_REASONS


def test_each_claim_finds_room(adviser: Adviser, large: Path) -> None:
    """A warning of nearly all plants leaves room for everything else that was concluded."""
    with adviser.open(large) as garden:
        answer, reply = adviser.told(garden, meant("what-next"), TODAY)

    assert {one["claim"] for one in reply["conclusions"]} == {one.claim for one in answer.conclusions}


def test_a_common_reply_is_whole(ask: Callable[[str], dict[str, Any]]) -> None:
    """Of the demo garden nothing is left out, and nothing is said of leaving out."""
    assert "left_out" not in ask("what should I do next?")


def test_the_page_says_what_it_leaves_out(adviser: Adviser, large: Path) -> None:
    """The page of a long answer says for how many conclusions it has reasons, and how to get at the others."""
    own = replace(adviser, settings=replace(adviser.settings, garden=large))
    client = create_app(own, lambda: NOW).test_client()
    sent = client.post("/messages", json={"text": WORDS, "id": "for-the-page"}).json
    page = client.get("/talk/for-the-page").text

    assert sent and f"Reasons are here for {len(sent['conclusions'])} of" in page
    assert page.count('class="conclusion"') == len(sent["conclusions"])
    assert 'id="for-the-page-1"' in page and "of-the-message" not in page
    assert FORM_ID.sub("", client.get("/talk/for-the-page").text) == FORM_ID.sub("", page)


def test_an_old_long_answer_is_shown_within_bounds(adviser: Adviser, demo_copy: Path) -> None:
    """An answer kept before replies had bounds is shown as one of now is, and says what it leaves out."""
    own = replace(adviser, settings=replace(adviser.settings, garden=demo_copy))
    whole = ask(own, demo_copy, "why is the shed fig late?")
    long = {**whole, "conclusions": whole["conclusions"][:1] * 150}
    with adviser.open(demo_copy) as garden:
        keep_message(garden, "old", "what should I do next?", NOW)
        keep_reply(garden, "old", long)
    page = create_app(own, lambda: NOW).test_client().get("/talk/old").text

    assert f"Reasons are here for {MOST_KEPT} of 150 conclusions" in page
    assert page.count('class="conclusion"') == MOST_KEPT


def test_a_list_of_messages_has_each_answer_in_short(adviser: Adviser, demo_copy: Path) -> None:
    """A list tells outcome and short text of each message, also where the whole text is very long, or none is there."""
    with adviser.open(demo_copy) as garden:
        for name, text in (("brief", "Done."), ("long", "x" * 40_000)):
            keep_message(garden, name, name, NOW)
            keep_reply(garden, name, {"outcome": "answered", "reply": text, "short": "In short.", "because": []})
        keep_message(garden, "open", "open", NOW)
        found = {one.id: (one.outcome, one.short) for one in outlines_before_place(garden, None, 3)}

    assert found == {"open": ("waiting", ""), "long": ("answered", "In short."), "brief": ("answered", "In short.")}


# ---- asked again


def test_asked_again_no_plant_is_looked_at(adviser: Adviser, tmp_path: Path) -> None:
    """The second asking takes a small share of the first one's calls, though the first kept its advice in the garden,
    and hardly more with twice the plants."""
    again = []
    for plants in (40, 80):
        folder = tmp_path / str(plants)
        folder.mkdir()
        path, own = made(adviser, folder, plants, 2), fresh(adviser)
        first = counted(lambda own=own, path=path: ask(own, path))
        with own.open(path) as garden:
            advised = len(garden.of("advice"))
        second, third = (counted(lambda own=own, path=path: ask(own, path)) for _ in range(2))
        assert advised and second < 0.1 * first, (first, second)
        again.append(third)

    assert again[1] < 1.3 * again[0] < 0.03 * first, (again, first)


TOLD = (
    [NewRow("stage", {"plant": "fig 7", "on": date(2026, 4, 23), "bbch": 9})],
    [NewRow("forecast_day", {"issued": TODAY, "for_day": date(2026, 4, 25), "min_c": -4.0, "sky": "clear"})],
    [NewRow("plant", {"name": "new fig", "species": "fig", "spot": "bed 1", "growing": "ground"})],
    [NewRow("advice", {"on": date(2026, 4, 20), "question": "what-next", "conclusion": "task", "plant": "fig 1",
                       "claim": "cover-to-the-ground", "rules": "cover-to-the-ground-before-sunset"})],
)  # fmt: skip


def test_asked_again_is_asked_first_to_the_letter(adviser: Adviser, tmp_path: Path) -> None:
    """After each thing told or taken back by somebody else, on another day, and in other units, the reply is that of
    an adviser who remembers nothing."""
    path, own = made(adviser, tmp_path, 30, 3), fresh(adviser)

    def agree(now: datetime = NOW) -> dict[str, Any]:
        replies = [ask(own, path, now=now), ask(own, path, now=now), ask(fresh(adviser), path, now=now)]
        assert replies[0] == replies[1] == replies[2]
        return replies[0]

    before = agree()
    for number, rows in enumerate(TOLD):
        with Garden(path, adviser.base.kinds) as other:
            other.add([(Said("message", f"told-{number}", NOW), rows)])
        agree()
    for number in reversed(range(len(TOLD))):
        with Garden(path, adviser.base.kinds) as other:
            undo(other, f"told-{number}", Said("undo", "u", NOW))
        agree()
    assert agree(NOW + timedelta(days=1)) != before
    assert agree() == before
    with Garden(path, adviser.base.kinds) as other:
        place = other.place()
        (row,) = place.origin.row_ids  # type: ignore[union-attr]  # a place is recorded
        new = NewRow("place", {**place.values, "units": "us"}, replaces=row)
        other.add([(Said("message", "units", NOW), [new])])
    assert "°F" in agree()["reply"] and "°C" in before["reply"]


def test_what_is_advised_today_changes_no_history(adviser: Adviser, tmp_path: Path) -> None:
    """What came of earlier advice is not worked out again for advice of today, and is for advice of a day before."""
    path, own = made(adviser, tmp_path, 30, 2), fresh(adviser)

    def histories() -> object:
        with own.open(path) as garden:
            return own.histories(garden, TODAY)

    before = histories()
    ask(own, path)
    with own.open(path) as garden:
        assert TODAY in {row.day("on") for row in garden.of("advice")}
    assert histories() is before
    with Garden(path, adviser.base.kinds) as other:
        other.add([(Said("message", "earlier", NOW), TOLD[-1])])
    assert histories() != before


def test_what_is_sent_is_what_is_kept(adviser: Adviser, large: Path) -> None:
    """The answer over HTTP is the kept text itself, the first time, again, and read by its address."""
    own = replace(adviser, settings=replace(adviser.settings, garden=large))
    client = create_app(own, lambda: NOW).test_client()
    sent = [client.post("/messages", json={"text": WORDS, "id": f"word-{n}"}).text for n in (1, 2, 2)]
    with adviser.open(large) as garden:
        kept = [message(garden, f"word-{n}").answer for n in (1, 2, 2)]

    assert [text.rstrip("\n") for text in sent] == kept
    assert client.get("/messages/word-1").text == sent[0]
    first, second = (json.loads(text) for text in sent[:2])
    assert first.pop("id") == "word-1" and second.pop("id") == "word-2" and first == second


def test_a_message_is_in_the_file_while_it_is_thought_about(
    adviser: Adviser, demo_copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program reads a message from the file before its answer is there, and the answer waits for the disk."""
    think, seen = Adviser.reply, []

    def watched(self: Adviser, garden: Garden, message_id: str, *rest: Any) -> dict[str, Any]:
        with adviser.open(demo_copy) as other:
            seen.append(message(other, message_id).answer)
        seen.append(garden.db.conn.execute("PRAGMA synchronous").fetchone()[0])
        return think(self, garden, message_id, *rest)

    monkeypatch.setattr(Adviser, "reply", watched)
    ask(adviser, demo_copy, "why is the shed fig late?")

    assert seen == [None, 2]
