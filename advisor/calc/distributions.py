"""Quantiles and shares of distributions; the one user of scipy, which is imported when the first is asked for.

That import takes longer than all else that a command needs. A server calls ``ready`` before it takes requests.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def ready() -> ModuleType:
    """Import scipy's functions, and return them."""
    from scipy import special  # only when it is wanted

    return special  # type: ignore[no-any-return]  # a library without types


def normal_quantile(share: Array) -> Array:
    """Return the standard normal deviates below which these shares lie."""
    found: Array = ready().ndtri(share)
    return found


def normal_share(deviate: Array) -> Array:
    """Return the shares of a standard normal distribution that lie below these deviates."""
    found: Array = ready().ndtr(deviate)
    return found


def t_quantile(degrees_of_freedom: float, share: float) -> float:
    """Return the value below which a share of Student's t distribution lies."""
    return float(ready().stdtrit(degrees_of_freedom, share))


def beta_quantile(a: float, b: float, share: float) -> float:
    """Return the value below which a share of the beta distribution of a and b lies."""
    return float(ready().betaincinv(a, b, share))
