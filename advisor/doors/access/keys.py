"""A key as it is written: our prefix, 256 random bits and a checksum, in groups of five that can be read aloud.

Letters and digits that look alike are one: o is 0, i and l are 1, and u is left out. Capitals, spaces and dashes make
no difference. The checksum tells a slip of the finger from a key that is not known here.

>>> written(bytes(32))[:15]
'adv-00000-00000'
>>> read(written(bytes(range(32))).upper().replace("-", " ")) == bytes(range(32))
True
"""

from __future__ import annotations

import base64
import hashlib
import secrets

from advisor.errors import BadInput
from advisor.records.keys import LETTERS, SECRET_BYTES

PREFIX = "adv"
CHECK_BYTES = 5
GROUP = 5
LENGTH = 60
START = len(PREFIX) + 1 + GROUP
"""How much of a key is listed: enough to tell two apart, too little to help anyone."""
_STANDARD = "abcdefghijklmnopqrstuvwxyz234567"
_OURS = str.maketrans(_STANDARD, LETTERS)
_BACK = str.maketrans(LETTERS, _STANDARD)
_ALIKE = str.maketrans("oil", "011", "- \t\r\n")


class Mistyped(BadInput):
    slug = "mistyped-key"
    title = "The key has a slip in it"

    def __init__(self, found: str) -> None:
        super().__init__("reading the key", found, "Copy it whole, or compare it letter by letter")


def new_secret() -> bytes:
    """Return a new secret from the system's source of randomness."""
    return secrets.token_bytes(SECRET_BYTES)


def written(secret: bytes) -> str:
    """Return a secret as a key."""
    text = base64.b32encode(secret + _check(secret)).decode().rstrip("=").lower().translate(_OURS)
    return "-".join([PREFIX, *(text[at : at + GROUP] for at in range(0, LENGTH, GROUP))])


def read(key: str) -> bytes:
    """Return a key's secret. Raise Mistyped where it cannot be one of ours."""
    text = key.lower().translate(_ALIKE)
    text = text if len(text) == LENGTH else text.removeprefix(PREFIX)
    if not text:
        raise Mistyped("no key")
    if len(text) != LENGTH:
        raise Mistyped(f"{len(text)} letters and digits after {PREFIX}, where a key has {LENGTH}")
    if set(text) - set(LETTERS):
        raise Mistyped("a sign in it that no key has")
    whole = base64.b32decode(text.translate(_BACK).upper() + "====")
    secret, check = whole[:SECRET_BYTES], whole[SECRET_BYTES:]
    if check != _check(secret):
        raise Mistyped("a letter or digit in it is not right")
    return secret


def _check(secret: bytes) -> bytes:
    return hashlib.blake2s(secret, digest_size=CHECK_BYTES).digest()
