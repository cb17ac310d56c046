"""What a kind of tree needs and stands through spring: heat from stage to stage, frost at each, days to ripe fruit."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from advisor.calc.critical_temperature import PublishedKind, critical
from advisor.calc.distributions import normal_share
from advisor.calc.requirement import Requirement

Array = NDArray[np.float64]

FIRST_SWELLING, FIRST_FLOWER, FULL_BLOOM, FRUIT_SET = 51, 60, 65, 71
HEAT_SHARES: tuple[tuple[int, float, float], ...] = (
    (51, 0.45, 0.10), (53, 0.60, 0.10), (55, 0.75, 0.08), (57, 0.87, 0.06), (59, 0.96, 0.03), (60, 1.00, 0.00),
    (65, 1.12, 0.04), (67, 1.25, 0.08), (69, 1.35, 0.10), (71, 1.45, 0.12), (72, 1.60, 0.15),
)  # fmt: skip
"""BBCH code, the share of the heat to first flower after which it is reached, and the half-width of that share. House
judgement: no heat sum was read for any stage but bloom. Codes between are taken in proportion."""

LOST_SHARE = 0.5
FULL_CROP_KINDS = ("apple", "pear", "peach", "nectarine")
FULL_CROP_LOST_SHARE = 0.9
"""The share of buds killed from which a year counts as a frost year: half (house judgement); nine tenths in kinds that
set a full crop from 10 to 15 % of their buds (Utah State University Extension, IPM-012-11, read in an excerpt)."""

_TENTH = NormalDist().inv_cdf(0.1)


@dataclass(frozen=True, slots=True)
class Tender:
    """What a kind's buds, flowers and small fruit stand from stage to stage, as published. [°F]

    ``codes`` are the BBCH codes from which each span holds, ``words`` its stages. A 90 % point that is not published
    is None. ``lost_share`` is the share killed from which a year counts as a frost year.
    """

    codes: tuple[int, ...]
    words: tuple[str, ...]
    kill10_f: tuple[float, ...]
    kill90_f: tuple[float | None, ...]
    lost_share: float
    source: str


@dataclass(frozen=True, slots=True)
class Course:
    """What a kind or cultivar needs, stage by stage, and what it stands.

    ``requirement`` leads to the first open flower, or to waking where ``waking``. ``tender`` is None where nothing is
    published. ``ripe_days`` are the least and most days from small fruit to ripe, ``fruit_share`` the heat share at
    which small fruit shows, for kinds whose own dates give it; None where not known.
    """

    requirement: Requirement
    tender: Tender | None = None
    ripe_days: tuple[float, float] | None = None
    fruit_share: float | None = None
    waking: bool = False


def tender_buds(kind: PublishedKind, lost_share: float | None = None) -> Tender:
    """Return what a kind's flower buds stand, by the code at which ``critical_temperature.critical`` changes its word.

    Between two published stages that is the tenderer one. After the last, small fruit is taken to stand what it stood
    then (house judgement; an extension page gives one level from first flower to small fruit).
    """
    codes: list[int] = []
    words: list[str] = []
    tens: list[float] = []
    nineties: list[float | None] = []
    for code in range(kind.stages[0].bbch_from, kind.stages[-1].bbch_to + 1):
        at = critical(kind, code)
        if at.kill10_f is not None and (not words or words[-1] != at.stage):
            codes.append(code)
            words.append(at.stage)
            tens.append(at.kill10_f)
            nineties.append(at.kill90_f)
    if lost_share is None:
        lost_share = FULL_CROP_LOST_SHARE if kind.id in FULL_CROP_KINDS else LOST_SHARE
    return Tender(tuple(codes), tuple(words), tuple(tens), tuple(nineties), lost_share, kind.source)


def tender_growth(damage_c: float, source: str) -> Tender:
    """Return what green new growth stands from waking on, where only a level of damage is known and no share killed."""
    damage_f = damage_c * 1.8 + 32
    return Tender((FIRST_FLOWER,), ("new growth",), (damage_f,), (damage_f,), LOST_SHARE, source)


def killed_share(tender: Tender, span: NDArray[np.int64], temp_c: Array) -> tuple[Array, Array]:
    """Return the share killed for certain, and at most, by a temperature at each span of stages; shapes as given.

    As ``critical_temperature.share_killed`` for many at once, but for two bounds: "less than a tenth" counts as none
    at least, and where no 90 % point is published the next stage's points are the most. Before the first span nothing
    is known, and none is claimed. [0 to 1]
    """
    tens = np.array([*tender.kill10_f, -np.inf])
    nineties = np.array([*(np.nan if value is None else value for value in tender.kill90_f), np.nan])
    temp_f = np.round(temp_c * 1.8 + 32, 9)
    least = _between(temp_f, tens[span], nineties[span])
    if None not in tender.kill90_f:
        return least, np.where(temp_f > tens[span], np.minimum(0.1, least + 0.1), np.where(least >= 0.9, 1.0, least))
    later = np.arange(len(tens))
    for place in range(len(tender.codes) - 2, -1, -1):
        if tender.kill90_f[place] is None:
            later[place] = later[place + 1]
    most = _between(temp_f, tens[later[span]], nineties[later[span]])
    return least, np.where(temp_f > tens[span], 0.1, np.where(most >= 0.9, 1.0, most))


def _between(temp_f: Array, kill10_f: Array, kill90_f: Array) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        along = (kill10_f - temp_f) / (kill10_f - kill90_f)
        inside = np.clip(normal_share(_TENTH * (1 - 2 * along)), 0.1, 0.9)
    share = np.where(np.isnan(kill90_f), 0.1, np.where(temp_f <= kill90_f, 0.9, inside))
    found: Array = np.where(temp_f > kill10_f, 0.0, share)
    return found
