"""Dates and times in a grower's message, told from a clock that is passed in. Missed sooner than invented."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from advisor.language.when_clock import CLOCKS
from advisor.language.when_days import DATES
from advisor.language.when_relative import RELATIVE
from advisor.language.when_words import Piece, Plain, Scene, day_before

PART_HOURS = {"morning": 8, "midday": 12, "afternoon": 15, "evening": 20, "night": 20, "last night": 22}
"""The hour at which something is logged that was told by a part of the day only (house judgement)."""
BEGINS = {"morning": 0, "midday": 12, "afternoon": 12, "evening": 17, "night": 18, "last night": 0}
"""The hour from which a part of today can have been (house judgement)."""
_HABIT = re.compile(r"\b(?:every|each|most|any|all|some|usually)\s+(?:(?:the|other|second)\s+)?$")
_COMPARED = re.compile(r"\b(?:than|as|like|unlike)\s+(?:it\s+was\s+|on\s+|in\s+)?$")
_SINCE = re.compile(r"\b(?:ever\s+)?since\s+(?:the\s+|about\s+|around\s+|on\s+|at\s+)?$")
_GAP = re.compile(r"[ \t@]*(,)?[ \t@]*(?:(?:on|at|about|around|of)[ \t]+)?(?:(?:in[ \t]+)?the[ \t]+)?")
_BETWEEN = re.compile(r"\s*(?:and|to|until|till?|through|-|–)\s*(?:the\s+|on\s+)?")
_BREAK = re.compile(r"[,;:()]|\b(?:and|then|but|now|while|plus)\b")


@dataclass(frozen=True, slots=True)
class Said:
    """One expression of time in a text: where it stands and the day, and perhaps time of day, that it tells.

    ``clock`` is a time of day that was told; ``part`` is "", "morning", "midday", "afternoon", "evening", "night" or
    "last night". ``last_day`` closes a span of days, and ``since`` says that the span goes on to now. ``to_come`` is
    true for what lies after the clock, and for the night to come. ``unclear`` says what can't be told: "whether 3 is
    an hour or something measured", "which day 3pm belongs to".
    """

    start: int
    end: int
    text: str
    day: date
    clock: time | None = None
    part: str = ""
    last_day: date | None = None
    since: bool = False
    to_come: bool = False
    unclear: str = ""


def find_times(text: str, now: datetime, day_first: bool | None, *, southern: bool | None = None) -> list[Said]:
    """Return what a text tells of time, in its order; ``now`` is the local time at which it was sent.

    ``day_first`` is the place's order of day and month in figures, None where it isn't known. ``southern`` says that
    the seasons are those of the south; without it the zone's summer time tells.

    >>> from zoneinfo import ZoneInfo
    >>> now = datetime(2026, 4, 24, 18, tzinfo=ZoneInfo("Europe/London"))  # a Friday
    >>> found = find_times("pot 3 moved Tues, 10 cm at the gate on 4/4", now, True)
    >>> [(said.text, said.day.isoformat()) for said in found]
    [('Tues', '2026-04-21'), ('4/4', '2026-04-04')]
    >>> find_times("soil 14 C at 10 cm, yesterday at 3", now, True)[0].clock
    datetime.time(15, 0)
    >>> find_times("it may be dead: 6 leaves, sun, 1/2 inch", now, True)
    []
    """
    if now.tzinfo is None:
        raise ValueError("find_times needs a clock with its time zone")
    scene = Scene(Plain.of(text), now, day_first, _southern(now) if southern is None else southern)
    pieces = _spanned(_joined(_found(scene), scene), scene)
    shared = [_with_day(piece, pieces, scene) for piece in pieces]
    return [_said(piece, scene) for piece in _given_clocks(shared, pieces, scene)]


def moment_of(said: Said | None, now: datetime) -> datetime:
    """Return the time at which a reading is logged: told, or usual for the part of the day, or noon of another day.

    A reading can't be later than its message, so a part of the day that isn't over is cut off at ``now``; only a clock
    time or a day that were told can lie ahead. A time that the clocks leave out in spring becomes the one an hour on.

    >>> from zoneinfo import ZoneInfo
    >>> now = datetime(2026, 4, 24, 18, tzinfo=ZoneInfo("Europe/London"))
    >>> texts = ("last night", "yesterday", "today")
    >>> [moment_of(find_times(text, now, True)[0], now).isoformat()[:16] for text in texts]
    ['2026-04-23T22:00', '2026-04-23T12:00', '2026-04-24T18:00']
    """
    if said is None:
        return now
    if said.clock is not None:
        return _existing(said.day, said.clock, now)
    if said.day == now.date() and not said.part:
        return now
    hour = PART_HOURS.get(said.part, 12)
    if said.part == "night" and said.day != now.date():
        hour = PART_HOURS["last night"]
    moment = _existing(said.day, time(hour), now)
    past = said.day <= now.date()
    return now if past and moment.astimezone(UTC) > now.astimezone(UTC) else moment


def _existing(day: date, clock: time, now: datetime) -> datetime:
    local = datetime.combine(day, clock.replace(tzinfo=None), tzinfo=now.tzinfo)
    try:
        return local.astimezone(UTC).astimezone(now.tzinfo)
    except OverflowError:
        return local


def _southern(now: datetime) -> bool:
    january, july = (datetime(now.year, month, 1, tzinfo=now.tzinfo).utcoffset() for month in (1, 7))
    return january is not None and july is not None and january > july


def _found(scene: Scene) -> list[Piece]:
    """Return pieces that do not overlap; a shape that stands earlier in the lists has its words first."""
    taken = bytearray(len(scene.text))
    pieces: list[Piece] = []
    for pattern, reader in (*DATES, *RELATIVE, *CLOCKS):
        for match in pattern.finditer(scene.text):
            if any(taken[match.start() : match.end()]):
                continue
            before = scene.before(match.start())
            aimed = match[0].startswith(("at ", "by ", "on ", "@"))  # "all at 15:00"
            if (_HABIT.search(before) and not aimed) or _COMPARED.search(before):
                continue
            piece = reader(match, scene)
            if piece is None:
                continue
            since = _SINCE.search(before)
            opens = re.match(r"(?:ever\s+)?since\b", match[0]) is not None
            if (since or opens) and (piece.day is None or piece.day <= scene.today):
                start = piece.start - len(before) + since.start() if since else piece.start
                piece = replace(piece, start=start, since=True, last_day=scene.today)
            taken[piece.start : piece.end] = b"\1" * (piece.end - piece.start)
            pieces.append(piece)
    return sorted(pieces, key=lambda piece: piece.start)


def _joined(pieces: Sequence[Piece], scene: Scene) -> list[Piece]:
    """Return pieces with those made one that stand side by side and tell one time together."""
    joined: list[Piece] = []
    for piece in pieces:
        one = joined and _one(joined[-1], piece, scene)
        if one:
            joined[-1] = one
        else:
            joined.append(piece)
    nights = re.compile(r"\s+(?:at\s+)?night\b")
    for at, piece in enumerate(joined):
        night = nights.match(scene.text, piece.end)
        if night and piece.day and not piece.part and piece.last_day is None:
            part = "last night" if piece.day == day_before(scene.today, 1) else "night"
            joined[at] = replace(piece, end=night.end(), part=part)
            after = joined[at + 1] if at + 1 < len(joined) else None
            if after and (one := _one(joined[at], after, scene)):
                joined[at : at + 2] = [one]
    return joined


def _one(a: Piece, b: Piece, scene: Scene) -> Piece | None:
    gap = _GAP.fullmatch(scene.text, a.end, b.start)
    if gap is None or (gap[1] and not (a.day and scene.leads(a.start))):
        return None
    if a.day and b.day:
        if a.weekday is None or b.weekday is not None or b.part or a.to_come or a.since or b.last_day:
            return None
        unclear = b.unclear if b.day.weekday() == a.weekday else f"how {scene.typed(a.start, b.end)} go together"
        return replace(b, start=a.start, unclear=unclear)
    if (a.hour is not None and b.hour is not None) or (a.part and b.part and a.part != b.part and a.hour is None):
        return None
    first, other = (a, b) if a.day else (b, a)
    if first.last_day and not first.since:
        return None
    clocked = a if a.hour is not None else b
    return replace(
        first,
        start=a.start,
        end=b.end,
        hour=clocked.hour,
        minute=clocked.minute,
        half=clocked.half,
        part=first.part or other.part,
        unclear=first.unclear or other.unclear,
        loose="",
    )


def _spanned(pieces: Sequence[Piece], scene: Scene) -> list[Piece]:
    """Return pieces with "between Monday and Thursday" made one span."""
    made: list[Piece] = []
    for piece in pieces:
        last = made[-1] if made else None
        if (
            last
            and last.day
            and piece.day
            and last.day < piece.day
            and last.last_day is None
            and piece.last_day is None
            and (opening := re.search(r"\b(?:between|from)\s+(?:the\s+)?$", scene.before(last.start)))
            and _BETWEEN.fullmatch(scene.text, last.end, piece.start)
        ):
            start = last.start - (len(opening[0]) if opening else 0)
            made[-1] = Piece(
                start, piece.end, last.day, piece.day, to_come=piece.to_come, unclear=last.unclear or piece.unclear
            )
        else:
            made.append(piece)
    return made


def _with_day(piece: Piece, pieces: Sequence[Piece], scene: Scene) -> Piece:
    """Return a time of day with the day that its sentence tells, or today's; unclear where that is left open."""
    if piece.day:
        return piece
    days = [other for other in pieces if other.day and not other.since and _same_sentence(piece, other, scene)]
    near = [other for other in days if not _parted(piece, other, scene)]
    leading = [other for other in days if other.end <= piece.start and scene.leads(other.start)]
    told = {other.day for other in near} or ({other.day for other in leading} if len(days) == 1 else set())
    if not days:
        return replace(piece, day=scene.today, unclear=piece.unclear or piece.loose)
    said = scene.typed(piece.start, piece.end)
    if len(told) != 1 or any(other.last_day or other.part in ("night", "last night") for other in near or leading):
        return replace(piece, day=scene.today, unclear=piece.unclear or f"which day {said} belongs to")
    source = (near or leading)[0]
    return replace(piece, day=source.day, to_come=source.to_come, unclear=piece.unclear or source.unclear)


def _given_clocks(shared: Sequence[Piece], pieces: Sequence[Piece], scene: Scene) -> list[Piece]:
    """Return pieces with a bare day given the only time of day that its clause tells apart from it."""
    given = list(shared)
    lone = [at for at, piece in enumerate(pieces) if piece.day is None]
    for at, piece in enumerate(pieces):
        if not piece.day or piece.hour is not None or piece.part or piece.last_day:
            continue
        own = [n for n in lone if _same_sentence(piece, pieces[n], scene) and not _parted(piece, pieces[n], scene)]
        if len(own) == 1 and shared[own[0]].day == piece.day:
            other = shared[own[0]]
            given[at] = replace(
                given[at], hour=other.hour, minute=other.minute, half=other.half, part=other.part, unclear=other.unclear
            )
    return given


def _same_sentence(a: Piece, b: Piece, scene: Scene) -> bool:
    first, last = (a, b) if a.start < b.start else (b, a)
    if last.start - first.end > 200:
        return False
    return re.search(r"[;!?\n]|\.\s", scene.text[first.end : last.start]) is None


def _parted(a: Piece, b: Piece, scene: Scene) -> bool:
    first, last = (a, b) if a.start < b.start else (b, a)
    return _BREAK.search(scene.text, first.end, last.start) is not None


def _said(piece: Piece, scene: Scene) -> Said:
    day, clock, unclear = _clock(piece, scene)
    today, to_come = scene.today, piece.to_come
    ahead = clock is not None and _existing(day, clock, scene.now).astimezone(UTC) > scene.now.astimezone(UTC)
    if clock is not None:
        to_come = ahead
    elif day > today or (day == today and scene.now.hour < BEGINS.get(piece.part, 0)):
        to_come = True
    last, since = piece.last_day, piece.since
    if last and last < day:
        last, since = None, False
    start, end = scene.plain.place(piece.start), scene.plain.place(piece.end)
    text = scene.plain.typed[start:end]
    return Said(start, end, text, day, clock, piece.part, last, since, to_come, unclear)


def _clock(piece: Piece, scene: Scene) -> tuple[date, time | None, str]:
    """Return the day, the time of day and what is unclear; after midnight a night's time is the next day's."""
    day, hour, part, unclear = piece.day or scene.today, piece.hour, piece.part, piece.unclear
    said = scene.typed(piece.start, piece.end)
    if hour is None:
        return day, None, unclear
    night = part in ("night", "last night")
    match piece.half:
        case "midnight":
            unclear = unclear or ("" if night or day == scene.today else f"at which end of the day {said} is")
        case "am" | "pm":
            hour = hour % 12 + (12 if piece.half == "pm" else 0)
        case "":
            hour, doubt = _half_of(hour, piece.minute, part, day, scene)
            unclear = unclear or (doubt and f"whether {said} is {doubt}")
    fits = {"morning": hour < 12, "afternoon": 12 <= hour <= 18, "evening": hour >= 16, "midday": 11 <= hour <= 14}
    if not (fits.get(part, True) if not night else hour >= 16 or hour < 7):
        unclear = unclear or f"how {said} go together"
    if night and hour < 7:
        day += timedelta(1) if day < date.max else timedelta(0)
    return day, time(hour, piece.minute, fold=piece.fold), unclear


def _half_of(hour: int, minute: int, part: str, day: date, scene: Scene) -> tuple[int, str]:
    """Return the hour of 24 for one told without its half of the day, and what leaves it open.

    Hours are taken for the afternoon, today's for the latest that has been; on another day from six to eleven both
    halves are usual, so it is asked.
    """
    early, late = hour % 12, hour % 12 + 12
    match part:
        case "morning":
            return early, "" if early else "at noon or midnight"
        case "afternoon" | "midday":
            return (late, "") if part == "afternoon" or hour in (12, 1, 2) else (hour, "")
        case "evening":
            return late, "" if early >= 4 else "in the morning or the evening"
        case "night" | "last night":
            if early == 5:
                return early, "in the morning or the evening"
            return (late, "") if early > 5 else (early, "")
    if day == scene.today:
        if time(late, minute) <= scene.now.time():
            return late, ""
        has_been = time(early, minute) <= scene.now.time()
        return early if has_been else late, "" if has_been else "today, where it is still to come, or another day"
    return late, "in the morning or the evening" if 6 <= early <= 11 else ""
