"""Commands about the hosts of a service that one machine does not hold: which grower is on which."""

from __future__ import annotations

from pathlib import Path

import click

from advisor.doors.hosts import place, read_hosts
from advisor.errors import BadInput
from advisor.records.keys import GROWER_ID

FILE = click.argument("file", type=click.Path(path_type=Path))
GROWERS = click.argument("growers", nargs=-1, required=True, metavar="GROWER...")


@click.group("hosts", epilog="Example: advisor hosts where hosts.toml g4k7m2p9xqt")
def hosts_command() -> None:
    """Several hosts, each with the gardens of some growers: FILE names hosts and who is placed where."""


@hosts_command.command("nginx", epilog="Example: advisor hosts nginx hosts.toml > /etc/nginx/advisor-hosts.conf")
@FILE
def as_nginx(file: Path) -> None:
    """Print what nginx needs to send each grower to their host."""
    click.echo(read_hosts(file).as_nginx(), nl=False)


@hosts_command.command("where")
@FILE
@GROWERS
def where(file: Path, growers: tuple[str, ...]) -> None:
    """Say on which host a grower is, or would be if made there."""
    hosts = read_hosts(file)
    for grower in _ids(growers):
        how = "placed" if grower in hosts.placed else "not placed"
        click.echo(f"{grower}  {hosts.host_of(grower)}  {hosts.addresses[hosts.host_of(grower)]}  {how}")


@hosts_command.command("place", epilog="Example: advisor hosts place hosts.toml b g4k7m2p9xqt")
@FILE
@click.argument("host")
@GROWERS
def place_growers(file: Path, host: str, growers: tuple[str, ...]) -> None:
    """Place growers on a host, in FILE. Then write nginx's part anew and reload it."""
    place(file, host, list(_ids(growers)))
    click.echo(f"{len(growers)} placed on {host}")


def _ids(growers: tuple[str, ...]) -> tuple[str, ...]:
    for one in growers:
        if not GROWER_ID.fullmatch(one):
            raise BadInput("reading GROWER", f"{one!r}, which is no grower's id", "advisor grower list names them")
    return growers
