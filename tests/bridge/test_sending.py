"""The bridge between a spool, a service and a door: order, once only, retries, guards, silence in the log."""

from __future__ import annotations

import logging
import threading
from dataclasses import replace

import pytest
from bridge_parts import ANN, BEN, OWN, STRANGER, StandIn, Works

from advisor.doors.bridge.numbers import Allowed
from advisor.doors.bridge.service import Away


def test_a_message_is_answered_in_short(works: Works, service: StandIn) -> None:
    """An allowed sender's message is posted with its id, and the short answer goes back to them."""
    message_id = works.told("why is the shed fig late?")
    assert works.bridge.step() == 1
    told, headers = service.posted[0]
    assert told == {"text": "why is the shed fig late?", "id": message_id}
    assert "Authorization" not in headers
    assert works.pigeon.sent == [(ANN, "Short: why is the shed fig late?")]
    assert works.spool.waiting() == []
    assert works.outcomes() == ["answered"]


def test_in_the_order_of_their_coming(works: Works, service: StandIn) -> None:
    """Messages are posted in the order in which they came."""
    for text in ("one", "two", "three"):
        works.told(text)
    works.bridge.step()
    assert service.texts == ["one", "two", "three"]


def test_the_same_message_again_is_not_answered_again(works: Works, service: StandIn) -> None:
    """A message that the network delivers twice, also after a restart, gets one answer."""
    works.told("one")
    works.told("one")
    works.bridge.step()
    works.again()
    works.told("one")
    works.bridge.step()
    assert len(works.pigeon.sent) == len(service.posted) == 1
    assert works.spool.waiting() == []


def test_a_stranger_is_ignored(works: Works, service: StandIn) -> None:
    """A number that is not on the list gets no answer, reaches no service, and is counted without a trace of it."""
    works.told("why is the shed fig late?", STRANGER)
    works.bridge.step()
    assert (works.pigeon.sent, service.posted, works.spool.waiting()) == ([], [], [])
    assert [(line.outcome, line.sender) for line in works.bridge.journal.lines.values()] == [("unknown", "")]


@pytest.mark.parametrize(
    ("sender", "text", "outcome"),
    [
        (OWN, "Short: hello", "own number"),
        ("07700 900100", "Short: hello", "own number"),
        ("60777", "Your balance is low", "short code"),
        ("Network", "Welcome abroad", "short code"),
        (ANN, "Auto-reply: I am driving", "automatic"),
        ("+4477", "hello", "unknown"),
    ],
)
def test_what_no_person_wrote_is_not_answered(
    works: Works, service: StandIn, sender: str, text: str, outcome: str
) -> None:
    """Our own number, short codes, names of sellers and answering machines get no answer."""
    works.told(text, sender)
    works.bridge.step()
    assert (works.pigeon.sent, service.posted, works.outcomes()) == ([], [], [outcome])


def test_an_echo_is_not_answered(works: Works) -> None:
    """A machine that sends our answer back is not answered, so that two machines do not write to each other."""
    works.told("one")
    works.bridge.step()
    works.told("short:  ONE")
    works.bridge.step()
    assert works.outcomes() == ["answered", "echo"]
    assert len(works.pigeon.sent) == 1


def test_no_words(works: Works, service: StandIn) -> None:
    """An allowed sender's picture or empty message is told that words are wanted, without asking the service."""
    works.told("  ")
    works.bridge.step()
    assert service.posted == []
    assert works.pigeon.sent[0][1].startswith("No words came through")


def tries(works: Works, service: StandIn, seconds: int) -> list[int]:
    """Return at which seconds the service was asked, stepping once a second."""
    found = []
    for second in range(seconds):
        before = len(service.posted)
        works.bridge.step()
        found += [second] * (len(service.posted) - before)
        works.clock.on(seconds=1)
    return found


def test_away_then_back(works: Works, service: StandIn) -> None:
    """While the service is away a message is tried again after growing pauses; then it is answered, once."""
    service.next = [(503, {}), (502, {}), (504, {})]
    works.told("one")
    assert tries(works, service, 60) == [0, 5, 15, 35]
    assert works.outcomes() == ["answered"]
    assert len(works.pigeon.sent) == 1


def test_pauses_stop_growing(works: Works, service: StandIn) -> None:
    """No pause is longer than the longest that is set."""
    works.settings = replace(works.settings, longest_pause_s=8.0)
    works.again()
    service.always = 503
    works.told("one")
    assert tries(works, service, 30) == [0, 5, 13, 21, 29]


def test_the_service_may_say_when_to_come_back(works: Works, service: StandIn) -> None:
    """Retry-After (RFC 9110, 10.2.3) in seconds is kept to."""
    service.next = [(429, {"Retry-After": "20"})]
    works.told("one")
    assert tries(works, service, 30) == [0, 20]


@pytest.mark.parametrize("status", [302, 401, 403, 404, 500])
def test_what_may_be_put_right_is_kept(works: Works, service: StandIn, status: int) -> None:
    """A wrong key, a wrong address or a fault of the service loses no message."""
    service.next = [(status, {"Location": "/elsewhere"})]
    works.told("one")
    assert tries(works, service, 10) == [0, 5]
    assert works.outcomes() == ["answered"]


def test_nobody_there(works: Works) -> None:
    """Where nothing listens at the service's address, messages wait."""
    works.settings = replace(works.settings, service="http://127.0.0.1:9")
    works.again()
    works.told("one")
    assert works.bridge.step() == 0
    assert len(works.spool.waiting()) == 1


def test_too_slow(works: Works, service: StandIn) -> None:
    """A service that does not answer in time is asked again, under the same id."""
    patient, say, given_up = works.settings, service.say, threading.Event()
    works.settings = replace(patient, timeout_s=0.2)
    works.again()
    service.say = lambda told: (given_up.wait(60), say(told))[1]
    works.told("one")
    assert works.bridge.step() == 0
    given_up.set()
    service.say, works.bridge.settings = say, patient
    works.clock.on(seconds=5)
    assert works.bridge.step() == 1
    assert len({told["id"] for told, _ in service.posted}) == 1


@pytest.mark.parametrize("answer", [{}, {"reply": "words"}, [], "words"])
def test_an_answer_of_another_kind(works: Works, service: StandIn, answer: object) -> None:
    """What is no answer of the adviser, such as another program's at its address, is never sent on."""
    say = service.say
    service.say = lambda told: answer  # type: ignore[assignment,return-value]
    works.told("one")
    assert works.bridge.step() == 0
    service.say = say
    works.clock.on(seconds=5)
    works.bridge.step()
    assert works.pigeon.sent == [(ANN, "Short: one")]


def test_the_door_away(works: Works, service: StandIn) -> None:
    """Where the answer cannot be queued it is tried again, and sent once."""
    works.pigeon.away = [Away("no outbox"), Away("no outbox")]
    works.told("one")
    tries(works, service, 20)
    assert works.pigeon.sent == [(ANN, "Short: one")]


def test_order_is_kept_while_one_fails(works: Works, service: StandIn) -> None:
    """Later messages of a sender wait for the first; those of others do not."""
    service.next = [(503, {})]
    works.told("one")
    works.told("two")
    works.told("other", BEN)
    works.bridge.step()
    assert service.texts == ["one", "other"]
    works.clock.on(seconds=5)
    works.bridge.step()
    assert service.texts == ["one", "other", "one", "two"]


def test_a_message_that_the_service_falls_over_steps_aside(works: Works, service: StandIn) -> None:
    """After five faults at one message its sender's later ones are answered, and it is still tried."""
    say = service.say

    def fall(told: dict[str, str]) -> dict[str, str]:
        if told["text"] == "bad":
            raise ConnectionAbortedError
        return say(told)

    works.told("bad")
    works.told("good")
    service.next = [(500, {})] * 5
    seconds = 5 + 10 + 20 + 40 + 1
    service.say = fall
    tries(works, service, seconds)
    assert works.pigeon.sent == [(ANN, "Short: good")]
    service.say = say
    tries(works, service, 200)
    assert works.pigeon.sent[1:] == [(ANN, "Short: bad")]


def test_too_old(works: Works, service: StandIn) -> None:
    """A message that could not be answered for two days is given up: told to nobody, counted, its words gone."""
    service.always = 503
    works.told("one")
    works.bridge.step()
    works.clock.on(hours=48, seconds=1)
    works.bridge.step()
    assert (works.pigeon.sent, works.outcomes(), works.spool.waiting()) == ([], ["too old"], [])


@pytest.mark.parametrize(("status", "said"), [(422, "Not read: no words in it"), (413, "Send it in parts")])
def test_refused(works: Works, service: StandIn, status: int, said: str) -> None:
    """What the service can never take is told to the sender, and not tried again."""
    service.next = [(status, {})]
    works.told("one")
    works.bridge.step()
    assert said in works.pigeon.sent[0][1]
    assert works.outcomes() == ["refused"]


def test_a_sender_of_another_garden(works: Works, service: StandIn) -> None:
    """A sender's own key goes to the service; the settings' key does not go to another service."""
    key_file = works.settings.folder / "key"
    key_file.write_text("house-key\n")
    works.settings = replace(works.settings, key_file=key_file, service="http://127.0.0.1:9")
    works.again()
    works.senders.allow(ANN, Allowed("", "Ann", service.url, "ann-key"))
    works.senders.allow(BEN, Allowed("", "Ben", service.url))
    works.told("one")
    works.told("two", BEN)
    works.bridge.step()
    assert [headers.get("Authorization") for _, headers in service.posted] == ["Bearer ann-key", None]


def test_the_key_of_the_settings(works: Works, service: StandIn) -> None:
    """A key in the settings goes along as a bearer token (RFC 6750, 2.1)."""
    key_file = works.settings.folder / "key"
    key_file.write_text("house-key\n")
    works.settings = replace(works.settings, key_file=key_file)
    works.again()
    works.told("one")
    works.bridge.step()
    assert service.posted[0][1]["Authorization"] == "Bearer house-key"


def test_many_within_an_hour(works: Works, service: StandIn) -> None:
    """Over the limit of an hour all is read and recorded; one notice goes out, then nothing until it is quieter."""
    works.pigeon.most_an_hour = 3
    for number in range(8):
        works.told(f"reading {number}")
        works.bridge.step()
        works.clock.on(minutes=1)
    works.told("other", BEN)
    works.bridge.step()
    assert len(service.posted) == 9
    to_ann = [said for sender, said in works.pigeon.sent if sender == ANN]
    assert len(to_ann) == 4
    assert to_ann[3].startswith("Many messages within the hour")
    assert works.pigeon.sent[-1] == (BEN, "Short: other")
    works.clock.on(hours=1)
    works.told("later")
    works.bridge.step()
    assert works.pigeon.sent[-1] == (ANN, "Short: later")


def test_the_limits_outlive_a_restart(works: Works) -> None:
    """A bridge that is started again remembers how much it answered."""
    works.pigeon.most_an_hour = 2
    for number in range(6):
        works.told(f"reading {number}")
        works.bridge.step()
        works.again()
    assert len(works.pigeon.sent) == 3


def test_many_within_a_day(works: Works, service: StandIn) -> None:
    """Over the limit of a day each sender is told once, and answers begin again a day later."""
    works.pigeon.most_a_day = 4
    for number in range(10):
        works.told(f"reading {number}", (ANN, BEN)[number % 2])
        works.bridge.step()
        works.clock.on(minutes=1)
    assert len(service.posted) == 10
    assert [said.startswith("The limit of answers") for _, said in works.pigeon.sent] == [False] * 4 + [True] * 2
    works.clock.on(hours=24)
    works.told("later")
    works.bridge.step()
    assert works.pigeon.sent[-1] == (ANN, "Short: later")


def test_a_day_notice_after_an_hour_notice(works: Works) -> None:
    """Who was told of the hour's limit is told of the day's limit too."""
    works.pigeon.most_an_hour, works.pigeon.most_a_day = 1, 3
    for number, minutes in enumerate((1, 1, 120, 120, 1)):
        works.told(f"reading {number}")
        works.bridge.step()
        works.clock.on(minutes=minutes)
    assert [said[:8] for _, said in works.pigeon.sent] == ["Short: r", "Many mes", "Short: r", "The limi"]


def test_died_after_the_answer_was_queued(works: Works, monkeypatch: pytest.MonkeyPatch) -> None:
    """A bridge that dies between queueing an answer and writing that down sends no second one."""
    works.told("one")

    class Died(BaseException):
        pass

    def die(_: object) -> None:
        raise Died

    monkeypatch.setattr(works.bridge.journal, "close", die)
    with pytest.raises(Died):
        works.bridge.step()
    works.again()
    works.bridge.step()
    assert works.pigeon.sent == [(ANN, "Short: one")]
    assert works.spool.waiting() == []


def test_a_full_disk(works: Works, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the journal cannot be written the message stays, and is closed when it can."""
    works.told("one")

    def full(_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(works.bridge.journal, "close", full)
        assert works.bridge.step() == 0
    works.clock.on(seconds=5)
    assert works.bridge.step() == 1
    assert works.pigeon.sent == [(ANN, "Short: one")]


def test_a_fault_of_ours_at_one_message(works: Works, service: StandIn, caplog: pytest.LogCaptureFixture) -> None:
    """A fault at one sender's message leaves the others answered, and its words out of the log."""
    works.pigeon.away = [ValueError("words of Ann")]
    works.told("one")
    works.told("two", BEN)
    with caplog.at_level(logging.DEBUG):
        works.bridge.step()
    assert works.pigeon.sent == [(BEN, "Short: two")]
    assert "words of Ann" not in caplog.text
    assert "ValueError" in caplog.text


def test_the_log_holds_no_number_and_no_word(works: Works, service: StandIn, caplog: pytest.LogCaptureFixture) -> None:
    """Whatever happens, neither a number nor a word of a message or an answer gets into the log or the journal."""
    service.next = [(503, {}), (422, {})]
    with caplog.at_level(logging.DEBUG):
        for sender in (ANN, BEN, STRANGER, OWN, "60777"):
            works.told("secretword", sender)
        tries(works, service, 10)
        works.told("Short: secretword", BEN)
        works.bridge.step()
    kept = caplog.text + (works.settings.folder / "journal.jsonl").read_text()
    assert len(caplog.records) >= 7
    assert not [word for word in ("secretword", "7700", "60777", "Ann", "Ben") if word in kept]


def test_a_file_that_is_no_message(works: Works) -> None:
    """A file in the spool that cannot be read is put aside, and holds up nothing."""
    (works.spool.folder / "0-broken.json").write_text("{")
    works.told("one")
    assert works.bridge.step() == 1
    assert [path.name for path in works.spool.folder.iterdir()] == ["0-broken.unreadable"]
