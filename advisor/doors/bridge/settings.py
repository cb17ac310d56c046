"""What the bridge needs to know of where it runs, read from one TOML file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import available_timezones

from advisor.errors import BadInput

SECTIONS = ("texts", "mail")
SECURITY = ("ssl", "starttls", "none")
HERE = ("localhost", "127.0.0.1", "::1")


@dataclass(frozen=True, slots=True)
class TextSettings:
    """The door of the modem: where the text message daemon keeps its folders, and what a text may cost.

    ``prefix``: the country's calling code, such as +49, for numbers written without one. ``zone``: of the network's
    clock, this machine's unless told. ``own_number``: the modem's, whose messages are never answered. After
    ``most_an_hour`` messages of one sender, or ``most_a_day`` answers to all, there are none for a while.
    """

    inbox: Path
    outbox: Path
    sent: Path
    error: Path
    prefix: str
    zone: str = ""
    own_number: str = ""
    most_an_hour: int = 30
    most_a_day: int = 100


@dataclass(frozen=True, slots=True)
class MailSettings:
    """The door of the mailbox.

    A From line can be forged. So either ``secret_word`` stands in the subject of a mail that is to be answered, or
    ``checked_by`` names the server whose Authentication-Results header (RFC 8601) must say dmarc=pass.
    """

    address: str
    imap_host: str
    smtp_host: str
    user: str
    password_file: Path
    imap_port: int = 993
    imap_security: str = "ssl"
    smtp_port: int = 465
    smtp_security: str = "ssl"
    folder: str = "INBOX"
    poll_s: float = 60.0
    secret_word: str = ""
    checked_by: str = ""
    most_an_hour: int = 30
    most_a_day: int = 200


@dataclass(frozen=True, slots=True)
class BridgeSettings:
    """Where the bridge keeps what is its own, which service it asks, and the doors that are open.

    ``age_h``: how old a message may grow before it is given up, told to nobody. [h] ``timeout_s``: how long the service
    may take. ``pause_s`` is the first pause after a failure, doubled each time up to ``longest_pause_s``.
    """

    folder: Path
    service: str
    key_file: Path | None = None
    age_h: float = 48.0
    timeout_s: float = 60.0
    pause_s: float = 5.0
    longest_pause_s: float = 600.0
    texts: TextSettings | None = None
    mail: MailSettings | None = None

    @classmethod
    def read(cls, path: Path) -> BridgeSettings:
        """Read a settings file; folders in it are relative to it.

        Raises BadInput, naming the setting, where one is missing, unknown or of the wrong type.
        """
        done = f"reading {path}"
        try:
            told = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            found = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            raise BadInput(done, found, "See bridge.toml in deploy/text-messages for an example") from None
        below = {name: told.pop(name) for name in SECTIONS if isinstance(told.get(name), dict)}
        values = _values(cls, told, done, path.parent)
        if "texts" in below:
            values["texts"] = TextSettings(**_values(TextSettings, below["texts"], done, path.parent))
            _check_texts(values["texts"], done)
        if "mail" in below:
            values["mail"] = MailSettings(**_values(MailSettings, below["mail"], done, path.parent))
            _check_mail(values["mail"], done)
        check_service(values["service"], "key_file" in values, done)
        return cls(**values)

    def key(self) -> str:
        """Return the service's bearer key, or "" where none is set. Raises BadInput where its file cannot be read."""
        return read_secret(self.key_file) if self.key_file else ""


def check_service(service: str, with_key: bool, done: str) -> None:
    """Raise BadInput for what is no service's address, or one to which a key would go over the line in clear."""
    parts = urlsplit(service)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise BadInput(done, f"service {service!r}", "Give its address, such as http://127.0.0.1:8470")
    if with_key and parts.scheme == "http" and parts.hostname not in HERE:
        raise BadInput(done, "a key for a service on another machine by http", "Use https, else the key can be read")


def read_secret(path: Path) -> str:
    """Return the first line of a file that holds a key or a password."""
    try:
        return path.read_text(encoding="utf-8").strip().splitlines()[0]
    except (OSError, UnicodeDecodeError, IndexError):
        raise BadInput(f"reading {path}", "no key or password in it", "Put it there on a line of its own") from None


def _check_texts(texts: TextSettings, done: str) -> None:
    if not re.fullmatch(r"\+[1-9]\d{0,2}", texts.prefix):
        raise BadInput(done, f"prefix = {texts.prefix!r}", "Give your country's calling code, such as +44")
    if texts.zone and texts.zone not in available_timezones():
        raise BadInput(done, f"zone = {texts.zone!r}", "Name a zone, such as Europe/London")


def _check_mail(mail: MailSettings, done: str) -> None:
    if not mail.secret_word and not mail.checked_by:
        found = "neither secret_word nor checked_by under [mail]"
        raise BadInput(done, found, "Set one: a From line can be forged, so it alone is no proof of who wrote")
    if "@" not in mail.address:
        raise BadInput(done, f"address = {mail.address!r}", "Give the mailbox's address")
    for name, host in (("imap", mail.imap_host), ("smtp", mail.smtp_host)):
        security = getattr(mail, f"{name}_security")
        if security not in SECURITY:
            raise BadInput(done, f"{name}_security = {security!r}", f"Set one of {', '.join(SECURITY)}")
        if security == "none" and host not in HERE:
            found = f'{name}_security = "none" for {host}'
            raise BadInput(done, found, "Set ssl or starttls: the password would go over the line in clear")


def _values(made: type, told: Mapping[str, Any], done: str, beside: Path) -> dict[str, Any]:
    """Return the values of a section, checked against the fields of its class."""
    known = {field.name: field for field in fields(made) if field.name not in SECTIONS}
    values: dict[str, Any] = {}
    for name, value in told.items():
        if name not in known:
            raise BadInput(done, f"{name!r}, which is no setting", f"Known are {', '.join(known)}")
        wanted = str(known[name].type)
        number = isinstance(value, int | float) and not isinstance(value, bool)
        if wanted.startswith("Path"):
            right = isinstance(value, str) and value != ""
        else:
            right = {"str": isinstance(value, str), "int": number and value == int(value) > 0}.get(
                wanted, number and value > 0
            )
        if not right:
            raise BadInput(done, f"{name} = {value!r}", f"Give it as {_NAMES.get(wanted, 'a path')}")
        values[name] = beside / value if wanted.startswith("Path") else value
    missing = [name for name in _needed(made) if name not in values]
    if missing:
        raise BadInput(done, f"no {', '.join(missing)}", "See bridge.toml in deploy/text-messages for an example")
    return values


_NAMES = {"str": "a text", "int": "a whole number above 0", "float": "a number above 0"}


def _needed(made: type) -> list[str]:
    return [field.name for field in fields(made) if field.default is MISSING]
