"""A message is thought about by one at a time, and whoever comes next knows how often that ended the process.

A file beside the garden is locked while somebody thinks about a message. The lock goes with the process that holds it
and the file stays, so that a file without a lock tells of a process that died: a line for each such try, and one for
the engine that it was running, if any. The file goes when the message is answered.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from time import monotonic, sleep

from advisor.errors import GardenUnavailable

try:
    import fcntl
except ImportError:  # a system without such locks: each thinks, and the second to answer is thrown away
    fcntl = None  # type: ignore[assignment]

MARK = "-try-"
BEGUN = b"-\n"
LOOK_AGAIN_S = 0.05


class BeingThought(GardenUnavailable):
    slug = "being-thought-about"
    title = "The message is being thought about"

    def __init__(self) -> None:
        super().__init__(
            "answering the message", "it is being thought about already", "Ask for its answer again in a moment"
        )


class Try:
    """One try at answering a message. Told of the engines that are run for it, one at a time.

    ``deaths``: how many tries before it ended the process. ``died_in``: the makers whose engines were running then.
    """

    def __init__(self, handle: int | None = None) -> None:
        self._handle = handle
        left = os.pread(handle, 1 << 16, 0) if handle is not None else b""
        self._before = left.rfind(b"\n") + 1
        words = [line.split() for line in left[: self._before].decode(errors="replace").split("\n")]
        self.deaths = sum(1 for one in words if len(one) == 1)
        self.died_in = tuple(one[0] for one in words if len(one) == 2)
        if len(left) > self._before:  # half a line, of a machine that fell over
            self._cut(self._before)
        self._write(self._before, BEGUN)

    def begins(self, maker: str, question: str) -> None:
        self._write(self._before + len(BEGUN), f"{maker} {question}\n".encode())

    def ends(self, maker: str, question: str, *, failed: bool) -> None:
        self._cut(self._before + len(BEGUN))

    def take_back(self) -> bool:
        """Forget this try, which did not end the process; return whether nothing is left to be known."""
        self._cut(self._before)
        return self._before == 0

    def _write(self, at: int, text: bytes) -> None:
        if self._handle is not None:
            with suppress(OSError):  # a full disk: less is known then, and the message is answered all the same
                os.pwrite(self._handle, text, at)

    def _cut(self, at: int) -> None:
        if self._handle is not None:
            with suppress(OSError):
                os.ftruncate(self._handle, at)


@contextmanager
def one_try(garden: Path, message_id: str, wait_s: float) -> Iterator[Try]:
    """Hold a message of a garden for one try at answering it. A good end means that it is answered.

    Raises BeingThought where somebody else has held it for ``wait_s``, GardenUnavailable where no file can be made.
    """
    if fcntl is None:
        yield Try()
        return
    digest = hashlib.sha256(message_id.encode()).hexdigest()[:16]
    path = garden.with_name(f"{garden.name}{MARK}{digest}")
    handle = _held(path, wait_s)
    try:
        this = Try(handle)
        try:
            yield this
        except BaseException:
            if this.take_back():
                path.unlink(missing_ok=True)
            raise
        path.unlink(missing_ok=True)
    finally:
        os.close(handle)


def forget_old_tries(folder: Path, before: float) -> None:
    """Remove from a folder of gardens what tells of tries that were begun before a time and never came to an answer.

    Most are of messages that were answered in the moment in which the process died. [s since 1970]
    """
    for path in folder.glob(f"*{MARK}*"):
        with suppress(FileNotFoundError):
            if path.stat().st_mtime < before:
                path.unlink()


def _held(path: Path, wait_s: float) -> int:
    """Return the message's file, open and locked."""
    end = monotonic() + wait_s
    while True:
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            do = "Make room, or let this program write there; then send it again"
            raise GardenUnavailable(
                "keeping the message", f"no file can be made beside the garden: {error}", do
            ) from error
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            if _is_at(handle, path):  # else it was answered, and the file taken away, while this one waited
                return handle
        except BlockingIOError:
            if monotonic() >= end:
                os.close(handle)
                raise BeingThought from None
            sleep(LOOK_AGAIN_S)
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _is_at(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False
