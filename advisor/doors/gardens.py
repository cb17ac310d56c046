"""The garden files that a service serves: which they are, and what is done with each before and while it serves."""

from __future__ import annotations

import logging
import shutil
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from advisor.config import Settings
from advisor.conversation import Adviser
from advisor.errors import AdvisorError, GardenUnavailable
from advisor.records.attempts import forget_old_tries
from advisor.records.backing_up import BESIDE, opens
from advisor.records.keys import KeyStore
from advisor.records.moving import is_moved
from advisor.records.store import ROOM

READY_S = 2.0
"""How long being ready may wait for the file of keys: whoever asks wants to know now."""
OLD_S = 30 * 86_400.0
"""How long it is known that a try at a message ended the process, where nobody sends it again."""
LOG = logging.getLogger("advisor.gardens")


def gardens(settings: Settings) -> list[Path]:
    """Return the garden files that are served here. Raise NotFound where no grower was ever made."""
    if settings.growers is None:
        return [settings.garden] if settings.garden.exists() else []
    return [path for path in gardens_of(settings.growers, settings.busy_s).values() if path.exists()]


def gardens_of(folder: Path, busy_s: float = 20.0) -> dict[str, Path]:
    """Return the garden file of each grower of a folder, whether it is there or not, but those moved elsewhere."""
    with KeyStore(folder, busy_s=busy_s) as store:
        paths = {grower.id: store.garden_path(grower.id) for grower in store.growers()}
    return {grower: path for grower, path in paths.items() if not is_moved(path)}


def refuse_unready(settings: Settings) -> None:
    """Raise GardenUnavailable where no message could be kept now: no keys, no garden that opens, or no room for it.

    A garden that was not made yet is no hindrance where there is room for it. Only the file of the settings is opened,
    or that of the keys: what is wrong with one grower's garden keeps nobody else from being served.
    """
    done = "getting ready"
    folder = settings.garden.parent if settings.growers is None else settings.growers
    if not folder.is_dir():
        raise GardenUnavailable(done, "the folder of the gardens is not there", "Bring its disk back")
    if settings.growers is not None:
        try:
            with KeyStore(settings.growers, busy_s=READY_S) as store:
                store.growers()
        except AdvisorError as error:
            raise GardenUnavailable(done, f"{error.done}: {error.found}", error.do) from error
    elif settings.garden.exists():
        try:
            opens(settings.garden)
        except AdvisorError as error:
            raise GardenUnavailable(done, f"{error.done}: {error.found}", error.do) from error
    free = shutil.disk_usage(folder).free
    if free < ROOM:
        raise GardenUnavailable(done, f"the disk has {free / 1_000_000:.1f} MB left", "Make room")


def take_up(adviser: Adviser, now: datetime, within_s: float | None = None) -> Iterator[tuple[Path, str]]:
    """Answer in every garden what was left unanswered, and give the garden and the id of each message answered.

    ``within_s`` looks only at gardens that were written to so many seconds ago or less. What cannot be answered is
    logged and keeps no other garden from its turn.
    """
    if within_s is None:
        forget_old_tries(crash_folder(adviser.settings), time.time() - OLD_S)
    for path in gardens(adviser.settings):
        if within_s is not None and time.time() - written_at(path) > within_s:
            continue
        try:
            answered = adviser.answer_waiting(now, path)
        except AdvisorError as error:
            LOG.warning("a message that was left unanswered in %s still is: %s", path.stem, error)
            continue
        yield from ((path, message_id) for message_id in answered)


def written_at(path: Path) -> float:
    """Return when a garden was last written to: what is new stands beside its file for a while. [s since 1970]"""
    beside = (path.with_name(path.name + end) for end in ("", *BESIDE))
    return max((one.stat().st_mtime for one in beside if one.exists()), default=0.0)


def crash_folder(settings: Settings) -> Path:
    """Return the folder in which whoever runs the service finds how it last died: that of the gardens."""
    return settings.growers or settings.garden.parent
