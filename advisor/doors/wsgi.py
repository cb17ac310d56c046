"""The application for a production server, made from the settings: ``gunicorn "advisor.doors.wsgi:application()"``.

It stands behind a server that ends https, takes slow clients' requests in whole, and alone can reach it. The limits
on requests are kept by each process (``access.limits``), so with several workers somebody whose requests reach all of
them gets that many times as much. They are not divided, since one person's requests may all reach the same one.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from flask import Flask

from advisor.config import Settings
from advisor.conversation import Adviser
from advisor.doors.ahead import keep_ahead
from advisor.doors.garbage import look_for_garbage_seldom
from advisor.doors.gardens import crash_folder, gardens, take_up
from advisor.doors.http import create_app
from advisor.doors.last_words import death_of, tell
from advisor.doors.watching import log_to_stderr
from advisor.errors import AdvisorError, BadInput
from advisor.records.backing_up import sound

LOG = logging.getLogger("advisor.service")
_made: list[Adviser] = []


def application() -> Flask:
    """Return the application of the settings. Stop the program, with what to do about it, where it cannot serve."""
    log_to_stderr()
    try:
        app = make(Settings.from_environment())
    except AdvisorError as error:
        raise SystemExit(str(error)) from error
    look_for_garbage_seldom()
    return app


def make(settings: Settings) -> Flask:
    """Return the application of some settings.

    Raises BadInput where one garden would be served to whoever comes and that was not said, NotFound where no grower
    was ever made, GardenUnavailable where the one garden that is served is damaged.
    """
    if settings.growers is None and not settings.without_keys:
        do = "Name a folder of growers in ADVISOR_GROWERS, or set ADVISOR_WITHOUT_KEYS=yes if all who come may read it"
        raise BadInput("serving a garden without keys", "a production server, which others can reach", do)
    for path in gardens(settings) if settings.growers is None else ():
        sound(path)
    if settings.growers is not None:
        gardens(settings)
    adviser = Adviser.load(settings).ready()
    _made[:] = [adviser]
    return create_app(adviser)


def answer_left(within_s: float | None = None, done: Callable[[], None] = lambda: None) -> threading.Thread:
    """Answer, beside what is served, the messages that a process that died had kept and not answered.

    Called in each process once it serves. ``within_s`` looks only at gardens written to so short a while ago, which
    is enough where one worker of several was replaced. ``done`` is called once all were looked at.
    """

    def run() -> None:
        try:
            for path, message_id in take_up(_made[0], datetime.now(UTC), within_s):
                LOG.info("answered %s, which was left unanswered in %s", message_id, path.stem)
        except AdvisorError as error:
            LOG.warning("what was left unanswered was not looked for: %s", error)
        else:
            done()

    thread = threading.Thread(target=run, name="left", daemon=True)
    thread.start()
    return thread


def work_ahead() -> None:
    """Work out what was asked lately before it is asked again. Called in each process once it serves."""
    keep_ahead(_made[0])


def tell_of_end(folder: Path, pid: int) -> None:
    """Tell whoever runs the service how a worker died, if it did; its last words are in a folder."""
    death = death_of(folder, pid)
    if death is not None:
        settings = _made[0].settings if _made else Settings.from_environment()
        tell(death, crash_folder(settings), "Another worker takes its place.")
