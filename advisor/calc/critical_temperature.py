"""What a frost does to flower buds: published 10 and 90 % kill temperatures by stage, and the share killed between.

The values are those of air that buds stood in for half an hour. They are averages of samples, so cultivars and years
differ by some degrees. Nothing is said beyond the 10 and 90 % points, outside the published stages, or for less than
half an hour. Killed buds are not lost crop: most trees set far more flowers than they can ripen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from statistics import NormalDist
from typing import Protocol

from advisor.calc.figure import Figure

EXPOSURE_MINUTES = 30.0
"""How long the buds stood at the temperature in the published tests."""

_TENTH = NormalDist().inv_cdf(0.1)


class PublishedStage(Protocol):
    """One row of a published table. ``kill90_f`` is None where the source gives no value. [°F]

    ``bbch_from`` and ``bbch_to`` are the first and last code the stage stands at.
    """

    @property
    def words(self) -> str: ...
    @property
    def bbch_from(self) -> int: ...
    @property
    def bbch_to(self) -> int: ...
    @property
    def kill10_f(self) -> float: ...
    @property
    def kill90_f(self) -> float | None: ...


class PublishedKind(Protocol):
    """One kind's table, its stages in order of time."""

    @property
    def id(self) -> str: ...
    @property
    def stages(self) -> Sequence[PublishedStage]: ...
    @property
    def source(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Critical:
    """The temperatures that kill a tenth and nine tenths of the buds at a stage, as published and converted. [°F, °C]

    ``stage`` is the published stage the values belong to. ``between`` names the two stages the code lies between,
    and is empty at a published stage. Where the values are None, ``unknown`` says why.
    """

    kind: str
    bbch: int
    stage: str = ""
    kill10_f: float | None = None
    kill90_f: float | None = None
    source: str = ""
    between: tuple[str, ...] = ()
    unknown: str = ""

    @property
    def kill10_c(self) -> float | None:
        """Air temperature at which a tenth of the buds die. [°C]"""
        return None if self.kill10_f is None else celsius(self.kill10_f)

    @property
    def kill90_c(self) -> float | None:
        """Air temperature at which nine tenths of the buds die. [°C]"""
        return None if self.kill90_f is None else celsius(self.kill90_f)

    def figure(self) -> Figure:
        """Return the 10 % kill temperature as a figure. Raises ValueError where none is published."""
        if self.kill10_c is None:
            raise ValueError(f"no critical temperature for {self.kind} at BBCH {self.bbch}: {self.unknown}")
        return Figure(
            self.kill10_c,
            "°C",
            f"10 % bud kill in half an hour, {self.kind}, {self.stage}",
            plus_minus=1 / 1.8,
            caution="An average of samples: cultivars and years differ by a degree Fahrenheit or two.",
        )


@dataclass(frozen=True, slots=True)
class Share:
    """Bounds of the share of flower buds killed, and why they are no narrower. [0 to 1]"""

    least: float
    most: float
    why: str = ""

    @property
    def words(self) -> str:
        """The share as one would say it."""
        if (self.least, self.most) == (0.0, 1.0):
            return "not known"
        if self.least == 0.0:
            return "less than a tenth" if self.most <= 0.1 else f"at most {self.most:.0%}"
        if self.most == 1.0:
            said = {0.1: "more than a tenth", 0.9: "more than nine tenths"}
            return said.get(self.least, f"at least {self.least:.0%}")
        if f"{self.least:.0%}" == f"{self.most:.0%}":
            return f"about {self.most:.0%}"
        return f"{self.least:.0%} to {self.most:.0%}"


def celsius(temp_f: float) -> float:
    """Return a temperature in °C from one in °F.

    >>> round(celsius(28), 2)
    -2.22
    """
    return (temp_f - 32) / 1.8


def critical(kind: PublishedKind, bbch: int) -> Critical:
    """Return the critical temperatures of a kind's flower buds at a BBCH code.

    Parameters
    ----------
    kind : PublishedKind
        The kind's published table.
    bbch : int
        Stage of the flower buds as a BBCH code, 0 to 99.

    Returns
    -------
    Critical
        At a published stage its values. Between two, those of the tenderer one: the one with the higher 10 % point,
        and among equals with the higher 90 % point. Outside the published stages no values, and the reason.

    Raises
    ------
    ValueError
        If the code is not between 0 and 99, or the table is empty.

    Notes
    -----
    To take the tenderer neighbour is house judgement: what is published is not interpolated over stages, and a
    warning too early costs less than one too late. Which code a published stage stands at is our own mapping too.
    """
    if not 0 <= bbch <= 99:
        raise ValueError(f"BBCH code {bbch} is not between 0 and 99")
    if not kind.stages:
        raise ValueError(f"the table of {kind.id} has no stages; at least one is wanted")
    at = [stage for stage in kind.stages if stage.bbch_from <= bbch <= stage.bbch_to]
    before = [stage for stage in kind.stages if stage.bbch_to < bbch]
    after = [stage for stage in kind.stages if stage.bbch_from > bbch]
    if not at and not before:
        first = min(after, key=lambda stage: stage.bbch_from)
        why = f"nothing is published for flower buds before {first.words} (BBCH {first.bbch_from})"
        return Critical(kind.id, bbch, source=kind.source, unknown=why)
    if not at and not after:
        last = max(before, key=lambda stage: stage.bbch_to)
        why = f"nothing is published after {last.words} (BBCH {last.bbch_to})"
        return Critical(kind.id, bbch, source=kind.source, unknown=why)
    neighbours = at or [
        max(before, key=lambda stage: stage.bbch_to),
        min(after, key=lambda stage: stage.bbch_from),
    ]
    chosen = max(neighbours, key=_tenderness)
    between = () if at else (neighbours[0].words, neighbours[1].words)
    gap = "" if chosen.kill90_f is not None else f"the 90 % point at {chosen.words} is not published"
    return Critical(kind.id, bbch, chosen.words, chosen.kill10_f, chosen.kill90_f, kind.source, between, gap)


def _tenderness(stage: PublishedStage) -> tuple[float, float]:
    return (stage.kill10_f, float("-inf") if stage.kill90_f is None else stage.kill90_f)


def share_killed(
    temp_c: float, at: Critical, minutes: float = EXPOSURE_MINUTES, temp_plus_minus_k: float = 0.0
) -> Share:
    """Return bounds of the share of flower buds killed by a temperature.

    Parameters
    ----------
    temp_c : float
        Lowest air temperature at the buds. [°C]
    at : Critical
        Critical temperatures of their stage.
    minutes : float, optional
        How long it was that cold. [min]  Default: the half hour of the published tests.
    temp_plus_minus_k : float, optional
        Half-width within which the temperature is known. [K]  The share then runs from its warm to its cold end.

    Returns
    -------
    Share
        Between the two published points both bounds are the interpolated share. Above the 10 % point 0 to 0.1, below
        the 90 % point 0.9 to 1. For less than half an hour the lower bound is 0: no kill is claimed.

    Raises
    ------
    ValueError
        If a temperature is not finite, or a time or a half-width is negative.

    Notes
    -----
    Between the points the share follows the normal distribution that passes through both, a straight line on probit
    paper, as is usual for the death of many from one dose (Finney, Probit Analysis; from memory). A plain straight
    line differs from it by less than 0.04. Two published samples with a 50 % point of their own bear the symmetry out:
    20.4, 15.5, 10.3 °F and 23.8, 16.7, 8.7 °F have their midpoints at 15.35 and 16.25 °F. A longer time than half an
    hour may kill more; the tables do not say how much.

    Examples
    --------
    >>> bloom = Critical("apple", 65, "full bloom", 28, 25)
    >>> [share_killed(celsius(temp_f), bloom).words for temp_f in (29, 26.5, 24)]
    ['less than a tenth', 'about 50%', 'more than nine tenths']
    """
    if not (isfinite(temp_c) and isfinite(temp_plus_minus_k) and temp_plus_minus_k >= 0):
        given = f"{temp_c} ± {temp_plus_minus_k} °C"
        raise ValueError(f"temperature {given}: wanted a number and a half-width of 0 or more")
    if not minutes >= 0:
        raise ValueError(f"exposure of {minutes} minutes; 0 or more wanted")
    if at.kill10_f is None:
        return Share(0.0, 1.0, at.unknown)
    least, _ = _bounds(temp_c + temp_plus_minus_k, at.kill10_f, at.kill90_f)
    _, most = _bounds(temp_c - temp_plus_minus_k, at.kill10_f, at.kill90_f)
    why = at.unknown if most == 1.0 and at.kill90_f is None else ""
    if minutes < EXPOSURE_MINUTES:
        return Share(0.0, most, f"the published tests lasted {EXPOSURE_MINUTES:.0f} minutes")
    return Share(least, most, why)


def _bounds(temp_c: float, kill10_f: float, kill90_f: float | None) -> tuple[float, float]:
    """Return least and greatest share killed at a temperature known exactly."""
    temp_f = round(temp_c * 1.8 + 32, 9)  # 28 °F stored, converted and turned back is 28 °F
    if temp_f > kill10_f:
        return (0.0, 0.1)
    if kill90_f is None:
        return (0.1, 0.1) if temp_f == kill10_f else (0.1, 1.0)
    if temp_f < kill90_f:
        return (0.9, 1.0)
    along = (kill10_f - temp_f) / (kill10_f - kill90_f)
    share = min(max(NormalDist().cdf(_TENTH * (1 - 2 * along)), 0.1), 0.9)
    return (share, share)


def new_growth_alert(min_c: float, alert_c: float, damage_c: float) -> str:
    """Return "none", "alert" or "damage" for green new growth at a lowest temperature.

    The two levels are common practice where nothing is published, as for fig; there is no share killed in between.
    Raises ValueError for a temperature that is not a number or levels in the wrong order.

    >>> new_growth_alert(-1.0, alert_c=0.0, damage_c=celsius(28))
    'alert'
    """
    if not isfinite(min_c):
        raise ValueError(f"lowest temperature {min_c} °C is not a number")
    if not damage_c < alert_c:
        raise ValueError(f"damage level {damage_c} °C must be below the alert level {alert_c} °C")
    if min_c > alert_c:
        return "none"
    return "damage" if min_c <= damage_c else "alert"
