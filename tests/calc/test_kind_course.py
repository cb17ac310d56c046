"""What a kind stands from stage to stage, held to the published tables and to the calculation for one night."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.calc.critical_temperature import Critical, celsius, critical, share_killed
from advisor.calc.kind_course import HEAT_SHARES, Tender, killed_share, tender_buds, tender_growth
from advisor.config import find_rules
from advisor.records.hardiness import BudHardiness, load_hardiness

BUDS = load_hardiness(find_rules()).buds
KINDS = sorted(BUDS)


@pytest.mark.parametrize("kind", [BUDS[name] for name in KINDS], ids=KINDS)
def test_each_code_stands_what_is_published_for_it(kind: BudHardiness) -> None:
    """At every BBCH code from the first to the last published, the span's points are those of ``critical``."""
    tender = tender_buds(kind)
    for code in range(kind.stages[0].bbch_from, kind.stages[-1].bbch_to + 1):
        span = max(place for place, first in enumerate(tender.codes) if first <= code)
        at = critical(kind, code)
        assert (tender.kill10_f[span], tender.kill90_f[span]) == (at.kill10_f, at.kill90_f), code


@given(st.sampled_from(KINDS), st.floats(-30, 5), st.integers(0, 8))
def test_a_share_is_that_of_the_calculation_for_one_night(name: str, temp_c: float, place: int) -> None:
    """Between the points both bounds are the interpolated share; outside, its bounds, "less than a tenth" told as none."""
    tender = tender_buds(BUDS[name])
    span = min(place, len(tender.codes) - 1)
    at = Critical(name, 60, tender.words[span], tender.kill10_f[span], tender.kill90_f[span])
    wanted = share_killed(temp_c, at)
    least, most = (float(bound[0]) for bound in killed_share(tender, np.array([span]), np.array([temp_c])))
    assert least == pytest.approx(wanted.least, abs=1e-9)
    if at.kill90_f is not None:
        assert most == pytest.approx(wanted.most, abs=1e-9)
    else:
        assert least <= most <= wanted.most


@given(st.sampled_from(KINDS), st.floats(-30, 5), st.floats(0, 10))
def test_a_colder_night_never_kills_less_nor_does_a_later_stage(name: str, temp_c: float, colder_k: float) -> None:
    """At every span, and from each span to the next, both bounds only rise with cold and with the season."""
    tender = tender_buds(BUDS[name])
    spans = np.arange(len(tender.codes))
    here = killed_share(tender, spans, np.full(len(spans), temp_c))
    colder = killed_share(tender, spans, np.full(len(spans), temp_c - colder_k))
    for bound, beside in zip(here, colder, strict=True):
        assert (beside >= bound - 1e-12).all()
    assert (np.diff(here[0]) >= -1e-12).all()
    assert (here[1] >= here[0] - 1e-12).all()


def test_before_the_first_stage_nothing_is_claimed() -> None:
    """A bud that has not begun to swell is not said to be killed by any night."""
    least, most = killed_share(tender_buds(BUDS["apricot"]), np.array([-1]), np.array([-30.0]))
    assert (float(least[0]), float(most[0])) == (0.0, 0.1)


def test_where_no_ninety_percent_point_is_published() -> None:
    """Apricot at first swelling: a tenth for certain below its 10 % point, at most what the next stage would lose."""
    tender = tender_buds(BUDS["apricot"])
    assert tender.kill90_f[0] is None
    least, most = killed_share(tender, np.array([0]), np.array([celsius(5.0)]))
    assert float(least[0]) == pytest.approx(0.1)
    beside = share_killed(celsius(5.0), Critical("apricot", 53, "tips separate", 20, 0))
    assert float(most[0]) == pytest.approx(beside.most)


def test_what_counts_as_a_lost_crop() -> None:
    """Half the buds, but nine tenths in kinds that set a full crop from a tenth of them."""
    assert {name: tender_buds(BUDS[name]).lost_share for name in ("apricot", "sweet-cherry", "apple", "nectarine")} == {
        "apricot": 0.5, "sweet-cherry": 0.5, "apple": 0.9, "nectarine": 0.9,
    }  # fmt: skip
    assert tender_buds(BUDS["apple"], lost_share=0.3).lost_share == 0.3


def test_new_growth_is_hurt_or_it_is_not() -> None:
    """Green shoots have a level and no share: at it or below they are hurt, above it not."""
    tender = tender_growth(celsius(28.0), "common practice")
    least, _ = killed_share(tender, np.zeros(3, dtype=np.int64), np.array([-2.2, celsius(28.0), -2.3]))
    assert (least >= tender.lost_share).tolist() == [False, True, True]


def test_heat_shares_rise_from_stage_to_stage() -> None:
    """At both ends of their ranges the shares of heat keep the order of the codes, and bloom is the whole of it."""
    for side in (-1, 0, 1):
        shares = [middle + side * half for _, middle, half in HEAT_SHARES]
        assert shares == sorted(shares)
    assert next((middle, half) for code, middle, half in HEAT_SHARES if code == 60) == (1.0, 0.0)
    assert isinstance(tender_growth(-2.0, ""), Tender)
