"""How far buds may have come since the last look: the furthest that is to be reckoned with, not the likeliest."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

DAYS_FROM_REST, DAYS_A_STAGE = 7.0, 3.0
"""Warm days from a tight bud to the first published stage, and from each of those to the next: about twice the pace
of a usual spring, so that what is assumed is rather too tender than too hardy (house judgement)."""

WARM_C = 15.0
"""A day that reaches this moves buds at that pace; one that only just passes the base at half of it (house
judgement)."""


def growing_days(highest_c: Sequence[float | None], base_c: float) -> float:
    """Return for how many days of full growth a span of days counts.

    Parameters
    ----------
    highest_c : sequence of float or None
        The highest temperature of each day, None where it was not recorded. [°C]
    base_c : float
        Temperature below which the kind does not grow. [°C]

    Returns
    -------
    float
        A day that never passes the base counts nothing, one below 15 °C half, a warm or unrecorded one whole.

    Raises
    ------
    ValueError
        For a temperature that is not a number.

    Examples
    --------
    >>> growing_days([3.0, 8.0, 15.0, None], base_c=4.5)
    2.5
    """
    total = 0.0
    for highest in highest_c:
        if highest is not None and not isfinite(highest):
            raise ValueError(f"highest temperature {highest} °C is not a number")
        if highest is None or highest >= WARM_C:
            total += 1.0
        elif highest > base_c:
            total += 0.5
    return total


def furthest_stage(codes: Sequence[int], seen: int, days: float) -> int:
    """Return the furthest stage that a plant may have reached some growing days after it was seen.

    Parameters
    ----------
    codes : sequence of int
        BBCH codes of the stages told apart, in order of time; what lies before the first is rest.
    seen : int
        BBCH code at which it was seen.
    days : float
        Growing days since then (``growing_days``).

    Returns
    -------
    int
        One of the codes, or ``seen`` where it may not have reached a further one, or lies at or past the last.

    Examples
    --------
    >>> [furthest_stage([51, 53, 55, 65], 0, days) for days in (6.5, 7, 10, 60)]
    [0, 51, 53, 65]
    """
    reached = seen
    left = days
    at_rest = not any(code <= seen for code in codes)
    for code in codes:
        if code <= seen:
            continue
        left -= DAYS_FROM_REST if at_rest else DAYS_A_STAGE
        at_rest = False
        if left < 0:
            break
        reached = code
    return reached
