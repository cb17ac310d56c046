"""How many buds live, from a sample that was cut open."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.calc.distributions import beta_quantile

CONFIDENCE = 0.9


@dataclass(frozen=True, slots=True)
class Alive:
    """Share of buds alive in a sample, and the bounds within which the tree's own share lies with 90 % confidence."""

    share: float
    least: float
    most: float


def alive(cut: int, dead: int) -> Alive:
    """Return the share of buds alive in a sample with its exact (Clopper-Pearson) bounds.

    The bounds take each bud for a draw of its own; buds of one shoot or one height are more alike than that, so that
    a sample from few shoots says less. Raises ValueError for no buds cut, or more dead than cut.

    >>> sample = alive(20, 16)
    >>> sample.share, round(sample.least, 2), round(sample.most, 2)
    (0.2, 0.07, 0.4)
    """
    if not 0 <= dead <= cut or cut < 1:
        raise ValueError(f"{dead} dead of {cut} buds; at least one cut, and no more dead than cut")
    living, tail = cut - dead, (1 - CONFIDENCE) / 2
    least = beta_quantile(living, dead + 1, tail) if living else 0.0
    most = beta_quantile(living + 1, dead, 1 - tail) if dead else 1.0
    return Alive(living / cut, least, most)
