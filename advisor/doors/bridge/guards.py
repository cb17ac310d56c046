"""What keeps two machines from writing to each other all night, and a bill from growing: who is answered, and when not.

Nothing told is lost by a guard: over the limit a message is still read and recorded, it only gets no answer.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta

from advisor.doors.bridge.journal import Journal, Line

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
AUTOMATIC = re.compile(
    r"\s*[\[(<*]*(?:auto(?:matic|mated)?[\s-]?(?:reply|response|message|answer)|out of (?:the )?office"
    r"|i(?:'|’)?m driving|i am driving|delivery (?:report|status|receipt)|(?:message )?undeliver(?:ed|able))\b",
    re.IGNORECASE,
)
NOTICE_HOUR = (
    "Many messages within the hour: what you send is read and kept, but gets no answer until it is quieter. "
    "Answers begin again within the hour."
)
NOTICE_DAY = (
    "The limit of answers within 24 hours is reached: what you send is read and kept, but gets no answer for now."
)


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a message may be answered: ``limit`` is "none" if so, else the limit that is told of, with ``said`` in
    place of the answer, or "" where that was told already."""

    limit: str
    said: str = ""


def is_automatic(text: str) -> bool:
    """Return whether a text says of itself that no person wrote it.

    >>> is_automatic("Auto-reply: I'm away"), is_automatic("automatic drip on the shed fig set to 10 min")
    (True, False)
    """
    return AUTOMATIC.match(text) is not None


def same_words(text: str) -> str:
    """Return a text as it is compared with our own answers, without regard to spaces and case."""
    return " ".join(text.split()).casefold()


def is_echo(said: str, sender: str, journal: Journal, now: datetime) -> bool:
    """Return whether what a sender wrote is what they were answered within a day; ``said`` is its keyed hash."""
    return any(line.said == said for line in journal.since(now - DAY) if line.sender == sender and line.replied)


def may_answer(sender: str, door: str, journal: Journal, now: datetime, most_an_hour: int, most_a_day: int) -> Verdict:
    """Return whether one more answer may go out by a door.

    Over a limit the first message gets a notice in place of its answer, those after it nothing: within an hour for one
    sender, within a day for all of a door, and that notice too goes to each sender once.
    """
    day = [line for line in journal.since(now - DAY) if line.door == door]
    mine = [line for line in day if line.sender == sender]
    hour = [line for line in mine if line.at >= now - HOUR]
    if sum(line.replied for line in day) >= most_a_day:
        return _over(mine, "day", NOTICE_DAY)
    if len(hour) >= most_an_hour:
        return _over(hour, "hour", NOTICE_HOUR)
    return Verdict("none")


def _over(lines: list[Line], limit: str, said: str) -> Verdict:
    return Verdict("") if any(line.notice == limit for line in lines) else Verdict(limit, said)
