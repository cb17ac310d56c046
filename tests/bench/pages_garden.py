"""What the garden's pages cost: ``python tests/bench/pages_garden.py [--plants 30 300 3000] [--rounds 9]``.

Prints milliseconds (median) and bytes of each page of an invented garden with ten years of records, the time of the
state and of the contradictions behind it, and of a stage told by one tap. Nothing passes or fails.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from datetime import date
from pathlib import Path
from statistics import median
from time import perf_counter

sys.path.append(str(Path(__file__).resolve().parents[1] / "shared"))

from big_garden import DAY, NOW, fill, name_of
from garden_pages import client_for, to

from advisor.config import Settings, find_rules
from advisor.conversation import Adviser
from advisor.reasoning.layout import Lie, _laid_out, lay_out
from advisor.reasoning.state import contradictions_on, garden_now


def pages(adviser: Adviser, path: Path, plants: int, rounds: int) -> None:
    """Print what each page of one garden costs."""
    client = client_for(adviser, path, NOW)
    addresses = ("/garden", "/garden?state=asleep&page=2", "/garden/plan", to("spot", "bed 1"), to("plant", name_of(0)),
                 f"{to('plant', name_of(0))}?page=3")  # fmt: skip
    for address in addresses:
        times, size = [], 0
        for _ in range(rounds):
            begun = perf_counter()
            size = len(client.get(address).get_data())
            times.append((perf_counter() - begun) * 1000)
        print(f"{plants:5} plants  {address:40} {median(times):7.1f} ms  {size:7} bytes")
    begun = perf_counter()
    answer = client.post("/garden/stage", data={"plant": name_of(0), "bbch": "9", "id": "bench"})
    print(
        f"{plants:5} plants  a stage told by one tap ({answer.status_code}) {(perf_counter() - begun) * 1000:19.1f} ms"
    )


def state(adviser: Adviser, path: Path, plants: int, rounds: int, day: date) -> None:
    """Print what the state of a garden costs, and the search for what cannot all be true."""
    for name, work in (("the state", garden_now), ("contradictions", contradictions_on)):
        times = []
        for _ in range(rounds):
            with adviser.open(path) as garden:
                begun = perf_counter()
                work(garden, adviser.lore, day)
                times.append((perf_counter() - begun) * 1000)
        print(f"{plants:5} plants  {name:40} {median(times):7.1f} ms")


def layout(rounds: int) -> None:
    """Print what it costs to lay spots out anew, all guessed and all told."""
    for count in (12, 100):
        for name, told in (("guessed", False), ("told", True)):
            lies = [
                Lie(f"s{n}", n * 37.0 % 360 if told else None, n % 50.0 if told else None, "SE") for n in range(count)
            ]
            times = []
            for _ in range(rounds):
                _laid_out.cache_clear()
                begun = perf_counter()
                lay_out(lies)
                times.append((perf_counter() - begun) * 1000)
            print(f"{count:5} spots laid out anew, all {name:8} {median(times):24.1f} ms")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--plants", type=int, nargs="+", default=[30, 300, 3000])
    parser.add_argument("--rounds", type=int, default=9)
    chosen = parser.parse_args()
    adviser = Adviser.load(Settings(Path("unset.db"), find_rules()))
    with tempfile.TemporaryDirectory() as folder:
        for plants in chosen.plants:
            path = Path(folder) / f"{plants}.db"
            with adviser.open(path, create=True) as garden:
                fill(garden, plants)
            state(adviser, path, plants, chosen.rounds, DAY)
            pages(adviser, path, plants, chosen.rounds)
    layout(chosen.rounds)


if __name__ == "__main__":
    main()
