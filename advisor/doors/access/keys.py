"""A key as it is written: our prefix, whose it is, 206 random bits and a checksum, in groups of five to be read aloud.

The first ten letters are those of the grower's id, so that a server before several hosts can send a request to the one
that has the garden, without looking anything up. They open nothing: a key is known by all of it.

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
TAG = 10
"""Letters of a key that tell whose it is. Those of one made before that was so are random, and fit no grower."""
START = len(PREFIX) + TAG + GROUP + 3
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


def new_secret(grower: str) -> bytes:
    """Return a new secret of a grower: their id, the rest from the system's source of randomness."""
    tag = base64.b32decode(grower.removeprefix("g").translate(_BACK).upper() + "AAAAAA")
    whole, first = TAG * 5 // 8, 8 - TAG * 5 % 8
    random = secrets.token_bytes(SECRET_BYTES - whole)
    return tag[:whole] + bytes([tag[whole] | random[0] & (1 << first) - 1]) + random[1:]


def tag_of(key: str) -> str:
    """Return which grower a key says that it is of, by the letters of their id; "" where it is too short to say.

    >>> tag_of("ADV-4K7M2 P9XQT-00000")
    '4k7m2p9xqt'
    """
    tag = key.lower().translate(_ALIKE).removeprefix(PREFIX)[:TAG]
    return tag if len(tag) == TAG and not set(tag) - set(LETTERS) else ""


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
