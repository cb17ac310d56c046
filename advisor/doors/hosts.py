"""Which host has which grower's garden, and how the server in front is told.

Hosts share nothing: each has its own folder of gardens. A grower is on the host that they are placed on by name; one
not placed is where nginx's consistent hash of their id sends them, which is reckoned here too. The server in front
finds the id in the key, or in the session's cookie, without looking anything up.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from zlib import crc32

from advisor.doors.access.request import PLAIN_COOKIE, SECURE_COOKIE
from advisor.errors import BadInput, NotFound
from advisor.records.keys import GROWER_ID

POINTS = 160
"""Of one server on nginx's ring."""
HOST_NAME = re.compile(r"[a-z][a-z0-9_]{0,30}")
ADDRESS = re.compile(r"[A-Za-z0-9.-]+:[0-9]{1,5}|\[[0-9a-f:]+\]:[0-9]{1,5}")
GROWERS_HEAD = "[growers]"
MAPS = r"""# Written by "advisor hosts nginx"; write it anew where a grower or a host has moved, then: nginx -s reload
map_hash_max_size {size};
map_hash_bucket_size 128;
map $http_authorization $advisor_of_key {{
    default "";
    "~*^bearer\s+adv-?([0-9a-z]{{5}})-?([0-9a-z]{{5}})" "$1$2";
}}
map $http_cookie $advisor_of_cookie {{
    default "";
    "~(?:^|;\s*){secure}=([0-9a-z]{{10}})\." "$1";
    "~(?:^|;\s*){plain}=([0-9a-z]{{10}})\." "$1";
}}
map $advisor_of_key $advisor_grower {{
    default $advisor_of_key;
    "" $advisor_of_cookie;
}}
map $advisor_grower $advisor_spread {{
    default $advisor_grower;
    "" $remote_addr;
}}
map $advisor_grower $advisor_pool {{
    default advisor_not_placed;
{placed}}}
upstream advisor_not_placed {{
    hash $advisor_spread consistent;
{servers}}}
{upstreams}"""


@dataclass(frozen=True)
class Hosts:
    """The hosts by name, with address and port, and the growers that are placed on one."""

    addresses: dict[str, str]
    placed: dict[str, str]

    def host_of(self, grower: str) -> str:
        """Return the host that has a grower's garden, or is to have it."""
        if grower in self.placed:
            return self.placed[grower]
        hashes = [point for point, _ in self._ring]
        at = bisect_left(hashes, crc32(grower.removeprefix("g").encode()))
        return self._ring[at % len(hashes)][1]

    @cached_property
    def _ring(self) -> list[tuple[int, str]]:
        """Return nginx's points: CRC-32 of host, a null, port and the point before (4 bytes, lowest first)."""
        ring: dict[int, str] = {}
        for name, address in self.addresses.items():
            host, _, port = address.rpartition(":")
            base, point = crc32(f"{host}\0{port}".encode()), 0
            for _ in range(POINTS):
                point = crc32(point.to_bytes(4, "little"), base)
                ring.setdefault(point, name)
        return sorted(ring.items())

    def as_nginx(self) -> str:
        """Return the maps and upstreams for the server in front, by which it picks a host."""
        upstreams = "".join(
            f"upstream advisor_on_{name} {{\n    server {address} max_fails=0;\n}}\n"
            for name, address in self.addresses.items()
        )
        return MAPS.format(
            size=max(2048, 2 * len(self.placed)),
            secure=SECURE_COOKIE,
            plain=PLAIN_COOKIE,
            placed="".join(f"    {one.removeprefix('g')} advisor_on_{name};\n" for one, name in self.placed.items()),
            servers="".join(f"    server {address} max_fails=0;\n" for address in self.addresses.values()),
            upstreams=upstreams,
        )


def read_hosts(path: Path) -> Hosts:
    """Read hosts and growers placed from a TOML file. Raise BadInput, with what is wrong, where it is none."""
    done = f"reading {path.name}"
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise BadInput(done, str(error), 'Write [hosts] with lines such as a = "10.0.0.11:8470"') from error
    hosts, placed = found.get("hosts"), found.get("growers", {})
    if not isinstance(hosts, dict) or not hosts or not isinstance(placed, dict) or set(found) - {"hosts", "growers"}:
        raise BadInput(
            done, "other parts than hosts and growers", 'Write [hosts] with lines such as a = "ADDRESS:PORT"'
        )
    for name, address in hosts.items():
        if not (HOST_NAME.fullmatch(name) and isinstance(address, str) and ADDRESS.fullmatch(address)):
            raise BadInput(done, f"the host {name} = {address!r}", 'Write a name and "ADDRESS:PORT"')
    for grower, name in placed.items():
        if not GROWER_ID.fullmatch(grower) or name not in hosts:
            raise BadInput(done, f"the grower {grower} on {name!r}", "Write a grower's id and the name of a host")
    return Hosts(dict(hosts), dict(placed))


def place(path: Path, host: str, growers: list[str]) -> Hosts:
    """Place growers on a host in the file, and return what it says now. What stands above the growers stays."""
    hosts = read_hosts(path)
    if host not in hosts.addresses:
        raise NotFound("placing growers", f"no host {host!r}", f"Name one of: {', '.join(hosts.addresses)}")
    changed = Hosts(hosts.addresses, {**hosts.placed, **dict.fromkeys(growers, host)})
    head = path.read_text(encoding="utf-8").partition(GROWERS_HEAD)[0].rstrip("\n")
    lines = "".join(f'{grower} = "{name}"\n' for grower, name in sorted(changed.placed.items()))
    making = path.with_name(f".{path.name}.part")
    making.write_text(f"{head}\n\n{GROWERS_HEAD}\n{lines}", encoding="utf-8")
    if read_hosts(making) != Hosts(changed.addresses, dict(sorted(changed.placed.items()))):
        making.unlink()
        raise BadInput(f"writing {path.name}", "hosts below the growers", f"Put {GROWERS_HEAD} last")
    making.replace(path)
    return changed
