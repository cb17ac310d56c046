"""What the pages of the rule book cost: ``python tests/bench/pages_rules.py [--rounds 20]``.

Prints the milliseconds and the size of each sort of page on the demo garden, the first time (which makes what all
requests share) and the median after it; then the median and the slowest over every rule. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from time import perf_counter

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import load_demo
from advisor.doors.http import create_app

NOON = datetime(2026, 4, 24, 10, tzinfo=UTC)
COOL = "/rules/a-cool-spring-holds-all-back"
PAGES = (
    "/rules", "/rules?q=mulch", "/rules?q=mluch+lyer", "/rules?question=why-late", COOL, f"{COOL}/try",
    f"{COOL}/here?plant=shed+fig", "/rules/kinds", "/rules/kinds/standing", "/rules/sources", "/rules/species/fig",
)  # fmt: skip


def measured(get: Callable[[str], int], path: str) -> tuple[float, int]:
    """Return the milliseconds of one request, and the bytes of its page."""
    begun = perf_counter()
    size = get(path)
    return (perf_counter() - begun) * 1000, size


def main() -> None:
    """Print what the pages cost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=20)
    rounds = parser.parse_args().rounds
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    with tempfile.TemporaryDirectory() as folder:
        demo = load_demo(adviser, Path(folder))
        own = replace(adviser, settings=replace(adviser.settings, garden=demo))
        client = create_app(own, lambda: NOON).test_client()

        def get(path: str) -> int:
            return len(client.get(path, headers={"Accept": "text/html"}).get_data())

        for path in PAGES:
            first, size = measured(get, path)
            later = median(measured(get, path)[0] for _ in range(rounds))
            print(f"{path:55} first {first:6.1f} ms, then {later:5.1f} ms, {size / 1000:5.1f} kB")
        for part in ("", "/try"):
            times = [measured(get, f"/rules/{rule}{part}")[0] for rule in own.base.rules]
            print(f"every rule{part:45} median {median(times):5.1f} ms, slowest {max(times):5.1f} ms")


if __name__ == "__main__":
    main()
