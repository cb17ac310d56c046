"""Makers that stand in for each other: where one's engine fails at a question, the next maker's answers it."""

from __future__ import annotations

import logging
import threading
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path
from traceback import extract_tb
from typing import Protocol

from advisor.errors import AdvisorError, EngineFailed, TooManyFacts
from advisor.fact_base import FactBase, Proof
from advisor.facts import Fact
from advisor.reasoning.engine.makers import Engine, make_engine, makers_here
from advisor.reasoning.rulebase import RuleBase

LOG = logging.getLogger("advisor.engine")


class Watcher(Protocol):
    """Told of each run of an engine, in the thread that runs it. A run that ends the process never ends here."""

    def begins(self, maker: str, question: str) -> None: ...

    def ends(self, maker: str, question: str, *, failed: bool) -> None: ...


WATCHERS: list[Watcher] = []
"""Told of every run in this process."""
PASSED_OVER: set[str] = set()
"""Makers whose engines ended the process so often that they are not run any more, as long as another is there."""
_died: ContextVar[Collection[str]] = ContextVar("died", default=())
_watcher: ContextVar[Watcher | None] = ContextVar("watcher", default=None)


@contextmanager
def trying(died: Collection[str], watcher: Watcher) -> Iterator[None]:
    """Think about one message, watched, and not with the makers whose engines ended the process over it before."""
    before = _died.set(died), _watcher.set(watcher)
    try:
        yield
    finally:
        _died.reset(before[0])
        _watcher.reset(before[1])


class StandIns:
    """The engines of one kind of question: the chosen maker's, and those that stand in for it, each made once.

    Safe to share between threads. The first is made at once, the others when they are needed.
    """

    def __init__(self, base: RuleBase, question: str, maker: str = "") -> None:
        """Make the first engine. Raise BadInput for a maker that is not there, BadRules for rules it cannot run."""
        self.base, self.question = base, question
        here = makers_here()
        self.makers = here[here.index(maker) :] if maker in here else here
        self._lock = threading.Lock()
        self._made: dict[str, Engine] = {}
        try:
            self._engine(maker or here[0])
        except EngineFailed as error:
            self._tell(self.makers[0], error)

    def run(self, facts: Iterable[Fact]) -> Proof:
        """Return everything that follows from the facts, by the first maker whose engine gives an answer.

        Raise TooManyFacts, which the next maker would only come to later, and what the last one raises.
        """
        given = FactBase(facts)
        *first, last = self._order()
        for maker in first:
            try:
                return self._run(maker, given)
            except TooManyFacts:
                raise
            except Exception as error:  # whatever it is: the next one may know better, and the last one's is raised
                self._tell(maker, error)
        return self._run(last, given)

    def _order(self) -> list[str]:
        left_out = {*_died.get(), *PASSED_OVER}
        return [maker for maker in self.makers if maker not in left_out] or [self.makers[-1]]

    def _run(self, maker: str, facts: FactBase) -> Proof:
        own = _watcher.get()
        watchers = [*WATCHERS, own] if own is not None else list(WATCHERS)
        for one in watchers:
            one.begins(maker, self.question)
        failed = True
        try:
            proof = self._engine(maker).run(facts)
            failed = False
            return proof
        except TooManyFacts:
            failed = False
            raise
        finally:
            for one in watchers:
                one.ends(maker, self.question, failed=failed)

    def _engine(self, maker: str) -> Engine:
        with self._lock:
            if maker not in self._made:
                self._made[maker] = make_engine(self.base, maker)
            return self._made[maker]

    def _tell(self, maker: str, error: Exception) -> None:
        """Log what failed: maker, question and what was found, with no word of a grower's."""
        if isinstance(error, AdvisorError):
            found = error.found
        else:  # its text may hold values of facts
            at = extract_tb(error.__traceback__)[-1]
            found = f"{type(error).__name__} in {Path(at.filename).name}, line {at.lineno}"
        LOG.warning("the engine of %s failed at %s, the next maker's is asked: %s", maker, self.question, found)
