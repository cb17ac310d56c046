"""The command of the bridge: who may write, taking in a text message, and carrying messages to the service and back."""

from __future__ import annotations

import logging
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from advisor.doors.bridge import journal as journals
from advisor.doors.bridge.inbox import Spool, sweep
from advisor.doors.bridge.journal import Journal
from advisor.doors.bridge.numbers import SHOWN, Allowed, Secret, Senders
from advisor.doors.bridge.sending import Bridge, Door
from advisor.doors.bridge.service import Away
from advisor.doors.bridge.settings import BridgeSettings, TextSettings, check_service
from advisor.doors.bridge.text_messages import Texts, left_behind, spool, taken
from advisor.errors import AdvisorError, BadInput

if TYPE_CHECKING:
    from advisor.doors.bridge.mail import Mailbox

LOG = logging.getLogger("advisor.bridge")
LOOK_S, SWEEP_S, TIDY_S = 1.0, 30.0, 3600.0
SETTINGS = click.option(
    "--settings",
    "path",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("/etc/advisor/bridge.toml"),
    show_default=True,
    help="The bridge's settings.",
)


@click.group(epilog="Example: advisor bridge run --settings /etc/advisor/bridge.toml")
def bridge() -> None:
    """Answer by text message, through a modem, and by mail."""


@bridge.command()
@SETTINGS
def run(path: Path) -> None:
    """Carry messages to the service and its answers back, until stopped: advisor bridge run"""
    settings = BridgeSettings.read(path)
    logging.basicConfig(level=logging.INFO, format="%(levelname)s %(message)s", stream=sys.stderr)
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    with _alone(settings.folder):
        _run(settings, stop)


def _run(settings: BridgeSettings, stop: threading.Event) -> None:
    secret, waiting = Secret.of(settings.folder), Spool(settings.folder / "spool")
    doors: dict[str, Door] = {}
    own = []
    texts = Texts(settings.texts) if settings.texts else None
    if settings.texts and texts:
        doors[texts.name] = texts
        own.append(settings.texts.own_number)
    if settings.mail:
        from advisor.doors.bridge.mail import Mailbox  # only where a mailbox is set: the hook and texts need none

        box = Mailbox(settings.mail, secret)
        doors[box.name] = box
        own.append(settings.mail.address)
        threading.Thread(target=_fetch, args=(box, waiting, settings, stop), daemon=True).start()
    if not doors:
        raise BadInput("starting the bridge", "neither [texts] nor [mail] in its settings", "Set one of them")
    settings.key()
    senders = _senders(settings)
    try:
        made = Bridge(settings, senders, waiting, Journal(_journal(settings), _now()), doors, tuple(own))
    except ValueError as error:
        raise BadInput("reading own_number", str(error), "Give it with its country, such as +447700900123") from None
    LOG.info("carrying messages by %s", " and ".join(doors))
    swept = tidied = -TIDY_S
    while not stop.is_set():
        elapsed = time.monotonic()
        try:
            if texts and settings.texts and elapsed - swept >= SWEEP_S:
                swept = elapsed
                for message, files in left_behind(settings.texts, secret, _now()):
                    LOG.warning("a message that the hook did not hand over was found")
                    spool(message, files, waiting)
            if elapsed - tidied >= TIDY_S:
                tidied = elapsed
                _tidy(made, texts, settings)
            made.step()
        except OSError as error:
            LOG.error("a folder cannot be used (%s); trying on", type(error).__name__)
        stop.wait(LOOK_S)


def _tidy(made: Bridge, texts: Texts | None, settings: BridgeSettings) -> None:
    made.journal.forget_old(_now())
    for folder in (settings.folder, made.spool.folder):
        sweep(folder)
    unsent = texts.tidy(settings.age_h * 3600) if texts else 0
    if unsent:
        LOG.warning("%d answers that the modem never sent were dropped as too old", unsent)


def _fetch(box: Mailbox, waiting: Spool, settings: BridgeSettings, stop: threading.Event) -> None:
    pause_s = often_s = box.settings.poll_s
    while not stop.is_set():
        failed = False
        try:
            box.fetch(waiting, _now())
        except (Away, AdvisorError) as error:
            LOG.warning("mail is not fetched now: %s", error)
            failed = True
        except Exception as error:  # the only thread that fetches: it goes on, and says no word of a mail
            LOG.error("a fault of ours in fetching mail (%s)", type(error).__name__)
            failed = True
        pause_s = min(2 * pause_s, max(settings.longest_pause_s, often_s)) if failed else often_s
        stop.wait(pause_s)


@bridge.command()
@SETTINGS
@click.argument("files", nargs=-1)
def take(path: Path, files: tuple[str, ...]) -> None:
    """Take in one text message; called by the text message daemon's hook, with the message in the environment."""
    settings = BridgeSettings.read(path)
    texts = _texts(settings)
    try:
        message, there = taken(os.environ, files, texts, Secret.of(settings.folder), _now())
    except ValueError as error:
        raise BadInput("taking in a text message", str(error), "Only the daemon's hook calls this") from None
    spool(message, there, Spool(settings.folder / "spool"))


@bridge.command()
@SETTINGS
@click.argument("sender")
@click.option("--grower", default="", help="What this sender is called in lists.")
@click.option("--garden", default="", help="The address of the service that keeps their garden, if another.")
@click.option("--key-from", type=click.File(), help="A file with their bearer key on a line of its own; - reads it.")
def allow(path: Path, sender: str, grower: str, garden: str, key_from: TextIO | None) -> None:
    """Let a number or an address write: advisor bridge allow +447700900123 --grower Ann

    "-" in place of the number reads it from the terminal, so that no shell keeps it in its history.
    """
    settings = BridgeSettings.read(path)
    if sender == "-":
        sender = click.prompt("Number or address").strip()
    key = key_from.read().strip() if key_from else ""
    if key and (not key.isascii() or len(key.split()) != 1):
        raise BadInput("reading the key", "no single word", "Put the key alone into the file")
    if garden:
        check_service(garden, bool(key), "allowing a sender")
    elif key:
        check_service(settings.service, True, "allowing a sender")
    since = _now().date().isoformat()
    made = _senders(settings).allow(sender, Allowed("", grower, garden, key, since))
    click.echo(f"Allowed: {_shown(made)}. The number itself is not kept.")


@bridge.command("list")
@SETTINGS
def list_(path: Path) -> None:
    """List who may write, by the first signs of their hash: advisor bridge list"""
    allowed = _senders(BridgeSettings.read(path)).all()
    for one in allowed.values():
        click.echo(_shown(one))
    if not allowed:
        click.echo("Nobody may write yet. Allow a number: advisor bridge allow NUMBER")


@bridge.command()
@SETTINGS
@click.argument("sender")
def forget(path: Path, sender: str) -> None:
    """Take a sender off the list, by number, address or hash as listed: advisor bridge forget 1f00c0de"""
    settings = BridgeSettings.read(path)
    sender = click.prompt("Number or address").strip() if sender == "-" else sender
    click.echo(f"Forgotten: {_shown(_senders(settings).forget(sender))}.")


@bridge.command()
@SETTINGS
def counts(path: Path) -> None:
    """Tell what came of the messages, without a number or a word of them: advisor bridge counts"""
    settings = BridgeSettings.read(path)
    for span, found in journals.counts(_journal(settings), _now()).items():
        told = ", ".join(f"{what} {number}" for what, number in sorted(found.items()))
        click.echo(f"last {span}: {told or 'none'}")
    click.echo(f"waiting: {len(Spool(settings.folder / 'spool').waiting())}")
    if settings.texts:
        click.echo(f"answers that the modem could not send: {Texts(settings.texts).failed()}")


def _shown(one: Allowed) -> str:
    parts = [one.hash[:SHOWN], one.grower, f"since {one.since}", one.service, "with a key" if one.key else ""]
    return ", ".join(part for part in parts if part)


def _senders(settings: BridgeSettings) -> Senders:
    prefix = settings.texts.prefix if settings.texts else "+1"
    return Senders(settings.folder, Secret.of(settings.folder), prefix)


def _texts(settings: BridgeSettings) -> TextSettings:
    if settings.texts is None:
        raise BadInput("taking in a text message", "no [texts] in the settings", "Set the daemon's folders there")
    return settings.texts


def _journal(settings: BridgeSettings) -> Path:
    return settings.folder / "journal.jsonl"


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold the folder for this process. Raises BadInput where another holds it."""
    import fcntl  # here, since other commands run where there is none

    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise BadInput("starting the bridge", "another one at work in this folder", "Stop it first") from None
        yield


def _now() -> datetime:
    return datetime.now(UTC)


if __name__ == "__main__":  # the hook's way in: without the rest of the program it is quicker, and the modem waits
    bridge()
