"""Smoothing, noise, straight pieces and waves, against other libraries and known answers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.signal import savgol_filter

from boostproof.recording.signals.broken_lines import BrokenLines, fit_broken_lines
from boostproof.recording.signals.limits import find_limit, ripples
from boostproof.recording.signals.smooth import filled, noise_gain, noise_of, resolution, smooth, window_for
from boostproof.recording.signals.waves import strongest_line


@pytest.mark.parametrize(("window", "order"), [(3, 1), (5, 2), (7, 2), (21, 2), (9, 1)])
def test_smoothing_equals_scipys_filter(window: int, order: int) -> None:
    # Agreement with an independent library, ends included (its mode "interp" does the same there).
    values = np.random.default_rng(1).normal(size=80).cumsum()
    np.testing.assert_allclose(
        smooth(values, window, order), savgol_filter(values, window, order), atol=1e-10
    )


def test_a_window_no_larger_than_the_order_changes_nothing() -> None:
    values = np.arange(5.0) ** 3
    assert smooth(values, 1, 2).tolist() == values.tolist()
    assert (
        window_for(0.2, 0.1, 100) == 3 and window_for(0.2, 0.01, 100) == 21 and window_for(1.0, 0.01, 8) == 7
    )


def test_noise_is_found_beside_a_curve() -> None:
    rng = np.random.default_rng(2)
    curve = 50.0 * np.tanh(np.linspace(-2, 2, 800))
    assert noise_of(curve + rng.normal(0.0, 0.7, 800)) == pytest.approx(0.7, rel=0.15)
    # Rounding alone: the sd of a step of width q is q / sqrt(12) (GUM, JCGM 100:2008, 4.3.7).
    assert noise_of(np.round(curve, 0)) >= 1.0 / np.sqrt(12.0) - 1e-9
    smoothed = smooth(rng.normal(0.0, 1.0, 20000), 9)
    assert noise_gain(9) == pytest.approx(float(smoothed.std()), rel=0.03)


def test_resolution_and_holes() -> None:
    assert resolution(np.round(np.random.default_rng(3).normal(0, 5, 500) / 0.25) * 0.25) == pytest.approx(
        0.25
    )
    assert filled(np.array([1.0, np.nan, 3.0, np.nan])).tolist() == [1.0, 2.0, 3.0, 3.0]


def _lines(rpm: np.ndarray, curves: np.ndarray, noise: float) -> BrokenLines:
    return fit_broken_lines(rpm, curves, 80.0, noise=noise**2, free=len(rpm))


def _bent(rpm: np.ndarray, breaks: list[float], slopes: list[float]) -> np.ndarray:
    level = slopes[0] * (rpm - rpm[0])
    for place, before, after in zip(breaks, slopes[:-1], slopes[1:], strict=True):
        level = level + (after - before) * np.maximum(rpm - place, 0.0)
    return np.asarray(level)


@pytest.mark.parametrize(
    ("breaks", "slopes"),
    [
        ([3400.0], [0.08, 0.002]),
        ([3400.0, 5200.0], [0.08, 0.001, 0.03]),
        ([3500.0, 3900.0], [0.09, -0.03, 0.0]),
    ],
)
def test_breaks_and_slopes_come_back(breaks: list[float], slopes: list[float]) -> None:
    rng = np.random.default_rng(4)
    rpm = np.linspace(2800.0, 6500.0, 400)
    clean = _bent(rpm, breaks, slopes)
    fitted = _lines(rpm, np.stack([clean, clean + rng.normal(0.0, 0.3, 400)]), 0.3)
    count = len(slopes)
    assert fitted.count.tolist() == [count, count]
    np.testing.assert_allclose(fitted.edges[0, 1:count], breaks, atol=5.0)
    np.testing.assert_allclose(fitted.edges[1, 1:count], breaks, atol=45.0)
    np.testing.assert_allclose(fitted.slopes[1, :count], slopes, atol=0.006)
    assert fitted.misfit[1] < 0.15  # the noise is taken off


def test_the_fit_is_the_least_squares_one() -> None:
    # Agreement: a general optimiser, started anywhere near, finds no better place for two breaks.
    rng = np.random.default_rng(5)
    rpm = np.linspace(2800.0, 6500.0, 300)
    boost = _bent(rpm, [3400.0, 5200.0], [0.08, 0.004, 0.02]) + rng.normal(0.0, 0.5, 300)
    fitted = _lines(rpm, boost[None], 0.0)
    assert fitted.count[0] == 3

    def rest(p: np.ndarray) -> np.ndarray:
        hinges = np.stack(
            [np.ones(300), rpm, np.maximum(rpm - p[0], 0.0), np.maximum(rpm - p[1], 0.0)], axis=1
        )
        return np.asarray(hinges @ np.linalg.lstsq(hinges, boost, rcond=None)[0] - boost)

    best = least_squares(rest, [3300.0, 5000.0], x_scale=100.0)
    assert fitted.misfit[0] <= np.sqrt(np.mean(best.fun**2)) * 1.01
    np.testing.assert_allclose(fitted.edges[0, 1:3], best.x, atol=40.0)


def test_one_straight_line_stays_one_piece() -> None:
    rng = np.random.default_rng(6)
    rpm = np.linspace(2800.0, 6500.0, 300)
    curves = 0.01 * rpm + rng.normal(0.0, 0.5, (50, 300))
    assert np.mean(_lines(rpm, curves, 0.5).count == 1) > 0.9


@pytest.mark.parametrize("hertz", [0.9, 2.3, 6.0])
def test_a_wave_is_found_with_its_amplitude(hertz: float) -> None:
    rng = np.random.default_rng(7)
    time = np.arange(0.0, 9.0, 0.04)
    values = (
        90.0 - 0.8 * time + 2.5 * np.sin(2 * np.pi * hertz * time + 0.4) + rng.normal(0.0, 0.4, time.size)
    )
    line = strongest_line(time, values)
    assert line is not None
    assert line.frequency[0] == pytest.approx(hertz, abs=max(3.0 * line.frequency[1], 0.03))
    assert line.amplitude[0] == pytest.approx(2.5, rel=0.12)


def test_noise_is_no_wave() -> None:
    rng = np.random.default_rng(8)
    time = np.arange(0.0, 9.0, 0.04)
    alarms = sum(strongest_line(time, 90.0 + rng.normal(0.0, 2.0, time.size)) is not None for _ in range(200))
    assert alarms <= 2


def test_one_swing_after_the_knee_is_no_wave() -> None:
    time = np.arange(0.0, 9.0, 0.04)
    swing = 6.0 * np.exp(-time / 0.5) * np.cos(2 * np.pi * 0.8 * time)
    assert strongest_line(time, 90.0 + swing + np.random.default_rng(9).normal(0.0, 0.2, time.size)) is None


def test_the_end_of_a_sensor() -> None:
    rng = np.random.default_rng(10)
    time = np.arange(0.0, 10.0, 0.05)
    true = 60.0 + 12.0 * time + rng.normal(0.0, 0.4, time.size)
    limit = find_limit(np.minimum(true, 150.0), time)
    assert limit is not None and limit.value == 150.0 and time[limit.first] == pytest.approx(7.5, abs=0.3)
    assert find_limit(true, time) is None
    # A channel in coarse steps rests at its top without meaning anything.
    coarse = np.round(np.minimum(true, 140.0 + rng.normal(0.0, 0.3, time.size)) / 5.0) * 5.0
    assert not ripples(coarse) and find_limit(coarse, time) is None
