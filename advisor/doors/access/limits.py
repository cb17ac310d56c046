"""How much of the service one grower or one address may use at a time, so that the others are served too.

Kept in memory and of bounded size; a restart begins afresh. The figures are house judgement: a page with its pictures
takes a dozen requests, a person asks a question every few seconds at most, and one answer may take a second.
"""

from __future__ import annotations

import ipaddress
from collections import Counter, OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Condition, Lock
from time import monotonic
from typing import Any, TypeVar

from advisor.doors.access.refusals import TooMany

MOST_KEPT = 10_000
KB, MB = 1024, 1024 * 1024
LONGEST_BODY = 64 * KB
"""Of any request whose view does not say otherwise with ``body_up_to``. [bytes]"""
LONGEST_UPLOAD = 32 * MB
"""Of any request at all. [bytes]"""
View = TypeVar("View", bound=Callable[..., Any])


def body_up_to(most_bytes: int) -> Callable[[View], View]:
    """Mark a view as one that takes bodies up to a size, larger or smaller than the usual one."""

    def mark(view: View) -> View:
        view.longest_body = most_bytes  # type: ignore[attr-defined]  # a mark on the function itself
        return view

    return mark


@dataclass(frozen=True, slots=True)
class Rate:
    """So many requests at once, and so many a second in the long run."""

    at_once: float
    per_s: float


class Buckets:
    """A token bucket for each name; the longest unused is given up where there are too many. Safe for threads."""

    def __init__(self, rate: Rate, most: int = MOST_KEPT, time: Callable[[], float] = monotonic) -> None:
        self.rate, self.most, self.time = rate, most, time
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = Lock()

    def take(self, name: str, cost: float = 1.0) -> float:
        """Take a token and return 0.0, or return after how many seconds there will be one. [s]"""
        return self._take(name, cost, even_if_short=False)

    def charge(self, name: str, cost: float) -> None:
        """Take tokens that are owed already, down to as many below none as the bucket holds."""
        self._take(name, cost, even_if_short=True)

    def wait_s(self, name: str) -> float:
        """Return after how many seconds a token can be taken; takes none. [s]"""
        return self._take(name, 0.0, even_if_short=False, needed=1.0)

    def __len__(self) -> int:
        return len(self._left)

    def _take(self, name: str, cost: float, *, even_if_short: bool, needed: float | None = None) -> float:
        now = self.time()
        with self._lock:
            left, since = self._left.get(name, (self.rate.at_once, now))
            left = min(self.rate.at_once, left + (now - since) * self.rate.per_s)
            short = (cost if needed is None else needed) - left
            if short <= 0 or even_if_short:
                left = max(left - cost, -self.rate.at_once)
            self._left[name] = (left, now)
            self._left.move_to_end(name)
            while len(self._left) > self.most:
                self._left.popitem(last=False)
        return 0.0 if short <= 0 or even_if_short else short / self.rate.per_s


class Turns:
    """Lets a few requests of one grower run at a time; more wait for their turn, and beyond that they are refused."""

    def __init__(self, running: int, inside: int, longest_wait_s: float) -> None:
        self.running, self.inside, self.longest_wait_s = running, inside, longest_wait_s
        self._running: Counter[str] = Counter()
        self._inside: Counter[str] = Counter()
        self._free = Condition()

    def enter(self, name: str) -> bool:
        """Wait for a turn and return True, or return False where too many wait or the wait was too long."""
        with self._free:
            if self._inside[name] >= self.inside:
                return False
            self._inside[name] += 1
            if not self._free.wait_for(lambda: self._running[name] < self.running, self.longest_wait_s):
                self._less(self._inside, name)
                return False
            self._running[name] += 1
            return True

    def leave(self, name: str) -> None:
        with self._free:
            self._less(self._running, name)
            self._less(self._inside, name)
            self._free.notify_all()

    @staticmethod
    def _less(count: Counter[str], name: str) -> None:
        count[name] -= 1
        if count[name] <= 0:
            del count[name]


class Limits:
    """What one key, one address and one grower may use. ``slow_s`` is from when an answer counts as slow. [s]"""

    def __init__(
        self,
        per_key: Rate = Rate(120, 4),
        per_address: Rate = Rate(240, 10),
        wrong_keys: Rate = Rate(10, 1 / 30),
        running: int = 3,
        inside: int = 24,
        longest_wait_s: float = 20.0,
        slow_s: float = 10.0,
        time: Callable[[], float] = monotonic,
    ) -> None:
        self.keys, self.addresses = Buckets(per_key, time=time), Buckets(per_address, time=time)
        self.wrong_keys = Buckets(wrong_keys, time=time)
        self.turns = Turns(running, inside, longest_wait_s)
        self.slow_s, self.slow = slow_s, 0

    def of_address(self, address: str | None) -> None:
        """Raise TooMany where an address has sent too much."""
        if wait_s := self.addresses.take(neighbourhood(address)):
            raise TooMany("counting requests", "more from one address than the others leave room for", wait_s)

    def of_key(self, key: int) -> None:
        """Raise TooMany where a key has sent too much."""
        if wait_s := self.keys.take(str(key)):
            raise TooMany("counting requests", "more with one key than the others leave room for", wait_s)

    def of_wrong_keys(self, address: str | None) -> None:
        """Raise TooMany where an address has sent too many keys that are none."""
        if wait_s := self.wrong_keys.wait_s(neighbourhood(address)):
            raise TooMany("reading a key", "too many keys from one address that are not known here", wait_s)

    def wrong_key(self, address: str | None) -> None:
        self.wrong_keys.charge(neighbourhood(address), 1.0)

    def enter(self, grower: str) -> None:
        """Wait for a grower's turn. Raise TooMany where there are too many requests of that grower already."""
        if not self.turns.enter(grower):
            raise TooMany("waiting for a turn", f"{self.turns.running} requests of yours are being answered", 2.0)

    def took(self, key: int, seconds: float) -> bool:
        """Count an answer that took long, and let its key pay for the time; return whether it was slow."""
        if seconds < self.slow_s:
            return False
        self.slow += 1
        self.keys.charge(str(key), seconds * self.keys.rate.per_s)
        return True


def neighbourhood(address: str | None) -> str:
    """Return what counts as one address: of IPv6 the network of one household, since it has addresses without end.

    >>> neighbourhood("192.0.2.7"), neighbourhood("2001:db8:1:2:3:4:5:6"), neighbourhood("::ffff:192.0.2.7")
    ('192.0.2.7', '2001:db8:1:2::/64', '192.0.2.7')
    """
    try:
        found = ipaddress.ip_address((address or "").partition("%")[0])
    except ValueError:
        return address or "unknown"
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, 64), strict=False))
    return str(found)
