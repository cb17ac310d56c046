"""The command that serves: one garden on this machine, or each grower the garden of their key."""

from __future__ import annotations

import ipaddress
import os
import sys
import tempfile
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time
from pathlib import Path
from socket import socket
from typing import TYPE_CHECKING

import click

from advisor.config import Settings
from advisor.conversation import Adviser
from advisor.doors.ahead import keep_ahead
from advisor.doors.demo import DEMO_DAY, load_demo
from advisor.doors.files_commands import GARDEN
from advisor.doors.garbage import look_for_garbage_seldom
from advisor.doors.gardens import crash_folder, gardens, take_up
from advisor.errors import AdvisorError, BadInput
from advisor.records.backing_up import sound

if TYPE_CHECKING:
    from flask import Flask

Clock = Callable[[], datetime]


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8470, show_default=True)
@click.option("--demo", "with_demo", is_flag=True, help="Serve the invented demo garden, on its own day.")
@click.option("--without-keys", is_flag=True, help="Serve one garden to whoever reaches this machine.")
@click.option("--one-process", is_flag=True, help="Serve in this process; nothing starts it again when it dies.")
@GARDEN
def serve(host: str, port: int, with_demo: bool, without_keys: bool, one_process: bool, garden: Path | None) -> None:
    """Serve the pages and the API: advisor serve --garden garden.db

    One garden is served without keys, to this machine only. With ADVISOR_GROWERS set, and neither --garden nor
    --demo, each grower is served the garden of their key. A second process serves, and is started again by this one
    when it dies.
    """
    from advisor.doors.http import create_app  # only here: nothing else needs a server
    from advisor.doors.watching import log_to_stderr

    settings = Settings.from_environment()
    if garden or with_demo or settings.growers is None:
        settings = replace(settings, garden=garden or settings.garden, growers=None)
        if not (without_keys or is_loopback(host)):
            do = "Give each grower a key (advisor grower create), or say --without-keys if all who reach it may read it"
            raise BadInput("serving a garden without keys", f"--host {host}, which others can reach", do)
    if settings.log_lines:
        log_to_stderr()
    with tempfile.TemporaryDirectory() as folder:
        if with_demo:
            settings = replace(settings, garden=load_demo(Adviser.load(settings), Path(folder)))
        adviser = Adviser.load(settings).ready()
        clock = _demo_noon(adviser) if with_demo else lambda: datetime.now(UTC)
        for path in gardens(settings):
            _refuse_damaged(path, alone=settings.growers is None)
        if settings.growers is None and not settings.garden.exists():
            click.echo("There is no garden file of that name yet: the page leads through setting it up.")
        look_for_garbage_seldom()
        app = create_app(adviser, clock)

        def serving(sockets: Sequence[socket] = ()) -> None:
            _serve(app, adviser, clock, host, port, sockets)

        if one_process or not hasattr(os, "fork"):
            serving()
            return
        from advisor.doors.standing_by import StandBy, listen

        sockets = listen(host, port)
        code = StandBy(lambda: serving(sockets), crash_folder(settings)).run()
    sys.exit(code)


def _serve(app: Flask, adviser: Adviser, clock: Clock, host: str, port: int, sockets: Sequence[socket]) -> None:
    """Serve until told to end, and answer beside it what was kept and not answered when a process died."""
    from advisor.doors.access.server import make_server

    settings = adviser.settings
    server = make_server(app, host, port, sockets=sockets, behind_proxy=settings.behind_proxy)
    what = settings.garden.name if settings.growers is None else f"the growers of {settings.growers}"
    click.echo(f"Serving {what} on http://{host}:{port}; stop with Ctrl-C.")
    threading.Thread(target=_answer_left, args=(adviser, clock), name="left", daemon=True).start()
    keep_ahead(adviser, clock)
    server.run()


def _answer_left(adviser: Adviser, clock: Clock) -> None:
    try:
        answered = [message_id for _, message_id in take_up(adviser, clock())]
    except AdvisorError as error:
        click.echo(f"What was left unanswered was not looked for: {error}", err=True)
    else:
        if answered:
            click.echo(f"Messages left unanswered before, answered now: {', '.join(answered)}")


def is_loopback(host: str) -> bool:
    """Return whether only this machine can reach a host."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _demo_noon(adviser: Adviser) -> Clock:
    """Return a clock that stands at noon of the demo's day."""
    with adviser.open() as opened:
        noon = datetime.combine(DEMO_DAY, time(12), opened.zone())
    return lambda: noon


def _refuse_damaged(garden: Path, *, alone: bool) -> None:
    """Read a garden file back before it is served.

    A damaged file is refused where it is served ``alone``; among several it keeps nobody else from being served.
    """
    try:
        sound(garden)
    except AdvisorError as error:
        if alone:
            raise
        click.echo(f"The garden {garden.name} is served as it is: {error}", err=True)
