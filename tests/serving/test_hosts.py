"""Which host has which grower: our file, our reckoning, and nginx itself."""

from __future__ import annotations

import http.client
import threading
from collections.abc import Callable
from contextlib import closing
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from behind_nginx import running_nginx, write_files
from click.testing import CliRunner
from served import free_port
from tests_shared import NOON

from advisor.doors.access.keys import new_secret, read, tag_of, written
from advisor.doors.command_line import main
from advisor.doors.hosts import Hosts, place, read_hosts
from advisor.errors import BadInput, NotFound
from advisor.records.keys import KeyStore

IDS = [f"g{n:02d}abcdefgh" for n in range(60)]


@pytest.fixture
def named() -> Callable[[str], int]:
    """Start a server that answers every request with its name: ``named("a")`` returns the port."""

    def start(name: str) -> int:
        class Says(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                self.send_response(200)
                self.end_headers()
                self.wfile.write(name.encode())

            def log_message(self, *_: object) -> None:
                pass

        server = ThreadingHTTPServer(("127.0.0.1", 0), Says)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        servers.append(server)
        return server.server_port

    servers: list[ThreadingHTTPServer] = []
    yield start
    for server in servers:
        server.shutdown()
        server.server_close()


def get(port: int, **headers: str) -> str:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as line:
        line.request("GET", "/", headers=headers)
        return line.getresponse().read().decode()


def test_a_key_names_its_grower() -> None:
    """The first ten letters of a key are those of the grower's id, and two keys of a grower differ after them."""
    for grower in IDS:
        keys = {written(new_secret(grower)) for _ in range(20)}
        assert {tag_of(key) for key in keys} == {grower[1:]} and len(keys) == 20
        assert all(len(read(key)) == 32 for key in keys)
        assert len({key[16:21] for key in keys}) > 15


def test_nginx_and_we_agree(named: Callable[[str], int], nginx: str, tmp_path: Path) -> None:
    """nginx sends each grower to the host that we name: placed or not, by key or cookie, in capitals or without dashes."""
    hosts = Hosts({name: f"127.0.0.1:{named(name)}" for name in "abc"}, {IDS[0]: "c", IDS[1]: "a", IDS[2]: "b"})
    port = free_port()
    with running_nginx(nginx, write_files(tmp_path / "nginx", port, hosts.as_nginx()), port):
        for grower in IDS:
            key, home = written(new_secret(grower)), hosts.host_of(grower)
            plain = key.replace("-", "")
            assert get(port, Authorization=f"Bearer {key}") == home
            assert get(port, Authorization=f"bearer {plain}") == home
            assert get(port, Cookie=f"other=1; __Host-grower={grower[1:]}.secret") == home
            assert get(port, Cookie=f"grower={grower[1:]}.secret") == home
        other = {name: one for one in IDS for name in [hosts.host_of(one)]}
        both = f"grower={other['a'][1:]}.x; __Host-grower={other['b'][1:]}.x"
        assert get(port, Cookie=both) == "b"
        assert get(port, Authorization=f"Bearer {written(new_secret(other['c']))}", Cookie=both) == "c"
        assert get(port) in "abc"
        upper = written(new_secret(IDS[0])).upper()
        assert get(port, Authorization=f"Bearer {upper}") == "c"
    assert set(other) == set("abc")


def test_a_new_host_moves_only_what_goes_to_it() -> None:
    """With another host, a grower who is not placed stays where they were or goes to the new one; those placed stay."""
    two = Hosts({"a": "10.0.0.1:80", "b": "10.0.0.2:80"}, {IDS[0]: "a"})
    three = Hosts({**two.addresses, "c": "10.0.0.3:80"}, two.placed)
    went = {one: (two.host_of(one), three.host_of(one)) for one in IDS}
    assert all(after in (before, "c") for before, after in went.values())
    assert 8 < sum(after == "c" for _, after in went.values()) < 32
    assert went[IDS[0]] == ("a", "a")


def test_growers_are_placed_in_the_file(tmp_path: Path) -> None:
    """Placing writes the growers and leaves what stands above them; nginx's part has each."""
    file = tmp_path / "hosts.toml"
    file.write_text('# ours\n[hosts]\na = "10.0.0.1:8470"  # the barn\nb = "[fd00::2]:8470"\n')
    run = CliRunner().invoke
    assert run(main, ["hosts", "place", str(file), "b", IDS[3], IDS[1]]).exit_code == 0
    assert run(main, ["hosts", "place", str(file), "a", IDS[1]]).exit_code == 0
    text = file.read_text()
    assert text.startswith("# ours\n[hosts]\na = ") and "# the barn" in text
    assert read_hosts(file).placed == {IDS[1]: "a", IDS[3]: "b"}
    shown = run(main, ["hosts", "where", str(file), IDS[3], IDS[9]]).stdout.splitlines()
    assert shown[0].split() == [IDS[3], "b", "[fd00::2]:8470", "placed"] and shown[1].endswith("not placed")
    made = run(main, ["hosts", "nginx", str(file)]).stdout
    assert f"{IDS[3][1:]} advisor_on_b;" in made and "server [fd00::2]:8470 max_fails=0;" in made
    with pytest.raises(NotFound):
        place(file, "nowhere", [IDS[0]])
    assert run(main, ["hosts", "where", str(file), "g; rm"]).exit_code == 2


@pytest.mark.parametrize(
    "text",
    [
        "hosts = 3", "[hosts]\n", '[hosts]\na = "no port"', '[hosts]\na = "x:1; evil"', '[hosts]\n"a b" = "x:1"',
        '[hosts]\na = "x:1"\n[growers]\n"x" = "a"', '[hosts]\na = "x:1"\n[growers]\ng4k7m2p9xqt = "b"',
        '[hosts]\na = "x:1"\n[others]\n', "no toml",
    ],
)  # fmt: skip
def test_a_file_that_is_wrong_is_refused(tmp_path: Path, text: str) -> None:
    """What would not be sound for nginx is refused, with what is wrong."""
    file = tmp_path / "hosts.toml"
    file.write_text(text)
    with pytest.raises(BadInput):
        read_hosts(file)


def test_ids_and_cookies_fit(tmp_path: Path) -> None:
    """An id is what the maps look for, and a session's secret begins with it."""
    with KeyStore(tmp_path, create=True) as store:
        grower = store.add_grower("orchard", NOON)
        key = store.add_key(grower.id, new_secret(grower.id), "x", "", NOON)
        assert store.start_session(key, NOON).startswith(f"{grower.id[1:]}.")
