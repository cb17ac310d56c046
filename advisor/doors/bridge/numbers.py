"""Who may write: numbers and addresses, kept as keyed hashes, each bound to the garden that answers.

A number is hashed with HMAC-SHA256 under a secret of this machine. There are few enough numbers to try them all, so the
hash keeps one from being read off a list, a log or a copy of the folder without the secret, and no more than that.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import secrets
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from advisor.doors.bridge.inbox import sync_folder, write_whole
from advisor.errors import BadInput, NotFound

SHOWN = 8
"""How many signs of a hash stand in lists and logs."""
ADDRESS = re.compile(r"[^@\s<>]+@[^@\s<>]+\.[^@\s<>]+")
SHORT_CODE_DIGITS = 6
"""Up to so many digits without a + is a short code of a network or a seller; it is never answered."""


def same_number(written: str, prefix: str) -> str:
    """Return a number in E.164 form, whichever way it was written; ``prefix`` is the country's, for national numbers.

    Raises ValueError for what is no telephone number: a short code, a name, too few or too many digits.

    >>> same_number("07700 900 123", "+44"), same_number("0044 7700 900123", "+44"), same_number("+44 7700900123", "+1")
    ('+447700900123', '+447700900123', '+447700900123')
    """
    import phonenumbers  # here, since the modem waits for the hook, which needs none of it

    if is_short_code(written):
        raise ValueError("a short code or a name")
    region = phonenumbers.region_code_for_country_code(int(prefix.lstrip("+")))
    try:
        number = phonenumbers.parse(written, region)
    except phonenumbers.NumberParseException as error:
        raise ValueError(str(error)) from None
    if phonenumbers.is_possible_number_with_reason(number) != phonenumbers.ValidationResult.IS_POSSIBLE:
        raise ValueError("too few or too many digits for its country")
    return phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164)


def is_short_code(written: str) -> bool:
    """Return whether a sender is a short code or a name, which networks and sellers write under."""
    digits = re.sub(r"\D", "", written)
    return bool(re.search(r"[A-Za-z]", written)) or (
        len(digits) <= SHORT_CODE_DIGITS and not written.strip().startswith("+")
    )


@dataclass(frozen=True, slots=True)
class Secret:
    """This machine's secret for keyed hashes."""

    key: bytes

    @classmethod
    def of(cls, folder: Path) -> Secret:
        """Return the secret kept in a folder, made at its first use, readable by its owner alone."""
        path = folder / "secret"
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not path.exists():
            fresh = path.with_name(f".secret-{os.urandom(6).hex()}")
            write_whole(fresh, secrets.token_bytes(32))
            try:
                os.link(fresh, path)  # fails where another process was first, and then its secret stands
            except FileExistsError:
                pass
            finally:
                fresh.unlink()
            sync_folder(folder)
        key = path.read_bytes()
        if len(key) < 32:
            found = f"{len(key)} bytes, where 32 are wanted"
            raise BadInput(f"reading {path}", found, "Delete it and allow the senders again")
        return cls(key)

    def hash(self, what: str, *parts: str) -> str:
        """Return a keyed hash of parts, in 32 hexadecimal digits; ``what`` keeps hashes of different things apart."""
        content = json.dumps([what, *parts]).encode("ascii")
        return hmac.new(self.key, content, hashlib.sha256).hexdigest()[:32]


@dataclass(frozen=True, slots=True)
class Allowed:
    """One who may write. ``grower`` is what they are called in lists; ``service`` and ``key`` lead to their garden
    where it is not the one of the settings."""

    hash: str
    grower: str = ""
    service: str = ""
    key: str = ""
    since: str = ""


class Senders:
    """The list of those who may write, in a file that is read again whenever it has changed."""

    def __init__(self, folder: Path, secret: Secret, prefix: str = "+1") -> None:
        self.path, self.secret, self.prefix = folder / "senders.json", secret, prefix
        self._read_at: tuple[int, int] | None = None
        self._list: dict[str, Allowed] = {}

    def hash(self, sender: str) -> str:
        """Return the keyed hash of a number or an address. Raises ValueError for what is neither."""
        if "@" in sender:
            if not ADDRESS.fullmatch(sender.strip()):
                raise ValueError("no address")
            return self.secret.hash("address", sender.strip().lower())
        return self.secret.hash("number", same_number(sender, self.prefix))

    def find(self, sender: str) -> Allowed | None:
        """Return who a number or an address belongs to, or None for a stranger."""
        try:
            return self.all().get(self.hash(sender))
        except ValueError:
            return None

    def all(self) -> dict[str, Allowed]:
        """Return all who may write, by hash."""
        if not self.path.exists():
            return {}
        stat = self.path.stat()
        if self._read_at != (stat.st_mtime_ns, stat.st_ino):
            told = json.loads(self.path.read_bytes())
            self._list = {one["hash"]: Allowed(**one) for one in told}
            self._read_at = (stat.st_mtime_ns, stat.st_ino)
        return self._list

    def allow(self, sender: str, allowed: Allowed) -> Allowed:
        """Put a number or an address on the list, or change what it is bound to."""
        try:
            made = replace(allowed, hash=self.hash(sender))
        except ValueError as error:
            do = "Give it with its country, such as +447700900123, or as an address"
            raise BadInput("allowing a sender", str(error), do) from None
        self._keep({**self.all(), made.hash: made})
        return made

    def forget(self, sender: str) -> Allowed:
        """Take one off the list, by number, address or the first signs of the hash as listed.

        Raises NotFound where none or more than one is meant.
        """
        meant = list(self._meant(sender))
        if len(meant) != 1:
            found = "no such sender" if not meant else f"{len(meant)} senders"
            raise NotFound("forgetting a sender", found, "See advisor bridge list")
        self._keep({key: one for key, one in self.all().items() if one != meant[0]})
        return meant[0]

    def _meant(self, sender: str) -> Iterator[Allowed]:
        found = self.find(sender)
        if found:
            yield found
        elif re.fullmatch(r"[0-9a-f]{8,32}", sender):
            yield from (one for key, one in self.all().items() if key.startswith(sender))

    def _keep(self, senders: dict[str, Allowed]) -> None:
        write_whole(self.path, json.dumps([asdict(one) for one in senders.values()], indent=1).encode("utf-8"))
