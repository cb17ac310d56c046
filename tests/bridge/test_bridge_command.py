"""The command line of the bridge, and the unit files that start it."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from bridge_parts import ANN, BEN, OWN
from click.testing import CliRunner, Result
from served import until

from advisor.doors.bridge.inbox import Spool
from advisor.doors.command_line import main

TOP = Path(__file__).resolve().parents[2]
DEPLOY = TOP / "deploy" / "text-messages"


@pytest.fixture
def toml(tmp_path: Path) -> Path:
    """Settings of a bridge whose service is away, in a folder with the modem's."""
    for name in ("inbox", "outbox", "sent", "error"):
        (tmp_path / name).mkdir()
    path = tmp_path / "bridge.toml"
    path.write_text(
        'folder = "state"\nservice = "http://127.0.0.1:9"\n[texts]\ninbox = "inbox"\noutbox = "outbox"\nsent = "sent"\n'
        f'error = "error"\nprefix = "+44"\nown_number = "{OWN}"\n'
    )
    return path


def run(toml: Path, *arguments: str, said: str = "", env: dict[str, str] | None = None) -> Result:
    name, *rest = arguments
    return CliRunner().invoke(main, ["bridge", name, "--settings", str(toml), *rest], input=said, env=env)


def test_allowed_listed_forgotten(toml: Path) -> None:
    """A number is allowed, listed by its hash and name, and forgotten by either; the number is never shown again."""
    assert "Nobody may write yet" in run(toml, "list").output
    assert run(toml, "allow", "07700 900123", "--grower", "Ann").exit_code == 0
    assert run(toml, "allow", "-", "--grower", "Ben", said=f"{BEN}\n").exit_code == 0
    listed = run(toml, "list").output
    assert [line.split(", ")[1] for line in listed.splitlines()] == ["Ann", "Ben"]
    assert "7700" not in listed
    assert "Ben" in run(toml, "forget", listed.splitlines()[1][:8]).output
    assert "Ann" in run(toml, "forget", ANN).output
    assert "Nobody may write yet" in run(toml, "list").output


def test_bound_to_a_garden(toml: Path, tmp_path: Path) -> None:
    """A sender's own service and key are kept with them; the key is told from a file and never listed."""
    (tmp_path / "key").write_text("abc123\n")
    address = "https://garden.example.org"
    done = run(toml, "allow", ANN, "--garden", address, "--key-from", str(tmp_path / "key"))
    assert done.exit_code == 0
    listed = run(toml, "list").output
    assert f"{address}, with a key" in listed
    assert "abc123" not in listed + done.output


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("allow", "60777"), "short code"),
        (("allow", ANN, "--garden", "garden.example.org"), "Give its address"),
        (("allow", ANN, "--garden", "http://garden.example.org", "--key-from", "-"), "Use https"),
        (("forget", ANN), "no such sender"),
        (("take",), "no sender"),
    ],
)
def test_refused_with_the_way_out(toml: Path, arguments: tuple[str, ...], said: str) -> None:
    """What cannot be done is said in a sentence, with what to do instead."""
    done = run(toml, *arguments, said="key\n")
    assert done.exit_code == 2
    assert said in done.stderr
    assert "Traceback" not in done.output


def test_counts(toml: Path, tmp_path: Path) -> None:
    """The counts tell what waits and what came of the rest."""
    environ = {"SMS_1_NUMBER": ANN, "SMS_MESSAGES": "1", "SMS_1_TEXT": "one", "DECODED_PARTS": "0"}
    assert run(toml, "take", "IN20260424_095803_00_x_00.txt", env=environ).exit_code == 0
    (tmp_path / "error" / f"OUTC1_1_00_{ANN}_text-1.txt").write_text("")
    said = run(toml, "counts").output
    assert said.splitlines() == [
        "last day: none", "last week: none", "last 60 days: none", "waiting: 1",
        "answers that the modem could not send: 1",
    ]  # fmt: skip


def started(toml: Path) -> subprocess.Popen[str]:
    """Start a bridge and return it once it is at work."""
    process = subprocess.Popen(
        [sys.executable, "-m", "advisor.doors.bridge_command", "run", "--settings", str(toml)],
        stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": str(TOP)},
    )  # fmt: skip
    assert process.stderr
    assert "carrying messages by text" in process.stderr.readline()
    return process


def test_one_at_a_time(toml: Path) -> None:
    """A second bridge over one folder does not start, and the first stops when it is told to."""
    first = started(toml)
    second = run(toml, "run")
    assert second.exit_code == 2
    assert "another one at work" in second.stderr
    first.send_signal(signal.SIGTERM)
    _, said = first.communicate(timeout=60)
    assert first.returncode == 0
    assert "Traceback" not in said


def test_found_without_the_hook(toml: Path, tmp_path: Path) -> None:
    """A message whose hook never ran is found in the daemon's inbox, and its words go from there."""
    path = tmp_path / "inbox" / f"IN20260424_095803_00_{ANN}_00.txt"
    path.write_bytes("\ufeffone".encode("utf-16-le"))
    os.utime(path, (time.time() - 600,) * 2)
    assert run(toml, "allow", ANN).exit_code == 0
    process = started(toml)
    until(lambda: not path.exists(), "the finding of a message")
    process.terminate()
    process.communicate(timeout=60)
    spool = Spool(tmp_path / "state" / "spool")
    assert [spool.read(one).text for one in spool.waiting()] == ["one"]  # type: ignore[union-attr]
    assert not path.exists()


def test_no_door(toml: Path) -> None:
    """A bridge without any door says so."""
    toml.write_text(toml.read_text().split("[texts]")[0])
    done = run(toml, "run")
    assert (done.exit_code, "neither [texts] nor [mail]" in done.stderr) == (2, True)


def test_the_hook_is_quick(toml: Path) -> None:
    """The daemon waits for its hook, so the hook loads neither the rules nor what makes them run."""
    loaded = "import sys, advisor.doors.bridge_command; print(*sorted(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", loaded],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(TOP)},
    )
    heavy = {"advisor.conversation", "advisor.reasoning", "scipy", "numpy", "sqlite_utils", "flask", "phonenumbers"}
    assert heavy & set(done.stdout.split()) == set()


def test_a_hook_that_fails_leaves_the_message(toml: Path, tmp_path: Path) -> None:
    """Where the hook cannot hand over it says so to the daemon, and takes nothing away."""
    path = tmp_path / "inbox" / f"IN20260424_095803_00_{ANN}_00.txt"
    path.write_bytes("\ufeffone".encode("utf-16-le"))
    environ = {**os.environ, "PYTHONPATH": str(TOP), "SMS_1_NUMBER": ANN}
    command = [DEPLOY / "hook.sh", sys.executable, tmp_path / "none.toml", path.name]
    assert subprocess.run(command, env=environ, check=False).returncode == 1
    assert path.exists()
    command[2] = toml
    assert subprocess.run(command, env=environ, check=False, close_fds=True).returncode == 0
    assert not path.exists()
    assert len(Spool(tmp_path / "state" / "spool").waiting()) == 1


def test_the_unit_files_are_sound(tmp_path: Path) -> None:
    """systemd finds nothing wrong with the units that are shipped, nor with what they change of Debian's."""
    if not shutil.which("systemd-analyze"):
        pytest.skip("no systemd-analyze on this machine: the unit files were not verified")
    unit = (DEPLOY / "advisor-bridge.service").read_text()
    unit, times = re.subn(r"/opt/advisor/.venv/bin/advisor", "/bin/true", unit)
    assert times == 1
    (tmp_path / "advisor-bridge.service").write_text(unit)
    units = ["advisor-bridge.service"]
    debian = Path("/lib/systemd/system/gammu-smsd.service")
    if debian.exists():
        shutil.copy(debian, tmp_path)
        (tmp_path / "gammu-smsd.service.d").mkdir()
        shutil.copy(DEPLOY / "gammu-smsd-override.conf", tmp_path / "gammu-smsd.service.d" / "override.conf")
        units.append("gammu-smsd.service")

    def verify() -> str:
        done = subprocess.run(
            ["systemd-analyze", "verify", *units], capture_output=True, text=True, check=False,
            env={**os.environ, "SYSTEMD_UNIT_PATH": f"{tmp_path}:"},
        )  # fmt: skip
        return done.stdout + done.stderr

    assert verify() == ""
    (tmp_path / "advisor-bridge.service").write_text(unit.replace("ProtectSystem=", "ProtectSystems="))
    assert "ProtectSystems" in verify()
