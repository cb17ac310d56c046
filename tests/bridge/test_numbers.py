"""Numbers and addresses: one form however they are written, kept as keyed hashes, bound to a garden."""

from __future__ import annotations

import hashlib
import hmac
import json
import threading
from pathlib import Path

import phonenumbers
import pytest
from bridge_parts import ANN, BEN

from advisor.doors.bridge.numbers import Allowed, Secret, Senders, is_short_code, same_number
from advisor.errors import BadInput, NotFound

REGIONS = ("GB", "DE", "FR", "IT", "ES", "NO", "PL", "HU", "US", "AU", "NZ", "ZA", "JP", "IN")


@pytest.mark.parametrize("region", REGIONS)
def test_each_way_of_writing_is_one_number(region: str) -> None:
    """A country's example mobile number is one number however it is written (examples of the numbering library)."""
    example = phonenumbers.example_number_for_type(region, phonenumbers.PhoneNumberType.MOBILE)
    right = phonenumbers.format_number(example, phonenumbers.PhoneNumberFormat.E164)
    prefix = f"+{example.country_code}"
    ways = [
        phonenumbers.format_number(example, form)
        for form in (phonenumbers.PhoneNumberFormat.NATIONAL, phonenumbers.PhoneNumberFormat.INTERNATIONAL)
    ]
    assert {same_number(way, prefix) for way in [*ways, right]} == {right}
    assert same_number(right, "+44") == right


@pytest.mark.parametrize("written", ["60777", "Network", "", "+", "12", "+4477", "+447700900123456789", "555 0143"])
def test_no_number(written: str) -> None:
    """Short codes, names, and what has too few or too many digits are no one's number."""
    with pytest.raises(ValueError, match=r"short|digits|name|number"):
        same_number(written, "+1")


@pytest.mark.parametrize(
    ("written", "short"), [("60777", True), ("MyShop", True), (ANN, False), ("07700900123", False)]
)
def test_short_codes(written: str, short: bool) -> None:
    """A short code or a name is told from a number."""
    assert is_short_code(written) is short


def test_the_hash_is_keyed(tmp_path: Path) -> None:
    """A hash is HMAC-SHA256 (RFC 2104) under the folder's secret, so that none but this machine can make it."""
    secret = Secret.of(tmp_path)
    expected = hmac.new((tmp_path / "secret").read_bytes(), b'["number", "' + ANN.encode() + b'"]', hashlib.sha256)
    assert secret.hash("number", ANN) == expected.hexdigest()[:32]
    assert Secret.of(tmp_path / "other").hash("number", ANN) != secret.hash("number", ANN)
    assert len((tmp_path / "secret").read_bytes()) == 32
    assert (tmp_path / "secret").stat().st_mode & 0o077 == 0


def test_one_secret_for_all(tmp_path: Path) -> None:
    """Processes that start together make one secret between them."""
    found: list[bytes] = []
    threads = [threading.Thread(target=lambda: found.append(Secret.of(tmp_path).key)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 8
    assert len(set(found)) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["secret"]


def test_a_secret_cut_short(tmp_path: Path) -> None:
    """A secret that is too short to be one is refused, since all hashes would be guessed."""
    (tmp_path / "secret").write_bytes(b"")
    with pytest.raises(BadInput, match="32 are wanted"):
        Secret.of(tmp_path)


@pytest.fixture
def senders(tmp_path: Path) -> Senders:
    return Senders(tmp_path, Secret.of(tmp_path), "+44")


def test_the_list_holds_no_number(senders: Senders) -> None:
    """Neither a number nor an address can be read off the list."""
    senders.allow(ANN, Allowed("", "Ann", key="k1"))
    senders.allow("Ben@Example.org", Allowed("", "Ben"))
    kept = senders.path.read_text()
    assert not [part for part in ("7700", "900123", "example", "Example") if part in kept]
    assert {one["grower"] for one in json.loads(kept)} == {"Ann", "Ben"}
    assert senders.path.stat().st_mode & 0o077 == 0


def test_found_however_written(senders: Senders) -> None:
    """A sender is found by number or address in any form; nobody else is."""
    senders.allow("07700 900123", Allowed("", "Ann"))
    senders.allow("Ann@Example.org", Allowed("", "Ann"))
    for written in (ANN, "0044 7700 900123", "ann@example.ORG"):
        found = senders.find(written)
        assert found is not None
        assert found.grower == "Ann"
    assert [senders.find(one) for one in (BEN, "Network", "", "@", "ann@example.com")] == [None] * 5


def test_a_change_is_seen_at_once(senders: Senders, tmp_path: Path) -> None:
    """A sender allowed or forgotten by another process is so without a restart."""
    other = Senders(tmp_path, Secret.of(tmp_path), "+44")
    assert senders.find(ANN) is None
    other.allow(ANN, Allowed("", "Ann"))
    assert senders.find(ANN) is not None
    other.forget(ANN)
    assert senders.find(ANN) is None


def test_forgotten_by_hash(senders: Senders) -> None:
    """A sender can be forgotten by the first signs of the hash, for who no longer has the number."""
    made = senders.allow(ANN, Allowed("", "Ann"))
    senders.allow(BEN, Allowed("", "Ben"))
    assert senders.forget(made.hash[:8]).grower == "Ann"
    assert [one.grower for one in senders.all().values()] == ["Ben"]
    with pytest.raises(NotFound, match="no such sender"):
        senders.forget(made.hash[:8])


@pytest.mark.parametrize("sender", ["60777", "Network", "ann@", "+4477"])
def test_not_allowed(senders: Senders, sender: str) -> None:
    """What can never be a grower's number or address is refused, with the way to write it."""
    with pytest.raises(BadInput, match=r"\+447700900123"):
        senders.allow(sender, Allowed(""))
