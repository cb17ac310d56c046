"""The command of the nightly round."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from advisor.config import Settings
from advisor.doors.gardens import gardens_of
from advisor.doors.nightly.rounds import round_by_dask, round_here
from advisor.errors import BadInput


@click.command("nightly", epilog="Example: advisor nightly --growers growers")
@click.option("--growers", "folder", type=click.Path(path_type=Path), help="The folder of gardens. [ADVISOR_GROWERS]")
@click.option("--limit", "limit_s", type=click.FloatRange(1), default=60, show_default=True, help="Seconds a grower.")
@click.option("--processes", type=click.IntRange(1), default=os.cpu_count() or 1, show_default=True)
@click.option("--scheduler", metavar="ADDRESS", help="Let the workers of a dask scheduler do it, on every host.")
def nightly(folder: Path | None, limit_s: float, processes: int, scheduler: str | None) -> None:
    """Make each grower's briefing: what is next, and tonight's frost.

    It is kept in the folder briefings beside the gardens; nothing is told to a garden.
    """
    now = datetime.now(UTC)
    if scheduler:
        done = round_by_dask(scheduler, now, limit_s)
    else:
        chosen = folder or Settings.from_environment().growers
        if chosen is None:
            raise BadInput("looking for the growers", "no folder named", "Set ADVISOR_GROWERS to it, or use --growers")
        done = round_here(gardens_of(chosen), now, limit_s, processes)
    for grower, why in sorted(done.failed.items()):
        click.echo(f"{grower} was not briefed: {why}", err=True)
    click.echo(f"{len(done.briefed)} briefed, {len(done.failed)} not")
    if done.failed:
        sys.exit(3)
