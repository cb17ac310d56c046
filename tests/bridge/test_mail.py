"""Mail in and out, over a real IMAP server (pymap) and a real SMTP server (aiosmtpd) on this machine."""

from __future__ import annotations

import imaplib
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Message
from bridge_parts import START, StandIn, Works
from served import free_port, until

from advisor.doors.bridge import mail_words
from advisor.doors.bridge.inbox import Incoming
from advisor.doors.bridge.journal import Journal
from advisor.doors.bridge.mail import Mailbox, read_mail
from advisor.doors.bridge.numbers import Allowed, Secret, Senders
from advisor.doors.bridge.sending import Bridge
from advisor.doors.bridge.service import Answer, Away
from advisor.doors.bridge.settings import MailSettings

TOP = Path(__file__).resolve().parents[2]
ANN = "ann@example.org"
BOX = "adviser@example.org"


def a_mail(body: str = "why is the shed fig late?\n", sender: str = f"Ann <{ANN}>", **headers: str) -> bytes:
    """Return a mail as bytes; headers are given by name, with underscores for dashes."""
    made = EmailMessage()
    made["From"], made["To"] = sender, BOX
    made["Subject"] = headers.pop("Subject", "quince-7Q4 a question")
    made["Message-ID"] = headers.pop("Message_ID", "<one@example.org>")
    made["Date"] = headers.pop("Date", "Fri, 24 Apr 2026 11:58:03 +0200")
    for name, value in headers.items():
        made[name.replace("_", "-")] = value
    made.set_content(body)
    return made.as_bytes()


class Kept(Message):
    """Keeps the mails that an SMTP server took."""

    def __init__(self) -> None:
        super().__init__()
        self.mails: list[Any] = []

    def handle_message(self, message: Any) -> None:
        self.mails.append(message)


@dataclass
class Post:
    """A mail server of both kinds, and the settings that lead to it."""

    settings: MailSettings
    kept: Kept
    smtp: Controller

    def box(self) -> imaplib.IMAP4:
        box = imaplib.IMAP4("127.0.0.1", self.settings.imap_port, timeout=60)
        box.login("adviser", "pw")
        return box

    def arrives(self, *mails: bytes) -> None:
        """Put mails into the mailbox."""
        box = self.box()
        for content in mails:
            assert box.append("INBOX", "", "", content)[0] == "OK"
        box.logout()

    def unseen(self) -> int:
        box = self.box()
        box.select("INBOX")
        found = box.uid("SEARCH", "UNSEEN")[1][0] or b""
        box.logout()
        return len(found.split())

    def answers(self) -> list[EmailMessage]:
        return [message_from_bytes(bytes(one), policy=policy.default) for one in self.kept.mails]  # type: ignore[misc]


@pytest.fixture
def mail_settings(tmp_path: Path) -> MailSettings:
    (tmp_path / "password").write_text("pw\n")
    here = {"imap_host": "127.0.0.1", "smtp_host": "127.0.0.1", "imap_security": "none", "smtp_security": "none"}
    return MailSettings(BOX, user="adviser", password_file=tmp_path / "password", secret_word="quince-7Q4", **here)  # type: ignore[arg-type]


@pytest.fixture
def post(mail_settings: MailSettings) -> Iterator[Post]:
    port, smtp_port = free_port(), free_port()
    pymap = Path(sys.executable).with_name("pymap")
    server = subprocess.Popen(
        [
            pymap,
            "--host",
            "127.0.0.1",
            "--port",
            str(port),
            "--no-tls",
            "dict",
            "--demo-user",
            "adviser",
            "--demo-password",
            "pw",
        ],
        stderr=subprocess.DEVNULL,
    )
    kept = Kept()
    smtp = Controller(kept, hostname="127.0.0.1", port=smtp_port)
    smtp.start()
    settings = replace(mail_settings, imap_port=port, smtp_port=smtp_port)
    post = Post(settings, kept, smtp)

    def there() -> bool:
        with suppress(OSError):
            post.box().logout()
            return True
        return False

    until(there, "a mailbox")
    yield post
    smtp.stop()
    server.terminate()
    server.wait(10)


@pytest.fixture
def by_mail(post: Post, works: Works) -> Works:
    """A bridge whose door is the mailbox, where Ann may write by mail."""
    works.senders.allow(ANN, Allowed("", "Ann"))
    journal = Journal(works.settings.folder / "journal.jsonl", works.clock())
    doors = {"mail": Mailbox(post.settings, works.senders.secret)}
    works.bridge = Bridge(works.settings, works.senders, works.spool, journal, doors, (BOX,), works.clock)
    return works


def fetched(works: Works, post: Post) -> int:
    return Mailbox(post.settings, works.senders.secret).fetch(works.spool, works.clock())


def test_a_mail_is_answered(by_mail: Works, post: Post, service: StandIn) -> None:
    """A grower's mail is answered in full, as an answer to that mail, and said to come from no person (RFC 3834)."""
    post.arrives(a_mail("why is the shed fig late?\n\n-- \nAnn\n", References="<zero@example.org>"))
    assert fetched(by_mail, post) == 1
    by_mail.bridge.step()
    told = service.posted[0][0]
    assert (told["text"], told["sent_at"]) == ("why is the shed fig late?", "2026-04-24T11:58:03+02:00")
    (answer,) = post.answers()
    assert answer["To"] == ANN
    assert answer["From"] == BOX
    assert answer["Subject"] == "Re: quince-7Q4 a question"
    assert answer["In-Reply-To"] == "<one@example.org>"
    assert answer["References"] == "<zero@example.org> <one@example.org>"
    assert answer["Auto-Submitted"] == "auto-replied"
    assert answer.get_content().strip() == "In full: why is the shed fig late?"
    assert by_mail.outcomes() == ["answered"]
    assert post.unseen() == 0


def test_fetched_again_answered_once(by_mail: Works, post: Post) -> None:
    """A mail that is fetched twice, or delivered twice, is answered once."""
    post.arrives(a_mail(), a_mail())
    fetched(by_mail, post)
    box = post.box()
    box.select("INBOX")
    box.uid("STORE", "1:*", "-FLAGS", r"(\Seen)")
    box.logout()
    assert fetched(by_mail, post) == 2
    by_mail.bridge.step()
    assert len(post.answers()) == 1


def test_sent_again_it_is_the_same_mail(by_mail: Works, post: Post) -> None:
    """An answer that is sent again after a crash has the same Message-ID, by which mail programs know it."""
    post.arrives(a_mail())
    fetched(by_mail, post)
    (path,) = by_mail.spool.waiting()
    message = by_mail.spool.read(path)
    assert message
    for _ in range(2):
        by_mail.bridge.doors["mail"].answer(message, Answer("words", "words"))
    assert len({one["Message-ID"] for one in post.answers()}) == 1
    assert len(post.answers()) == 2


@pytest.mark.parametrize(
    ("content", "outcome"),
    [
        (a_mail(sender="Ben <ben@example.org>"), "unknown"),
        (a_mail(sender=BOX), "own number"),
        (a_mail(Subject="a question"), "without the secret word"),
        (a_mail(Auto_Submitted="auto-replied"), "automatic"),
        (a_mail(List_Id="<growers.example.org>"), "automatic"),
        (a_mail(sender=f"{ANN}, ben@example.org"), "unknown"),
        (b"Subject: quince-7Q4\n\nwords\n", "unknown"),
        (a_mail().replace(b"To:", b"From: Ben <ben@example.org>\nTo:"), "unknown"),
    ],
)
def test_what_is_not_answered(by_mail: Works, post: Post, service: StandIn, content: bytes, outcome: str) -> None:
    """Strangers, ourselves, machines, lists, and mail without the secret word get no answer and reach no service."""
    post.arrives(content)
    fetched(by_mail, post)
    by_mail.bridge.step()
    assert (by_mail.outcomes(), service.posted, post.answers()) == ([outcome], [], [])


def test_mail_server_away(by_mail: Works, post: Post) -> None:
    """While the SMTP server is away the answer waits, and goes out once it is back."""
    post.arrives(a_mail())
    fetched(by_mail, post)
    door = by_mail.bridge.doors["mail"]
    assert isinstance(door, Mailbox)
    door.settings = replace(post.settings, smtp_port=9)
    assert by_mail.bridge.step() == 0
    door.settings = post.settings
    by_mail.clock.on(seconds=5)
    assert by_mail.bridge.step() == 1
    assert len(post.answers()) == 1


@pytest.mark.parametrize("change", [{"imap_port": 9}, {"user": "nobody"}, {"folder": "None"}])
def test_mailbox_away(by_mail: Works, post: Post, change: dict[str, Any]) -> None:
    """A mailbox that cannot be read says so, without the password or an address."""
    with pytest.raises(Away, match="mailbox cannot be read") as raised:
        Mailbox(replace(post.settings, **change), by_mail.senders.secret).fetch(by_mail.spool, START)
    assert "pw" not in str(raised.value).replace("mailbox", "")


def test_a_mail_that_cannot_be_read(
    by_mail: Works, post: Post, service: StandIn, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A mail at which reading fails is passed over and named without its words; those after it are answered."""
    words = mail_words.words

    def failing(mail: EmailMessage, without: str = "") -> str:
        said = words(mail, without)
        if "poison" in said:
            raise IndexError(said)
        return said

    monkeypatch.setattr(mail_words, "words", failing)
    post.arrives(a_mail("poison\n", Message_ID="<zero@example.org>"), a_mail())
    assert fetched(by_mail, post) == 2
    by_mail.bridge.step()
    assert service.texts == ["why is the shed fig late?"]
    assert "IndexError" in caplog.text
    assert "poison" not in caplog.text
    assert post.unseen() == 0


def test_a_big_mail(by_mail: Works, post: Post, service: StandIn) -> None:
    """Of a mail with a big picture only the beginning is fetched, and its words are read."""
    made = message_from_bytes(a_mail(), policy=policy.default)
    made.add_attachment(bytes(range(256)) * 4000, maintype="image", subtype="png", filename="fig.png")  # type: ignore[attr-defined]
    post.arrives(made.as_bytes())
    fetched(by_mail, post)
    by_mail.bridge.step()
    assert service.texts == ["why is the shed fig late?"]


def read(content: bytes, settings: MailSettings, secret: Secret) -> Incoming:
    return read_mail(content, settings, secret, START)


def test_the_id_is_the_mail(mail_settings: MailSettings, tmp_path: Path) -> None:
    """The id follows from Message-ID and sender; without one from sender, date and words."""
    secret = Secret.of(tmp_path)
    first = read(a_mail(), mail_settings, secret)
    assert read(a_mail("other words\n"), mail_settings, secret).id == first.id
    assert read(a_mail(Message_ID="<two@example.org>"), mail_settings, secret).id != first.id
    bare = a_mail().replace(b"Message-ID: <one@example.org>\n", b"")
    assert read(bare, mail_settings, secret).id == read(bare, mail_settings, secret).id != first.id
    assert len(first.id) <= 64


@pytest.mark.parametrize(
    ("written", "sent"),
    [
        ("Fri, 24 Apr 2026 09:58:03 -0000", "2026-04-24T09:58:03+00:00"),
        ("Fri, 24 Apr 2026 23:58:03 +0000", None),
        ("Mon, 1 Jan 2001 00:00:00 +0000", None),
    ],
)
def test_when_it_was_sent(mail_settings: MailSettings, tmp_path: Path, written: str, sent: str | None) -> None:
    """A mail's date counts unless its clock must be wrong."""
    message = read(a_mail(Date=written), mail_settings, Secret.of(tmp_path))
    assert (message.sent_at.isoformat() if message.sent_at else None) == sent


def test_checked_by_a_server(mail_settings: MailSettings, tmp_path: Path) -> None:
    """Where a server checks senders, a mail without its word for it is refused."""
    settings, secret = replace(mail_settings, secret_word="", checked_by="mx.example.org"), Secret.of(tmp_path)
    assert read(a_mail(), settings, secret).beside["refused"] == "sender not checked"
    good = a_mail(Authentication_Results="mx.example.org; dmarc=pass header.from=example.org")
    assert read(good, settings, secret).beside["refused"] == ""


@pytest.mark.parametrize(
    "content",
    [
        a_mail(Subject="é" * 300, Message_ID=f"<{'x' * 300}@example.org>"),
        b"From: Ann <ann@example.org>\nSubject: =?utf-8?q?a=0AX-Evil:_1?=\nMessage-ID: <a@b>\r\n\nwords\n",
        b"From: =?utf-8?q?a?= <ann@example.org>\nMessage-ID: no id\nReferences: <a> <b\n\n\xff\xfe\n",
        b"",
    ],
)
def test_an_answer_has_sound_headers(mail_settings: MailSettings, tmp_path: Path, content: bytes) -> None:
    """Whatever stands in a mail's headers, the answer's are of one line each, and hold no header of another's."""
    box = Mailbox(mail_settings, Secret.of(tmp_path))
    message = replace(read(content, mail_settings, box.secret), sender=ANN)
    sent = message_from_bytes(
        box.written(message, Answer("words é", ""), datetime.now(UTC)).as_bytes(), policy=policy.default
    )
    assert set(sent.keys()) <= {
        "From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted", "In-Reply-To", "References",
        "MIME-Version", "Content-Type", "Content-Transfer-Encoding",
    }  # fmt: skip
    if "x" * 300 in content.decode("latin-1"):
        assert sent["In-Reply-To"] == f"<{'x' * 300}@example.org>"
    assert sent.get_content().strip() == "words é"  # type: ignore[attr-defined]


def test_the_bridge_at_work_on_mail_alone(post: Post, service: StandIn, tmp_path: Path) -> None:
    """Started with a mailbox and no modem, the bridge fetches by itself, answers, and stops when told to."""
    toml = tmp_path / "bridge.toml"
    toml.write_text(
        f'folder = "state"\nservice = "{service.url}"\n[mail]\naddress = "{BOX}"\nimap_host = "127.0.0.1"\n'
        f'smtp_host = "127.0.0.1"\nuser = "adviser"\npassword_file = "password"\nimap_port = {post.settings.imap_port}\n'
        f'smtp_port = {post.settings.smtp_port}\nimap_security = "none"\nsmtp_security = "none"\npoll_s = 0.2\n'
        'secret_word = "quince-7Q4"\n'
    )
    Senders(tmp_path / "state", Secret.of(tmp_path / "state")).allow(ANN, Allowed("", "Ann"))
    process = subprocess.Popen(
        [sys.executable, "-m", "advisor.doors.bridge_command", "run", "--settings", str(toml)],
        stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(TOP)},
    )  # fmt: skip
    post.arrives(a_mail())
    until(lambda: post.kept.mails, "an answer")
    process.terminate()  # what is begun is ended, and told, first
    _, said = process.communicate(timeout=60)
    assert process.returncode == 0
    assert [answer["To"] for answer in post.answers()] == [ANN]
    assert "answered" in said
    assert not [word for word in ("ann", "example", "shed", "pw") if word in said]
