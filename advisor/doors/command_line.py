"""The command line: ask, import, picture, check, demo, serve."""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
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
from advisor.doors.hosts_command import hosts_command
from advisor.doors.moving_commands import export_grower, import_grower, remove_grower, resume_grower
from advisor.doors.nightly.command import nightly
from advisor.doors.picture_command import picture
from advisor.doors.records_commands import garden_command, records
from advisor.doors.serve_command import serve
from advisor.doors.token_command import grower, token
from advisor.errors import AdvisorError, BadInput
from advisor.talk.posted import EARLIEST_YEAR
from advisor.talk.starting import EXAMPLE


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
    serve,
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


def _program() -> str:
    """Return how the reader can call this program: by its name if the shell finds it, else by its path."""
    return "advisor" if shutil.which("advisor") else os.path.relpath(sys.argv[0])
