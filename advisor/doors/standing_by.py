"""A process that stands by: it holds the port, starts the one that serves, and starts another when that one dies.

Who asks meanwhile waits at the port. The two share what was read before, so that a new one serves at once.
"""

from __future__ import annotations

import errno
import logging
import os
import signal
import socket
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from types import FrameType
from typing import NoReturn

from advisor.doors.last_words import STUCK_S, Death, death_of, keep_last_words, tell
from advisor.errors import BadInput

LOG = logging.getLogger("advisor.service")
PAUSES_S = (0.0, 0.0, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0)
"""How long it waits before it starts another, the more of them died at once."""
STEADY_S = 60.0
"""A process that lived so long did not die at once."""
MOST_AT_ONCE = 12
END_S = 15.0
"""How long one that was told to end may take."""
BACKLOG = 1024


def listen(host: str, port: int) -> list[socket.socket]:
    """Return sockets that listen at a host's addresses. Raise BadInput where it cannot be."""
    done, do = "serving", "Stop what listens there, or name another --port"
    found: list[socket.socket] = []
    try:
        for family, kind, protocol, _, address in socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        ):
            one = socket.socket(family, kind, protocol)
            found.append(one)
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            if family == socket.AF_INET6:
                one.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
            one.bind(address)
            one.listen(BACKLOG)
    except OSError as error:
        for one in found:
            one.close()
        reason = "something listens there already" if error.errno == errno.EADDRINUSE else str(error)
        raise BadInput(done, f"{host}, port {port}: {reason}", do) from error
    return found


class StandBy:
    """Keeps a process serving until it is told to end."""

    def __init__(self, serve: Callable[[], None], folder: Path) -> None:
        """``serve`` is run in the process and comes back when it is to end. Of a death is told in ``folder``."""
        self.serve, self.folder = serve, folder
        self._child = 0
        self._ending = 0

    def run(self) -> int:
        """Serve until a signal says to end, and return the exit code: 0, or 1 where it is given up."""
        for one in (signal.SIGTERM, signal.SIGINT):
            signal.signal(one, self._end)
        signal.signal(signal.SIGALRM, self._end_by_force)
        with tempfile.TemporaryDirectory(prefix="advisor-words-") as words:
            at_once = 0
            while True:
                begun = time.monotonic()
                death = self._one(Path(words))
                if death is None:
                    return 0
                at_once = at_once + 1 if time.monotonic() - begun < STEADY_S else 1
                if at_once == MOST_AT_ONCE:
                    tell(death, self.folder, f"It was started {MOST_AT_ONCE} times and died at once: given up.")
                    return 1
                pause_s = PAUSES_S[min(at_once, len(PAUSES_S)) - 1]
                tell(death, self.folder, f"It is started again{f' in {pause_s:g} s' if pause_s else ''}.")
                if self._paused(pause_s):
                    return 0

    def _one(self, words: Path) -> Death | None:
        """Start one and wait for its end; return how it died, None where it was told to end."""
        ours, theirs = os.pipe()
        mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGTERM, signal.SIGINT})
        pid = os.fork()
        if pid == 0:
            os.close(theirs)
            self._be_the_one(words, ours, mask)
        self._child = pid
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        if self._ending:  # told so just before there was one to tell
            self._end(self._ending, None)
        os.close(ours)
        try:
            _, status = os.waitpid(pid, 0)
        finally:
            signal.alarm(0)
            self._child = 0
            os.close(theirs)
        code = os.waitstatus_to_exitcode(status)
        death = death_of(words, pid, signal.Signals(-code).name if code < 0 else f"itself, with code {code}")
        return None if self._ending else death

    def _be_the_one(self, words: Path, parent: int, mask: set[int]) -> NoReturn:
        """Serve, in the new process, and end it whatever happens: what stands behind the call is the parent's."""
        code = 1
        try:
            signal.signal(signal.SIGALRM, signal.SIG_DFL)
            signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal sends it to both, and the parent passes it on
            signal.signal(signal.SIGTERM, _stop)
            signal.pthread_sigmask(signal.SIG_SETMASK, mask)
            keep_last_words(words, STUCK_S)
            threading.Thread(target=_end_with, args=(parent,), name="parent", daemon=True).start()
            self.serve()
            code = 0
        except SystemExit:
            code = 0
        except BaseException:
            traceback.print_exc()
        finally:
            with suppress(OSError, ValueError):
                sys.stdout.flush()
            os._exit(code)

    def _end(self, number: int, frame: FrameType | None) -> None:
        self._ending = number
        if self._child:
            os.kill(self._child, signal.SIGTERM)
            signal.alarm(int(END_S))

    def _end_by_force(self, number: int, frame: FrameType | None) -> None:
        if self._child:
            os.kill(self._child, signal.SIGKILL)

    def _paused(self, pause_s: float) -> bool:
        """Wait, and return whether it was told to end meanwhile."""
        end = time.monotonic() + pause_s
        while not self._ending and time.monotonic() < end:
            time.sleep(0.1)
        return bool(self._ending)


def _stop(number: int, frame: FrameType | None) -> None:
    raise SystemExit(0)


def _end_with(parent: int) -> None:
    """End this process when its parent is gone, however it went: its end of the pipe goes with it."""
    os.read(parent, 1)
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(END_S)
    os._exit(1)
