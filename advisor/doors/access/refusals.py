"""What a request can be refused for before it reaches a garden.

Refused
├── KeyNeeded      no key, or none that is in use           → 401 (400 where it cannot be read as a request for one)
├── OtherSite      sent by a page of another site           → 403
├── WrongHost      asked for under a name that is not ours  → 421
└── TooMany        more requests than one may send          → 429
"""

from __future__ import annotations

from math import ceil

from advisor.errors import AdvisorError


class Refused(AdvisorError):
    """A request that is turned away; ``headers`` tell a program what it needs to know."""

    @property
    def headers(self) -> dict[str, str]:
        return {}


class KeyNeeded(Refused):
    """There is no key that opens a garden. ``code`` is RFC 6750's word for what is wrong with one that was sent."""

    status = 401
    slug = "key-needed"
    title = "A key is needed"

    def __init__(self, found: str, do: str, code: str = "") -> None:
        self.code = code
        self.status = 400 if code == "invalid_request" else 401
        super().__init__("finding out whose garden is asked for", found, do)

    @property
    def headers(self) -> dict[str, str]:
        """Return the challenge of RFC 6750, section 3: without an error code where no key was sent at all."""
        wrong = f', error="{self.code}", error_description="{self.found}"' if self.code else ""
        return {"WWW-Authenticate": f'Bearer realm="garden"{wrong}'}


class OtherSite(Refused):
    status = 403
    slug = "other-site"
    title = "A page of another site may not do that"


class WrongHost(Refused):
    status = 421
    slug = "wrong-host"
    title = "The service does not go by that name"


class TooMany(Refused):
    """``wait_s`` is after how long the next request will be let in. [s]"""

    status = 429
    slug = "too-many"
    title = "Too many requests"

    def __init__(self, done: str, found: str, wait_s: float) -> None:
        self.wait_s = max(1, ceil(wait_s))
        super().__init__(done, found, f"Wait {self.wait_s} s, then send it again")

    @property
    def headers(self) -> dict[str, str]:
        return {"Retry-After": str(self.wait_s)}
