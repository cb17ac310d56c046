"""Quantiles and shares of distributions, and when the library for them is imported."""

from __future__ import annotations

import subprocess
import sys
from statistics import NormalDist

import numpy as np
import pytest

from advisor.calc.distributions import beta_quantile, normal_quantile, normal_share, t_quantile


def test_normal_shares_and_deviates_are_those_of_the_standard_library() -> None:
    """Shares and deviates of the normal distribution agree with Python's own, and undo each other."""
    shares = np.array([0.001, 0.1, 0.5, 0.84, 0.9999])
    expected = [NormalDist().inv_cdf(float(share)) for share in shares]

    assert normal_quantile(shares) == pytest.approx(expected)
    assert normal_share(np.array(expected)) == pytest.approx(shares)


@pytest.mark.parametrize(("degrees", "value"), [(1, 12.706), (4, 2.776), (10, 2.228), (30, 2.042)])
def test_t_is_that_of_the_printed_table(degrees: int, value: float) -> None:
    """The two-sided 95 % points of Student's t are those of the printed tables (any textbook of statistics)."""
    assert t_quantile(degrees, 0.975) == pytest.approx(value, abs=0.0006)


@pytest.mark.parametrize("b", [1, 7, 40])
def test_a_beta_quantile_that_has_a_closed_form(b: int) -> None:
    """Of beta(1, b) the share below x is 1 - (1 - x)^b, which can be turned round on paper."""
    assert beta_quantile(1, b, 0.95) == pytest.approx(1 - 0.05 ** (1 / b))


def test_the_library_is_not_imported_before_it_is_wanted() -> None:
    """A command that asks for no distribution does not wait for scipy; a server has it before its first request."""
    program = "import sys; import advisor.conversation; print('scipy' in sys.modules)"
    made = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert made.stdout.strip() == "False"
