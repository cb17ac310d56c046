"""The application: the API (messages in, answers out), the pages beside it, and one shape for every error.

A program gets problem details (RFC 9457), a browser the same as a page.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException

from advisor.conversation import Adviser
from advisor.doors.access.limits import LONGEST_BODY, Limits
from advisor.doors.access.refusals import Refused
from advisor.doors.access.request import API, let_in, no_key_needed, wants_page
from advisor.doors.api import add_api
from advisor.doors.api.answering import as_json as _json
from advisor.doors.api.answering import as_problem
from advisor.doors.gardens import refuse_unready
from advisor.doors.page import add_pages
from advisor.doors.page.frame import STATIC, problem_page, site
from advisor.doors.watching import watch
from advisor.errors import AdvisorError, TooLong

DO = {
    404: "The API is told at /api and in /v1/openapi.json",
    405: "Use a method that Allow names",
    415: "Send JSON, with Content-Type: application/json",
}


def create_app(
    adviser: Adviser, clock: Callable[[], datetime] = lambda: datetime.now(UTC), limits: Limits | None = None
) -> Flask:
    """Return the application, API and pages. ``clock`` says what time it is: a test or a replay sets the day.

    Where the settings name a folder of growers, a request reaches the garden of its key and no other, within
    ``limits``.
    """
    settings = adviser.settings
    if settings.growers is not None:  # whoever forgets to ask whose garden it is finds none
        nobodys = replace(settings, garden=settings.growers / "nobody" / "none.db")
        adviser = replace(adviser, settings=nobodys)
    app = Flask("advisor", static_folder=STATIC, template_folder=STATIC.with_name("templates"))
    app.config["MAX_CONTENT_LENGTH"] = LONGEST_BODY
    watch(app, words=adviser.settings.log_words)
    add_pages(app, adviser, clock, limits)
    add_api(app)

    @app.get("/health")
    @no_key_needed
    def health() -> Response:
        """Say that the process answers; the place is told where its garden opens, and nothing hangs on that."""
        found: dict[str, Any] = {"status": "ok", "rules": len(adviser.base.rules)}
        if let_in():
            with suppress(AdvisorError), site().open() as garden:
                found["place"] = garden.place().text("name")
        return _json(found, 200)

    @app.get("/ready")
    @no_key_needed
    def ready() -> Response:
        """Say that messages can be kept and answered; 503 with the reason where they cannot."""
        refuse_unready(settings)
        return _json({"status": "ready"}, 200)

    @app.errorhandler(AdvisorError)
    def ours(error: AdvisorError) -> Response:
        response = _problem(error.problem())
        if error.status == 503:
            response.headers["Retry-After"] = "5"
        if isinstance(error, Refused):
            response.headers.update(error.headers)
        return response

    @app.errorhandler(HTTPException)
    def theirs(error: HTTPException) -> Response:
        if error.code == 413:
            found = f"more than {request.max_content_length} bytes"
            if request.path.endswith("/messages"):
                return _problem(TooLong("reading the message", found, "Send the question alone").problem())
            if request.path.startswith(API):
                return _problem(TooLong("reading the body", found, "Send one record at a time").problem())
            do = "Shorten what you typed; files go in under Records, Import files"
            return _problem(TooLong("reading the form", found, do).problem())
        code = error.code or 500
        if code < 400:
            return Response(error.get_response().get_data(), code, dict(error.get_headers()))
        found, do = error.name, DO.get(code, "Check the request")
        response = _problem(
            {
                "type": "about:blank",
                "title": error.name,
                "status": code,
                "detail": f"{request.method} {request.path}: {found}. {do}",
                "done": f"{request.method} {request.path}",
                "found": found,
                "do": do,
            }
        )
        for name, value in error.get_headers():
            if name == "Allow":
                response.headers[name] = value
        return response

    @app.errorhandler(Exception)
    def unforeseen(error: Exception) -> Response:
        app.logger.exception("unforeseen error")
        found = "a fault of ours"
        do = "Your message is kept if it was read; send it again with the same id, and report the fault"
        return _problem(AdvisorError(f"{request.method} {request.path}", found, do).problem())

    return app


def _problem(problem: dict[str, object]) -> Response:
    if wants_page():
        return problem_page(problem)
    return as_problem(problem)
