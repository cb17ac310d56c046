"""Where a request comes from: under which name it was sent, and from whose page.

Browsers say from where they send (``Origin``, ``Sec-Fetch-Site``), and scripts of a page cannot change that. A page of
another site is refused, one on a subdomain beside ours too. A program sends neither and is no danger of this sort, as
it holds a key or runs on this machine. A browser too old to say it has a cookie all the same; it must then name our
page as the one it comes from, or send the form's token, which no other page can read.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import re
import secrets
from collections.abc import Collection
from urllib.parse import urlsplit

from flask import g, request
from jinja2.ext import Extension
from markupsafe import Markup

from advisor.doors.access.refusals import OtherSite, WrongHost

SAFE = ("GET", "HEAD", "OPTIONS")
HOST = re.compile(r"(?P<name>\[[0-9A-Fa-f:.]+\]|[A-Za-z0-9._-]+)(:[0-9]{1,5})?")
LOOPBACK_NAME = "localhost"
TOKEN_FIELD = "form_token"
SALT_LETTERS = 16
OWN = ("same-origin", "none")
"""What ``Sec-Fetch-Site`` says of our own pages, and of what the reader did in the browser itself."""


def refuse_other_hosts(names: Collection[str]) -> None:
    """Refuse a request under a name that is not ours.

    A page elsewhere can have its own name lead to this machine, and would then read the garden as its own site. A bare
    address cannot be made to do that, so any address is let in, and of names only those given.
    """
    found = HOST.fullmatch(request.environ.get("HTTP_HOST", ""))
    name = found["name"].lower().rstrip(".") if found else ""
    if not (name == LOOPBACK_NAME or name in names or _is_address(name)):
        do = "Use the address that the service is known by; its operator can add a name in ADVISOR_HOSTS"
        raise WrongHost("reading the request", "a name that is not ours" if name else "no name of a host", do)


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name.removeprefix("[").removesuffix("]"))
    except ValueError:
        return False
    return True


def refuse_other_sites() -> None:
    """Refuse a request that would change something and comes from a page of another site."""
    if request.method in SAFE:
        return
    origin = request.headers.get("Origin")
    from_elsewhere = request.headers.get("Sec-Fetch-Site", "same-origin") not in OWN
    if from_elsewhere or (origin is not None and not _is_ours(origin)):
        _refuse("sent from a page of another site")


def refuse_unproven(session: str = "") -> None:
    """Refuse a request that would change something for a browser and does not show that our own page sent it.

    ``session`` is the secret of the browser's session, from which its form token is made.
    """
    if request.method in SAFE or "Origin" in request.headers or "Sec-Fetch-Site" in request.headers:
        return  # the rest is told by refuse_other_sites
    if _is_ours(request.headers.get("Referer", "")):
        return
    if session and is_form_token(request.form.get(TOKEN_FIELD, ""), session):
        return
    _refuse("nothing that says which page sent it")


def _refuse(found: str) -> None:
    raise OtherSite(f"{request.method} {request.path}", found, "Open the page itself")


def _is_ours(address: str) -> bool:
    """Return whether an address is of this site: its name and port, and no weaker scheme than the request came by.

    Where a server before this one ends https and does not say so, the page's own scheme is https and this one's http.
    """
    try:
        parts = urlsplit(address)
    except ValueError:
        return False
    return parts.netloc == request.host and parts.scheme in (request.scheme, "https")


def form_token(session: str, salt: str = "") -> str:
    """Return a token for a form of a session: another one each time, so that compressed pages give nothing away."""
    salt = salt or secrets.token_hex(SALT_LETTERS // 2)
    return salt + hmac.new(session.encode(), f"a form of ours {salt}".encode(), hashlib.sha256).hexdigest()


def is_form_token(token: str, session: str) -> bool:
    """Return whether a token was made for a form of this session."""
    wanted = form_token(session, token[:SALT_LETTERS])
    return hmac.compare_digest(token.encode(), wanted.encode())


def form_token_field() -> Markup:
    """Return a form's hidden field with its token, nothing where no session is."""
    session = g.get("session_secret", "")
    if not session:
        return Markup("")
    return Markup('<input type="hidden" name="{}" value="{}">').format(TOKEN_FIELD, form_token(session))


class FormTokens(Extension):
    """Puts the token into every form that is posted, so that no page has to think of it."""

    FORM = re.compile(r'<form\b[^>]*\bmethod="post"[^>]*>', re.IGNORECASE)

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        return self.FORM.sub(lambda form: form[0] + "{{ form_token_field() }}", source)
