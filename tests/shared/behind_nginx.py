"""nginx in front of servers on this machine, with the files of deploy/service as they are but for paths and ports."""

from __future__ import annotations

import socket
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from served import TOP, children, process, until

SERVICE = TOP / "deploy" / "service"
WHOLE = """daemon off;
worker_processes 1;
pid {folder}/nginx.pid;
error_log {folder}/nginx-error.log;
events {{ worker_connections 512; }}
http {{
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/advisor.conf;
}}
"""


def write_files(folder: Path, port: int, hosts: str) -> Path:
    """Write nginx's files into a folder: our site on a port, and where the hosts are. Return the main one."""
    folder.mkdir(parents=True, exist_ok=True)
    site = (SERVICE / "nginx.conf").read_text(encoding="utf-8")
    changes = {
        "/etc/nginx/advisor-hosts.conf": f"{folder}/advisor-hosts.conf",
        "/var/log/nginx/advisor.log": f"{folder}/advisor.log",
        "listen 127.0.0.1:8080;": f"listen 127.0.0.1:{port};",
    }
    for old, new in changes.items():
        assert old in site
        site = site.replace(old, new)
    (folder / "advisor.conf").write_text(site, encoding="utf-8")
    (folder / "advisor-hosts.conf").write_text(hosts, encoding="utf-8")
    main = folder / "nginx.conf"
    main.write_text(WHOLE.format(folder=folder), encoding="utf-8")
    return main


def check(nginx: str, main: Path) -> str:
    """Return what nginx finds wrong with its files, "" where it finds nothing."""
    done = subprocess.run([nginx, "-t", "-q", "-c", str(main)], capture_output=True, text=True, timeout=60)
    return done.stderr if done.returncode or "warn" in done.stderr else ""


def _answers(port: int) -> bool:
    with closing(socket.socket()) as line:
        return line.connect_ex(("127.0.0.1", port)) == 0


@contextmanager
def running_nginx(nginx: str, main: Path, port: int) -> Iterator[None]:
    assert check(nginx, main) == ""
    with process([nginx, "-c", str(main)], {}, main.parent / "log") as started:
        until(lambda: _answers(port) or started.poll() is not None, "nginx")
        yield


def reload_hosts(nginx: str, main: Path, hosts: str) -> None:
    """Give nginx other hosts and wait until they count."""
    (main.parent / "advisor-hosts.conf").write_text(hosts, encoding="utf-8")
    assert check(nginx, main) == ""
    master = int((main.parent / "nginx.pid").read_text())
    before = set(children(master))
    subprocess.run([nginx, "-c", str(main), "-s", "reload"], check=True, timeout=60)
    until(lambda: (now := children(master)) and not before & set(now), "nginx with its new hosts")
