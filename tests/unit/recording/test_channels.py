"""Headers in several languages named rightly, and the air around reasoned from sensors at rest."""

from __future__ import annotations

import importlib.util
import sys
import tomllib
from pathlib import Path
from types import ModuleType
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.unit.recording.practice_columns import LOGS, needs_cases

from boostproof.recording import Barometer, Channel, KeyOn, read_recording
from boostproof.recording.checks.barometer import find_barometer
from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise

# --- headers in several languages -----------------------------------------------------------------


def _fixture(name: str) -> ModuleType:
    path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"recordings_{name}", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


Array = NDArray[np.float64]
DRIVE: dict[str, Array] = _fixture("drive").drive(20.0, 303)
HEADERS = [*_fixture("headers").first(DRIVE), *_fixture("headers").second(DRIVE)]
BESIDE = {
    "Time (s)": ("time_s", "time"),
    "TPS (%)": ("throttle_pct", "throttle"),
    "Engine RPM": ("rpm", "engine_speed"),
    "MAP (kPa)": ("map_kpa", "manifold_pressure"),
}


@pytest.mark.parametrize(("header", "values", "expected"), HEADERS, ids=[h for h, _, _ in HEADERS])
def test_a_header_is_named_with_unit_and_reference(
    header: str, values: Array, expected: tuple[str, str, str | None] | None
) -> None:
    name = expected[0] if expected is not None else ""
    same = {"boost": "manifold_pressure"}.get(name, name)
    columns = [Column(head, "", DRIVE[key]) for head, (key, beside) in BESIDE.items() if beside != same]
    columns.append(Column(header, "", np.asarray(values, dtype=np.float64)))
    recording = recognise(Table("log.csv", "csv", len(DRIVE["rpm"]), tuple(columns)))
    found = {c.column: (c.name, c.unit, c.reference) for c in recording.channels.values()}
    assert found.get(header) == expected


# --- the air around, reasoned from sensors at rest ------------------------------------------------


def _boost(name: str, rest: float) -> tuple[Channel, KeyOn]:
    gauge = abs(rest) < 50e3
    reference: Literal["gauge", "abs"] = "gauge" if gauge else "abs"
    channel = Channel(name, name, "kPa", reference, 0.97, "", 0, np.full(50, rest))
    return channel, KeyOn(name, reference, rest, 100.0, 50)


def _around(given: float | None = None, **rests: float) -> Barometer:
    both = {name: _boost(name, rest) for name, rest in rests.items()}
    return find_barometer({n: c for n, (c, _) in both.items()}, {n: k for n, (_, k) in both.items()}, given)


@pytest.mark.parametrize(
    ("rests", "source", "value", "sd"),
    [
        # A logger that subtracts the standard atmosphere shows the day's barometer less 101.325 kPa.
        ({"boost": -4.5e3}, "standard atmosphere", 96.825e3, 1.2e3),
        ({"boost": -4.5e3, "compressor_outlet_pressure": -4.4e3}, "standard atmosphere", 96.825e3, 1.2e3),
        # True gauge sensors of exhaust pressure rest at zero whatever the logger does.
        ({"boost": -4.5e3, "turbine_inlet_pressure": 0.0}, "standard atmosphere", 96.825e3, 1.2e3),
        # The same logger shows the other at zero: then it is the sensor.
        ({"boost": -4.5e3, "compressor_outlet_pressure": 0.0}, "standard atmosphere", 101.325e3, 2.5e3),
        ({"boost": 0.6e3}, "standard atmosphere", 101.325e3, 2.5e3),
        # No weather makes 123 kPa, no shop stands at 66 kPa.
        ({"boost": 21.8e3}, "standard atmosphere", 101.325e3, 2.5e3),
        ({"boost": -35e3}, "standard atmosphere", 101.325e3, 2.5e3),
        ({"manifold_pressure": 98.5e3}, "key-on", 98.5e3, 1.5e3),
        ({"manifold_pressure": 113.2e3}, "standard atmosphere", 101.325e3, 2.5e3),
        ({"manifold_pressure": 113.2e3, "compressor_outlet_pressure": 101.5e3}, "key-on", 101.5e3, 1.5e3),
        ({"manifold_pressure": 98.5e3, "compressor_outlet_pressure": 98.7e3}, "key-on", 98.6e3, 0.51e3),
        ({"manifold_pressure": 95e3, "compressor_outlet_pressure": 99e3}, "key-on", 97e3, 2.06e3),
    ],
)
def test_the_air_around_is_reasoned_from_sensors_at_rest(
    rests: dict[str, float], source: str, value: float, sd: float
) -> None:
    around = _around(**rests)
    assert around.source == source
    assert around.value == pytest.approx(value)
    assert around.sd == pytest.approx(sd, rel=0.01)
    assert _around(98.2e3, **rests) == Barometer(98.2e3, 300.0, "given")


def test_a_logged_barometer_goes_first_unless_it_is_no_air_pressure() -> None:
    logged, _ = _boost("barometer", 97.4e3)
    assert find_barometer({"barometer": logged}, {}, 99e3) == Barometer(97.4e3, 300.0, "logged")
    broken, _ = _boost("barometer", 120e3)
    assert find_barometer({"barometer": broken}, {}, 99e3).source == "given"


def test_a_barometer_taken_from_boost_at_rest_is_said_and_boost_is_left_alone() -> None:
    shifted = DRIVE["boost_kpa"] - 4.5
    columns = {"Time (s)": DRIVE["time_s"], "RPM": DRIVE["rpm"], "Boost (kPa)": shifted}
    table = tuple(Column(head, "", values) for head, values in columns.items())
    recording = recognise(Table("log.csv", "csv", len(shifted), table))
    assert recording.barometer.value == pytest.approx(96.8e3, abs=100)
    np.testing.assert_allclose(recording.boost_gauge(), shifted * 1e3)
    (finding,) = [f for f in recording.findings if f.kind == "barometer-from-gauge"]
    assert "-4.5 kPa" in finding.says and "96.8 kPa" in finding.says and "barometer" in finding.do
    told = recognise(Table("log.csv", "csv", len(shifted), table), barometer=101.3e3)
    assert told.barometer.value == 101.3e3
    assert "barometer-from-gauge" not in {f.kind for f in told.findings}


@needs_cases
def test_the_air_around_a_practice_log_is_found_without_being_told() -> None:
    """Against the barometer that the same log holds, or that car.toml of the case gives."""
    seen = 0
    for path in LOGS:
        weather = tomllib.loads((path.parents[1] / "car.toml").read_text()).get("weather", {})
        recording = read_recording(path)
        logged = recording.values("barometer")
        if logged is None and "barometer" not in weather:
            continue
        if logged is None:
            true = float(weather["barometer"].removesuffix(" kPa")) * 1e3
        else:
            true = float(np.nanmedian(logged))
        rest = {name: c for name, c in recording.channels.items() if name != "barometer"}
        around = find_barometer(rest, recording.key_on_all)
        assert abs(around.value - true) < 2.5 * around.sd, path.parts[-3]
        if around.sd < 2.0e3:
            assert abs(around.value - true) < 300.0, path.parts[-3]
            seen += 1
    assert seen >= 9
