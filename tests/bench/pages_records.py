"""What the pages of the records cost: ``python tests/bench/pages_records.py [--times 8] [--years 10] [--rounds 15]``.

Prints the median time of each page for a garden of the demo so many times over with so many years of weather, beside the
same page for the demo's own, and how many weather rows a page of fifty reads of the table. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import tempfile
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path
from time import perf_counter

from costs.copied import enlarged
from costs.timing import repeated, wall_of

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.doors.demo import demo_folder
from advisor.doors.http import create_app
from advisor.records.importing import import_path
from advisor.records.store import NewRow, Said

NOW = datetime(2026, 4, 24, 10, tzinfo=UTC)
PAGES = (
    "/records", "/records?q=fig+buds", "/records?q=zeppelin", "/records/weather_day", "/records/weather_day?older=2020-01-01~900",
    "/records/weather_hour", "/records/weather_hour?from=2020-01-01&to=2020-02-01", "/records/stage?plant=no+1+shed+fig",
    "/records/plant", "/records/stage/1", "/records/stage/1/right", "/records/spot/1", "/records/told/1", "/records/new/stage",
)  # fmt: skip


def garden(adviser: Adviser, folder: Path, times: int, years: int) -> Path:
    """Make a garden of the demo so many times over, with so many years of hours at its station."""
    path, files = folder / f"{times}.db", folder / f"files{times}"
    files.mkdir()
    with adviser.open(path, create=True) as opened:
        import_path(opened, enlarged(demo_folder(), files, times) if times > 1 else demo_folder(), adviser.lore, NOW)
        start = datetime(2026, 4, 23, tzinfo=UTC) - timedelta(days=365 * years)
        hours = [
            NewRow("weather_hour", {"at": start + timedelta(hours=n), "temp_c": n % 30 / 2, "source": "invented"})
            for n in range(24 * 365 * years)
        ]
        stages = [
            NewRow("stage", {**fact.values, "on": day - timedelta(days=365 * back)})
            for back in range(1, max(years // 3, 1))
            for fact in opened.of("stage")
            if isinstance(day := fact.values["on"], date)
        ]
        opened.add([(Said("file", "hours.csv", NOW), hours), (Said("file", "older.csv", NOW), stages)])
        counts = {kind: len(opened.of(kind)) for kind in ("plant", "stage", "weather_day", "weather_hour")}
    print(f"{times} times the demo: {counts}")
    return path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--times", type=int, default=8)
    parser.add_argument("--years", type=int, default=10)
    parser.add_argument("--rounds", type=int, default=15)
    chosen = parser.parse_args()
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    with tempfile.TemporaryDirectory() as folder:
        clients = []
        for times, years in ((1, 1), (chosen.times, chosen.years)):
            path = garden(adviser, Path(folder), times, years)
            own = replace(adviser, settings=replace(adviser.settings, garden=path))
            client = create_app(own, lambda: NOW).test_client()
            client.environ_base["HTTP_ACCEPT"] = "text/html"
            clients.append(client)
        for page in PAGES:
            small, large = (wall_of(repeated(partial(client.get, page), chosen.rounds)) for client in clients)
            print(f"{page:55} {small:6.1f} ms  {large:6.1f} ms  {large / small:5.1f} times")
        start = perf_counter()
        size = len(clients[1].get("/records/download").data)
        print(f"/records/download, {size / 1e6:.1f} MB: {perf_counter() - start:.1f} s")


if __name__ == "__main__":
    main()
