"""Commands that keep a garden from being lost: backup, restore, and a check of the file."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from advisor.config import Settings
from advisor.doors.files_commands import GARDEN
from advisor.doors.gardens import gardens_of
from advisor.errors import AdvisorError, BadInput
from advisor.records.backing_up import Copy, back_up, restore, sound
from advisor.records.keys import KeyStore
from advisor.records.packing import pack

PACKED = ".grower"


@click.command("backup", epilog="Example: advisor backup backups --garden garden.db --keep 30")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--keep", type=click.IntRange(min=1), help="Keep so many backups of this garden there, the last ones.")
@click.option("--all", "everyone", is_flag=True, help="Every grower of ADVISOR_GROWERS, each a file with their keys.")
@GARDEN
def backup_command(folder: Path, keep: int | None, everyone: bool, garden: Path | None) -> None:
    """Copy the garden file into a folder while it is in use, and read the copy back.

    With --all every grower's garden and keys; what fails for one is told at the end and keeps no other from theirs.
    One of them is brought back, on this host or another, by advisor grower import FILE.
    """
    settings = Settings.from_environment()
    if everyone:
        if garden or settings.growers is None:
            raise BadInput("backing up all growers", "no folder of growers", "Set ADVISOR_GROWERS, without --garden")
        _back_up_all(settings.growers, settings.busy_s, folder, keep)
        return
    path, now = garden or settings.garden, datetime.now(UTC)
    made = back_up(path, folder / f"{path.stem}-{now:%Y%m%dT%H%M%SZ}{path.suffix}")
    click.echo(f"{made.path}: {_told(made)}, read back whole")
    for old in _removed(folder, path.stem, path.suffix, keep):
        click.echo(f"{old.name} removed: {keep} are kept")


def _back_up_all(growers: Path, busy_s: float, folder: Path, keep: int | None) -> None:
    """Pack every grower whose garden is here; end with 3 where one could not be."""
    made, failed = 0, 0
    with KeyStore(growers, busy_s=busy_s) as store:
        for grower in gardens_of(growers, busy_s):
            try:
                pack(store, grower, folder / f"{grower}-{datetime.now(UTC):%Y%m%dT%H%M%SZ}{PACKED}")
            except (AdvisorError, OSError) as error:
                click.echo(f"{grower} was not backed up: {error}", err=True)
                failed += 1
                continue
            made += 1
            _removed(folder, grower, PACKED, keep)
    click.echo(f"{made} growers backed up to {folder} and read back whole, {failed} not")
    if failed:
        sys.exit(3)


def _removed(folder: Path, stem: str, suffix: str, keep: int | None) -> list[Path]:
    """Remove all but the last backups of a garden, and return what was removed."""
    old = sorted(folder.glob(f"{stem}-????????T??????Z{suffix}"))[:-keep] if keep else []
    for path in old:
        path.unlink()
    return old


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
