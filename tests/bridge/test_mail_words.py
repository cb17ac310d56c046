"""What a mail says: own words only, and whether a person wrote it."""

from __future__ import annotations

from email import message_from_bytes, message_from_string, policy
from email.message import EmailMessage

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.doors.bridge.mail_words import checked, has_word, is_automatic, own_words, subject, words

HEAD = "From: Ann <ann@example.org>\nSubject: Re: quince-7Q4 why is the shed fig late?\n"


def mail(content: str) -> EmailMessage:
    made = message_from_string(content, policy=policy.default)
    assert isinstance(made, EmailMessage)
    return made


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("2\n", "2"),
        ("the second\n\n-- \nAnn\n07700 900123\n", "the second"),
        ("the second\n--\nAnn\n", "the second"),
        ("soil 9.7 -- at the gate\n", "soil 9.7 -- at the gate"),
        ("2\n\nOn Fri, 24 Apr 2026 at 09:58, Adviser <a@example.org> wrote:\n> Which fig?\n> 1 shed\n", "2"),
        ("2\n\nOn Fri, 24 Apr 2026 at 09:58, Adviser\n<a@example.org> wrote:\n\n> Which fig?\n", "2"),
        ("2\nAm 24.04.26 um 09:58 schrieb Adviser:\n> Which fig?\n", "2"),
        ("> Which fig?\n\nthe shed one\n", "the shed one"),
        ("> Which fig?\nthe shed one\n> How deep?\n10 cm\n", "the shed one\n10 cm"),
        ("Readings of today:\nsoil gate 9.7\n", "Readings of today:\nsoil gate 9.7"),
        ("why late\n\n-----Original Message-----\nFrom: a\n\nold words\n", "why late"),
        ("why late\n\n________________________________\nFrom: a\nold words\n", "why late"),
        ("\n\n", ""),
        ("-- \nAnn\n", ""),
    ],
)
def test_own_words(body: str, said: str) -> None:
    """Quotations, the line that says whom they quote, and a signature (RFC 3676, 4.3) are left out."""
    assert own_words(body.split("\n")) == said


@given(
    st.lists(st.text(alphabet=st.characters(blacklist_characters=">\n\r-_:", blacklist_categories=["Cs"]), max_size=30))
)
def test_plain_lines_stay(lines: list[str]) -> None:
    """Lines that quote nothing and sign nothing are all kept, in order."""
    assert own_words(lines).split() == "\n".join(lines).split()


def test_soft_ends_are_joined() -> None:
    """Flowed text is one line again (RFC 3676, 4.2), also where it was wrapped in the midst of a sentence."""
    flowed = mail(
        HEAD
        + 'Content-Type: text/plain; format="flowed"\n\nwhy is the shed fig so \nslow to wake?\nand this?\n-- \nAnn\n'
    )
    assert words(flowed) == "why is the shed fig so slow to wake?\nand this?"
    delsp = mail(HEAD + "Content-Type: text/plain; format=flowed; delsp=yes\n\nwhy is the sh \ned fig late?\n")
    assert words(delsp) == "why is the shed fig late?"


def test_the_plain_part_is_read() -> None:
    """Of a mail in several parts, encoded, the plain one is read."""
    made = EmailMessage()
    made.set_content("Größe: −2 °C am Zaun\n", cte="quoted-printable")
    made.add_alternative("<p>something else</p>", subtype="html")
    made.add_attachment(b"\x89PNG", maintype="image", subtype="png", filename="fig.png")
    assert words(mail(made.as_string())) == "Größe: −2 °C am Zaun"


def test_the_subject_speaks_where_the_body_does_not() -> None:
    """A mail without words of its own, or in HTML alone, is read by its subject, less the secret word."""
    for rest in ("\n\n", "Content-Type: text/html\n\n<p>words</p>\n"):
        assert words(mail(HEAD + rest), "quince-7Q4") == "why is the shed fig late?"


def test_a_subject_in_raw_bytes() -> None:
    """A subject whose bytes were never encoded leaves no half characters behind."""
    made = message_from_bytes(b"Subject: caf\xe9\xff late?\n\n\n", policy=policy.default)
    assert isinstance(made, EmailMessage)
    assert words(made).encode("utf-8").endswith(b"late?")


@pytest.mark.parametrize("charset", ["x-unknown", "utf-8"])
def test_bytes_that_are_no_text(charset: str) -> None:
    """An unknown charset or broken bytes stop nothing: what is plain in them is read."""
    content = (
        HEAD + f"Content-Type: text/plain; charset={charset}\nContent-Transfer-Encoding: base64\n\nd2h5IGxhdGX/Cg==\n"
    )
    assert words(mail(content)).startswith("why late")


@pytest.mark.parametrize(
    ("written", "plain"),
    [("Re: AW: late?", "late?"), ("RE:Fwd: late?", "late?"), ("Re", "Re"), ("Regarding: it", "Regarding: it")],
)
def test_answers_of_answers(written: str, plain: str) -> None:
    """Subjects do not grow a Re: at each turn."""
    assert subject(mail(f"Subject: {written}\n\n")) == plain


@pytest.mark.parametrize(
    ("header", "automatic"),
    [
        ("Auto-Submitted: auto-replied", True),
        ('Auto-Submitted: auto-generated; owner-email="a@example.org"', True),
        ("Auto-Submitted: no", False),
        ("Auto-Submitted: No", False),
        ("List-Id: <growers.example.org>", True),
        ("List-Unsubscribe: <mailto:a@example.org>", True),
        ("Precedence: bulk", True),
        ("Precedence: first-class", False),
        ("Return-Path: <>", True),
        ("Return-Path: <ann@example.org>", False),
        ("Content-Type: multipart/report; report-type=delivery-status", True),
        ("X-Colour: blue", False),
    ],
)
def test_what_no_person_wrote(header: str, automatic: bool) -> None:
    """Answering machines (RFC 3834, 5), lists (RFC 2919, RFC 2369) and bounces (RFC 3464) are known by their headers."""
    assert is_automatic(mail(f"{HEAD}{header}\n\nwords\n")) is automatic


@pytest.mark.parametrize(
    ("header", "passed"),
    [
        ("mx.example.org; dmarc=pass header.from=example.org", True),
        ("mx.example.org 1; spf=fail smtp.mailfrom=example.net;\n dmarc=pass (p=none) header.from=example.org", True),
        ("mx.example.org; dmarc=fail header.from=example.org", False),
        ("mx.example.org; spf=pass smtp.mailfrom=example.org", False),
        ("mx.example.org; dkim=fail reason=xdmarc=pass", False),
        ("mx.example.org; spf=pass (dmarc=pass) smtp.mailfrom=a", False),
        ("mx.example.net; dmarc=pass header.from=example.org", False),
        ("mx.example.net; dmarc=pass\nAuthentication-Results: mx.example.org; dmarc=pass", False),
    ],
)
def test_checked_by_the_server(header: str, passed: bool) -> None:
    """Only the topmost result of the named server counts (RFC 8601): a sender can write others below it."""
    assert checked(mail(f"Authentication-Results: {header}\n{HEAD}\nwords\n"), "mx.example.org") is passed
    assert not checked(mail(HEAD + "\nwords\n"), "mx.example.org")


@pytest.mark.parametrize(
    ("word", "there"), [("quince-7Q4", True), ("QUINCE-7q4", True), ("quince-7Q", False), ("fig.", False)]
)
def test_the_secret_word(word: str, there: bool) -> None:
    """The secret word counts where it stands whole in the subject, and nowhere else."""
    assert has_word(mail(HEAD + "\nfig.\n"), word) is there
