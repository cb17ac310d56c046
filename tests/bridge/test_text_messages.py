"""The modem's door without a modem: the hook's files and environment in, the outbox's files out."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import gsm0338
import pytest
from bridge_parts import ANN, START

from advisor.doors.bridge.inbox import Incoming, Spool
from advisor.doors.bridge.numbers import Secret
from advisor.doors.bridge.service import Answer, Away
from advisor.doors.bridge.settings import BridgeSettings, TextSettings
from advisor.doors.bridge.text_messages import Texts, joined, left_behind, spool, taken

NAME = f"IN20260424_095803_00_{ANN}_00.txt"


@pytest.fixture
def texts(settings: BridgeSettings) -> TextSettings:
    assert settings.texts
    return settings.texts


@pytest.fixture
def secret(tmp_path: Path) -> Secret:
    return Secret.of(tmp_path / "bridge")


def came(texts: TextSettings, text: str, name: str = NAME) -> Path:
    """Put a file into the inbox as the daemon does, in UTF-16 with its mark."""
    path = texts.inbox / name
    path.write_bytes(b"\xff\xfe" + text.encode("utf-16-le"))
    return path


@pytest.mark.parametrize(
    ("environ", "text"),
    [
        ({"SMS_MESSAGES": "1", "SMS_1_TEXT": "one", "DECODED_PARTS": "0"}, "one"),
        ({"SMS_MESSAGES": "2", "SMS_1_TEXT": "on", "SMS_2_TEXT": "e", "DECODED_PARTS": "1", "DECODED_1_TEXT": "one"}, "one"),
        ({"SMS_MESSAGES": "2", "SMS_1_TEXT": "on", "SMS_2_TEXT": "e", "DECODED_PARTS": "0"}, "one"),
        ({"SMS_MESSAGES": "2", "SMS_2_TEXT": "e", "DECODED_PARTS": "2", "DECODED_2_TEXT": "two"}, "two"),
        ({"SMS_MESSAGES": "1", "DECODED_PARTS": "1", "DECODED_1_MMS_TITLE": "a photo"}, ""),
        ({}, ""),
    ],
)  # fmt: skip
def test_parts_are_joined(environ: dict[str, str], text: str) -> None:
    """The parts of a long message are one text, decoded by the daemon or not; a picture has none."""
    assert joined(environ) == text


def test_read_from_the_files(texts: TextSettings, secret: Secret) -> None:
    """The text comes from the inbox's files, in the order of the parts: the environment has lost the letters."""
    second = came(texts, "спит? 🌳", NAME.replace("_00.txt", "_01.txt"))
    first = came(texts, "почему инжир ")
    environ = {"SMS_1_NUMBER": ANN, "SMS_MESSAGES": "1", "SMS_1_TEXT": "?????? ????? ?????"}
    message, files = taken(environ, [second.name, first.name], texts, secret, START)
    assert (message.text, message.sender, message.door) == ("почему инжир спит? 🌳", ANN, "text")
    assert message.sent_at == datetime(2026, 4, 24, 9, 58, 3, tzinfo=UTC)
    assert sorted(files) == [first, second]


def test_read_from_the_environment(texts: TextSettings, secret: Secret) -> None:
    """Where a file is not there, the environment's text is taken."""
    environ = {"SMS_1_NUMBER": ANN, "SMS_MESSAGES": "1", "SMS_1_TEXT": "why late?", "DECODED_PARTS": "0"}
    message, files = taken(environ, [NAME], texts, secret, START)
    assert (message.text, files) == ("why late?", [])


def test_no_sender(texts: TextSettings, secret: Secret) -> None:
    """A call without a message in it is refused."""
    with pytest.raises(ValueError, match="no sender"):
        taken({}, [], texts, secret, START)


def test_a_name_that_leads_elsewhere(texts: TextSettings, secret: Secret) -> None:
    """A file is looked for in the inbox alone, whatever path it is named by."""
    other = came(texts, "secret").rename(texts.sent / NAME)
    environ = {"SMS_1_NUMBER": ANN, "SMS_MESSAGES": "1", "SMS_1_TEXT": "one"}
    message, files = taken(environ, [str(other)], texts, secret, START)
    assert (message.text, files) == ("one", [])


def test_the_id_is_the_message(texts: TextSettings, secret: Secret) -> None:
    """Delivered again a message has the same id; another text, time, number or machine makes another."""
    path = came(texts, "one")
    environ = {"SMS_1_NUMBER": ANN}

    def message_id(name: str = path.name, sender: str = ANN, by: Secret = secret, text: str = "one") -> str:
        came(texts, text, name)
        return taken({"SMS_1_NUMBER": sender}, [name], texts, by, START)[0].id

    first = taken(environ, [path.name], texts, secret, START)[0].id
    assert message_id() == first
    assert message_id(path.name.replace("_00_", "_01_")) == first  # two at one second get other serials
    others = {
        message_id(path.name.replace("0958", "0959")), message_id(text="two"), message_id(sender="+447700900124"),
        message_id(by=Secret(b"x" * 32)),
    }  # fmt: skip
    assert len(others | {first}) == 5
    assert len(first) <= 64
    assert ANN[1:] not in first


@pytest.mark.parametrize(
    ("zone", "stamp", "sent"),
    [
        ("Europe/Berlin", "20260424_115803", "2026-04-24T11:58:03+02:00"),
        ("America/Denver", "20260424_035803", "2026-04-24T03:58:03-06:00"),
        ("UTC", "20260424_100900", "2026-04-24T10:09:00+00:00"),
        ("UTC", "20260424_101100", None),
        ("UTC", "20260409_100000", None),
        ("UTC", "20020101_000000", None),
        ("UTC", "20261301_000000", None),
    ],
)
def test_when_it_was_sent(texts: TextSettings, secret: Secret, zone: str, stamp: str, sent: str | None) -> None:
    """The network's time is read in its zone, and left out where a clock must be wrong."""
    name = NAME.replace("20260424_095803", stamp)
    came(texts, "one", name)
    message, _ = taken({"SMS_1_NUMBER": ANN}, [name], replace(texts, zone=zone), secret, START)
    assert (message.sent_at.isoformat() if message.sent_at else None) == sent


def test_what_the_hook_left_behind(texts: TextSettings, secret: Secret, tmp_path: Path) -> None:
    """Files that the hook did not hand over are found after some minutes, with the id that the hook would give."""
    files = [came(texts, "one "), came(texts, "two", NAME.replace("_00.txt", "_01.txt"))]
    came(texts, "", "OTHER.txt")
    right = taken({"SMS_1_NUMBER": ANN}, [path.name for path in files], texts, secret, START)[0]
    assert list(left_behind(texts, secret, START)) == []
    for path in files:
        os.utime(path, (time.time() - 200,) * 2)
    ((message, found),) = left_behind(texts, secret, START)
    assert (message, found) == (right, files)
    into = Spool(tmp_path / "spool")
    spool(message, found, into)
    assert list(left_behind(texts, secret, START)) == []
    assert len(into.waiting()) == 1


def answered(texts: TextSettings, short: str) -> list[str]:
    Texts(texts).answer(Incoming("text-" + "0" * 32, "text", ANN, "one", START), Answer("full", short))
    return [path.read_bytes().decode("utf-16") for path in texts.outbox.iterdir()]


@pytest.mark.parametrize(
    ("short", "out"),
    [
        ("Rake the chips back.", "Rake the chips back."),
        ("−2 °C at the “small” fig… {5 €}", '-2 C at the "small" fig... {5 €}'),
        ("é è ñ ü Å", "é è ñ ü Å"),
        ("šeřík", "serik"),
    ],
)
def test_letters_of_the_alphabet(texts: TextSettings, short: str, out: str) -> None:
    """An answer goes out in the GSM 03.38 alphabet, judged by a reference codec: other letters become near ones."""
    (said,) = answered(texts, short)
    assert said == out
    codec = gsm0338.Codec()
    assert codec.decode(codec.encode(said)[0])[0] == said


def test_two_segments_at_most(texts: TextSettings) -> None:
    """However long an answer is, it costs two messages at most: 306 places of seven bits (3GPP TS 23.040)."""
    (said,) = answered(texts, "Open the wrap. " * 60)
    assert len(gsm0338.Codec().encode(said)[0]) <= 306
    assert said.startswith("Open the wrap.")


@pytest.mark.parametrize("where", ["outbox", "sent", "error"])
def test_queued_once(texts: TextSettings, where: str) -> None:
    """An answer that is queued, sent or failed is not queued again."""
    answered(texts, "one")
    (path,) = texts.outbox.iterdir()
    path.rename(getattr(texts, where) / path.name)
    answered(texts, "one")
    everywhere = [path for folder in (texts.outbox, texts.sent, texts.error) for path in folder.iterdir()]
    assert len(everywhere) == 1


def test_no_outbox(texts: TextSettings) -> None:
    """Where the daemon's outbox is away the answer is tried again later."""
    texts.outbox.rmdir()
    with pytest.raises(Away, match="outbox"):
        answered(texts, "one")


def test_tidied(texts: TextSettings) -> None:
    """Old answers leave the daemon's folders, with the numbers and words in them; what is not ours stays."""
    answered(texts, "one")
    (path,) = texts.outbox.iterdir()
    door = Texts(texts)
    sent, other = texts.sent / path.name.replace("000.txt", "001.txt"), texts.sent / "OUTC20260424_100000_00_1_x.txt"
    for made in (sent, other):
        made.write_text("")
    assert (door.tidy(100), door.failed()) == (0, 0)

    def aged(seconds: float) -> None:
        for one in (path, sent, other):
            if one.exists():
                os.utime(one, (time.time() - seconds,) * 2)

    aged(150)
    assert door.tidy(100) == 1
    assert (path.exists(), sent.exists()) == (False, True)
    aged(250)
    door.tidy(100)
    assert (sent.exists(), other.exists()) == (False, True)


def test_failed_answers_are_counted(texts: TextSettings) -> None:
    """What the modem could not send is told, since nobody else would."""
    answered(texts, "one")
    for path in texts.outbox.iterdir():
        path.rename(texts.error / path.name)
    assert Texts(texts).failed() == 1


def test_names_are_ours(texts: TextSettings) -> None:
    """An answer's file name says time, number and id, in the form that the daemon reads (gammu-smsd-files, OUT...)."""
    answered(texts, "one")
    assert [path.name for path in texts.outbox.iterdir()] == [f"OUTC20260424_100000_00_{ANN}_text-{'0' * 32}.txt"]
