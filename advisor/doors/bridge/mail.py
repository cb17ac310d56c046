"""The mailbox's door: new mail is fetched by IMAP into the same spool, and an answer goes out by SMTP.

A mail is marked as seen after it is spooled; fetched twice it has the same id. An answer has a Message-ID made from the
mail's own, so an answer that is sent again, since we died between the server's yes and our journal, is the same mail
to the server and to the reader's program. SMTP has no way to ask whether it went, so that much is left to them.
"""

from __future__ import annotations

import imaplib
import logging
import re
import smtplib
import ssl
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from email.utils import format_datetime, parsedate_to_datetime
from typing import Any

from advisor.doors.bridge import mail_words
from advisor.doors.bridge.inbox import Incoming, Spool
from advisor.doors.bridge.numbers import ADDRESS, Secret
from advisor.doors.bridge.service import Answer, Away
from advisor.doors.bridge.settings import MailSettings, read_secret

DOOR = "mail"
LOG = logging.getLogger("advisor.bridge")
MOST_BYTES = 200_000
"""How much of a mail is fetched: its words stand first, pictures after them."""
MOST_AT_ONCE = 50
NET_TIMEOUT_S = 20.0
CLOCK_AHEAD, CLOCK_BEHIND = timedelta(minutes=10), timedelta(days=14)
MESSAGE_ID = re.compile(r"<[^<>\s]{1,400}>")
REFERENCES = 10
UNFOLDED = policy.SMTP.clone(max_line_length=900)  # a long Message-ID that is folded is read as another


def read_mail(content: bytes, settings: MailSettings, secret: Secret, now: datetime) -> Incoming:
    """Return a mail as a message; what speaks against answering it stands in ``beside``. ``now`` is aware."""
    mail = message_from_bytes(content, policy=policy.default)
    assert isinstance(mail, EmailMessage)
    sender = _from(mail)
    ids = MESSAGE_ID.findall(str(mail.get("Message-ID", "")))
    text = mail_words.words(mail, settings.secret_word)
    known = (sender, ids[0]) if ids else (sender, str(mail.get("Date", "")), text)
    beside = {
        "message_id": ids[0] if ids else "",
        "references": " ".join(MESSAGE_ID.findall(str(mail.get("References", "")))[1 - REFERENCES :]),
        "subject": mail_words.subject(mail)[:200],
        "automatic": "yes" if mail_words.is_automatic(mail) else "",
        "refused": _doubt(mail, settings),
    }
    return Incoming(f"mail-{secret.hash('mail', *known)}", DOOR, sender, text, now, _sent_at(mail, now), beside)


class Mailbox:
    """Fetches new mail and sends answers."""

    name = DOOR

    def __init__(self, settings: MailSettings, secret: Secret) -> None:
        self.settings, self.secret = settings, secret
        self.most_an_hour, self.most_a_day = settings.most_an_hour, settings.most_a_day

    def fetch(self, spool: Spool, now: datetime) -> int:
        """Spool the mail that is new, and mark it as seen; return how many there were. ``now`` is aware.

        Raises Away where the mailbox cannot be read.
        """
        password = read_secret(self.settings.password_file)
        try:
            box = self._imap()
            try:
                box.login(self.settings.user, password)
                return self._fetch(box, spool, now)
            finally:
                box.logout()
        except (imaplib.IMAP4.error, OSError) as error:
            raise Away(f"the mailbox cannot be read ({type(error).__name__})") from None

    def _fetch(self, box: imaplib.IMAP4, spool: Spool, now: datetime) -> int:
        box.select('"' + self.settings.folder.replace("\\", "\\\\").replace('"', '\\"') + '"')
        _, found = box.uid("SEARCH", "UNSEEN")
        uids = (found[0] or b"").split()[:MOST_AT_ONCE]
        for uid in uids:
            parts: list[Any] = box.uid("FETCH", uid.decode("ascii"), f"(BODY.PEEK[]<0.{MOST_BYTES}>)")[1]
            content = next((part[1] for part in parts if isinstance(part, tuple)), None)
            if content is None:
                continue
            try:
                message = read_mail(content, self.settings, self.secret, now)
            except Exception as error:  # one mail that nobody can read must not stand before all others for good
                LOG.error("a mail cannot be read and is passed over (%s)", type(error).__name__)
            else:
                spool.put(message)
            box.uid("STORE", uid.decode("ascii"), "+FLAGS", r"(\Seen)")
        return len(uids)

    def _imap(self) -> imaplib.IMAP4:
        settings = self.settings
        if settings.imap_security == "ssl":
            context = ssl.create_default_context()
            return imaplib.IMAP4_SSL(settings.imap_host, settings.imap_port, ssl_context=context, timeout=NET_TIMEOUT_S)
        box = imaplib.IMAP4(settings.imap_host, settings.imap_port, timeout=NET_TIMEOUT_S)
        if settings.imap_security == "starttls":
            box.starttls(ssl.create_default_context())
        return box

    def answer(self, message: Incoming, answer: Answer) -> None:
        """Send the whole answer to the mail's sender. Raises Away where the mail server does not take it."""
        password = read_secret(self.settings.password_file)
        try:
            with self._smtp() as server:
                if self.settings.smtp_security != "none":
                    server.login(self.settings.user, password)
                server.send_message(self.written(message, answer, datetime.now(UTC)))
        except (smtplib.SMTPException, OSError) as error:
            raise Away(f"the mail server did not take an answer ({type(error).__name__})") from None

    def _smtp(self) -> smtplib.SMTP:
        settings = self.settings
        if settings.smtp_security == "ssl":
            context = ssl.create_default_context()
            return smtplib.SMTP_SSL(settings.smtp_host, settings.smtp_port, timeout=NET_TIMEOUT_S, context=context)
        server = smtplib.SMTP(settings.smtp_host, settings.smtp_port, timeout=NET_TIMEOUT_S)
        if settings.smtp_security == "starttls":
            server.starttls(context=ssl.create_default_context())
        return server

    def written(self, message: Incoming, answer: Answer, now: datetime) -> EmailMessage:
        """Return an answer as a mail that says what it answers (RFC 5322, 3.6.4) and that no person wrote it."""
        mail = EmailMessage(policy=UNFOLDED)
        mail["From"], mail["To"] = self.settings.address, message.sender
        mail["Subject"] = f"Re: {message.beside.get('subject') or 'your message'}"
        mail["Date"] = format_datetime(now)
        mail["Message-ID"] = f"<{message.id}@{self.settings.address.rpartition('@')[2]}>"
        mail["Auto-Submitted"] = "auto-replied"
        if answered := message.beside.get("message_id"):
            mail["In-Reply-To"] = answered
            mail["References"] = f"{message.beside.get('references', '')} {answered}".strip()
        mail.set_content(answer.reply)
        return mail


def _from(mail: EmailMessage) -> str:
    """Return the one address that a mail is from, or "" where there is none or are several."""
    header = mail.get("From")
    addresses: tuple[Any, ...] = getattr(header, "addresses", ())
    address = addresses[0].addr_spec if len(addresses) == 1 else ""
    return address if ADDRESS.fullmatch(address) and len(mail.get_all("From") or []) == 1 else ""


def _doubt(mail: EmailMessage, settings: MailSettings) -> str:
    """Return why a mail's From line is not to be believed, or ""."""
    if settings.secret_word and not mail_words.has_word(mail, settings.secret_word):
        return "without the secret word"
    if settings.checked_by and not mail_words.checked(mail, settings.checked_by):
        return "sender not checked"
    return ""


def _sent_at(mail: EmailMessage, now: datetime) -> datetime | None:
    try:
        sent = parsedate_to_datetime(str(mail.get("Date", "")))
    except (TypeError, ValueError, IndexError):
        return None
    sent = sent if sent.tzinfo else sent.replace(tzinfo=UTC)
    return sent if now - CLOCK_BEHIND < sent < now + CLOCK_AHEAD else None
