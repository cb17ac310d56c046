"""A stopwatch that is hung into a running adviser: every moment of a reply is of the innermost stage it is in."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from functools import wraps
from importlib import import_module
from time import process_time
from typing import Any
from unittest.mock import patch

STAGES = {
    "open and names": (
        "conversation:Adviser.open", "talk.naming:words_of", "talk.naming:speech_of", "talk.telling:yard_of",
        "talk.telling:spoken_of",
    ),
    "understand": (
        "language.said.hear:hear", "language.understand:understand", "language.said.spelling:Spelling.mended",
    ),
    "read records": (
        "records.kept_rows:KeptRows.of", "records.kept_rows:KeptRows.names", "records.reading:GardenReader.picked",
        "records.messages:message_before",
    ),
    "derive": ("conversation:Adviser.facts", "reasoning.derive:derive", "reasoning.derive.memory:Memories.of"),
    "engine": ("reasoning.engine.following:Following.run",),
    "explain": (
        "reasoning.explain:explain", "reasoning.explain:weigh_spots", "reasoning.outcomes:histories",
        "reasoning.planting:kinds_for", "reasoning.planting:trees_astray",
    ),
    "reply": (
        "language.reply:answer_reply", "language.said.replies:joined", "talk.starting:with_next_step",
        "records.messages:Sent.under",
    ),
    "keep": (
        "records.messages:keep_message", "records.messages:keep_reply", "talk.advising:keep_advice",
        "records.reading:GardenReader.__exit__",
    ),
}  # fmt: skip
AROUND = {"keep": ("records.store:Garden.as_one", "records.attempts:one_try")}
"""What is a context: its beginning and its end are of the stage, and not what is done within."""
REST = "rest"
NAMES = (*STAGES, REST)


class Stopwatch:
    """Processor seconds by stage."""

    def __init__(self) -> None:
        self.spent: Counter[str] = Counter()
        self._in = [REST]
        self._since = process_time()

    def begin(self) -> None:
        """Forget what was spent, and begin outside of all stages."""
        self.spent.clear()
        self._in[:] = [REST]
        self._since = process_time()

    def read(self) -> dict[str, float]:
        """Return the milliseconds by stage since it began."""
        self._turn()
        return {name: self.spent[name] * 1000 for name in NAMES}

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Spend what is done within on a stage."""
        self._turn()
        self._in.append(name)
        try:
            yield
        finally:
            self._turn()
            self._in.pop()

    def _turn(self) -> None:
        now = process_time()
        self.spent[self._in[-1]] += now - self._since
        self._since = now

    # ---- hung into the adviser

    @contextmanager
    def watching(self) -> Iterator[Stopwatch]:
        """Watch every stage of this process until the end of the block."""
        with ExitStack() as stack:
            for named, wrapper in ((STAGES, self._whole), (AROUND, self._ends)):
                for stage, places in named.items():
                    for place in places:
                        self._hang(place, stage, wrapper, stack)
            yield self

    @staticmethod
    def _hang(place: str, stage: str, wrapper: Callable[..., Any], stack: ExitStack) -> None:
        module_name, _, path = place.partition(":")
        module = import_module(f"advisor.{module_name}")
        owner, _, name = path.rpartition(".")
        if owner:
            of = getattr(module, owner)
            stack.enter_context(patch.object(of, name, wrapper(getattr(of, name), stage)))
            return
        function = getattr(module, name)
        watched = wrapper(function, stage)
        for other in [one for key, one in sys.modules.items() if key.startswith("advisor.")]:
            for known, value in list(vars(other).items()):
                if value is function:
                    stack.enter_context(patch.object(other, known, watched))

    def _whole(self, function: Callable[..., Any], stage: str) -> Callable[..., Any]:
        @wraps(function)
        def watched(*given: Any, **named: Any) -> Any:
            with self.stage(stage):
                return function(*given, **named)

        return watched

    def _ends(self, function: Callable[..., Any], stage: str) -> Callable[..., Any]:
        @wraps(function)
        @contextmanager
        def watched(*given: Any, **named: Any) -> Iterator[Any]:
            with ExitStack() as outside:
                with self.stage(stage):
                    inner = function(*given, **named)
                    held = inner.__enter__()
                outside.push(lambda *error: self._end(inner, stage, error))
                yield held

        return watched

    def _end(self, inner: Any, stage: str, error: tuple[Any, ...]) -> bool | None:
        with self.stage(stage):
            return inner.__exit__(*error)  # type: ignore[no-any-return]
