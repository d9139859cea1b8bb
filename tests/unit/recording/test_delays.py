"""Delays between signals: against the delay that was put in, with the scatter that repeats show."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.recording.model import Samples
from boostproof.recording.signals.delays import Delay, delay_between

Array = NDArray[np.float64]


def _course(time: Array) -> Array:
    """Rises, knees and falls such as boost makes, 0.3 to 1 s long, defined at any time."""
    steps = [(2.0, 60.0, 0.15), (6.0, 90.0, 0.5), (11.0, -120.0, 0.12), (15.0, 100.0, 0.3), (20.0, -70.0, 0.2)]
    return np.sum([size / (1.0 + np.exp(-(time - at) / width)) for at, size, width in steps], axis=0)


def _pair(delay: float, rates: tuple[float, float], noise: float, seed: int) -> tuple[Samples, Samples]:
    rng = np.random.default_rng(seed)
    times = [np.arange(rng.uniform(0.0, 1.0 / rate), 25.0, 1.0 / rate) for rate in rates]
    first = _course(times[0]) + rng.normal(0.0, noise, times[0].size)
    second = 12.0 + 0.4 * _course(times[1] - delay) + rng.normal(0.0, 0.4 * noise, times[1].size)
    return Samples(times[0], first), Samples(times[1], second)


def _found(delay: float, rates: tuple[float, float], noise: float, seed: int) -> Delay:
    found = delay_between(*_pair(delay, rates, noise, seed))
    assert found is not None
    return found


@pytest.mark.parametrize("delay", [-0.8, -0.21, 0.0, 0.037, 0.4, 0.9])
@pytest.mark.parametrize("rates", [(100.0, 100.0), (20.0, 20.0), (10.0, 50.0), (50.0, 5.0), (4.0, 7.0)])
def test_a_delay_is_found_far_below_the_sampling_period(delay: float, rates: tuple[float, float]) -> None:
    errors = np.array([_found(delay, rates, 1.0, seed).seconds - delay for seed in range(20)])
    assert abs(float(errors.mean())) < max(0.05 / min(rates), 2e-3)
    assert float(np.abs(errors).max()) < max(0.15 / min(rates), 8e-3)


@pytest.mark.parametrize("noise", [0.5, 3.0, 10.0])
@pytest.mark.parametrize("rates", [(20.0, 20.0), (10.0, 25.0)])
def test_the_told_uncertainty_is_the_scatter_of_repeats(noise: float, rates: tuple[float, float]) -> None:
    found = [_found(0.3, rates, noise, seed) for seed in range(200)]
    scores = np.array([(one.seconds - 0.3) / one.sd for one in found])
    assert 0.5 < float(np.sqrt(np.mean(scores**2))) < 1.35
    assert float(np.mean(np.abs(scores) < 3.0)) > 0.97


def test_more_noise_is_less_alike_and_less_certain() -> None:
    calm, loud = _found(0.3, (20.0, 20.0), 0.5, 1), _found(0.3, (20.0, 20.0), 20.0, 1)
    assert calm.sd < loud.sd and calm.peak > loud.peak


def test_slow_drift_and_offset_do_not_shift_it() -> None:
    a, b = _pair(0.3, (20.0, 20.0), 0.5, 3)
    found = delay_between(a, Samples(b.time, b.values + 4.0 * b.time))
    assert found is not None and found.seconds == pytest.approx(0.3, abs=0.01)


def test_nothing_is_told_where_nothing_can_be() -> None:
    time = np.arange(0.0, 20.0, 0.05)
    flat, lively = Samples(time, np.full(time.size, 3.0)), Samples(time, _course(time))
    assert delay_between(lively, flat) is None
    assert delay_between(flat, lively) is None
    assert delay_between(lively, Samples(time + 18.0, _course(time))) is None  # hardly any common time
    assert delay_between(lively, Samples(time[:3], lively.values[:3])) is None
    late = delay_between(lively, Samples(time, _course(time - 2.5)), longest=1.0)
    assert late is None or late.peak < 0.9
