"""What growers asked lately, worked out before they ask it again: at the start, as a day begins, after a talk.

The first answer of a day takes a hundred times as long as one to a question asked again: in a large garden a second,
on a small machine several. What is worked out here is kept where every answer is (``reasoning.derive.memory``), so that
whoever asks in the morning is answered like one who asks again. Nothing is written to a garden.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from advisor.conversation import Adviser
from advisor.doors.gardens import gardens, written_at
from advisor.errors import AdvisorError
from advisor.language.understand import Understood
from advisor.reasoning.derive.memory import MOST_GARDENS
from advisor.reasoning.engine import trying
from advisor.records.attempts import one_try
from advisor.records.messages import questions_since
from advisor.records.store import Garden

LOG = logging.getLogger("advisor.ahead")
EVERY_S = 30.0
"""How often it is looked for what to work out."""
QUIET_S = 60.0
"""For so long nobody has written to a garden: who is in the middle of a talk is left the machine."""
LATELY = timedelta(days=7)
"""What was not asked for so long is not expected."""
MOST_ASKED = 4
"""So many kinds of question of each garden, those asked last."""
AMONG = 60
"""They are looked for among so many last messages."""
WAIT_S = 60.0
"""How long one process waits for another that works out the same."""


class Ahead:
    """What was worked out ahead of the gardens that an adviser serves, and in which state each of them was then."""

    def __init__(self, adviser: Adviser) -> None:
        self._adviser = adviser
        self._done: dict[Path, tuple[float, ZoneInfo, date]] = {}

    def look(self, now: datetime, quiet_since: float) -> Iterator[str]:
        """Work out what was asked lately of each garden in which something is new: its records, or its day.

        Yield the kind of each question once it is worked out, which may take a second. ``quiet_since`` [s since 1970]:
        gardens written to after it are left alone. Those written to last come first, and no more of them than are
        kept. What fails is logged, and fails again for whoever asks it.
        """
        found = [(written_at(path), path) for path in gardens(self._adviser.settings)]
        for written, path in sorted(found, reverse=True)[:MOST_GARDENS]:
            if written > quiet_since or written < (now - LATELY).timestamp() or self._is_done(path, written, now):
                continue
            try:
                with self._adviser.open(path) as garden:
                    zone = garden.zone()
                    today = now.astimezone(zone).date()
                    yield from self._of_garden(garden, now, today)
            except AdvisorError as error:
                LOG.info("nothing of %s is worked out ahead: %s", path.stem, error)
            else:
                self._done[path] = written, zone, today  # as it was found: what came in meanwhile is new

    def _is_done(self, path: Path, written: float, now: datetime) -> bool:
        done = self._done.get(path)
        return done is not None and done[0] == written and now.astimezone(done[1]).date() == done[2]

    def _of_garden(self, garden: Garden, now: datetime, today: date) -> Iterator[str]:
        by_rules = {kind.id for kind in self._adviser.questions.values() if kind.answered_by}
        asked = [one for one in questions_since(garden, now - LATELY, AMONG) if one.get("kind") in by_rules]
        for question in asked[:MOST_ASKED]:
            meant = Understood.asked(question)
            try:
                with one_try(garden.path, f"ahead {meant.key}", WAIT_S) as this, trying(this.died_in, this):
                    if this.deaths:
                        raise AdvisorError("working out ahead", "it ended the process before", "Ask it, and see")
                    self._adviser.told(garden, meant, today)
            except AdvisorError as error:
                LOG.info("%s is not worked out ahead: %s", meant.question, error)
            yield meant.question


def keep_ahead(
    adviser: Adviser, clock: Callable[[], datetime] = lambda: datetime.now(UTC), stop: threading.Event | None = None
) -> threading.Thread:
    """Work out ahead, beside what is served, until told to stop; half of the time at most."""
    ends = stop or threading.Event()

    def run() -> None:
        ahead = Ahead(adviser)
        while not ends.is_set():
            began = time.monotonic()
            try:
                for _ in ahead.look(clock(), time.time() - QUIET_S):
                    if ends.wait(time.monotonic() - began):
                        return
                    began = time.monotonic()
            except Exception:  # whoever asks is told what is wrong; what is ahead of them is no matter
                LOG.exception("working out ahead failed")
            ends.wait(EVERY_S)

    thread = threading.Thread(target=run, name="ahead", daemon=True)
    thread.start()
    return thread
