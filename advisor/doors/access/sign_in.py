"""Signing in with a key on a page, and out again.

The cookie is ``SameSite=Lax``: whoever follows a link from a message to a page of theirs is still signed in, and what
changes something is held to our own pages anyway (``origin``). A session's secret is new at each signing in, so one
that somebody planted before is worth nothing. The cookie outlives its session, so that the device is known again.
"""

from __future__ import annotations

from urllib.parse import urlsplit

from flask import Blueprint, abort, g, redirect, render_template, request
from werkzeug.wrappers import Response

from advisor.doors.access.keys import TAG, Mistyped, tag_of
from advisor.doors.access.limits import KB, body_up_to
from advisor.doors.access.origin import refuse_unproven
from advisor.doors.access.refusals import KeyNeeded
from advisor.doors.access.request import PLAIN_COOKIE, SECURE_COOKIE, Access, access, no_key_needed, session_cookie
from advisor.errors import AdvisorError
from advisor.records.keys import SESSION_REMEMBERED

LONGEST_PATH = 2000
PLACED_S = 60
FORGET = '"cache", "storage"'
"""What a browser keeps of our pages: copies for reading without a signal, and what waits to be sent."""

pages = Blueprint("sign_in", __name__)


@pages.get("/sign-in")
@no_key_needed
def show() -> str | Response:
    """Show the form, or go on where the browser is signed in already."""
    _served()
    came_for = local_path(request.args.get("next", ""))
    return redirect(came_for, 303) if g.get("asker") else _form(came_for)


@pages.post("/sign-in")
@no_key_needed
@body_up_to(4 * KB)
def sign_in() -> Response | tuple[str, int]:
    """Start a session with the key that was sent."""
    served, now = _served(), _served().clock()
    refuse_unproven(g.get("session_secret", ""))
    came_for = local_path(request.form.get("next", ""))
    typed = request.form.get("key", "").strip()
    if served.one_of_many and (elsewhere := _to_its_host(typed)):
        return elsewhere
    served.limits.of_wrong_keys(request.remote_addr)
    with served.store() as store:
        try:
            key = served.key_in_use(store, typed, now)
        except (Mistyped, KeyNeeded) as error:
            return _form(came_for, error, typed if isinstance(error, Mistyped) else ""), 422
        before = session_cookie()
        earlier = store.session_of(before) if before else None
        if earlier is not None:
            store.end_session(before, now)
        secret = store.start_session(key, now)
    answer = redirect(came_for, 303)
    _set_cookie(answer, secret, int(SESSION_REMEMBERED.total_seconds()))
    nobodys = before == _place(key.grower)  # the browser had no session before it was sent here
    if before and not nobodys and (earlier is None or earlier.key.grower != key.grower):
        answer.headers["Clear-Site-Data"] = FORGET  # what this browser keeps may be another grower's
    return answer


@pages.get("/sign-out")
def ask_sign_out() -> str:
    """Ask before the browser forgets what it keeps."""
    _served()
    return render_template("sign_out.html")


@pages.post("/sign-out")
@body_up_to(4 * KB)
def sign_out() -> Response:
    """End the session, and have the browser forget the pages that it kept."""
    served = _served()
    with served.store() as store:
        store.end_session(session_cookie(), served.clock())
    answer = redirect("/sign-in", 303)
    _set_cookie(answer, "", 0)
    answer.headers["Clear-Site-Data"] = FORGET
    return answer


def local_path(text: str) -> str:
    """Return where to go on after signing in: a path of ours, else the first page.

    >>> [local_path(one) for one in ("/records?kind=work", "//elsewhere.example", "/\\\\elsewhere.example", "")]
    ['/records?kind=work', '/', '/', '/']
    """
    try:
        parts = urlsplit(text)
    except ValueError:
        return "/"
    ours = text.startswith("/") and not text.startswith("//") and not (parts.scheme or parts.netloc)
    plain = text.isprintable() and "\\" not in text and len(text) <= LONGEST_PATH
    return text if ours and plain and parts.path not in ("/sign-in", "/sign-out") else "/"


def _to_its_host(typed: str) -> Response | None:
    """Have the form sent once more, to the host that has the key's grower, or return None where this may be it.

    The server before the hosts goes by the letters before the dot of the cookie. They open nothing.
    """
    tag, before = tag_of(typed), session_cookie()
    if not tag or "placed" in request.args or before.partition(".")[0] == tag:
        return None
    answer = redirect("/sign-in?placed=1", 307)
    _set_cookie(answer, _place(tag) + ("other" if before else ""), PLACED_S)
    return answer


def _place(grower: str) -> str:
    """Return the cookie of a browser that is on its way to the host of a grower."""
    return f"{grower.removeprefix('g') if len(grower) > TAG else grower}."


def _served() -> Access:
    served = access()
    return served if served is not None else abort(404)


def _form(came_for: str, error: AdvisorError | None = None, typed: str = "") -> str:
    """Return the form. A key with a slip in it is shown as typed: it opens nothing, and dots cannot be compared."""
    fault = f"{error.found[0].upper()}{error.found[1:]}. {error.do}." if error else ""
    return render_template("sign_in.html", came_for=came_for, fault=fault, typed=typed)


def _set_cookie(answer: Response, secret: str, max_age_s: int) -> None:
    name = SECURE_COOKIE if request.is_secure else PLAIN_COOKIE
    answer.set_cookie(
        name, secret, max_age=max_age_s, path="/", secure=request.is_secure, httponly=True, samesite="Lax"
    )  # fmt: skip
