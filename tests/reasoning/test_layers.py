"""Entries that are copied by the few that came or went are those of a plain dict that is copied whole."""

from __future__ import annotations

import tracemalloc
from concurrent.futures import ThreadPoolExecutor
from random import Random

from advisor.reasoning.derive.layers import Layers


def test_each_copy_is_what_a_plain_dict_would_be() -> None:
    """Whatever is put in, taken out and copied in whatever order, each copy holds its own entries to the end."""
    chance = Random(5)
    copies: list[tuple[Layers[int, int], dict[int, int]]] = [(Layers(), {})]
    for step in range(4000):
        layers, plain = copies[-1]
        key = chance.randrange(200)
        match chance.randrange(5):
            case 0:
                assert layers.pop(key) == plain.pop(key, None)
            case 1:
                assert layers.setdefault(key, step) == plain.setdefault(key, step)
            case 2 if not chance.randrange(10):
                copies.append((layers.copy(), plain.copy()))
            case _:
                layers[key] = plain[key] = step
        assert layers.get(key) == plain.get(key)
    assert len(copies) > 50
    for layers, plain in copies:
        assert dict(layers.items()) == plain
        assert sorted(layers) == sorted(plain)
        assert [layers.get(key) for key in range(200)] == [plain.get(key) for key in range(200)]


def test_a_copy_with_few_changes_takes_little_room() -> None:
    """A copy of ten thousand entries of which ten are new takes under a twentieth of a dict's copy, time after time."""
    layers: Layers[int, str] = Layers()
    for key in range(10_000):
        layers[key] = "x"
    layers = layers.copy()
    plain = dict(layers.items())
    tracemalloc.start()
    copies, sizes = [], []
    for turn in range(20):
        for key in range(10):
            layers[10 * turn + key] = "y"
        before, _ = tracemalloc.get_traced_memory()
        layers = layers.copy()
        copies.append(layers)
        sizes.append(tracemalloc.get_traced_memory()[0] - before)
    before, _ = tracemalloc.get_traced_memory()
    whole = plain.copy()
    size = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert len(whole) == len(plain)
    assert max(sizes) < size / 20, (sizes, size)


def test_threads_put_in_one_entry_of_a_key() -> None:
    """Of many threads that put in what is missing under a key, all get the same entry, also where one was taken out."""
    layers: Layers[int, object] = Layers()
    for key in range(100):
        layers[key] = "of before"
    layers = layers.copy()
    for key in range(0, 100, 2):
        layers.pop(key)

    def put() -> list[object]:
        return [layers.setdefault(key, object()) for key in range(120)]

    with ThreadPoolExecutor(8) as pool:
        found = [future.result() for future in [pool.submit(put) for _ in range(32)]]
    assert all(one == found[0] for one in found)
    assert found[0][1] == "of before" != found[0][2]
