"""What an operator sees: a log line a request, without the grower's words, and counts in the open text format."""

from __future__ import annotations

import json
import logging
import os
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter
from typing import Any

from flask import Flask, Response, g, request
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest, multiprocess
from prometheus_client.mmap_dict import MmapedDict

from advisor.doors.access.request import this_machine_only
from advisor.errors import GardenUnavailable
from advisor.reasoning.engine.standing_in import WATCHERS

LOG = logging.getLogger("advisor.requests")
SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
WORKERS_COUNTS = "PROMETHEUS_MULTIPROC_DIR"
"""The library's own variable: the folder where each of several processes writes its counts."""
TRIES = 5
FAILURES = Counter(
    "advisor_engine_failures", "Runs of rule engines that gave no answer.", ("maker", "question", "how"), registry=None
)
RESTARTS = Counter("advisor_restarts", "Processes that served and died, by what ended them.", ("why",), registry=None)
"""Counted for the whole process, since engines are of no one application; what a parent counted its children show."""
QUIET = ("static", "metrics", "health", "ready")
"""Routes that are counted and not logged: machines ask for them all day."""


class Line(logging.Formatter):
    """A log record as one JSON object a line."""

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        told: dict[str, Any] = {"at": at, "level": record.levelname.lower(), "from": record.name}
        told |= getattr(record, "told", None) or {"says": record.getMessage()}
        if record.exc_info:
            told["trace"] = self.formatException(record.exc_info)
        return json.dumps(told, ensure_ascii=False)


def log_to_stderr() -> None:
    """Send the program's log to the standard error, a JSON object a line."""
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(Line())
    ours = logging.getLogger("advisor")
    ours.handlers[:] = [handler]
    ours.setLevel(logging.INFO)
    ours.propagate = False


@dataclass(frozen=True)
class Counts:
    """What is counted, apart for each application."""

    registry: CollectorRegistry
    requests: Counter
    seconds: Histogram
    outcomes: Counter

    @classmethod
    def new(cls) -> Counts:
        registry = CollectorRegistry()
        registry.register(FAILURES)
        registry.register(RESTARTS)
        return cls(
            registry,
            Counter("advisor_requests", "Requests answered.", ("route", "method", "status"), registry=registry),
            Histogram("advisor_request_seconds", "Time to an answer.", ("route",), buckets=SECONDS, registry=registry),
            Counter("advisor_messages", "Messages answered, by outcome.", ("outcome", "question"), registry=registry),
        )


class _Failing:
    """Counts the runs of engines that failed."""

    def begins(self, maker: str, question: str) -> None:
        pass

    def ends(self, maker: str, question: str, *, failed: bool) -> None:
        if failed:
            FAILURES.labels(maker, question, "refused").inc()


_FAILING = _Failing()


def watch(app: Flask, *, words: bool = False) -> None:
    """Log and count what an application answers, and serve the counts under ``/metrics``.

    A line names the route and never the address, since names of plants stand in addresses. ``words`` also logs what a
    grower wrote.
    """
    counts = Counts.new()
    if _FAILING not in WATCHERS:
        WATCHERS.append(_FAILING)

    @app.before_request
    def begin() -> None:
        g.begun = perf_counter()

    @app.after_request
    def end(response: Response) -> Response:
        route = str(request.url_rule) if request.url_rule else "none"
        seconds = perf_counter() - g.get("begun", perf_counter())
        counts.requests.labels(route, request.method, response.status_code).inc()
        counts.seconds.labels(route).observe(seconds)
        reply = g.get("reply")
        if reply is not None:
            counts.outcomes.labels(reply["outcome"], reply.get("question", {}).get("kind", "")).inc()
        if request.endpoint not in QUIET:
            told = {"route": route, "method": request.method, "status": response.status_code}
            told |= {"ms": round(seconds * 1000, 1), "bytes": response.content_length}
            if reply is not None:
                told |= {"message": reply["id"], "outcome": reply["outcome"]}
                told |= {"question": reply.get("question", {}).get("kind", "")}
                told |= {"words": g.get("words", "")} if words else {}
            LOG.info("answered", extra={"told": told})
        return response

    @app.get("/metrics")
    @this_machine_only
    def metrics() -> Response:
        text = _of_all_workers() if WORKERS_COUNTS in os.environ else generate_latest(counts.registry)
        return Response(text, content_type=CONTENT_TYPE_LATEST)


def _of_all_workers() -> bytes:
    """Return the counts of all processes that serve: each writes its own to files in one folder."""
    for _ in range(TRIES):
        registry = CollectorRegistry()
        multiprocess.MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        with suppress(FileNotFoundError):  # a worker ended meanwhile, and its files were folded
            return generate_latest(registry)
    raise GardenUnavailable("counting", "workers are being replaced", "Ask again")


def fold_counts(pid: int) -> None:
    """Add what a worker that has ended counted to one file for all such, so that files do not pile up.

    Called by the process above the workers. A reader of that moment misses the worker's counts once.
    """
    folder = Path(os.environ[WORKERS_COUNTS])
    for path in folder.glob(f"*_{pid}.db"):
        values = list(MmapedDict.read_all_values_from_file(path))  # type: ignore[no-untyped-call]
        ended = MmapedDict(str(folder / f"{path.name.partition('_')[0]}_ended.db"))  # type: ignore[no-untyped-call]
        path.unlink()
        for key, value, at, _ in values:
            ended.write_value(key, ended.read_value(key)[0] + value, at)  # type: ignore[no-untyped-call]
        ended.close()  # type: ignore[no-untyped-call]
