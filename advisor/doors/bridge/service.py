"""The service as the bridge sees it: a message posted under its id, and what came back."""

from __future__ import annotations

import json
from dataclasses import dataclass
from http.client import HTTPException
from typing import Any
from urllib.error import HTTPError, URLError
from urllib.request import HTTPRedirectHandler, ProxyHandler, Request, build_opener

from advisor.doors.bridge.inbox import Incoming

MOST_BYTES = 4 * 1024 * 1024
REFUSED = (400, 413, 422)


class Away(Exception):
    """What is needed to answer is not there now; the message is kept and tried again.

    ``this_message``: the service is there, and failed at this very message, so that others need not wait for it.
    """

    def __init__(self, why: str, *, this_message: bool = False, after_s: float = 0.0) -> None:
        super().__init__(why)
        self.why, self.this_message, self.after_s = why, this_message, after_s


@dataclass(frozen=True, slots=True)
class Answer:
    """What the service said to a message: the whole text and the short one. ``refused``: it could not take it."""

    reply: str
    short: str
    refused: bool = False


class _NoRedirect(HTTPRedirectHandler):
    def redirect_request(self, *_: Any) -> None:
        return None


_OPENER = build_opener(ProxyHandler({}), _NoRedirect)


def post(message: Incoming, service: str, key: str, timeout_s: float) -> Answer:
    """Put a message to the service and return its answer; the same id is answered once, whoever asks how often.

    Raises Away where the service is not there, does not answer in time or fails.
    """
    body: dict[str, str] = {"text": message.text, "id": message.id}
    if message.sent_at:
        body["sent_at"] = message.sent_at.isoformat()
    headers = {"Content-Type": "application/json", "Accept": "application/json"}
    if key:
        headers["Authorization"] = f"Bearer {key}"
    request = Request(f"{service.rstrip('/')}/messages", json.dumps(body).encode("ascii"), headers, method="POST")
    try:
        with _OPENER.open(request, timeout=timeout_s) as response:
            told = json.loads(response.read(MOST_BYTES))
        return Answer(str(told["reply"]), str(told["short"]))
    except HTTPError as error:
        with error:
            return _refusal(error, len(message.text))
    except (URLError, OSError, HTTPException) as error:
        raise Away(f"the service is not there ({type(error).__name__})") from None
    except (ValueError, KeyError, TypeError):
        raise Away("the service gave no answer of the kind that was expected") from None


def _refusal(error: HTTPError, length: int) -> Answer:
    """Return what to say of a message that the service cannot take; raise Away for what may be otherwise later."""
    if error.code in REFUSED:
        if error.code == 413:
            said = f"Not read: {length} characters are too many for one message. Send it in parts."
        else:
            said = f"Not read: {_found(error)}. Send it again in other words."
        return Answer(said, said, refused=True)
    after = error.headers.get("Retry-After", "") if error.headers else ""
    after_s = float(after) if after.isdigit() else 0.0
    raise Away(f"the service answered {error.code}", this_message=error.code == 500, after_s=after_s) from None


def _found(error: HTTPError) -> str:
    try:
        return str(json.loads(error.read(MOST_BYTES))["found"]).rstrip(".")
    except (ValueError, KeyError, TypeError, OSError, HTTPException):
        return "the service could not use it"
