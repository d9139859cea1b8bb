"""The operating line of a pull, against figures worked out by hand; physics.md's example stands at its check."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import channel, drawn_pull

from boostproof.errors import InputError, InputRangeError
from boostproof.physics.compressor_table import CompressorTable
from boostproof.physics.corrected import OLDER_MAPS, SAE_J1826
from boostproof.recording import Barometer, Metric, Pull
from boostproof.recording.pulls.air_flow import OperatingLine, operating_line

TWO_LITRES = Metric(2.0e-3, 0.0)
ROWS = 176


def a_pull(boost: float = 98.675, **more: float) -> Pull:
    """2000 to 6400 rpm at a flat boost, by default of 200 kPa abs on a day of 101.325 kPa."""
    drawn = {name: np.full(ROWS, value) for name, value in more.items()}
    pull = drawn_pull(
        np.random.default_rng(1), scatter=0.0, noise=0.01, more=drawn, plateau=boost, knee=1801.0,
        barometer=Barometer(101_325.0, 0.0, "given"),
    )  # fmt: skip
    return pull


def with_pressure(pull: Pull, name: str, pascal: float) -> Pull:
    made = channel(name, np.full(ROWS, pascal), unit="kPa", reference="abs")
    return replace(pull, recording=replace(pull.recording, channels={**pull.recording.channels, name: made}))


def at(line: OperatingLine, rpm: float) -> int:
    return int(np.argmin(np.abs(line.rpm - rpm)))


def test_flow_from_displacement() -> None:
    # 2.0 L, 6000 rpm, volumetric efficiency 0.95, 200 kPa, 318 K: 0.2081 kg/s by m = eta p V N / (120 R T).
    line = operating_line(
        a_pull(intake_temperature=318.0), displacement=TWO_LITRES, volumetric_efficiency=Metric(0.95, 0.0)
    )
    i = at(line, 6000.0)
    assert line.air_flow.value[i] == pytest.approx(0.2081, rel=0.003)
    # 1 % of pressure and 3 K of 318 K.
    assert line.air_flow.sd[i] / line.air_flow.value[i] == pytest.approx(np.hypot(0.01, 3.0 / 318.0), rel=0.05)
    assert line.sources["air flow"].startswith("reckoned")


def test_a_logged_flow_goes_before_a_reckoned_one_and_two_compressors_share_it() -> None:
    one = operating_line(a_pull(air_flow=0.2), displacement=TWO_LITRES)
    two = operating_line(a_pull(air_flow=0.2), displacement=TWO_LITRES, count=2)
    assert one.sources["air flow"] == "logged"
    assert one.air_flow.value == pytest.approx(np.full(len(one.rpm), 0.2))
    assert two.air_flow.value == pytest.approx(0.5 * one.air_flow.value)
    assert two.pressure_ratio.value == pytest.approx(one.pressure_ratio.value)


def test_unknown_volumetric_efficiency_is_most_of_the_doubt() -> None:
    line = operating_line(a_pull(intake_temperature=318.0), displacement=TWO_LITRES)
    assert line.air_flow.sd[-1] / line.air_flow.value[-1] == pytest.approx(0.08 / 0.90, rel=0.05)
    guessed = operating_line(a_pull(), displacement=TWO_LITRES)
    assert guessed.sources["charge temperature"].startswith("reckoned")
    assert guessed.air_flow.sd[-1] > line.air_flow.sd[-1] * guessed.air_flow.value[-1] / line.air_flow.value[-1]
    # A usual cooler leaves 30 % of the heating: about 320 K for a ratio of 2 (75 % leave 321.5 K from 391 K).
    assert line.air_flow.value[-1] / guessed.air_flow.value[-1] == pytest.approx(324.0 / 318.0, rel=0.02)


def test_pressure_ratio_with_and_without_the_compressor_outlet() -> None:
    reckoned = operating_line(a_pull(air_flow=0.2), displacement=TWO_LITRES)
    # All of the pull at its highest flow: 200 kPa and 4 % of loss over 101.325 less 3 kPa.
    assert reckoned.pressure_ratio.value[-1] == pytest.approx(208.0 / 98.325, rel=0.005)
    measured = operating_line(
        with_pressure(a_pull(air_flow=0.2), "compressor_outlet_pressure", 212e3), displacement=TWO_LITRES
    )
    assert measured.sources["compressor outlet"] == "logged"
    assert measured.pressure_ratio.value[-1] == pytest.approx(212.0 / 98.325, rel=0.001)
    assert measured.pressure_ratio.sd[-1] < reckoned.pressure_ratio.sd[-1]


def test_efficiency_from_the_outlet_temperature() -> None:
    # PI 2.0 from 298.15 K at 70 % comes out at 391.4 K (gamma 1.4).
    pull = with_pressure(
        a_pull(air_flow=0.2, compressor_outlet_temperature=391.4, ambient_temperature=294.15),
        "compressor_outlet_pressure", 2.0 * 101_325.0,
    )  # fmt: skip
    line = operating_line(pull, displacement=TWO_LITRES, inlet_loss=Metric(0.0, 0.0))
    assert line.inlet_temperature.value == pytest.approx(298.15)
    assert line.efficiency is not None and line.outlet_temperature is not None
    assert line.efficiency.value[-1] == pytest.approx(0.70, abs=0.003)
    assert 0.01 < line.efficiency.sd[-1] < 0.08
    cold = operating_line(
        a_pull(air_flow=0.2, compressor_outlet_temperature=290.0), displacement=TWO_LITRES
    )
    assert cold.efficiency is not None and np.isnan(cold.efficiency.value).all()
    assert cold.summary()["efficiency_there"] is None


def test_the_line_on_a_map() -> None:
    table = CompressorTable(
        np.array([8000.0] * 3 + [12000.0] * 3), np.array([0.05, 0.08, 0.11, 0.08, 0.12, 0.16]),
        np.array([1.40, 1.36, 1.20, 2.05, 1.98, 1.60]), np.array([0.66, 0.72, 0.55, 0.68, 0.75, 0.60]), SAE_J1826,
    )  # fmt: skip
    pull = with_pressure(a_pull(air_flow=0.10, ambient_temperature=294.0), "compressor_outlet_pressure", 167e3)
    line = operating_line(pull, displacement=TWO_LITRES, table=table, inlet_loss=Metric(1325.0, 0.0))
    # 0.10 kg/s at 100 kPa and 298 K is its own corrected flow: halfway between the two lines, and along each.
    assert line.corrected_flow.value[-1] == pytest.approx(0.10, rel=1e-3)
    assert line.on_map is not None and line.on_map.outside == ()
    assert line.on_map.speed[-1] == pytest.approx(10_000.0, rel=0.01)
    assert line.on_map.efficiency[-1] == pytest.approx(0.735, abs=0.003)
    assert line.on_map.surge_margin[-1] > 0.3 and 0.0 < line.on_map.choke_margin[-1] < 0.4
    beyond = operating_line(a_pull(air_flow=0.3), displacement=TWO_LITRES, table=table)
    assert beyond.on_map is not None and len(beyond.on_map.outside) == len(beyond.rpm)
    assert "choke" in beyond.on_map.outside[0][1]


def test_summary_and_json() -> None:
    line = operating_line(a_pull(intake_temperature=318.0), displacement=TWO_LITRES)
    peak = line.summary()
    there, flow = peak["rpm_there"], peak["peak_corrected_flow_kg_s"]
    assert there is not None and there.value == line.rpm[-1]
    assert flow is not None and flow.value == line.corrected_flow.value.max()
    answer = json.loads(json.dumps(line.as_json(), allow_nan=False))
    assert answer["reference"] == {"pressure_kpa_abs": 100.0, "temperature_k": 298.0}
    assert len(answer["rpm"]) == len(answer["corrected_flow_kg_s"])


def test_the_reference_is_the_callers() -> None:
    sae, old = (
        operating_line(a_pull(air_flow=0.2), displacement=TWO_LITRES, reference=reference)
        for reference in (SAE_J1826, OLDER_MAPS)
    )
    # One map reads 0.954 times the other's flow.
    assert old.corrected_flow.value / sae.corrected_flow.value == pytest.approx(0.954, abs=5e-4)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputRangeError, match="displacement must be above zero"):
        operating_line(a_pull(), displacement=Metric(0.0, 0.0))
    with pytest.raises(InputRangeError, match="count"):
        operating_line(a_pull(), displacement=TWO_LITRES, count=0)
    with pytest.raises(InputError, match="not at full load"):
        operating_line(replace(a_pull(), full_load=False), displacement=TWO_LITRES)
