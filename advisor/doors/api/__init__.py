"""The API for programs under ``/v1``: messages, records, the garden, rules and kinds, and its own description."""

from __future__ import annotations

from flask import Flask

from advisor.doors.access.request import API
from advisor.doors.api import messages, page, reading, records
from advisor.doors.api.document import described_routes

ROUTES = (messages.routes, records.routes, reading.routes, page.routes)


def add_api(app: Flask) -> None:
    """Add the API to an application, its page, and the addresses without a version, which stay as they were.

    Raise TypeError where a route does not say what it takes and answers.
    """
    for routes in ROUTES:
        app.register_blueprint(routes, url_prefix=API.rstrip("/"))
    app.register_blueprint(page.pages)
    app.add_url_rule("/messages", "post_message", messages.post_message, methods=["POST"])
    app.add_url_rule("/messages/<message_id>", "get_message", messages.get_message, methods=["GET"])
    list(described_routes(app))
