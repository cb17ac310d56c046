"""The modem's door: what the text message daemon hands over becomes a message, and an answer goes into its outbox.

The daemon (gammu-smsd with its files backend) keeps each part of a message as a file in its inbox and then calls a hook
with the names of these files, the texts in the environment, and every descriptor closed. It waits for the hook, so the
hook only spools and takes the files away. Files that stay, since the hook died or the disk was full, are found later.

An answer is a file of the outbox under a name that holds the message's id. The daemon sends it and renames it into the
folder of what was sent, so an answer that is in neither folder has never been queued: it is queued once, whenever
either side dies. (A daemon that dies between the modem's yes and its rename sends that one twice; that is its own.)
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.doors.bridge.inbox import Incoming, Spool, sweep, write_whole
from advisor.doors.bridge.numbers import Secret
from advisor.doors.bridge.service import Answer, Away
from advisor.doors.bridge.settings import TextSettings
from advisor.language.text_message import shortened

DOOR = "text"
RECEIVED = re.compile(r"IN(\d{8})_(\d{6})_(\d{2,})_(.*)_(\d{2,})\.(txt|bin)")
BYTE_ORDERS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
LEFT_BEHIND_S = 180.0
"""After this the daemon has given up its hook (it waits two minutes), so a file still there was not handed over. [s]"""
CLOCK_AHEAD, CLOCK_BEHIND = timedelta(minutes=10), timedelta(days=14)
OURS = "OUTC*_text-*.txt"
"""How our answers are named in the daemon's folders."""


def taken(
    environ: Mapping[str, str], names: Sequence[str], settings: TextSettings, secret: Secret, now: datetime
) -> tuple[Incoming, list[Path]]:
    """Return what the hook was called for as a message, and the files of the inbox that it was in.

    The files are read where they are there, since the environment loses letters unless the daemon's locale has them.
    ``now`` is aware. Raises ValueError where neither says who sent it.
    """
    files = [settings.inbox / Path(name).name for name in names if RECEIVED.fullmatch(Path(name).name)]
    there = [path for path in files if path.exists()]
    sender = environ.get("SMS_1_NUMBER", "") or (_parts(files[0])[2] if files else "")
    if not sender:
        raise ValueError("no sender in the hook's environment")
    text = _text(there) if there and len(there) == len(names) else joined(environ)
    return _message(sender, text, _stamp(files), settings, secret, now), there


def joined(environ: Mapping[str, str]) -> str:
    """Return the text in the hook's environment; parts of a long message are put together.

    >>> joined({"SMS_MESSAGES": "1", "SMS_1_TEXT": "why late?", "DECODED_PARTS": "0"})
    'why late?'
    """
    for name, count in (("DECODED", "DECODED_PARTS"), ("SMS", "SMS_MESSAGES")):
        number = environ.get(count, "0")
        parts = range(1, int(number) + 1) if number.isdigit() else ()
        text = "".join(environ.get(f"{name}_{part}_TEXT", "") for part in parts)
        if text:
            return text
    return ""


def left_behind(settings: TextSettings, secret: Secret, now: datetime) -> Iterator[tuple[Incoming, list[Path]]]:
    """Yield the messages whose files the hook did not take away, with these files; ``now`` is aware."""
    found: dict[tuple[str, str, str], list[Path]] = {}
    for path in sorted(settings.inbox.glob("IN*")):
        if RECEIVED.fullmatch(path.name):
            stamp, serial, sender, _ = _parts(path)
            found.setdefault((stamp, serial, sender), []).append(path)
    for (stamp, _, sender), files in found.items():
        if time.time() - max(path.stat().st_mtime for path in files) > LEFT_BEHIND_S:
            yield _message(sender, _text(files), stamp, settings, secret, now), files


def spool(message: Incoming, files: Sequence[Path], into: Spool) -> None:
    """Spool a message, then take its files out of the inbox: it is there or here, never in neither."""
    into.put(message)
    for path in files:
        path.unlink(missing_ok=True)


class Texts:
    """The way out: answers into the daemon's outbox."""

    name = DOOR

    def __init__(self, settings: TextSettings) -> None:
        self.settings = settings
        self.most_an_hour, self.most_a_day = settings.most_an_hour, settings.most_a_day

    def answer(self, message: Incoming, answer: Answer) -> None:
        """Queue an answer of two segments at most, in the GSM 03.38 alphabet, unless it is queued or sent already.

        Raises Away where the outbox cannot be written.
        """
        settings = self.settings
        number = re.sub(r"[^\d+]", "", message.sender)
        try:
            # The outbox first: a file that leaves it while we look is in the next folder by then.
            for folder in (settings.outbox, settings.sent, settings.error):
                if any(message.id in path.name for path in folder.glob("OUT*")):
                    return
            name = f"OUTC{message.taken_at.astimezone(UTC):%Y%m%d_%H%M%S}_00_{number}_{message.id}.txt"
            write_whole(settings.outbox / name, b"\xff\xfe" + shortened(answer.short).encode("utf-16-le"))
        except OSError as error:
            raise Away(f"the modem's outbox cannot be used ({type(error).__name__})") from None

    def tidy(self, age_s: float) -> int:
        """Remove our answers from the daemon's folders, since they hold numbers and words; return how many never went.

        An answer that waited in the outbox for ``age_s`` speaks of a day that is past. What was sent is kept twice as
        long: until then its name keeps the answer from being queued again.
        """
        sweep(self.settings.outbox)
        unsent = self._old(self.settings.outbox, age_s)
        for path in [*unsent, *self._old(self.settings.sent, 2 * age_s), *self._old(self.settings.error, 2 * age_s)]:
            path.unlink(missing_ok=True)
        return len(unsent)

    def failed(self) -> int:
        """Return how many answers the modem could not send of late."""
        return sum(1 for _ in self.settings.error.glob(OURS))

    @staticmethod
    def _old(folder: Path, age_s: float) -> list[Path]:
        then = time.time() - age_s
        return [path for path in folder.glob(OURS) if path.exists() and path.stat().st_mtime < then]


def _message(sender: str, text: str, stamp: str, settings: TextSettings, secret: Secret, now: datetime) -> Incoming:
    message_id = f"text-{secret.hash('text message', sender, stamp or now.isoformat(), text)}"
    return Incoming(message_id, DOOR, sender, text, now, _sent_at(stamp, settings.zone, now))


def _parts(path: Path) -> tuple[str, str, str, int]:
    """Return a file's time stamp, serial, sender and part."""
    found = RECEIVED.fullmatch(path.name)
    assert found is not None
    day, hour, serial, sender, part, _ = found.groups()
    return day + hour, serial, sender, int(part)


def _stamp(files: Sequence[Path]) -> str:
    return _parts(files[0])[0] if files else ""


def _sent_at(stamp: str, zone: str, now: datetime) -> datetime | None:
    """Return when the network says a message was sent; None where that cannot be.

    The stamp is the network's local time without its zone, so the settings name it; else it is this machine's.
    """
    try:
        local = datetime.strptime(stamp, "%Y%m%d%H%M%S")  # noqa: DTZ007  # the daemon drops the zone
    except ValueError:
        return None
    sent = local.replace(tzinfo=ZoneInfo(zone)) if zone else local.astimezone()
    return sent if now - CLOCK_BEHIND < sent < now + CLOCK_AHEAD else None


def _text(files: Sequence[Path]) -> str:
    """Return the text of a message's files, in the order of its parts; a binary part has none."""
    parts = sorted((path for path in files if path.suffix == ".txt"), key=lambda path: _parts(path)[3])
    return "".join(_decoded(path.read_bytes()) for path in parts)


def _decoded(content: bytes) -> str:
    order = BYTE_ORDERS.get(content[:2])
    return content[2:].decode(order, "replace") if order else content.decode("utf-8", "replace")
