"""Keys: how they are written, what is kept of them, and when they are good."""

from __future__ import annotations

import base64
import hashlib
import sqlite3
from contextlib import closing, suppress
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_shared import NOON

from advisor.doors.access.keys import LENGTH, START, Mistyped, new_secret, read, written
from advisor.errors import NotFound
from advisor.records.keys import GROWER_ID, LETTERS, KeyStore

SECRETS = st.binary(min_size=32, max_size=32)


@given(SECRETS)
def test_a_key_is_read_back(secret: bytes) -> None:
    """What was written is read, also in capitals, with spaces, and with letters that look like digits."""
    text = written(secret)
    assert read(text) == secret
    assert read(text.upper().replace("-", " ").replace("0", "O").replace("1", "I")) == secret
    assert read(text.removeprefix("adv-")) == secret


@given(SECRETS)
def test_the_letters_are_base32(secret: bytes) -> None:
    """The body is RFC 4648 base32 by the standard library, under an alphabet without look-alikes."""
    standard = base64.b32encode(secret).decode().rstrip("=").lower()
    body = written(secret).removeprefix("adv-").replace("-", "")
    assert [LETTERS.index(one) for one in body][:51] == [
        "abcdefghijklmnopqrstuvwxyz234567".index(one) for one in standard
    ][:51]


@given(SECRETS, st.integers(0, LENGTH - 2), st.integers(1, 31))
def test_one_wrong_letter_is_a_slip(secret: bytes, at: int, by: int) -> None:
    """Any one letter that is another one is told as a slip, and is not a key that is merely unknown."""
    body = list(written(secret).removeprefix("adv-").replace("-", ""))
    body[at] = LETTERS[(LETTERS.index(body[at]) + by) % 32]
    with pytest.raises(Mistyped, match="not right"):
        read("adv" + "".join(body))


@given(SECRETS, st.integers(0, LENGTH - 3))
def test_two_letters_changed_about_are_a_slip(secret: bytes, at: int) -> None:
    """Neighbours that changed places are found, unless they are the same letter."""
    body = list(written(secret).removeprefix("adv-").replace("-", ""))
    if body[at] == body[at + 1]:
        return
    body[at], body[at + 1] = body[at + 1], body[at]
    with pytest.raises(Mistyped):
        read("".join(body))


@pytest.mark.parametrize(
    "text", ["", "adv-", "adv", "x" * 60, "adv-" + "u" * 60, "0" * 59, "0" * 61, "\x00" * 60, "é" * 60]
)
def test_what_is_no_key_is_a_slip(text: str) -> None:
    """Nothing else passes for a key, however odd it is."""
    with pytest.raises(Mistyped):
        read(text)


@given(st.text(max_size=80))
def test_no_text_breaks_the_reader(text: str) -> None:
    """Any text is a key or a slip, and never another error."""
    with suppress(Mistyped):
        assert len(read(text)) == 32


def test_only_the_hash_is_kept(tmp_path: Path) -> None:
    """Neither a key nor a session's secret stands in the file; SHA-256 of the key's 32 bytes does."""
    secret = new_secret("g4k7m2p9xqt")
    with KeyStore(tmp_path, create=True) as store:
        grower = store.add_grower("orchard", NOON)
        key = store.add_key(grower.id, secret, written(secret)[:START], "phone", NOON)
        session = store.start_session(key, NOON)
    kept = b"".join(path.read_bytes() for path in tmp_path.iterdir())
    text = written(secret)
    for part in (secret, text.encode(), text.replace("-", "").encode(), session.encode(), text[START + 1 :].encode()):
        assert part not in kept
    assert hashlib.sha256(secret).hexdigest().encode() in kept


def test_only_its_owner_reads_the_folder(tmp_path: Path) -> None:
    """The folder and the file of keys are made for their owner alone."""
    with KeyStore(tmp_path / "growers", create=True):
        pass
    assert (tmp_path / "growers").stat().st_mode & 0o077 == 0
    assert (tmp_path / "growers" / "keys.db").stat().st_mode & 0o077 == 0


def test_a_key_ends(tmp_path: Path) -> None:
    """A key is good until its last moment and no longer, and a key taken back stays so whoever takes it back again."""
    with KeyStore(tmp_path, create=True) as store:
        grower = store.add_grower("orchard", NOON)
        secret = new_secret("g4k7m2p9xqt")
        store.add_key(grower.id, secret, "adv-x", "", NOON, NOON + timedelta(days=1))
        key = store.key_of(secret)
        assert key and key.state(NOON + timedelta(hours=23)) == "in use"
        assert key.state(NOON + timedelta(days=1)) == "expired"
        first = store.revoke(key.id, NOON).revoked_at
        assert store.revoke(key.id, NOON + timedelta(days=3)).revoked_at == first == NOON
        with pytest.raises(NotFound):
            store.revoke(99, NOON)


def test_use_is_noted_by_the_day(tmp_path: Path) -> None:
    """The last use is a day, and no finer."""
    with KeyStore(tmp_path, create=True) as store:
        key = store.add_key(store.add_grower("orchard", NOON).id, new_secret("g4k7m2p9xqt"), "adv-x", "", NOON)
        store.note_use(key, NOON)
        (noted,) = store.keys()
        assert noted.used_on == NOON.date()
    with closing(sqlite3.connect(tmp_path / "keys.db")) as conn, conn:
        assert conn.execute("SELECT used_on FROM key").fetchone() == ("2026-04-24",)
    conn.close()


def test_a_session_ends_by_itself(tmp_path: Path) -> None:
    """Unused for thirty days, or ninety days old however much it is used; and an old one is forgotten in time."""
    with KeyStore(tmp_path, create=True) as store:
        key = store.add_key(store.add_grower("orchard", NOON).id, new_secret("g4k7m2p9xqt"), "adv-x", "", NOON)
        secret = store.start_session(key, NOON)
        idle = store.session_of(secret)
        assert idle and idle.in_use(NOON + timedelta(days=29)) and not idle.in_use(NOON + timedelta(days=30))
        for day in range(0, 100, 10):
            session = store.session_of(secret)
            assert session
            assert session.in_use(NOON + timedelta(days=day)) == (day < 90)
            if day < 90:
                store.note_seen(secret, session, NOON + timedelta(days=day))
        store.start_session(key, NOON + timedelta(days=401))
        assert store.session_of(secret) is None


@pytest.mark.parametrize(
    "name", ["../other", "g/../../x", "g\x00", "", "G4K7M2P9XQT", "g" + "٤" * 10, "g4k7m2p9xqt/", "keys"]
)
def test_a_grower_is_never_a_path(tmp_path: Path, name: str) -> None:
    """Only an id that was made here leads to a file; nothing that somebody typed does."""
    with KeyStore(tmp_path, create=True) as store:
        made = store.add_grower("../../etc", NOON)
        assert GROWER_ID.fullmatch(made.id) and store.garden_path(made.id) == tmp_path / f"{made.id}.db"
        with pytest.raises(NotFound):
            store.garden_path(name)
        with pytest.raises(NotFound):
            store.add_key(name, new_secret("g4k7m2p9xqt"), "adv-x", "", NOON)
