"""The bridge's settings: read from one file, each fault named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from advisor.doors.bridge.settings import BridgeSettings
from advisor.errors import BadInput

TOP = Path(__file__).resolve().parents[2]
BRIDGE = 'folder = "state"\nservice = "http://127.0.0.1:8470"\n'
TEXTS = '[texts]\ninbox = "i"\noutbox = "o"\nsent = "s"\nerror = "/e"\nprefix = "+44"\n'
MAIL = (
    '[mail]\naddress = "a@example.org"\nimap_host = "imap.example.org"\nsmtp_host = "smtp.example.org"\n'
    'user = "a"\npassword_file = "p"\n'
)


def read(folder: Path, content: str) -> BridgeSettings:
    path = folder / "bridge.toml"
    path.write_text(content, encoding="utf-8")
    return BridgeSettings.read(path)


def test_paths_are_beside_the_file(tmp_path: Path) -> None:
    """A folder that is no whole path is looked for beside the settings."""
    settings = read(tmp_path, BRIDGE + TEXTS)
    assert settings.folder == tmp_path / "state"
    assert settings.texts
    assert (settings.texts.inbox, settings.texts.error) == (tmp_path / "i", Path("/e"))
    assert settings.mail is None


def test_the_example_is_sound(tmp_path: Path) -> None:
    """The settings that are shipped are read as they stand, and with the mailbox's lines taken in."""
    example = (TOP / "deploy/text-messages/bridge.toml").read_text(encoding="utf-8")
    assert read(tmp_path, example).mail is None
    whole = read(tmp_path, re.sub(r"^# (?=\[mail\]|\w+ = )", "", example, flags=re.MULTILINE))
    assert whole.mail
    assert whole.texts
    assert (whole.mail.secret_word, whole.texts.prefix) == ("quince-7Q4", "+44")


@pytest.mark.parametrize(
    ("content", "found"),
    [
        ("folder = ", "Invalid value"),
        ("", "no folder, service"),
        (BRIDGE + "colour = 1\n" + TEXTS, "'colour', which is no setting"),
        (BRIDGE + "age_h = 0\n", "age_h = 0"),
        (BRIDGE + 'age_h = "48"\n', "age_h = '48'"),
        (BRIDGE + "age_h = true\n", "age_h = True"),
        (BRIDGE + TEXTS.replace('"+44"', "44"), "prefix = 44"),
        (BRIDGE + TEXTS.replace("+44", "44"), "prefix = '44'"),
        (BRIDGE + TEXTS + "most_a_day = 1.5\n", "most_a_day = 1.5"),
        (BRIDGE + TEXTS + 'zone = "Mars"\n', "zone = 'Mars'"),
        (BRIDGE + TEXTS.replace('inbox = "i"\n', ""), "no inbox"),
        (BRIDGE.replace("http", "ftp"), "service 'ftp://"),
        (BRIDGE.replace("127.0.0.1", "example.org") + 'key_file = "k"\n', "by http"),
        (BRIDGE + MAIL, "neither secret_word nor checked_by"),
        (BRIDGE + MAIL + 'secret_word = "w"\nsmtp_security = "none"\n', "for smtp.example.org"),
        (BRIDGE + MAIL + 'secret_word = "w"\nimap_security = "tls"\n', "imap_security = 'tls'"),
        (BRIDGE + MAIL.replace("a@example.org", "a") + 'secret_word = "w"\n', "address = 'a'"),
    ],
)
def test_a_fault_is_named(tmp_path: Path, content: str, found: str) -> None:
    """What is missing, unknown, of the wrong type or unsafe is refused with its name."""
    with pytest.raises(BadInput) as raised:
        read(tmp_path, content)
    assert found in str(raised.value)


def test_no_settings(tmp_path: Path) -> None:
    """A settings file that is not there is told as such."""
    with pytest.raises(BadInput, match="No such file"):
        BridgeSettings.read(tmp_path / "none.toml")


def test_no_key_in_its_file(tmp_path: Path) -> None:
    """A key file that is empty or away is told before a message is posted without it."""
    settings = read(tmp_path, BRIDGE + 'key_file = "key"\n')
    with pytest.raises(BadInput, match="no key"):
        settings.key()
    (tmp_path / "key").write_text("abc\n")
    assert settings.key() == "abc"
