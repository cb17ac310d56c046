"""Commands that take a grower from one host to another: export there, import here, and what follows."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from advisor.doors.token_command import FOLDER, key_store
from advisor.errors import BadInput
from advisor.records.backing_up import set_aside
from advisor.records.moving import is_moved, unmark
from advisor.records.packing import pack, unpack


@click.command("export", epilog="Example: advisor grower export g4k7m2p9xqt g4k7m2p9xqt.grower")
@click.argument("grower_id", metavar="GROWER")
@click.argument("file", type=click.Path(path_type=Path))
@FOLDER
def export_grower(grower_id: str, file: Path, folder: Path | None) -> None:
    """Write a grower with garden and keys to a file, to move them to another host.

    From then on the garden here can be read and is told nothing more: whoever tries is asked to send it again soon.
    """
    with key_store(folder) as store:
        copy = pack(store, grower_id, file, moving=True)
    click.echo(
        f"{file}: {copy.rows['message']} messages, {copy.size / 1_000_000:.1f} MB, read back whole. Now import it on "
        f"the other host and place {grower_id} there; to call it off: advisor grower resume {grower_id}"
    )


@click.command("import", epilog="Example: advisor grower import g4k7m2p9xqt.grower")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="The grower is here: put their garden aside and this in its place.")
@FOLDER
def import_grower(file: Path, replace: bool, folder: Path | None) -> None:
    """Bring a grower in from a file of grower export or of backup --all, and read the garden back."""
    with key_store(folder, create=True) as store:
        grower, copy = unpack(file, store, datetime.now(UTC), replace=replace)
    click.echo(f"{grower}: {copy.rows['message']} messages, {copy.size / 1_000_000:.1f} MB, read back whole")


@click.command("resume")
@click.argument("grower_id", metavar="GROWER")
@FOLDER
def resume_grower(grower_id: str, folder: Path | None) -> None:
    """Call a move off: the garden here may be told things again. Only where the other host does not serve it."""
    with key_store(folder) as store:
        path = store.garden_path(grower_id)
    if not is_moved(path):
        raise BadInput("calling a move off", f"{grower_id} was not exported from here", "Nothing needs to be done")
    unmark(path)
    click.echo(f"{grower_id} is served here again")


@click.command("remove")
@click.argument("grower_id", metavar="GROWER")
@FOLDER
def remove_grower(grower_id: str, folder: Path | None) -> None:
    """Remove a grower who moved away, a day or so after: until then phones that come here are told to come again."""
    with key_store(folder) as store:
        path = store.garden_path(grower_id)
        if not is_moved(path):
            do = f"Move them first: advisor grower export {grower_id} FILE"
            raise BadInput("removing a grower", f"{grower_id} is served here", do)
        store.remove(grower_id)
    if path.exists():
        set_aside(path, datetime.now(UTC))
    unmark(path)
    click.echo(f"{grower_id} is no longer known here; the old garden file is kept beside the others")
