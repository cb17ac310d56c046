"""Weather that can be trusted, and what cannot: each doubtful value is named and kept apart."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import groupby, pairwise

from advisor.records.weather_columns import COLDEST_C, HOTTEST_C

STUCK_DAYS, STUCK_HOURS = 5, 24
"""So many days with the very same minimum and maximum, or hours with one temperature, are a stuck sensor."""
SPIKE_DAY_K, SPIKE_HOUR_K = 20.0, 12.0
"""So far beyond both neighbours on the same side is a spike. These four are house judgement."""
NEAR_K = 8.0
WORDS = {
    "max below min": "have a maximum below their minimum",
    "twice with other values": "stand twice with other values",
    "stuck": "have a stuck sensor",
    "spike": "stand far out from their neighbours",
    "out of range": "are out of any range",
    "looks like another unit": "look like °F in a °C column",
}
ONE_WORDS = {"have": "has", "stand": "stands", "are": "is", "look": "looks"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One day or hour of a file, or with line 0 one that is recorded already.

    Daily entries have ``min_c`` and ``max_c``, hourly ones ``temp_c``. [°C, mm]
    """

    line: int
    when: datetime | date
    source: str = ""
    spot: str = ""
    min_c: float | None = None
    max_c: float | None = None
    temp_c: float | None = None
    dew_point_c: float | None = None
    rain_mm: float | None = None
    words: str = ""

    @property
    def temperatures(self) -> tuple[float, ...]:
        return tuple(value for value in (self.min_c, self.max_c, self.temp_c) if value is not None)


@dataclass
class Checked:
    """What a check found: entries to trust, entries in doubt with why, and the gaps between first and last."""

    trusted: list[Entry] = field(default_factory=list)
    doubtful: list[tuple[str, Entry]] = field(default_factory=list)
    gaps: list[tuple[datetime | date, datetime | date, int]] = field(default_factory=list)

    def notes(self, name: str, unit: str) -> list[str]:
        """Return what was found, as sentences. ``unit`` is day or hour."""
        said = []
        if self.gaps:
            count = sum(n for _, _, n in self.gaps)
            shown = ", ".join(_span(first, last) for first, last, _ in self.gaps[:4])
            more = f" and {len(self.gaps) - 4} more gaps" if len(self.gaps) > 4 else ""
            said.append(f"{name}: {count} {unit}{'' if count == 1 else 's'} missing: {shown}{more}")
        for why, words in WORDS.items():
            doubts = [entry for reason, entry in self.doubtful if reason == why]
            if doubts:
                some = f"{len(doubts)} {unit}{'' if len(doubts) == 1 else 's'}"
                if len(doubts) == 1:
                    verb, rest = words.split(" ", 1)
                    words = f"{ONE_WORDS[verb]} {rest}".replace("their", "its")
                said.append(f"{name}: {some} {words}, kept apart ({_where(doubts)})")
        return said


def _where(entries: Sequence[Entry]) -> str:
    """Return the lines of entries, and the moments of those that were recorded before."""
    lines = [str(entry.line) for entry in entries if entry.line]
    before = [entry.when.isoformat()[:16] for entry in entries if not entry.line]
    shown = [f"line {', '.join(lines[:5])}{' ...' if len(lines) > 5 else ''}"] if lines else []
    shown += [f"recorded before: {', '.join(before[:5])}{' ...' if len(before) > 5 else ''}"] if before else []
    return "; ".join(shown)


def _span(first: datetime | date, last: datetime | date) -> str:
    one, other = (moment.isoformat()[:16] for moment in (first, last))
    return one if one == other else f"{one} to {other}"


def check(entries: Iterable[Entry]) -> Checked:
    """Check the entries of one file, each station and spot for itself."""
    checked = Checked()
    by_place = sorted(entries, key=lambda entry: (entry.source, entry.spot))
    for _, group in groupby(by_place, key=lambda entry: (entry.source, entry.spot)):
        _check_one(sorted(group, key=lambda entry: (entry.when, entry.line)), checked)
    return checked


def _check_one(entries: list[Entry], checked: Checked) -> None:
    step = timedelta(hours=1) if entries and isinstance(entries[0].when, datetime) else timedelta(days=1)
    single = _once(entries, checked)
    sound = []
    for entry in single:
        if entry.min_c is not None and entry.max_c is not None and entry.max_c < entry.min_c:
            checked.doubtful.append(("max below min", entry))
        elif any(not COLDEST_C <= value <= HOTTEST_C for value in entry.temperatures):
            as_unit = all(COLDEST_C <= (value - 32) / 1.8 <= HOTTEST_C for value in entry.temperatures)
            checked.doubtful.append(("looks like another unit" if as_unit else "out of range", entry))
        else:
            sound.append(entry)
    stuck = _stuck(sound, step)
    moving = [entry for entry in sound if id(entry) not in stuck]
    checked.doubtful += [("stuck", entry) for entry in sound if id(entry) in stuck]
    for place, entry in enumerate(moving):
        why = _stands_out(moving, place, step)
        if why:
            checked.doubtful.append((why, entry))
        else:
            checked.trusted.append(entry)
    _gaps(entries, step, checked)


def _once(entries: list[Entry], checked: Checked) -> list[Entry]:
    """Return each moment once; the same values twice are one, other values are all in doubt."""
    single = []
    for _, group in groupby(entries, key=lambda entry: entry.when):
        same = list(group)
        if len({(e.temperatures, e.rain_mm, e.dew_point_c) for e in same}) > 1:
            checked.doubtful += [("twice with other values", entry) for entry in same]
        else:
            single.append(same[0])
    return single


def _stuck(entries: Sequence[Entry], step: timedelta) -> set[int]:
    """Return the entries, by identity, of runs in which nothing moves for too long."""
    longest = STUCK_DAYS if step == timedelta(days=1) else STUCK_HOURS
    stuck: set[int] = set()
    run: list[Entry] = []
    for entry in entries:
        # days are among days and hours among hours, so that they can be subtracted
        if run and (entry.temperatures != run[-1].temperatures or entry.when - run[-1].when > step):  # type: ignore[operator]
            if len(run) >= longest:
                stuck |= {id(one) for one in run}
            run = []
        run.append(entry)
    return stuck | ({id(one) for one in run} if len(run) >= longest else set())


def _stands_out(entries: Sequence[Entry], place: int, step: timedelta) -> str:
    """Return why an entry is in doubt beside its neighbours of the days or hours next to it, or ""."""
    if not 0 < place < len(entries) - 1:
        return ""
    before, entry, after = entries[place - 1], entries[place], entries[place + 1]
    if after.when - before.when > 3 * step:  # type: ignore[operator]  # all of one kind
        return ""
    far = SPIKE_DAY_K if step == timedelta(days=1) else SPIKE_HOUR_K
    for here, one, other in zip(entry.temperatures, before.temperatures, after.temperatures, strict=False):
        if (here - one > far and here - other > far) or (one - here > far and other - here > far):
            usual = (one + other) / 2
            return "looks like another unit" if abs((here - 32) / 1.8 - usual) <= NEAR_K else "spike"
    return ""


def _gaps(entries: Sequence[Entry], step: timedelta, checked: Checked) -> None:
    for before, after in pairwise(entries):
        missing = round((after.when - before.when) / step) - 1  # type: ignore[operator]  # all of one kind
        if missing > 0:
            checked.gaps.append((before.when + step, after.when - step, missing))
