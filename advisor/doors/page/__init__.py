"""The pages: the talk, the garden, its pictures and records, the rule book, and setting a garden up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from flask import Flask

from advisor.conversation import Adviser
from advisor.doors.access import sign_in
from advisor.doors.access.limits import Limits
from advisor.doors.page import frame, garden, offline, pictures, records, rule_book, setup, talk

SECTIONS = (talk.pages, garden.pages, pictures.pages, records.pages, rule_book.pages, setup.pages, offline.pages)


def add_pages(app: Flask, adviser: Adviser, clock: Callable[[], datetime], limits: Limits | None = None) -> None:
    """Add every page to an application; those for signing in where several growers are served."""
    frame.put_up(app, adviser, clock, limits)
    for section in SECTIONS if adviser.settings.growers is None else (*SECTIONS, sign_in.pages):
        app.register_blueprint(section)
