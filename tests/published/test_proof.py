"""The uncertainty of a difference of two independent means, as proofs of repairs use it, against published figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boostproof.proof.states import simultaneous_factor, standard_uncertainties
from boostproof.recording.pulls.comparison import averaging
from boostproof.uncertainty import combined_uncertainty, effective_degrees_of_freedom


def test_two_independent_means() -> None:
    """NIST/SEMATECH e-Handbook, 1.3.5.3 (cars of two countries): T -12.94627 and 136.8750 degrees of freedom.

    Published from memory; the means, sds and numbers are those printed there. JCGM 100, equation 10 with
    sensitivities -1 and 1, and equation G.2b.
    """
    first, second = (20.14458, 6.414700, 249), (30.48101, 6.107710, 79)
    parts = [sd / math.sqrt(count) for _, sd, count in (first, second)]
    u = combined_uncertainty(parts, [-1.0, 1.0])
    assert (first[0] - second[0]) / u == pytest.approx(-12.94627, abs=2e-5)
    assert effective_degrees_of_freedom(parts, [248, 78]) == pytest.approx(136.8750, abs=1e-3)


def test_mean_of_points_that_hang_together() -> None:
    """JCGM 100, 5.2.2, note 1: where inputs are fully correlated their uncertainties add; alone they add in squares."""
    rows = averaging([(0, 4)], 4)
    assert standard_uncertainties(rows, np.ones((4, 4)))[0] == pytest.approx(1.0)
    assert standard_uncertainties(rows, np.eye(4))[0] == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("count", "degrees", "factor"),
    # Student's t for one mean (JCGM 100, table G.2: 2.31 for 8, 2.78 for 4); Sidak for independent ones of a normal
    # distribution: (1 + 0.95^(1/4)) / 2 = 0.99363, and its quantile 2.491 (normal table).
    [(1, 8.0, 2.31), (1, 4.0, 2.78), (4, np.inf, 2.491)],
)
def test_coverage_of_one_and_of_several(count: int, degrees: float, factor: float) -> None:
    assert simultaneous_factor(np.eye(count), np.eye(count), degrees) == pytest.approx(factor, rel=0.03)


def test_never_less_than_twice() -> None:
    assert simultaneous_factor(np.eye(1), np.eye(1), np.inf) == 2.0
