"""Long runs in pieces, in processes of their own: a piece that ends its process is told, and ends nothing else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import Any

Work = Callable[[int, int], Any]
"""Does the numbers from the first up to, and without, the last; to be imported by a new process."""
PIECE = 50


class Ended(str):
    """In place of a result: which number ended its process."""


def in_pieces(work: Work, first: int, last: int, jobs: int = 1, piece: int = PIECE) -> Iterator[Any]:
    """Yield the results of all pieces as they come, and an ``Ended`` for each number that ended its process."""
    left = [(start, min(start + piece, last)) for start in range(first, last, piece)]
    while left:
        done, broken = set(), False
        with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
            running = {pool.submit(work, *bounds): bounds for bounds in left}
            for future in as_completed(running):
                try:
                    result = future.result()
                except BrokenProcessPool:
                    broken = True
                    continue
                done.add(running[future])
                yield result
        left = [bounds for bounds in left if bounds not in done]
        if broken:  # any of those that ran at once may have done it: each number of these by itself
            suspects, left = left[: jobs * 2], left[jobs * 2 :]
            for start, end in suspects:
                for number in range(start, end):
                    yield _alone(work, number)


def _alone(work: Work, number: int) -> Any:
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        try:
            return pool.submit(work, number, number + 1).result()
        except BrokenProcessPool:
            return Ended(number)
