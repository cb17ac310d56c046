"""The service killed at random instants under load: nothing acknowledged lost, nothing answered or recorded twice.

CI kills it 60 times; ``KILLS=200`` in the environment kills it that often.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from senders import Sender, all_answered, hold_kept, more_answered
from served import free_port, until

from advisor.records.backing_up import sound

TOP = Path(__file__).resolve().parents[1]
KILLS = int(os.environ.get("KILLS", "60"))
SERVICE = """
import os, sys
sys.path.insert(0, sys.argv[1])
from datetime import UTC, datetime
from pathlib import Path
from waitress.server import create_server
from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.http import create_app
adviser = Adviser.load(Settings(Path(sys.argv[2]), find_rules()))
now = datetime(2026, 4, 24, 10, tzinfo=UTC)
while True:  # a new process takes over each time one is killed; the rule base is read once
    child = os.fork()
    if child == 0:
        server = create_server(create_app(adviser, lambda: now), host="127.0.0.1", port=int(sys.argv[3]), threads=4)
        adviser.answer_waiting(now)
        print(os.getpid(), flush=True)
        server.run()
    os.waitpid(child, 0)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
def test_killed_under_load(demo_copy: Path) -> None:
    """Every acknowledged answer is in the file word for word, each reading was recorded once, and the file is sound."""
    chance, port = random.Random(9), free_port()
    service = subprocess.Popen(
        [sys.executable, "-c", SERVICE, str(TOP), str(demo_copy), str(port)], stdout=subprocess.PIPE, text=True
    )
    assert service.stdout is not None
    stop = threading.Event()
    growers = [Sender(f"grower-{n}", port, stop) for n in range(3)]
    pid = int(service.stdout.readline())
    for grower in growers:
        grower.start()
    try:
        began, kills = time.monotonic(), 0
        until(lambda: more_answered(growers, [0] * 3), "first answers")
        longest_s = max(0.35, time.monotonic() - began)  # of a machine that is busy each takes as much longer
        while kills < KILLS or sum(len(grower.answered) for grower in growers) <= KILLS:
            assert kills < 10 * KILLS, "hardly anything is answered"
            time.sleep(chance.uniform(0.0, longest_s))
            os.kill(pid, signal.SIGKILL)
            pid = int(service.stdout.readline())
            kills += 1
        heard = [len(grower.answered) for grower in growers]
        until(lambda: more_answered(growers, heard), "last answers")
    finally:
        stop.set()
        for grower in growers:
            grower.join()
        service.kill()
        os.kill(pid, signal.SIGKILL)
        service.communicate()
    acknowledged = all_answered(growers)
    assert [one for grower in growers for one in grower.wrong] == []
    assert len(acknowledged) > KILLS
    sound(demo_copy)
    hold_kept(demo_copy, acknowledged)
