"""The metrics of a pull from plain arrays, against curves whose answer is drawn in."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.recording.pulls.metrics import METRICS, measure


def test_a_pull_that_met_the_end_of_the_sensor_tells_only_what_came_before() -> None:
    rng = np.random.default_rng(2)
    time = np.arange(0.0, 6.0, 0.02)
    rpm = 2000.0 + 700.0 * time
    boost = np.minimum(np.minimum(24.0 * time, 60.0 + 8.0 * time) + rng.normal(0.0, 0.3, time.size), 98.0)
    free, met = measure(time, rpm, boost, tip_in=True), measure(time, rpm, boost, tip_in=True, limit=98.0)
    assert free["peak_kpa_gauge"] is not None
    assert met["peak_kpa_gauge"] is None and met["end_kpa_gauge"] is None and met["rpm_at_80"] is None


def test_spread_of_repeats_is_what_the_sd_says() -> None:
    values: dict[str, list[tuple[float, float]]] = {}
    for seed in range(40):
        rng = np.random.default_rng(seed)
        time = np.arange(0.0, 8.0, 0.05)
        rpm = 2000.0 + 550.0 * time + rng.normal(0.0, 4.0, time.size)
        boost = np.minimum(30.0 * time, 90.0) + rng.normal(0.0, 1.0, time.size)
        for name, metric in measure(time, rpm, boost, tip_in=True).items():
            if metric is not None:
                values.setdefault(name, []).append((metric.value, metric.sd))
    for name in (
        "boost_threshold_rpm",
        "rpm_at_80",
        "plateau_kpa_gauge",
        "end_kpa_gauge",
        "creep_kpa_per_1000rpm",
    ):
        told = np.array(values[name])
        assert len(told) == 40
        # The stated sd covers the noise, and is not many times too wide (it also holds the doubt in the lag).
        assert told[:, 0].std() < 1.4 * told[:, 1].mean(), name
        assert told[:, 0].std() > 0.08 * told[:, 1].mean(), name


def test_what_a_pull_cannot_show_is_none() -> None:
    time = np.arange(0.0, 6.0, 0.02)
    rpm = 2000.0 + 700.0 * time
    none = dict.fromkeys(METRICS)
    assert measure(time, rpm, None, tip_in=True) == none
    assert measure(time[:3], rpm[:3], np.zeros(3), tip_in=True) == none
    flat = measure(time, rpm, np.full(time.size, 50.0), tip_in=True)
    assert [n for n, m in flat.items() if m is not None] == [
        "peak_kpa_gauge",
        "peak_rpm",
        "end_kpa_gauge",
        "end_rpm",
    ]
    assert all(m.sd > 0.0 for m in flat.values() if m is not None)
    late = measure(time, rpm, np.minimum(24.0 * time, 60.0), tip_in=False)
    assert late["time_to_80_s"] is None and late["rpm_at_80"] is not None


def test_a_slower_log_says_so_in_its_sd() -> None:
    # Boost that still climbs at the end: between two samples it moves, and the sd must hold that.
    found = {}
    for rate in (50.0, 10.0, 4.0):
        time = np.arange(0.0, 6.0, 1.0 / rate)
        boost = 20.0 * time + np.random.default_rng(4).normal(0.0, 0.3, time.size)
        end = measure(time, 2000.0 + 600.0 * time, boost, tip_in=True)["end_kpa_gauge"]
        assert end is not None
        assert end.value == pytest.approx(20.0 * time[-1], abs=3.0 * end.sd)
        found[rate] = end.sd
    # A step of 1/rate, evenly likely in it: slope / rate / sqrt(12) (GUM, JCGM 100:2008, 4.3.7).
    assert found[10.0] >= 20.0 / 10.0 / np.sqrt(12.0) and found[4.0] >= 20.0 / 4.0 / np.sqrt(12.0)
    assert found[50.0] < found[10.0] < found[4.0]


def test_the_last_speed_is_no_surer_than_the_time_between_samples() -> None:
    for rate in (20.0, 5.0):
        time = np.arange(0.0, 6.0, 1.0 / rate)
        end = measure(time, 2000.0 + 600.0 * time, np.full(time.size, 50.0), tip_in=True)["end_rpm"]
        assert end is not None and end.sd >= 600.0 / rate / np.sqrt(12.0)


def test_lost_samples_left_out_leave_the_answer() -> None:
    rng = np.random.default_rng(5)
    time = np.arange(0.0, 9.0, 0.02)
    rpm, boost = 2000.0 + 500.0 * time, np.minimum(30.0 * time, 90.0) + rng.normal(0.0, 0.4, time.size)
    every = measure(time, rpm, boost, tip_in=True)
    kept = rng.random(time.size) < 0.4
    kept[0] = True
    few = measure(time[kept], rpm[kept], boost[kept], tip_in=True)
    for name in ("knee_rpm", "knee_kpa_gauge", "plateau_kpa_gauge", "rpm_at_80", "end_kpa_gauge"):
        a, b = every[name], few[name]
        assert a is not None and b is not None
        assert a.value == pytest.approx(b.value, abs=3.0 * np.hypot(a.sd, b.sd)), name
