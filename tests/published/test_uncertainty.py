"""The examples of the GUM (JCGM 100:2008), and gauge budgets.

The published results are from memory; each is reproduced here from the published inputs.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from boostproof.errors import InputRangeError
from boostproof.uncertainty import (
    combined_uncertainty,
    coverage_factor,
    effective_degrees_of_freedom,
    expanded_uncertainty,
    rectangular_uncertainty,
)

# -- JCGM 100 ---------------------------------------------------------------------------------------


def test_end_gauge() -> None:
    """JCGM 100, H.1: u_c 32 nm, 16 degrees of freedom, U99 = 2.92 x 32 = 93 nm; second order 34 nm."""
    length, expansion = 50.000623e6, 11.5e-6  # nm; 1/K
    comparison = combined_uncertainty([5.8, 3.9, 6.7])  # repeated readings, comparator at random, its system
    assert comparison == pytest.approx(9.7, abs=0.05)
    unlike_expansion = float(rectangular_uncertainty(1e-6))
    unlike_temperature = float(rectangular_uncertainty(0.05))
    contributions = [25.0, comparison, length * 0.1 * unlike_expansion, length * expansion * unlike_temperature]
    assert contributions[2:] == pytest.approx([2.9, 16.6], abs=0.05)
    u = combined_uncertainty(contributions)
    assert u == pytest.approx(31.7, abs=0.05)
    freedom = [18, 25.6, 50, 2]
    assert math.floor(effective_degrees_of_freedom(contributions, freedom)) == 16
    assert coverage_factor(16, coverage=0.99) == pytest.approx(2.92, abs=0.005)
    assert expanded_uncertainty(contributions, freedom, coverage=0.99) == pytest.approx(93.0, abs=0.7)
    bath = combined_uncertainty([0.2, 0.5 / math.sqrt(2.0)])  # mean temperature, and its cyclic change
    standard_expansion = float(rectangular_uncertainty(2e-6))
    second = [length * unlike_expansion * bath, length * standard_expansion * unlike_temperature]
    assert second == pytest.approx([11.7, 1.7], abs=0.05)
    assert combined_uncertainty([u, *second]) == pytest.approx(33.9, abs=0.1)


def test_correlated_inputs() -> None:
    """JCGM 100, 5.2.2, example: ten resistors from one standard add straight, 1 ohm, not in quadrature."""
    each = np.full(10, 0.1)
    assert combined_uncertainty(each, correlations=np.ones((10, 10))) == pytest.approx(1.0, abs=1e-12)
    assert combined_uncertainty(each) == pytest.approx(0.32, abs=0.005)


def test_impedance() -> None:
    """JCGM 100, H.2: Z = V/I from correlated means: 254.260 ohm, u 0.236; R 127.732, u 0.071."""
    volt, ampere, angle = 4.9990, 19.6610e-3, 1.04446
    u = [0.0032, 0.0095e-3, 0.00075]
    r = [[1.0, -0.355, 0.858], [-0.355, 1.0, -0.645], [0.858, -0.645, 1.0]]
    z = volt / ampere
    assert z == pytest.approx(254.260, abs=5e-3)
    assert combined_uncertainty(u, [z / volt, -z / ampere, 0.0], r) == pytest.approx(0.236, abs=2e-3)
    resistance = z * math.cos(angle)
    assert resistance == pytest.approx(127.732, abs=5e-3)
    slopes = [resistance / volt, -resistance / ampere, -z * math.sin(angle)]
    assert combined_uncertainty(u, slopes, r) == pytest.approx(0.071, abs=2e-3)


@pytest.mark.parametrize(
    ("freedom", "k95", "k99"),
    # JCGM 100, table G.2 (Student's t)
    [(1, 12.71, 63.66), (2, 4.30, 9.92), (5, 2.57, 4.03), (10, 2.23, 3.17), (20, 2.09, 2.85), (50, 2.01, 2.68),
     (math.inf, 1.960, 2.576)],
)  # fmt: skip
def test_coverage_factors(freedom: float, k95: float, k99: float) -> None:
    assert coverage_factor(freedom) == pytest.approx(k95, abs=5.1e-3)
    assert coverage_factor(freedom, coverage=0.99) == pytest.approx(k99, abs=5.1e-3)
    assert coverage_factor(freedom + 0.9) == coverage_factor(freedom)  # G.4.1: cut to a whole number


def test_half_widths() -> None:
    """JCGM 100, 4.3.7; the variance of the distribution by scipy."""
    assert float(rectangular_uncertainty(2.5)) == pytest.approx(stats.uniform(-2.5, 5.0).std(), rel=1e-12)


# -- gauges -----------------------------------------------------------------------------------------


def test_dial_gauge_budget() -> None:
    """Class 1.6 of 400 kPa, mark 2 kPa read to half, hysteresis 1 kPa: u_c 3.784, U(k=2) 7.57 kPa (GUM)."""
    parts = rectangular_uncertainty([6.4, 1.0, 1.0])
    assert combined_uncertainty(parts) == pytest.approx(3.784, abs=5e-4)
    assert 2 * combined_uncertainty(parts) == pytest.approx(7.57, abs=5e-3)


def test_digital_gauge_budget() -> None:
    """0.25 % of 400 kPa, digit 0.1 kPa, 0.3 kPa unsteady: u_c 0.603, U(k=2) 1.21 kPa (GUM)."""
    parts = rectangular_uncertainty([1.0, 0.05, 0.3])
    assert parts == pytest.approx([0.577, 0.029, 0.173], abs=5e-4)
    assert combined_uncertainty(parts) == pytest.approx(0.603, abs=5e-4)
    assert 2 * combined_uncertainty(parts) == pytest.approx(1.21, abs=5e-3)


def test_difference_on_one_gauge() -> None:
    """The class error that both readings share cancels: the dial of above shows 5 kPa, twice 1.15 at k 2."""
    shared, reading = float(rectangular_uncertainty(6.4)), combined_uncertainty(rectangular_uncertainty([1.0, 1.0]))
    total = math.hypot(shared, reading)
    r = shared**2 / total**2
    u = combined_uncertainty([total, total], [-1.0, 1.0], [[1.0, r], [r, 1.0]])
    assert 2 * u == pytest.approx(2.31, abs=5e-3)
    assert u == pytest.approx(math.sqrt(2.0) * reading, rel=1e-12)  # JCGM 100, F.1.2.3: only what is not shared is left
    assert 2 * combined_uncertainty([total, total]) > 10.0  # two gauges could not show it


def test_spring_force_from_cracking_pressure() -> None:
    """F = p pi d^2 / 4 of 45.0(6) kPa and 45.0(3) mm: 71.57 N, u 1.35 N, the diameter weighs most (GUM)."""
    force = 45e3 * math.pi / 4 * 0.045**2
    assert force == pytest.approx(71.57, abs=5e-3)
    slopes = [force / 45e3, 2 * force / 0.045]
    assert combined_uncertainty([0.6e3, 0.3e-3], slopes) == pytest.approx(1.35, abs=5e-3)
    assert slopes[1] * 0.3e-3 / force == pytest.approx(0.0133, abs=5e-5)
    assert slopes[1] * 0.3e-3 == pytest.approx(slopes[0] * 0.6e3, rel=1e-9)
    # a port of 26.0(1) mm: area to 0.77 %
    assert combined_uncertainty([0.1], [2 / 26.0]) == pytest.approx(0.0077, abs=5e-5)


# -- over the whole range, and outside ----------------------------------------------------------------

widths = st.lists(st.floats(1e-6, 1e6), min_size=1, max_size=6)


@given(widths, st.floats(0.0, 1e6))
def test_more_doubt_never_helps(parts: list[float], more: float) -> None:
    u = combined_uncertainty(parts)
    assert max(parts) * (1 - 1e-12) <= u <= sum(parts) * (1 + 1e-12)
    assert combined_uncertainty([*parts, more]) >= u
    assert combined_uncertainty(parts, correlations=np.ones((len(parts), len(parts)))) == pytest.approx(sum(parts))


@given(st.lists(st.tuples(st.floats(1e-3, 1e3), st.integers(1, 100)), min_size=1, max_size=6))
def test_effective_freedom_lies_between_the_least_and_the_sum(parts: list[tuple[float, int]]) -> None:
    """JCGM 100, G.4.1."""
    u, freedom = zip(*parts, strict=True)
    assert min(freedom) * (1 - 1e-9) <= effective_degrees_of_freedom(u, freedom) <= sum(freedom) * (1 + 1e-9)


@given(st.floats(1.0, 1e4), st.floats(0.5, 0.98))
def test_coverage_factor_is_monotone(freedom: float, coverage: float) -> None:
    k = coverage_factor(freedom, coverage=coverage)
    assert coverage_factor(freedom, coverage=coverage + 0.01) > k
    assert coverage_factor(freedom + 1.0, coverage=coverage) < k
    assert k > coverage_factor(coverage=coverage)


def test_known_without_doubt() -> None:
    assert math.isinf(effective_degrees_of_freedom([1.0, 2.0], [math.inf, math.inf]))
    assert expanded_uncertainty([3.0, 4.0]) == pytest.approx(5.0 * 1.959964, rel=1e-6)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: rectangular_uncertainty(-1.0), "half_width must not be negative or missing, got -1"),
        (lambda: rectangular_uncertainty([1.0, math.nan]), "half_width must not be negative or missing, got nan"),
        (lambda: combined_uncertainty([1.0, -2.0]), "uncertainties must not be negative"),
        (lambda: combined_uncertainty([1.0, 2.0], [1.0]), "got (2,), (1,) and (2, 2)"),
        (lambda: combined_uncertainty([]), "Give one number for each input"),
        (lambda: combined_uncertainty([1.0, 2.0], correlations=[[1.0, 2.0], [2.0, 1.0]]), "no contradiction"),
        (lambda: combined_uncertainty([1.0, 2.0], correlations=[[1.0, 0.5], [0.2, 1.0]]), "symmetric"),
        (lambda: effective_degrees_of_freedom([1.0], [0.0]), "degrees_of_freedom must be above zero, got 0"),
        (lambda: effective_degrees_of_freedom([1.0, 2.0], [5.0]), "one shape (n,), got (2,) and (1,)"),
        (lambda: coverage_factor(0.5), "degrees_of_freedom must be 1 or more"),
        (lambda: coverage_factor(5, coverage=95.0), "coverage between 0 and 1, got 5 and 95"),
    ],
)
def test_outside_is_refused(call: Callable[[], object], says: str) -> None:
    with pytest.raises(InputRangeError) as caught:
        call()
    assert says in str(caught.value)
    assert caught.value.do
