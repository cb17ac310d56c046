"""What an operator sees: a log line a request, without the grower's words, and counts in the open text format."""

from __future__ import annotations

import json
import logging
import os
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from time import perf_counter
from typing import Any

from flask import Flask, Response, g, request
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest, multiprocess

from advisor.doors.access.request import this_machine_only

LOG = logging.getLogger("advisor.requests")
SECONDS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0)
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
        return cls(
            registry,
            Counter("advisor_requests", "Requests answered.", ("route", "method", "status"), registry=registry),
            Histogram("advisor_request_seconds", "Time to an answer.", ("route",), buckets=SECONDS, registry=registry),
            Counter("advisor_messages", "Messages answered, by outcome.", ("outcome", "question"), registry=registry),
        )


def watch(app: Flask, *, words: bool = False) -> None:
    """Log and count what an application answers, and serve the counts under ``/metrics``.

    A line names the route and never the address, since names of plants stand in addresses. ``words`` also logs what a
    grower wrote.
    """
    counts = Counts.new()

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
        registry = counts.registry
        if "PROMETHEUS_MULTIPROC_DIR" in os.environ:  # several processes serve: each writes its counts there
            registry = CollectorRegistry()
            multiprocess.MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        return Response(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)
