"""What every page shares: the garden of the request, how its grower is spoken to, and what a browser may do with it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from pathlib import Path

from flask import Flask, Response, current_app, render_template, request
from werkzeug.middleware.proxy_fix import ProxyFix

from advisor.conversation import Adviser
from advisor.doors.access.limits import Limits
from advisor.doors.access.origin import SAFE, FormTokens, form_token_field, refuse_other_hosts, refuse_other_sites
from advisor.doors.access.request import Access, access, let_in, set_longest_body, signed_in
from advisor.doors.access.request import wants_page as wants_page
from advisor.doors.page.squeezed import squeezed
from advisor.language.render import Speech
from advisor.records.store import Garden

STATIC = Path(__file__).parent / "static"
CONTENT_SECURITY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""No other host, nothing written into the page itself, in nobody else's frame."""
A_YEAR_S = 31_536_000


@dataclass(frozen=True)
class Site:
    """The adviser behind the pages and the clock that they go by."""

    adviser: Adviser
    clock: Callable[[], datetime]

    def open(self, *, create: bool = False) -> Garden:
        """Open the garden that this request is about."""
        return self.adviser.open(self.garden_path(), create=create)

    def look(self) -> Garden:
        """Open the garden that this request is about, or an empty one in memory where its file is not made yet."""
        if self.garden_path().exists():
            return self.open()
        return Garden(Path(":memory:"), self.adviser.base.kinds, create=True)

    def garden_path(self) -> Path:
        """Return the file of the garden that this request is about."""
        several = access()
        return several.garden_path() if several else self.adviser.settings.garden

    def now(self) -> datetime:
        return self.clock()

    def today(self, garden: Garden) -> date:
        """Return the day that it is where the garden lies."""
        return self.now().astimezone(garden.zone()).date()

    def speech(self, garden: Garden) -> Speech:
        """Return how the garden's grower is spoken to today."""
        return self.adviser.speech(garden, self.today(garden))


def site() -> Site:
    """Return the site that serves this request."""
    found = current_app.extensions["advisor"]
    assert isinstance(found, Site)
    return found


def problem_page(problem: dict[str, object]) -> Response:
    """Return problem details as a page: what was done, what was found, what to do."""
    return Response(render_template("problem.html", problem=problem), int(str(problem["status"])), mimetype="text/html")


@cache
def _fingerprint(name: str) -> str:
    return hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:12]


def asset(name: str) -> str:
    """Return where a file of ours is served, under a name that changes with what is in it."""
    return f"/static/{name}?v={_fingerprint(name)}"


def with_safe_headers(response: Response) -> Response:
    """Return a response with what keeps a page to itself; our own files may be kept for a year under their name."""
    headers = response.headers
    headers.setdefault("Content-Security-Policy", CONTENT_SECURITY)
    headers.setdefault("X-Content-Type-Options", "nosniff")
    headers.setdefault("Referrer-Policy", "same-origin")
    headers.setdefault("Cross-Origin-Opener-Policy", "same-origin")
    headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
    if request.endpoint == "static" and "v" in request.args:
        headers["Cache-Control"] = f"public, max-age={A_YEAR_S}, immutable"
    elif request.endpoint != "static":
        headers.setdefault("Cache-Control", "no-store" if request.method not in SAFE else "private, no-cache")
    return response


def put_up(app: Flask, adviser: Adviser, clock: Callable[[], datetime], limits: Limits | None = None) -> None:
    """Give an application what its pages share, and let nobody past whom the settings do not let in."""
    settings = adviser.settings
    app.extensions["advisor"] = Site(adviser, clock)
    app.jinja_env.globals.update(
        asset=asset, form_token_field=form_token_field, signed_in=signed_in, let_in=let_in
    )  # fmt: skip
    app.jinja_env.add_extension(FormTokens)
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    if settings.behind_proxy:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=1, x_proto=1)  # type: ignore[method-assign]  # as it is meant
    app.before_request(lambda: refuse_other_hosts(settings.hosts))
    app.before_request(refuse_other_sites)
    app.before_request(set_longest_body)
    if settings.growers is not None:
        several = Access(settings.growers, clock, settings.busy_s, limits or Limits(), settings.one_of_many)
        app.extensions["advisor-access"] = several
        several.guard(app)
    app.after_request(with_safe_headers)
    app.after_request(squeezed)
