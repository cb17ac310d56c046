"""The command line: ask, import, picture, check, demo, serve."""

from __future__ import annotations

import gc
import ipaddress
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, time
from pathlib import Path

import click

from advisor.config import Settings
from advisor.conversation import Adviser
from advisor.doors.backup_command import backup_command, restore_command, verify_command
from advisor.doors.bridge_command import bridge
from advisor.doors.check_command import check
from advisor.doors.demo import DEMO_DAY, load_demo, run_demo
from advisor.doors.files_commands import GARDEN, export, import_, open_garden
from advisor.doors.gardens import gardens
from advisor.doors.hosts_command import hosts_command
from advisor.doors.moving_commands import export_grower, import_grower, remove_grower, resume_grower
from advisor.doors.nightly.command import nightly
from advisor.doors.picture_command import picture
from advisor.doors.records_commands import garden_command, records
from advisor.doors.token_command import grower, token
from advisor.errors import AdvisorError, BadInput
from advisor.records.backing_up import sound
from advisor.talk.posted import EARLIEST_YEAR
from advisor.talk.starting import EXAMPLE

SEARCH_AFTER = 30_000
"""New objects after which Python looks for unused ones; its own choice is 700."""


class _Commands(click.Group):
    def invoke(self, ctx: click.Context) -> object:
        try:
            return super().invoke(ctx)
        except AdvisorError as error:
            click.echo(f"{error.done}: {error.found}.\n{error.do}.", err=True)
            sys.exit(error.exit_code)


@click.group(cls=_Commands)
def main() -> None:
    """An adviser for figs and other fruit trees that reasons over your own records."""


@main.command()
@click.argument("text")
@click.option("--json", "as_json", is_flag=True, help="The whole reply as JSON.")
@click.option("--today", type=click.DateTime(["%Y-%m-%d"]), help="Answer as of noon on this day.")
@GARDEN
def ask(text: str, as_json: bool, today: datetime | None, garden: Path | None) -> None:
    """Ask a question: advisor ask "why is the shed fig so slow to wake?"

    Without a garden of your own, the invented demo garden answers.
    """
    settings = Settings.from_environment()
    chosen = garden or settings.garden
    adviser = Adviser.load(settings)
    if garden is None and not chosen.exists():
        with tempfile.TemporaryDirectory() as folder:
            chosen = load_demo(adviser, Path(folder))
            if not as_json:
                click.echo("(The invented demo garden answers; --garden FILE names your own.)\n")
            _ask(adviser, chosen, text, as_json, today.date() if today else DEMO_DAY)
        return
    _ask(adviser, chosen, text, as_json, today.date() if today else None)


def _ask(adviser: Adviser, garden: Path, text: str, as_json: bool, today: date | None) -> None:
    if today and today.year < EARLIEST_YEAR:
        raise BadInput("reading --today", today.isoformat(), f"Name a day from {EARLIEST_YEAR} on")
    with adviser.open(garden) as opened:
        zone = opened.zone() if opened.of("place") else UTC
        now = datetime.combine(today, time(12), zone) if today else datetime.now(UTC)
    reply = adviser.message({"text": text}, now, garden)
    click.echo(json.dumps(reply, ensure_ascii=False, indent=2) if as_json else reply["reply"])


@main.command()
@GARDEN
def start(garden: Path | None) -> None:
    """Make a new, empty garden file and say what to tell it first: advisor start --garden garden.db"""
    settings = Settings.from_environment()
    path = garden or settings.garden
    if path.exists():
        do = "Go on with advisor ask TEXT, or name another file"
        raise BadInput("starting a garden", f"there is a file {path.name} already", do)
    with open_garden(path, create=True):
        pass
    program = _program()
    click.echo(
        f"A new garden: {path}. Tell it where it lies, in a message:\n"
        f'  {program} ask "{EXAMPLE}" --garden {path}\n'
        "or on its pages, which ask step by step:\n"
        f"  {program} serve --garden {path}"
    )


COMMANDS = (
    backup_command,
    bridge,
    check,
    export,
    garden_command,
    grower,
    hosts_command,
    import_,
    nightly,
    picture,
    records,
    restore_command,
    token,
    verify_command,
)
for command in COMMANDS:
    main.add_command(command)
for command in (export_grower, import_grower, resume_grower, remove_grower):
    grower.add_command(command)


@main.command()
def demo() -> None:
    """Load the invented demo garden into a temporary file and answer three questions: advisor demo"""
    adviser = Adviser.load(Settings.from_environment())
    with tempfile.TemporaryDirectory() as folder:
        for text in run_demo(adviser, Path(folder), _program()):
            click.echo(text)


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", default=8470, show_default=True)
@click.option("--demo", "with_demo", is_flag=True, help="Serve the invented demo garden, on its own day.")
@click.option("--without-keys", is_flag=True, help="Serve one garden to whoever reaches this machine.")
@GARDEN
def serve(host: str, port: int, with_demo: bool, without_keys: bool, garden: Path | None) -> None:
    """Serve the pages and the API: advisor serve --garden garden.db

    One garden is served without keys, to this machine only. With ADVISOR_GROWERS set, and neither --garden nor
    --demo, each grower is served the garden of their key.
    """
    from advisor.doors.access.server import make_server  # only here: nothing else needs a server
    from advisor.doors.http import create_app
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
        adviser = Adviser.load(settings)
        clock = _demo_noon(adviser) if with_demo else lambda: datetime.now(UTC)
        for path in gardens(settings):
            _make_ready(adviser, path, clock(), alone=settings.growers is None)
        server = make_server(create_app(adviser, clock), host, port, behind_proxy=settings.behind_proxy)
        what = settings.garden.name if settings.growers is None else f"the growers of {settings.growers}"
        if settings.growers is None and not settings.garden.exists():
            click.echo("There is no garden file of that name yet: the page leads through setting it up.")
        _look_for_garbage_seldom()
        click.echo(f"Serving {what} on http://{host}:{port}; stop with Ctrl-C.")
        server.run()


def is_loopback(host: str) -> bool:
    """Return whether only this machine can reach a host."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _demo_noon(adviser: Adviser) -> Callable[[], datetime]:
    """Return a clock that stands at noon of the demo's day."""
    with adviser.open() as opened:
        noon = datetime.combine(DEMO_DAY, time(12), opened.zone())
    return lambda: noon


def _make_ready(adviser: Adviser, garden: Path, now: datetime, *, alone: bool) -> None:
    """Read a garden file back before it is served, and answer what was left unanswered when the program died.

    A damaged file is refused where it is served ``alone``; among several it keeps nobody else from being served.
    """
    try:
        sound(garden)
    except AdvisorError as error:
        if alone:
            raise
        click.echo(f"The garden {garden.name} is served as it is: {error}", err=True)
        return
    try:
        answered = adviser.answer_waiting(now, garden)
    except AdvisorError as error:
        click.echo(f"A message that was left unanswered still is: {error}", err=True)
    else:
        if answered:
            click.echo(f"Messages left unanswered before, answered now: {', '.join(answered)}")


def _look_for_garbage_seldom() -> None:
    """Leave the rule base out of Python's search for unused objects, and search the rest less often.

    What is kept of gardens is some hundred thousand objects, and a search among all of them delays the answer at hand.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(SEARCH_AFTER, 10, 30)


def _program() -> str:
    """Return how the reader can call this program: by its name if the shell finds it, else by its path."""
    return "advisor" if shutil.which("advisor") else os.path.relpath(sys.argv[0])
