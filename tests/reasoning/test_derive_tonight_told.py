"""Of two forecasts of one day the one told last holds: it puts the first right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Ask = Callable[[str], dict[str, Any]]


@pytest.mark.parametrize(("first", "then"), [(-1, -4), (-4, -1)])
def test_the_forecast_told_last_holds(ask: Ask, first: int, then: int) -> None:
    """Whether it makes the night colder or milder."""
    ask(f"{first} tonight, clear")
    ask(f"{then} tonight, clear")
    assert f"The forecast makes it {then} °C tonight" in ask("will it freeze tonight?")["reply"]
