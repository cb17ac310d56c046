"""The files an operator installs: systemd, nginx and the container's, read by their own programs where these are here."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from behind_nginx import SERVICE, check, write_files
from served import TOP, free_port

UNITS = ("advisor.service", "advisor-backup.service", "advisor-backup.timer")
INSTRUCTIONS = {
    "FROM", "RUN", "WORKDIR", "COPY", "ENV", "USER", "VOLUME", "EXPOSE", "STOPSIGNAL", "HEALTHCHECK", "CMD",
}  # fmt: skip


def test_systemd_finds_nothing_wrong(tmp_path: Path) -> None:
    """systemd reads the units without a word, the programs they start put in place."""
    verify = shutil.which("systemd-analyze")
    if verify is None:
        pytest.skip("systemd is not installed")
    for name in UNITS:
        text = (SERVICE / name).read_text(encoding="utf-8")
        text = re.sub(r"/opt/advisor/\.venv/bin/\w+", sys.executable, text)
        (tmp_path / name).write_text(text, encoding="utf-8")
    done = subprocess.run(
        [verify, "verify", "--man=no", *(str(tmp_path / name) for name in UNITS)],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, "SYSTEMD_UNIT_PATH": f"{tmp_path}:"},
    )
    ours = [line for line in done.stderr.splitlines() if "advisor" in line]
    assert (done.returncode, ours) == (0, [])


def test_what_units_name_is_there() -> None:
    """The files that units name are in this folder, and the folders of both services agree with their settings."""
    service, backup = ((SERVICE / name).read_text(encoding="utf-8") for name in UNITS[:2])
    for path in re.findall(r"/opt/advisor/(deploy/\S+)", service + backup):
        assert (TOP / path).exists()
    settings = (SERVICE / "service.env").read_text(encoding="utf-8")
    assert "ADVISOR_GROWERS=/var/lib/advisor/" in settings and "StateDirectory=advisor\n" in service
    assert "StateDirectory=advisor\n" in backup and "--all" in backup
    socket = re.findall(r"unix:(\S+)", service)
    assert socket == re.findall(r"server unix:(\S+) ", (SERVICE / "advisor-hosts.conf").read_text(encoding="utf-8"))


def test_nginx_finds_nothing_wrong(nginx: str, tmp_path: Path) -> None:
    """nginx reads the site for one machine without a word, and with the lines for https taken in."""
    hosts = (SERVICE / "advisor-hosts.conf").read_text(encoding="utf-8")
    main = write_files(tmp_path / "one", free_port(), hosts)
    assert check(nginx, main) == ""
    openssl = shutil.which("openssl")
    if openssl is None:
        return
    key, certificate = tmp_path / "key.pem", tmp_path / "certificate.pem"
    make = [openssl, "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=garden.example.org", "-days", "2"]
    subprocess.run([*make, "-keyout", str(key), "-out", str(certificate)], check=True, capture_output=True, timeout=60)
    site = main.with_name("advisor.conf")
    text = re.sub(r"(?m)^(\s*)#   (?=[a-z}]|  )", r"\1", site.read_text(encoding="utf-8"))
    text = re.sub(r"/etc/letsencrypt/\S+fullchain\.pem", str(certificate), text)
    text = re.sub(r"/etc/letsencrypt/\S+privkey\.pem", str(key), text)
    text = re.sub(r"listen \[::\]:\d+( ssl http2)?;\n", "\n", text)
    text = text.replace("listen 443", f"listen 127.0.0.1:{free_port()}").replace("listen 80;", f"listen {free_port()};")
    assert "ssl_certificate_key" in text and "return 301" in text
    site.write_text(text, encoding="utf-8")
    assert check(nginx, main) == ""


def test_the_container_is_made_of_what_is_there() -> None:
    """Each instruction of the container's file is one, what it copies is there, and it does not run as root."""
    text = (SERVICE / "Containerfile").read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line.split() for line in text.splitlines() if line and not line.startswith("#")]
    assert {line[0] for line in lines} <= INSTRUCTIONS
    for _, *words in (line for line in lines if line[0] == "COPY" and not line[1].startswith("--from")):
        assert all((TOP / source).exists() for source in words[:-1])
    last = [line[0] for line in lines[max(n for n, line in enumerate(lines) if line[0] == "FROM") :]]
    assert last.index("USER") < last.index("CMD") and "HEALTHCHECK" in last and "VOLUME" in last
    assert "NOT BUILT" in text
    for source in ("rules", "fixtures/demo"):  # what the package is made of
        assert ["COPY", source, f"./{source}"] in lines
