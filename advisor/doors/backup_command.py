"""Commands that keep a garden from being lost: backup, restore, and a check of the file."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from advisor.config import Settings
from advisor.doors.files_commands import GARDEN
from advisor.errors import BadInput
from advisor.records.backing_up import Copy, back_up, restore, sound


@click.command("backup", epilog="Example: advisor backup backups --garden garden.db --keep 30")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--keep", type=click.IntRange(min=1), help="Keep so many backups of this garden there, the last ones.")
@GARDEN
def backup_command(folder: Path, keep: int | None, garden: Path | None) -> None:
    """Copy the garden file into a folder while it is in use, and read the copy back."""
    settings = Settings.from_environment()
    path, now = garden or settings.garden, datetime.now(UTC)
    made = back_up(path, folder / f"{path.stem}-{now:%Y%m%dT%H%M%SZ}{path.suffix}")
    click.echo(f"{made.path}: {_told(made)}, read back whole")
    if keep:
        for old in sorted(folder.glob(f"{path.stem}-????????T??????Z{path.suffix}"))[:-keep]:
            old.unlink()
            click.echo(f"{old.name} removed: {keep} are kept")


@click.command("restore", epilog="Example: advisor restore backups/garden-20260424T030000Z.db --garden garden.db")
@click.argument("backup", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="A garden is there: put it aside and the backup in its place.")
@GARDEN
def restore_command(backup: Path, replace: bool, garden: Path | None) -> None:
    """Put a backup back as the garden file. Stop what serves the garden first."""
    settings = Settings.from_environment()
    made = restore(backup, garden or settings.garden, datetime.now(UTC), replace=replace)
    click.echo(f"{made.path}: {_told(made)}, restored from {backup.name} and read back whole")


@click.command("verify", epilog="Example: advisor verify --garden garden.db")
@GARDEN
def verify_command(garden: Path | None) -> None:
    """Read the garden file back whole and say whether it is sound."""
    settings = Settings.from_environment()
    path = garden or settings.garden
    if not path.exists():
        raise BadInput("checking the garden", f"no file {path.name}", "Name the garden file")
    click.echo(f"{path.name}: {_told(sound(path))}, sound")


def _told(copy: Copy) -> str:
    records = sum(count for name, count in copy.rows.items() if name not in ("said", "thing", "ruling", "message"))
    return f"{records} records, {copy.rows['message']} messages, {copy.size / 1_000_000:.1f} MB"
