"""Errors as draws, and means of what several readings say, against published budgets and other code."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.bench.meaning.made_readings import build, quantity

from boostproof.bench.meaning.chance import Chance, weighted_mean
from boostproof.bench.meaning.sensors import straight_line
from boostproof.bench.meaning.session import Instrument
from boostproof.bench.readings import Gauge


def test_the_same_source_is_the_same_error() -> None:
    chance = Chance(seed=4)
    first = chance.normal("gauge zero")
    chance.normal("something else")
    assert first is chance.normal("gauge zero")
    assert np.array_equal(first, Chance(seed=4).normal("gauge zero"))
    assert not np.array_equal(first, Chance(seed=5).normal("gauge zero"))
    assert first[0] == 0.0 and first[1:].std() == pytest.approx(1.0) and abs(first[1:].mean()) < 1e-12


def test_opening_force_of_a_budget() -> None:
    """F = p pi d^2 / 4 with 45.0(6) kPa and 45.0(3) mm: 71.57 N, u 1.35 N (first order, JCGM 100 equation 10)."""
    chance = Chance()
    p = chance.of(quantity("45.0 kPa +/- 1.2 kPa", "pressure"), "p")
    d = chance.of(quantity("45.0 mm +/- 0.6 mm", "length"), "d")
    force = p * 0.25 * np.pi * d**2
    assert force[0] == pytest.approx(71.57, abs=5e-3)
    assert force[1:].std() == pytest.approx(1.35, rel=0.02)


def test_rectangles_of_jcgm_101() -> None:
    """JCGM 101, 9.2.3 (from memory): four unit-variance rectangles together, 95 % within +/- 3.88."""
    chance = Chance()
    total = sum(chance.flat(name, -(3**0.5), 3**0.5) for name in "abcd")[1:]
    assert np.percentile(total, 97.5) == pytest.approx(3.88, abs=0.12)
    assert total.std() == pytest.approx(2.0, rel=0.03)


def test_a_range_is_flat_inside() -> None:
    draws = Chance().of(quantity("11..14 psi", "pressure"), "range")[1:]
    assert np.mean((draws > 11 * 6894.757) & (draws < 14 * 6894.757)) == pytest.approx(0.95, abs=0.005)


def test_zero_of_a_dial() -> None:
    """Class 1.6 of 400 kPa: 6.4 / sqrt 3 = 3.695 kPa (GUM 4.3.7); known zero taken off, its own doubt left."""
    dial = Instrument.of(build(Gauge, class_="1.6 %", range="400 kPa", smallest_mark="10 kPa"))
    assert dial.zero == pytest.approx(3695.0, abs=0.5) and dial.noise(0.0) == pytest.approx(4e3)
    checked = Instrument.of(build(Gauge, class_="1.6 %", range="400 kPa", reads_at_zero="2 kPa +/- 0.4 kPa"))
    assert (checked.shows, checked.zero) == (pytest.approx(2000.0), pytest.approx(200.0))


def test_mean_of_independent_values() -> None:
    """Weights 1/u^2 (any text): 10(1) and 13(2) give 10.6 with u = 1/sqrt(1 + 1/4)."""
    chance = Chance()
    mean = weighted_mean([10.0 + chance.normal("a"), 13.0 + 2.0 * chance.normal("b")])
    assert mean[0] == pytest.approx(10.6, abs=0.03)
    assert mean[1:].std() == pytest.approx(0.894, rel=0.02)


def test_mean_keeps_what_is_shared() -> None:
    """Against generalised least squares by numpy's solver: the shared error stays whole."""
    chance = Chance()
    shared = 3.0 * chance.normal("zero")
    sds = np.array([1.0, 1.5, 2.5])
    several = [50.0 + shared + sd * chance.normal(f"n{sd}") for sd in sds]
    covariance = np.diag(sds**2) + 9.0
    weights = np.linalg.solve(covariance, np.ones(3))
    expected = 1.0 / np.sqrt(weights.sum())
    assert weighted_mean(several)[1:].std() == pytest.approx(expected, rel=0.03)
    assert expected > 3.0


@pytest.mark.published
def test_straight_line_of_gum_h3() -> None:
    """JCGM 100, H.3 (from memory): thermometer corrections, y1 = -0.1712, y2 = 0.00218 with t0 = 20."""
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    slope, intercept = straight_line((t - 20.0)[:, None], b[:, None])
    assert intercept[0] == pytest.approx(-0.1712, abs=5e-5)
    assert slope[0] == pytest.approx(0.00218, abs=5e-6)


def test_straight_line_against_numpy() -> None:
    rng = np.random.default_rng(1)
    x, y = rng.uniform(0, 200e3, (5, 40)), rng.uniform(0, 200e3, (5, 40))
    slope, intercept = straight_line(x, y)
    for k in range(40):
        assert (slope[k], intercept[k]) == pytest.approx(tuple(np.polyfit(x[:, k], y[:, k], 1)), rel=1e-9)
