"""Power from the rise of a known inertia, against flywheels whose motion is known in closed form."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import savgol_filter
from tests.unit.recording.drawn_pulls import Array, drawn_pull

from boostproof.errors import InputError, InputRangeError
from boostproof.recording import Metric, Pull
from boostproof.recording.model import Samples
from boostproof.recording.pulls.inertia_dyno import inertia_dyno, inertia_power, mass_of_roller, rise_of

MASS = Metric(950.0, 0.0)


def a_pull(road: Array | None = None, time: Array | None = None) -> Pull:
    pull = drawn_pull(np.random.default_rng(1), noise=0.1)
    time = pull.recording.time if time is None else time
    return drawn_pull(
        np.random.default_rng(1), noise=0.1, more={"vehicle_speed": 20.0 + 2.0 * time if road is None else road}
    )


def test_a_constant_torque_on_a_flywheel() -> None:
    # 120 Nm on 12.5 kg m2 from 30 rad/s: w = 30 + 9.6 t, and the power is 120 w.
    time = np.arange(0.0, 8.0, 0.02)
    speed = 30.0 + 120.0 / 12.5 * time
    power, _, rise = inertia_power(time, speed, Metric(12.5, 0.0))
    assert power == pytest.approx(120.0 * speed, rel=1e-9)
    assert rise.rate == pytest.approx(np.full(time.size, 9.6), rel=1e-9)


def test_a_constant_power_through_noise() -> None:
    # Constant power: v = sqrt(v0^2 + 2 P t / m).
    time = np.arange(0.0, 8.0, 0.02)
    clean = np.sqrt(20.0**2 + 2.0 * 80e3 * time / 950.0)
    inside = slice(40, -40)
    errors = []
    for seed in range(20):
        speed = clean + np.random.default_rng(seed).normal(0.0, 0.03, time.size)
        power, sd, rise = inertia_power(time, speed, MASS)
        assert 0.3 <= rise.window <= 1.6
        errors.append((power[inside] - 80e3) / sd[inside])
    # The stated sd is that of the errors.
    assert 0.8 < np.std(errors) < 1.25
    assert abs(np.mean(errors)) < 0.3


def test_the_rate_is_that_of_an_independent_library() -> None:
    time = np.arange(0.0, 6.0, 0.05)
    speed = 20.0 + 3.0 * np.sin(time) + np.random.default_rng(2).normal(0.0, 0.01, time.size)
    rise = rise_of(time, speed)
    window = round(rise.window / 0.05)
    expected = savgol_filter(speed, window, 2, deriv=1, delta=0.05, mode="interp")
    assert rise.rate == pytest.approx(expected, abs=1e-9)


def test_whole_kilometres_an_hour_are_smoothed_for_longer() -> None:
    time = np.arange(0.0, 8.0, 0.1)
    speed = 20.0 + 2.0 * time
    fine, coarse = rise_of(time, speed), rise_of(time, np.round(speed * 3.6) / 3.6)
    assert fine.window < coarse.window
    assert coarse.rate[10:-10] == pytest.approx(np.full(60, 2.0), abs=0.25)


def test_power_and_torque_of_a_pull() -> None:
    # 950 kg at 2 m/s2: 1900 N times 37 m/s at the end of 8.5 s are 70 kW.
    run = inertia_dyno(a_pull(), equivalent_mass=Metric(950.0, 19.0))
    end = 0.9 * 8.75
    assert run.peak_power.value == pytest.approx(1.9 * (20.0 + 2.0 * end), rel=0.02)
    assert run.peak_power.sd == pytest.approx(0.02 * run.peak_power.value, rel=0.2)
    # Torque is power over engine speed, highest where the speed is lowest in this drawing.
    rpm = run.peak_torque_rpm
    assert run.peak_torque.value == pytest.approx(
        1900.0 * (20.0 + 2.0 * (rpm - 2000.0) / 500.0) / (rpm * np.pi / 30.0), rel=0.02
    )
    assert "Losses are not included" in run.says
    assert json.loads(json.dumps(run.as_json()))["peak_power_kw"]["value"] == run.peak_power.value


def test_a_roller_is_a_mass() -> None:
    # A thin-walled drum of 0.5 m diameter and 400 kg: I = m r^2 = 25 kg m2, and its mass is all at the rim.
    mass = mass_of_roller(Metric(25.0, 0.5), Metric(0.5, 0.005))
    assert mass.value == pytest.approx(400.0)
    assert mass.sd == pytest.approx(400.0 * np.hypot(0.02, 0.02))
    by_roller = inertia_dyno(a_pull(), roller_inertia=Metric(25.0, 0.5), roller_diameter=Metric(0.5, 0.005))
    by_mass = inertia_dyno(a_pull(), equivalent_mass=mass)
    assert by_roller.peak_power == by_mass.peak_power


def test_the_speeds_own_time_base_is_used() -> None:
    pull = a_pull()
    time = np.arange(0.0, pull.to_s, 0.01)
    speed = replace(pull.recording.channels["vehicle_speed"], samples=Samples(time, 20.0 + 3.0 * time))
    recording = replace(pull.recording, channels={**pull.recording.channels, "vehicle_speed": speed})
    run = inertia_dyno(replace(pull, recording=recording), equivalent_mass=MASS)
    assert len(run.rpm) == time.size
    assert run.power[100] == pytest.approx(0.95 * 3.0 * (20.0 + 3.0 * time[100]), rel=0.01)


def test_what_is_missing_is_named() -> None:
    with pytest.raises(InputError, match="Without the inertia") as no_inertia:
        inertia_dyno(a_pull(), roller_inertia=Metric(12.5, 0.1))
    assert "roller_diameter" in no_inertia.value.do
    with pytest.raises(InputError, match="no road speed"):
        inertia_dyno(drawn_pull(np.random.default_rng(1)), equivalent_mass=MASS)
    with pytest.raises(InputError, match="does not rise"):
        inertia_dyno(a_pull(np.full(176, 20.0)), equivalent_mass=MASS)
    with pytest.raises(InputRangeError, match="above zero"):
        inertia_power(np.arange(9.0), np.arange(9.0), Metric(0.0, 0.0))
    with pytest.raises(InputRangeError, match="eight samples"):
        rise_of(np.arange(4.0), np.arange(4.0))
