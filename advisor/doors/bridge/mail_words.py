"""What a mail says: the words its sender wrote, without what they quoted and signed with; and whether a person wrote.

Signatures are cut at the delimiter of RFC 3676 (4.3), soft line ends are joined as it says (4.2), and mail that no
person wrote is known by the signs of RFC 3834 (2 and 5) and of mailing lists (RFC 2369, RFC 2919).
"""

from __future__ import annotations

import re
from email.message import EmailMessage

ORIGINAL = re.compile(r"\s*(?:-{2,}\s*(?:original|forwarded) message\b.*|_{8,}\s*)$", re.IGNORECASE)
ATTRIBUTION = re.compile(r"(?=.*[@\d]).*:\s*$", re.DOTALL)
REPLY_TO = re.compile(r"^(?:\s*(?:re|fwd?|aw|wg|sv|antw|tr|r)\s*:)+", re.IGNORECASE)
PRECEDENCE = ("bulk", "junk", "list", "auto_reply")


def words(mail: EmailMessage, without: str = "") -> str:
    """Return what a mail says: its plain text, else its subject. ``without`` is a word to leave out of the subject."""
    said = body(mail) or subject(mail, without)
    return said.encode("utf-8", "replace").decode("utf-8")  # bytes that were no text are half characters here


def body(mail: EmailMessage) -> str:
    """Return the plain text of a mail as its sender wrote it, or "" where it has none."""
    part = mail.get_body(("plain",))
    if part is None:
        return ""
    try:
        text = str(part.get_content())
    except (LookupError, ValueError):  # a charset that is not known
        payload = part.get_payload(decode=True)
        text = payload.decode("ascii", "replace") if isinstance(payload, bytes) else ""
    lines = text.replace("\r\n", "\n").split("\n")
    if part.get_param("format", "") == "flowed":
        lines = _unfolded(lines, str(part.get_param("delsp", "")).lower() == "yes")
    return own_words(lines)


def own_words(lines: list[str]) -> str:
    """Return lines of a mail without its signature, what it quotes, and the line that says whom it quotes.

    >>> own_words(["2", "", "On 24 April 2026 the adviser wrote:", "> Which fig?", "-- ", "Sam"])
    '2'
    """
    kept: list[str] = []
    for line in lines:
        if line in ("-- ", "--") or ORIGINAL.match(line):
            break
        if line.startswith(">"):
            _drop_attribution(kept)
            continue
        kept.append(line.rstrip())
    return re.sub(r"\n{3,}", "\n\n", "\n".join(kept)).strip()


def subject(mail: EmailMessage, without: str = "") -> str:
    """Return a mail's subject without its "Re:" and without a word."""
    text = " ".join(str(mail.get("Subject", "")).split())
    if without:
        text = re.sub(rf"(?<!\w){re.escape(without)}(?!\w)", " ", text, flags=re.IGNORECASE)
    return " ".join(REPLY_TO.sub("", text).split())


def is_automatic(mail: EmailMessage) -> bool:
    """Return whether no person wrote a mail: an answering machine, a list, a bounce."""
    submitted = str(mail.get("Auto-Submitted", "no")).split(";")[0].strip().lower()
    return (
        submitted != "no"
        or any(name.lower().startswith("list-") for name in mail.keys())  # noqa: SIM118  # a mail is no mapping
        or str(mail.get("Precedence", "")).strip().lower() in PRECEDENCE
        or str(mail.get("Return-Path", "")).strip() == "<>"
        or mail.get_content_type() == "multipart/report"
    )


def has_word(mail: EmailMessage, word: str) -> bool:
    """Return whether a word stands in a mail's subject, whole."""
    return re.search(rf"(?<!\w){re.escape(word)}(?!\w)", str(mail.get("Subject", "")), re.IGNORECASE) is not None


def checked(mail: EmailMessage, by: str) -> bool:
    """Return whether a server says, in the topmost such header, that the From line is no forgery (RFC 8601)."""
    said = mail.get_all("Authentication-Results") or []
    if not said:
        return False
    server, _, results = re.sub(r"\([^()]*\)", " ", str(said[0])).partition(";")
    named = server.split()[:1]
    return named == [by] and re.search(r"(?:^|[;\s])dmarc\s*=\s*pass\b", results, re.IGNORECASE) is not None


def _drop_attribution(kept: list[str]) -> None:
    """Take the paragraph before a quotation away where it only says whom it quotes."""
    while kept and not kept[-1].strip():
        kept.pop()
    start = len(kept)
    while start and kept[start - 1].strip():
        start -= 1
    start = max(start, len(kept) - 3)
    for first in range(len(kept) - 1, start - 1, -1):
        if ATTRIBUTION.match("\n".join(kept[first:])) and (first == start or kept[first][:1].isupper()):
            del kept[first:]
            return


def _unfolded(lines: list[str], delete_space: bool) -> list[str]:
    """Return lines of flowed text with their soft ends joined, also those of quoted ones."""
    joined: list[str] = []
    soft = False
    for line in lines:
        depth = len(line) - len(line.lstrip(">"))
        plain = line[depth:].removeprefix(" ")
        before = len(joined[-1]) - len(joined[-1].lstrip(">")) if joined else 0
        if soft and depth == before and plain != "-- ":
            joined[-1] = (joined[-1][:-1] if delete_space else joined[-1]) + plain
        else:
            joined.append(">" * depth + plain)
        soft = plain.endswith(" ") and plain != "-- "
    return joined
