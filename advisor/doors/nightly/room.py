"""A process of its own in which briefings are made, so that one that hangs or dies takes nothing else with it.

``python -m advisor.doors.nightly.room`` reads a JSON object a line (garden, now) and answers each with one (failed).
"""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import threading
from datetime import datetime
from pathlib import Path
from typing import Self

from advisor.config import Settings

LOAD_S = 120.0
"""How long the rule base may take to be read, on a machine that has other work. [s]"""


class Room:
    """The process, started when needed, and again after it was ended. Use as a context manager; one to a thread."""

    def __init__(self, command: tuple[str, ...] = ("-m", "advisor.doors.nightly.room")) -> None:
        self.command = command
        self._process: subprocess.Popen[str] | None = None
        self._said: queue.Queue[str] = queue.Queue()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._end()

    def brief(self, garden: Path, now: datetime, limit_s: float) -> str:
        """Have a garden's briefing made and kept; return "" or why it was not."""
        if self._process is None and not self._start():
            return "the process for briefings did not start"
        assert self._process is not None and self._process.stdin is not None
        try:
            self._process.stdin.write(json.dumps({"garden": str(garden), "now": now.isoformat()}) + "\n")
            self._process.stdin.flush()
            said = self._said.get(timeout=limit_s)
        except queue.Empty:
            self._end()
            return f"it took longer than {limit_s:g} s"
        except OSError:
            said = ""
        if not said:
            self._end()
            return "the process died of it"
        return str(json.loads(said)["failed"])

    def _start(self) -> bool:
        said: queue.Queue[str] = queue.Queue()
        self._said = said
        command = [sys.executable, *self.command]
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8")
        self._process = process

        def listen() -> None:
            assert process.stdout is not None
            for line in process.stdout:
                said.put(line)
            said.put("")

        threading.Thread(target=listen, daemon=True).start()
        try:
            if said.get(timeout=LOAD_S):
                return True
        except queue.Empty:
            pass
        self._end()
        return False

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            for stream in (process.stdin, process.stdout):
                if stream is not None:
                    stream.close()


def main() -> None:
    """Answer each line until there are no more; what goes wrong with one garden is said and is no end."""
    from advisor.conversation import Adviser
    from advisor.doors.nightly.briefing import brief, keep_briefing

    answers = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what anything else prints is no answer
    adviser = Adviser.load(Settings.from_environment())
    print("{}", file=answers, flush=True)
    for line in sys.stdin:
        asked = json.loads(line)
        garden, failed = Path(asked["garden"]), ""
        try:
            keep_briefing(garden, brief(adviser, garden, datetime.fromisoformat(asked["now"])))
        except Exception as error:  # whatever it is, the next grower is briefed
            failed = f"{type(error).__name__}: {error}"
        print(json.dumps({"failed": failed}), file=answers, flush=True)


if __name__ == "__main__":
    main()
