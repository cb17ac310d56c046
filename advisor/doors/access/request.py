"""Whose request it is: the grower of its key or session, and the one garden that it may reach."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from time import perf_counter
from urllib.parse import quote

from flask import Flask, abort, current_app, g, redirect, request
from flask import Response as FlaskResponse
from werkzeug.wrappers import Response

from advisor.doors.access.keys import Mistyped, read
from advisor.doors.access.limits import LONGEST_BODY, Limits, View, neighbourhood
from advisor.doors.access.origin import refuse_unproven
from advisor.doors.access.refusals import KeyNeeded
from advisor.errors import AdvisorError
from advisor.records.keys import Key, KeyStore

SECURE_COOKIE, PLAIN_COOKIE = "__Host-grower", "grower"
"""The prefix makes browsers refuse the cookie from a page without https and from a name beside ours."""
SIGN_IN = "/sign-in"
API = "/v1/"
LONGEST_SECRET = 100
THIS_MACHINE = ("127.0.0.1", neighbourhood("::1"))
MOST_FORM_TEXT = 500_000
"""Of a form's texts, which are held in memory; a file among them is not. [bytes]"""


@dataclass(frozen=True, slots=True)
class Asker:
    """The grower who sends a request and the key that says so; ``session`` is its secret where a browser signed in."""

    key: Key
    session: str = ""

    @property
    def grower(self) -> str:
        return self.key.grower


def no_key_needed(view: View) -> View:
    """Mark a view as one that shows nothing of any garden: it is open to all."""
    view.no_key_needed = True  # type: ignore[attr-defined]  # a mark on the function itself
    return view


def this_machine_only(view: View) -> View:
    """Mark a view as one for whoever runs the service: where growers have keys, none of them opens it."""
    view.this_machine_only = True  # type: ignore[attr-defined]  # a mark on the function itself
    return view


@dataclass(frozen=True)
class Access:
    """The gardens of a folder, and who is let into which. ``one_of_many``: other hosts have other growers' gardens."""

    folder: Path
    clock: Callable[[], datetime]
    busy_s: float = 20.0
    limits: Limits = field(default_factory=Limits)
    one_of_many: bool = False

    def store(self) -> KeyStore:
        """Open the keys. Raise NotFound where no grower was ever made."""
        return KeyStore(self.folder, busy_s=self.busy_s)

    def garden_path(self) -> Path:
        """Return the garden of this request's grower. Raise KeyNeeded where there is none: nothing stands for it."""
        path = g.get("garden_path")
        if not isinstance(path, Path):
            raise KeyNeeded("no key", f"Send Authorization: Bearer KEY, or sign in at {SIGN_IN}")
        return path

    def guard(self, app: Flask) -> None:
        """Let no request of an application past without a key, but those that are open to all."""
        app.before_request(self._admit)
        app.after_request(self._count_time)
        app.teardown_request(self._leave)

    def _admit(self) -> Response | None:
        if request.endpoint == "static":
            return None
        g.began = perf_counter()
        self.limits.of_address(request.remote_addr)
        view = current_app.view_functions.get(request.endpoint or "")
        if getattr(view, "this_machine_only", False):
            return None if neighbourhood(request.remote_addr) in THIS_MACHINE else abort(404)
        open_to_all = getattr(view, "no_key_needed", False)
        try:
            asker = self._asker()
        except AdvisorError:  # no key that counts, or the keys cannot be read: what is open to all is told all the same
            if not open_to_all:
                raise
            return None
        if asker is None:
            return None if open_to_all else self._to_sign_in()
        if asker.session:
            refuse_unproven(asker.session)
        self.limits.of_key(asker.key.id)
        self.limits.enter(asker.grower)
        g.turn_of = asker.grower
        g.asker = asker
        return None

    def _to_sign_in(self) -> Response:
        if request.method == "GET" and wants_page():
            came_for = request.full_path.rstrip("?")
            where = SIGN_IN if came_for == "/" else f"{SIGN_IN}?next={quote(came_for, safe='/')}"
            return redirect(where, 303)
        do = f"Send Authorization: Bearer KEY, or sign in at {SIGN_IN}"
        if wants_page():
            do = "Sign in, then go back to the form and send it again: the browser keeps what was typed"
        raise KeyNeeded("no key", do)

    def _asker(self) -> Asker | None:
        """Return who sends this request: by its key, else by its session; None where it has neither in use."""
        now = self.clock()
        with self.store() as store:
            if "Authorization" in request.headers:
                asker = Asker(self._key_sent(store, now))
            else:
                secret = session_cookie()
                session = store.session_of(secret) if secret else None
                if session is None or not session.in_use(now):
                    return None
                store.note_seen(secret, session, now)
                asker = Asker(session.key, secret)
                g.session_secret = secret
            store.note_use(asker.key, now)
            g.garden_path = store.garden_path(asker.grower)
        return asker

    def _key_sent(self, store: KeyStore, now: datetime) -> Key:
        scheme, _, text = request.headers["Authorization"].strip().partition(" ")
        if scheme.lower() != "bearer":
            raise KeyNeeded("no key", "Send Authorization: Bearer KEY")
        if not text.strip() or "," in text:
            raise KeyNeeded("not one key", "Send one header, Authorization: Bearer KEY", "invalid_request")
        try:
            return self.key_in_use(store, text.strip(), now)
        except Mistyped as error:
            raise KeyNeeded(f"a key with a slip in it: {error.found}", error.do, "invalid_token") from None

    def key_in_use(self, store: KeyStore, text: str, now: datetime) -> Key:
        """Return the key that a text is. Raise Mistyped, KeyNeeded, or TooMany after many that are none."""
        secret = read(text)
        key = store.key_of(secret)
        if key is not None and key.state(now) == "in use":
            return key
        self.limits.of_wrong_keys(request.remote_addr)
        self.limits.wrong_key(request.remote_addr)
        if key is None:
            raise KeyNeeded("a key that is not known here", "Ask whoever runs this service for one", "invalid_token")
        was = "has run out" if key.state(now) == "expired" else "was taken back"
        raise KeyNeeded(f"a key that {was}", "Ask whoever runs this service for a new one", "invalid_token")

    def _count_time(self, response: FlaskResponse) -> FlaskResponse:
        took_s = perf_counter() - g.began if "began" in g else 0.0
        asker = g.get("asker")
        if asker and self.limits.took(asker.key.id, took_s):
            said = (self.limits.slow, request.method, request.endpoint, took_s, asker.grower)
            current_app.logger.warning("slow answer %d: %s %s took %.1f s for %s", *said)
        return response

    def _leave(self, error: BaseException | None) -> None:
        turn_of = g.pop("turn_of", None)
        if turn_of is not None:
            self.limits.turns.leave(turn_of)


def access() -> Access | None:
    """Return who is let in where several growers are served; None where one garden is."""
    found = current_app.extensions.get("advisor-access")
    return found if isinstance(found, Access) else None


def session_cookie() -> str:
    """Return the secret of the session that the browser sent. By https only the cookie counts that came by https."""
    found = request.cookies.get(SECURE_COOKIE if request.is_secure else PLAIN_COOKIE, "")
    return found if found.isascii() and len(found) <= LONGEST_SECRET else ""


def signed_in() -> bool:
    """Return whether this request is of a browser that signed in."""
    return bool(g.get("session_secret"))


def let_in() -> bool:
    """Return whether this request reaches a garden, so that the ways into it may be shown."""
    return access() is None or g.get("garden_path") is not None


def wants_page() -> bool:
    """Return whether this request is of a browser that wants to show a page, and not of a program.

    What lies under ``API`` is for programs whoever asks.
    """
    if f"{request.path}/".startswith(API):
        return False
    return request.accept_mimetypes.best_match(["application/json", "text/html"]) == "text/html"


def set_longest_body() -> None:
    """Set how long this request's body may be: as its view says, else as usual."""
    view = current_app.view_functions.get(request.endpoint or "")
    longest = getattr(view, "longest_body", LONGEST_BODY)
    request.max_content_length = longest
    request.max_form_memory_size = max(longest, MOST_FORM_TEXT)
