"""What stands beside the pulls of a proof: the forecast, peak power."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import Array, channel, drawn_pull

from boostproof.errors import InputError
from boostproof.proof import against_band, power_change
from boostproof.recording import Pull
from boostproof.recording.model import Metric
from boostproof.recording.pulls.weather import Air

GRID = np.arange(2500.0, 6001.0, 50.0)


def band(boost: Array, sd: float = 1e3) -> object:
    return against_band(
        GRID, boost, np.full(len(GRID), sd), np.array([3000.0, 5000.0]), np.full(2, 80e3), np.full(2, 100e3)
    )


def test_a_curve_leaves_its_forecast_where_it_was_made_to() -> None:
    boost = np.full(len(GRID), 90e3)
    inside = band(boost)
    assert inside.inside == 1.0 and inside.left == () and inside.verdict == "as forecast"  # type: ignore[attr-defined]
    boost[(GRID >= 4000.0) & (GRID <= 4400.0)] = 106e3
    boost[(GRID >= 4800.0)] = 79e3
    left = band(boost)
    first, second = left.left  # type: ignore[attr-defined]
    assert (first.rpm_from, first.rpm_to, first.side, first.most, first.sure) == (4000.0, 4400.0, "above", 6.0, True)
    # 1 kPa below with a doubt of 1 kPa is no miss; nothing is said beyond 5000 rpm, where there is no forecast.
    assert (second.rpm_from, second.rpm_to, second.side, second.sure) == (4800.0, 5000.0, "below", False)
    assert left.inside == pytest.approx(27.0 / 41.0)  # type: ignore[attr-defined]


def test_a_band_that_is_none_is_refused() -> None:
    curve, sd = np.full(len(GRID), 90e3), np.full(len(GRID), 1e3)
    with pytest.raises(InputError, match="no pulls after the repair"):
        against_band(GRID, curve, sd, np.array([7000.0, 8000.0]), np.zeros(2), np.ones(2))
    with pytest.raises(InputError, match="holds no band"):
        against_band(GRID, curve, sd, np.array([3000.0, 5000.0]), np.ones(2), np.zeros(2))


def powered(kilowatt: float) -> Pull:
    pull = drawn_pull(np.random.default_rng(1))
    channels = {**pull.recording.channels, "power": channel("power", np.full(pull.recording.rows, 1e3 * kilowatt))}
    return replace(pull, recording=replace(pull.recording, channels=channels))


def day(pressure: float, celsius: float, humidity: float, known: bool = True) -> Air:
    temperature = Metric(celsius + 273.15, 0.0) if known else None
    return Air(Metric(pressure, 0.0), temperature, Metric(humidity, 0.0), "given", "given", True)


def test_power_is_held_against_power_on_a_standard_day() -> None:
    """The same 150 kW on the day of factor 1.00000 and on that of 1.02875 (tests/published/test_power_correction.py)."""
    before = [(powered(p), day(99.000e3, 25.0, 0.0)) for p in (149.0, 150.0, 151.0)]
    after = [(powered(p), day(100.000e3, 30.0, 0.6)) for p in (149.0, 150.0, 151.0)]
    change = power_change(before, after, "gauge")
    assert change is not None and change.basis == "sae_j1349"
    assert change.difference.value == pytest.approx(150.0 * 0.02875, abs=0.01)
    # Scatter: (4 (1.5215)^2 + 2 + 2.117) / 8 = 1.672, on three pulls each: u^2 = 2 (1.672 / 3), by hand.
    assert change.difference.sd == pytest.approx(np.sqrt(2.0 * 1.672 / 3.0), rel=0.01)
    plain = power_change(before, after, None)
    assert plain is not None and plain.basis == "uncorrected" and plain.difference.value == pytest.approx(0.0, abs=1e-6)
    assert "absolute pressure" in plain.why_uncorrected and plain.change == "no different"


def test_power_without_what_it_needs() -> None:
    known, hot = day(99e3, 25.0, 0.0), day(95e3, 35.0, 0.4)
    assert power_change([(drawn_pull(np.random.default_rng(1)), known)], [(powered(150.0), known)], "gauge") is None
    far = power_change([(powered(150.0), known)], [(powered(150.0), hot)], "gauge")
    assert far is not None and far.basis == "uncorrected" and "limits of the standard" in far.why_uncorrected
    cold = power_change([(powered(150.0), known)], [(powered(150.0), day(99e3, 25.0, 0.0, known=False))], "gauge")
    assert cold is not None and "temperature" in cold.why_uncorrected
