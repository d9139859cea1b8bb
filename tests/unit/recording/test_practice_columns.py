"""Every column of every practice log named rightly without being told, and nothing asked about it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.unit.recording.practice_columns import LOGS, by_eye, needs_cases

from boostproof.recording import read_recording
from boostproof.recording.readers import read_delimited


@needs_cases
@pytest.mark.parametrize("path", LOGS, ids=[path.parts[-3] for path in LOGS])
def test_every_column_of_a_practice_log_is_named_rightly(path: Path) -> None:
    case, recording = path.parts[-3].removeprefix("practice-"), read_recording(path)
    headers = [column.header for column in read_delimited(path).columns]
    found = {c.column: (c.name, c.unit, c.reference) for c in recording.channels.values()}
    assert found == {header: by_eye(case, header) for header in headers}


@needs_cases
@pytest.mark.parametrize("path", LOGS, ids=[path.parts[-3] for path in LOGS])
def test_units_of_a_practice_log_give_values_that_a_car_has(path: Path) -> None:
    recording = read_recording(path)
    top = {c.name: float(np.nanpercentile(c.values, 99.5)) for c in recording.channels.values()}
    exhaust, throttle = recording.values("exhaust_temperature_before_turbine"), recording.values("throttle")
    assert throttle is not None
    if (
        exhaust is not None
    ):  # on the overrun some of these logs show up to 1700 C; no car has that at full load
        assert 950 < float(np.nanmax(exhaust[throttle > 0.9])) < 1300
    assert 3000 < top["engine_speed"] * 30 / np.pi < 9000
    assert 0.9 < top["throttle"] < 1.05
    assert 30e3 < float(np.nanmax(recording.boost_gauge())) < 250e3
    assert 5.0 < 1.0 / np.median(np.diff(recording.time)) < 60.0
    assert 20.0 < recording.time[-1] - recording.time[0] < 900.0
    for name, (low, high) in {
        "intake_temperature": (273, 400),
        "coolant_temperature": (350, 390),
        "air_flow": (0.03, 0.8),
        "vehicle_speed": (5, 90),
        "torque": (100, 1200),
        "lambda": (1.0, 1.7),
        "air_fuel_ratio": (14, 25),
        "shaft_speed": (5e3, 25e3),
        "battery_voltage": (12, 15),
        "turbine_inlet_pressure": (30e3, 500e3),
    }.items():
        if name in top:
            assert low < top[name] < high, name


@needs_cases
@pytest.mark.parametrize("path", LOGS, ids=[path.parts[-3] for path in LOGS])
def test_nothing_is_asked_and_no_unit_doubted_where_the_log_says_all(path: Path) -> None:
    recording = read_recording(path)
    assert recording.questions == ()
    assert not {"unit-differs", "unsure-channel"} & {finding.kind for finding in recording.findings}
