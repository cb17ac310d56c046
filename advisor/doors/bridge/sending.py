"""The bridge at work: spooled messages in their order, each to its sender's service, each answered once.

take the oldest → is it known, allowed, written by a person? → post it → queue the answer → write down what came of it

A message leaves the spool only after the journal has it, and every step before can be done again: the service answers
an id once, a door queues an answer for an id once. So whatever dies, wherever, the message is neither lost nor answered
twice. What fails is tried again with growing pauses until it is too old, and holds up only its own sender.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol

from advisor.doors.bridge.guards import is_automatic, is_echo, may_answer, same_words
from advisor.doors.bridge.inbox import Incoming, Spool
from advisor.doors.bridge.journal import Journal, Line
from advisor.doors.bridge.numbers import SHOWN, Allowed, Senders, is_short_code
from advisor.doors.bridge.service import Answer, Away, post
from advisor.doors.bridge.settings import BridgeSettings

LOG = logging.getLogger("advisor.bridge")
STEPS_ASIDE = 5
"""After so many failures of the service at one message, the sender's later ones no longer wait for it."""
NO_WORDS = "No words came through. Pictures and sound are not read here: send words."


class Door(Protocol):
    """A way for answers to go out. ``answer`` sends one for a message unless it went already, or raises Away."""

    name: str
    most_an_hour: int
    most_a_day: int

    def answer(self, message: Incoming, answer: Answer) -> None: ...


@dataclass(slots=True)
class _Failing:
    """A message not dealt with: until when to pause, how often it failed, how often the service fell over it alone."""

    until: datetime
    times: int = 0
    at_this: int = 0


class Bridge:
    """Takes messages out of the spool and answers them. One at a time for a folder."""

    def __init__(
        self,
        settings: BridgeSettings,
        senders: Senders,
        spool: Spool,
        journal: Journal,
        doors: Mapping[str, Door],
        own: tuple[str, ...] = (),
        clock: Callable[[], datetime] = lambda: datetime.now().astimezone(),
    ) -> None:
        """``own``: the numbers and addresses that answers come from, which are never answered themselves."""
        self.settings, self.senders, self.spool, self.journal = settings, senders, spool, journal
        self.doors, self.clock = doors, clock
        self._own = {senders.hash(one) for one in own if one}
        self._failing: dict[Path, _Failing] = {}

    def step(self) -> int:
        """Deal with every message that is due, oldest first; return how many are done with."""
        held: set[str] = set()
        done = 0
        waiting = self.spool.waiting()
        self._failing = {path: self._failing[path] for path in waiting if path in self._failing}
        for path in waiting:
            message = self.spool.read(path)
            if message is None:
                LOG.error("a file of the spool cannot be read; it is put aside")
                path.rename(path.with_suffix(".unreadable"))
                continue
            who = f"{message.door} {message.sender}"
            failing = self._failing.get(path)
            if who in held or (failing and failing.until > self.clock()):
                if failing is None or failing.at_this < STEPS_ASIDE:
                    held.add(who)
                continue
            try:
                self._deal_safely(message)
            except Away as away:
                if self._pause(path, away).at_this < STEPS_ASIDE:
                    held.add(who)
                continue
            self.spool.remove(path)
            done += 1
        return done

    def _pause(self, path: Path, away: Away) -> _Failing:
        failing = self._failing.setdefault(path, _Failing(self.clock()))
        pause_s = min(self.settings.longest_pause_s, self.settings.pause_s * 2**failing.times)
        pause_s = max(pause_s, min(away.after_s, self.settings.longest_pause_s))
        failing.times += 1
        failing.at_this += away.this_message
        failing.until = self.clock() + timedelta(seconds=pause_s)
        LOG.warning("kept, to be tried again in %.0f s: %s", pause_s, away.why)
        return failing

    def _deal_safely(self, message: Incoming) -> None:
        """Deal with a message; a fault of ours at it is logged without its words and holds up no other sender."""
        try:
            self._deal(message)
        except Away:
            raise
        except Exception as error:
            raise Away(f"a fault of ours ({type(error).__name__})", this_message=True) from None

    def _deal(self, message: Incoming) -> None:
        """Bring one message to its end in the journal, or raise Away."""
        if message.id in self.journal:
            LOG.info("%s delivered again; dealt with before", message.door)
            return
        allowed, outcome = self._admitted(message)
        if allowed is None or outcome:
            self._close(message, allowed, outcome)
            return
        key = allowed.key or ("" if allowed.service else self.settings.key())
        if message.text.strip():
            answer = post(message, allowed.service or self.settings.service, key, self.settings.timeout_s)
            outcome = "refused" if answer.refused else "answered"
        else:
            answer, outcome = Answer(NO_WORDS, NO_WORDS), "empty"
        door = self.doors[message.door]
        limits = (door.most_an_hour, door.most_a_day)
        verdict = may_answer(allowed.hash, message.door, self.journal, self.clock(), *limits)
        if not verdict.limit:
            self._close(message, allowed, "over the limit")
            return
        if verdict.said:
            answer, outcome = Answer(verdict.said, verdict.said), "over the limit, told so"
        door.answer(message, answer)
        said = (answer.short, answer.reply)[message.door == "mail"]
        self._close(message, allowed, outcome, True, verdict.limit if verdict.said else "", self._hash(said))

    def _admitted(self, message: Incoming) -> tuple[Allowed | None, str]:
        """Return who wrote, None for a stranger, and why the message is not to be answered, or ""."""
        if message.door not in self.doors:
            raise Away(f"the door {message.door} is not open")
        if message.door == "text" and is_short_code(message.sender):
            return None, "short code"
        try:
            if self.senders.hash(message.sender) in self._own:
                return None, "own number"
        except ValueError:
            return None, "unknown"
        allowed = self.senders.find(message.sender)
        if allowed is None:
            return None, "unknown"
        if message.beside.get("refused"):
            return None, message.beside["refused"]
        if self.clock() - message.taken_at > timedelta(hours=self.settings.age_h):
            return allowed, "too old"
        if message.beside.get("automatic") or is_automatic(message.text):
            return allowed, "automatic"
        if is_echo(self._hash(message.text), allowed.hash, self.journal, self.clock()):
            return allowed, "echo"
        return allowed, ""

    def _hash(self, text: str) -> str:
        return self.senders.secret.hash("said", same_words(text))[:16]

    def _close(
        self, message: Incoming, allowed: Allowed | None, outcome: str, replied: bool = False, notice: str = "",
        said: str = "",
    ) -> None:  # fmt: skip
        sender = allowed.hash if allowed else ""
        try:
            self.journal.close(Line(message.id, self.clock(), message.door, outcome, sender, replied, notice, said))
        except OSError as error:
            raise Away(f"the journal cannot be written ({type(error).__name__})") from None
        took_s = (self.clock() - message.taken_at).total_seconds()
        LOG.info("%s %s %s after %.1f s", message.door, sender[:SHOWN] or "stranger", outcome, took_s)
