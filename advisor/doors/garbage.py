"""How often a process that serves looks for unused objects."""

from __future__ import annotations

import gc

SEARCH_AFTER = 30_000
"""New objects after which Python looks for unused ones; its own choice is 700."""


def look_for_garbage_seldom() -> None:
    """Leave the rule base out of Python's search for unused objects, and search the rest less often.

    What is kept of gardens is some hundred thousand objects, and a search among all of them delays the answer at hand.
    Called once the rule base is read, and before a process is forked: what is left out stays shared.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(SEARCH_AFTER, 10, 30)
