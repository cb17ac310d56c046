"""Commands of whoever runs the service for several growers: growers, and the keys of their devices."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import click

from advisor.config import Settings
from advisor.doors.access.keys import START, new_secret, written
from advisor.doors.files_commands import JSON, as_json_text, open_garden
from advisor.errors import BadInput
from advisor.records.keys import Key, KeyStore

LONGEST_NAME = 60
FOLDER = click.option(
    "--growers", "folder", type=click.Path(path_type=Path), help="The folder of gardens. [ADVISOR_GROWERS]"
)


@click.group(epilog='Example: advisor grower create "the lower orchard"')
def grower() -> None:
    """Growers of a service for several: each has a garden of their own."""


@grower.command("create", epilog='Example: advisor grower create "the lower orchard"')
@click.argument("name")
@FOLDER
def create_grower(name: str, folder: Path | None) -> None:
    """Make a grower and an empty garden. NAME is for you to know them by; their id and file are made here."""
    with key_store(folder, create=True) as store:
        made = store.add_grower(_plain("NAME", name), datetime.now(UTC))
        path = store.garden_path(made.id)
    path.touch(mode=0o600)
    with open_garden(path):
        pass
    click.echo(f"{made.id}  {made.name}\nThe garden is {path}; records go in by: advisor import PATH --garden {path}")


@grower.command("list")
@JSON
@FOLDER
def list_growers(as_json: bool, folder: Path | None) -> None:
    """List the growers."""
    with key_store(folder) as store:
        found = store.growers()
    if as_json:
        click.echo(as_json_text([{"id": one.id, "name": one.name, "made_at": one.made_at} for one in found]))
        return
    _table(("id", "made", "name"), [(one.id, f"{one.made_at:%Y-%m-%d}", one.name) for one in found])


@click.group(epilog='Example: advisor token create g4k7m2p9xqt --device "phone"')
def token() -> None:
    """Keys: one a device, shown once, taken back one by one."""


@token.command("create", epilog='Example: advisor token create g4k7m2p9xqt --device "phone" --expires 365')
@click.argument("grower_id", metavar="GROWER")
@click.option("--device", default="", help="What it is for, so that a lost one can be told.")
@click.option("--expires", "days", type=click.IntRange(1, 3650), help="Days after which it runs out.")
@FOLDER
def create_token(grower_id: str, device: str, days: int | None, folder: Path | None) -> None:
    """Make a key for a grower's device and show it, this once."""
    now = datetime.now(UTC)
    with key_store(folder) as store:
        store.garden_path(grower_id)
        text = written(secret := new_secret(grower_id))
        expires = now + timedelta(days=days) if days else None
        key = store.add_key(grower_id, secret, text[:START], _plain("--device", device), now, expires)
    until = f"until {key.expires_at:%Y-%m-%d}" if key.expires_at else "until it is taken back"
    click.echo(text)
    click.echo(f"Key {key.id} of {key.grower}, good {until}. It is not kept and cannot be shown again.", err=True)


@token.command("list")
@JSON
@FOLDER
def list_tokens(as_json: bool, folder: Path | None) -> None:
    """List the keys: what each begins with, for which device, and the day it was last used."""
    now = datetime.now(UTC)
    with key_store(folder) as store:
        found = store.keys()
    if as_json:
        click.echo(as_json_text([_data(key, now) for key in found]))
        return
    head = ("id", "grower", "begins", "made", "last used", "expires", "state", "device")
    _table(head, [tuple(str(one or "-") for one in _shown(key, now)) for key in found])


@token.command("revoke")
@click.argument("key_id", type=int, metavar="ID")
@FOLDER
def revoke_token(key_id: int, folder: Path | None) -> None:
    """Take a key back for good; whoever signed in with it is signed out."""
    with key_store(folder) as store:
        key = store.revoke(key_id, datetime.now(UTC))
    click.echo(f"Key {key.id} of {key.grower} ({key.device or key.start}) opens nothing any more.")


def key_store(folder: Path | None, *, create: bool = False) -> KeyStore:
    settings = Settings.from_environment()
    chosen = folder or settings.growers
    if chosen is None:
        raise BadInput("looking for the growers", "no folder named", "Set ADVISOR_GROWERS to it, or use --growers")
    return KeyStore(chosen, busy_s=settings.busy_s, create=create)


def _plain(what: str, text: str) -> str:
    """Return a text that may be shown in a terminal. Raise BadInput for one too long, or with signs that steer it."""
    if len(text) > LONGEST_NAME or not text.isprintable():
        raise BadInput(f"reading {what}", f"{len(text)} characters", f"Use at most {LONGEST_NAME} that can be seen")
    return text.strip()


def _data(key: Key, now: datetime) -> dict[str, Any]:
    names = ("id", "grower", "start", "made_at", "used_on", "expires_at")
    return {**{name: getattr(key, name) for name in names}, "state": key.state(now), "device": key.device}


def _shown(key: Key, now: datetime) -> Iterable[object]:
    expires = f"{key.expires_at:%Y-%m-%d}" if key.expires_at else ""
    return key.id, key.grower, key.start, f"{key.made_at:%Y-%m-%d}", key.used_on, expires, key.state(now), key.device


def _table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    widths = [max(len(row[n]) for row in (head, *rows)) for n in range(len(head))]
    for row in (head, *rows):
        click.echo("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
