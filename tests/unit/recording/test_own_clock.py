"""Channels with clocks of their own: air flow and power must follow their own samples, not the rows between them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import Array, channel, drawn_pull

from boostproof.recording import Barometer, Metric, Pull
from boostproof.recording.model import Samples
from boostproof.recording.pulls.air_flow import operating_line
from boostproof.recording.pulls.own_clock import through
from boostproof.recording.pulls.weather import peak_power
from boostproof.recording.rows import on_rows

LITRES = Metric(2.0e-3, 0.0)


def with_samples(name: str, time: Array, values: Array, *, rate: float = 5.0, reference: str | None = None) -> Pull:
    """A slow pull of 2000 to 6400 rpm whose rows are ``rate`` a second, and a channel with its own samples."""
    pull = drawn_pull(
        np.random.default_rng(2), scatter=0.0, noise=0.05, rate=rate, knee=1801.0,
        barometer=Barometer(100e3, 0.0, "given"),
    )  # fmt: skip
    samples = Samples(time, values)
    made = channel(name, on_rows(samples, pull.recording.time), unit="kPa" if reference else "", reference=reference)
    channels = {**pull.recording.channels, name: replace(made, samples=samples)}
    return replace(pull, recording=replace(pull.recording, channels=channels))


def test_a_fast_air_flow_between_slow_rows() -> None:
    # A swell of half a second between two rows, which are a second apart and cannot show its height.
    time = np.arange(0.0, 8.8, 0.02)
    flow = 0.10 + 0.05 * np.exp(-(((time - 4.4) / 0.35) ** 2))
    pull = with_samples("air_flow", time, flow, rate=1.0)
    line = operating_line(pull, displacement=LITRES)
    at = int(np.argmax(line.air_flow.value))
    # 2000 rpm and 500 rpm/s: 4.4 s is 4200 rpm. The mean over 0.3 s, by which it is smoothed, is 0.147.
    assert line.rpm[at] == 4200.0
    assert line.air_flow.value[at] == pytest.approx(0.147, abs=0.002)
    rows = replace(pull.recording.channels["air_flow"], samples=None)
    slow = replace(pull, recording=replace(pull.recording, channels={**pull.recording.channels, "air_flow": rows}))
    assert operating_line(slow, displacement=LITRES).air_flow.value.max() < 0.125


def test_a_gauge_pressure_on_its_own_clock_is_made_absolute() -> None:
    time = np.arange(0.0, 8.8, 0.01)
    pull = with_samples("compressor_outlet_pressure", time, np.full(time.size, 110e3), reference="gauge")
    line = operating_line(pull, displacement=LITRES, inlet_loss=Metric(0.0, 0.0))
    assert line.sources["compressor outlet"] == "logged"
    assert line.pressure_ratio.value == pytest.approx(np.full(len(line.rpm), 2.10), rel=1e-6)


@pytest.mark.parametrize("name", ["power", "torque"])
def test_peak_power_of_own_samples(name: str) -> None:
    # 150 kW for half a second on 100 kW, between two rows; torque is the same over engine speed.
    time = np.arange(0.0, 8.75, 0.01)
    watt = 100e3 + 50e3 * np.exp(-(((time - 4.25) / 0.2) ** 2))
    speed = (2000.0 + 500.0 * time) * np.pi / 30.0
    pull = with_samples(name, time, watt if name == "power" else watt / speed, rate=2.0)
    power = peak_power(pull)
    assert power is not None and power.value == pytest.approx(150.0, abs=2.5)
    rows = replace(pull.recording.channels[name], samples=None)
    slow = replace(pull, recording=replace(pull.recording, channels={**pull.recording.channels, name: rows}))
    without = peak_power(slow)
    assert without is not None and without.value < 130.0


def test_rows_that_hold_a_value_now_and_then_are_taken_alone() -> None:
    pull = drawn_pull(np.random.default_rng(3), rate=20.0)
    sparse = np.full(pull.stop, np.nan)
    sparse[::5] = np.arange(0.0, len(sparse[::5]))
    found = through(pull, channel("air_flow", sparse))
    assert found is not None
    time, values = found
    assert values.tolist() == sparse[::5].tolist()
    assert time == pytest.approx(pull.recording.time[::5])
    few = np.where(np.arange(pull.stop) < 0.4 * pull.stop, 1.0, np.nan)
    assert through(pull, channel("air_flow", few)) is None
    assert through(pull, channel("air_flow", np.full(pull.stop, np.nan))) is None
