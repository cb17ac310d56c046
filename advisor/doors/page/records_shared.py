"""What the pages of the records share: the garden opened where there is one, its grower's speech, forms sent once."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, date
from zoneinfo import ZoneInfo

from flask import redirect, request
from werkzeug.wrappers import Response as Answer

from advisor.doors.page.frame import site
from advisor.errors import NotFound
from advisor.language.render import Speech
from advisor.records.kinds import Kind
from advisor.records.store import Garden, Said

FORM_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
LONGEST_REASON = 500
MOST_ID = 2**62


@contextmanager
def garden_if_any() -> Iterator[Garden | None]:
    """Open the garden of this request, or give None where there is no file yet."""
    if not site().garden_path().exists():
        yield None
        return
    with site().open() as garden:
        yield garden


def speech_of(garden: Garden) -> Speech:
    """Return how the grower is spoken to, also before a place is told."""
    if garden.of("place"):
        return site().speech(garden)
    return Speech("metric", ZoneInfo("UTC"), today_of(garden), garden.kinds)


def today_of(garden: Garden) -> date:
    """Return the day that it is in the garden, in UTC where no place is told."""
    return site().today(garden) if garden.of("place") else site().now().astimezone(UTC).date()


def recorded(name: str) -> Kind:
    """Return a recorded kind. Raise NotFound where there is none of that name."""
    kind = site().adviser.base.kinds.get(name)
    if kind is None or kind.origin != "recorded":
        raise NotFound("looking up records", f"no kind {name!r}", "Choose one of those under Records")
    return kind


def form_id() -> str:
    """Return the id that makes a form count once: the one that was posted, else a new one."""
    posted = request.form.get("form", "")
    return posted if FORM_ID.fullmatch(posted) else uuid.uuid4().hex


def said_here(form: str, via: str = "page") -> Said:
    """Return who says what this form tells."""
    return Said(via, form, site().now())


def see(path: str) -> Answer:
    """Send the browser on to a page, so that loading it again sends nothing twice."""
    return redirect(path, 303)


def reason_given() -> str:
    """Return the reason that was typed, cut to what can be kept."""
    return " ".join(request.form.get("reason", "").split())[:LONGEST_REASON]


def args_but(*names: str) -> Mapping[str, str]:
    """Return what stands in the address, some names left out and the empty ones too."""
    return {name: value for name, value in request.args.items() if value and name not in names}
