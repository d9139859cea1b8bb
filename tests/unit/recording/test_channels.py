"""Columns named rightly: those of the practice logs, read by eye, and headers in several languages."""

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

from boostproof.recording import Barometer, Channel, KeyOn, Recording, read_recording
from boostproof.recording.checks.barometer import find_barometer
from boostproof.recording.recognise import recognise
from boostproof.recording.model import Column, Table
from boostproof.recording.readers import read_delimited

CASES = Path(__file__).resolve().parents[4] / "shared" / "cases"
LOGS = sorted(CASES.glob("practice-*/recordings/*.csv"))
needs_cases = pytest.mark.skipif(
    not LOGS, reason="The practice cases (../shared/cases) do not lie beside this checkout."
)

# channel: the headers it stands under, without their unit and without "abs" and "gauge" where these end it.
SPELLINGS: dict[str, str] = {
    "time": "time|t|Time|Timestamp",
    "engine_speed": "N|RPM|rpm|Eng Spd|Engine RPM|Engine Speed",
    "throttle": "TPS|Thr Angle|Throttle|Throttle Position|throttle_pct",
    "boost": "Boost|Boost Pressure|Gauge Boost|Manifold Boost",
    "manifold_pressure": "Intake Pressure|MAP|Manifold Abs Press|Manifold Pressure",
    "boost_target": "Boost Setpoint|Desired MAP|MAP Target|Target Boost|Target Manifold Pressure",
    "compressor_outlet_pressure": "Charge Pipe Pressure|Compressor Outlet Press|Pre-Throttle Pressure",
    "turbine_inlet_pressure": "EBP|Exh Manifold Press|Exhaust Back Pressure|Pre-Turbine Pressure",
    "barometer": "Baro|Baro Press|Barometric Pressure",
    "intake_temperature": "Air Temp|Charge Temp|IAT|Intake Air Temp",
    "exhaust_temperature_before_turbine": "EGT|Exhaust Gas Temp|Pre-Turbo Temp",
    "coolant_temperature": "CLT|Coolant Temp|ECT",
    "air_flow": "Airflow|MAF|Mass Air Flow",
    "air_fuel_ratio": "A/F|AFR|Air/Fuel Ratio|Wideband AFR",
    "lambda": "Lambda|lambda|Lambda 1|Wideband Lambda",
    "duty": "Boost Ctrl Duty|Boost Solenoid DC|WG Duty|Wastegate Duty|wgdc",
    "ignition_advance": "Ign Timing|Spark Advance|Timing",
    "battery_voltage": "Batt|Battery|Supply Voltage",
    "gear": "Gear|gear",
    "vehicle_speed": "Speed|VSS|Vehicle Speed",
    "torque": "Brake Torque|Torque|Wheel Torque",
    "shaft_speed": "Shaft Speed|Turbo Speed",  # practice-31: up to 105 000 at 5500 rpm, so the turbo's
}
CHANNEL_OF = {word: name for name, words in SPELLINGS.items() for word in words.split("|")}

# Units as they stand at the end of a header, longest first, and how they are shown.
UNITS = {
    "[deg BTDC]": "deg", "[1/min]": "rpm", "degC": "C", "degF": "F", "°C": "C", "°F": "F", "C": "C",
    "F": "F", "lb-ft": "lb-ft", "Nm": "Nm", "km/h": "km/h", "kg/h": "kg/h", "g/s": "g/s", "mph": "mph",
    "krpm": "krpm", "rpm": "rpm", "sec": "s", "ms": "ms", "s": "s", "deg": "deg", "kPa": "kPa",
    "psi": "psi", "bar": "bar", "%": "%", "V": "V",
}  # fmt: skip
# Headers that name no unit: what the values say.
PLAIN = {
    "time": "s", "rpm": "rpm", "RPM": "rpm", "Engine RPM": "rpm",
    "TPS": "%", "throttle_pct": "%", "wgdc": "%", "Timing": "deg",
    "time_ms": "ms",
}  # fmt: skip
# Pressures that say neither gauge nor absolute, with what was read in the file: key-on or cruise, and the top.
UNMARKED: dict[tuple[str, str], str] = {
    ("05", "Boost Pressure_psi"): "gauge",  # key-on 0.0
    ("05", "Boost Setpoint_psi"): "gauge",  # 13.5 beside a boost up to 14.6
    ("06", "MAP (kPa)"): "abs",  # 49 at cruise, up to 209
    ("06", "Desired MAP (kPa)"): "abs",  # 214.5
    ("09", "Boost Pressure [psi]"): "gauge",  # -8.3 at cruise
    ("17", "Manifold Pressure, psi"): "abs",  # 9.8 at cruise, never below 0
    ("21", "MAP [psi]"): "abs",  # key-on 14.5
    ("24", "MAP_psi"): "abs",  # key-on 16.4: two psi too high, but no gauge rests there
    ("24", "MAP Target_psi"): "abs",  # 27.7
    ("26", "Manifold Pressure (kPa)"): "abs",  # key-on 100.5
    ("37", "Manifold Pressure [psi]"): "abs",  # key-on 14.46
    ("39", "Desired MAP (kPa)"): "abs",  # 200.7
    ("41", "Manifold Pressure (psi)"): "abs",  # 10.7 at cruise, never below 0
    ("42", "Target Manifold Pressure, psi"): "abs",  # 28.8 beside 41 reached
}
PRESSURES = {
    "boost", "manifold_pressure", "boost_target", "compressor_outlet_pressure", "turbine_inlet_pressure",
}  # fmt: skip


def _by_eye(case: str, header: str) -> tuple[str, str, str | None]:
    """(channel, unit, reference) of a header from the tables above."""
    name, unit = header, PLAIN.get(header, "")
    if header not in PLAIN:
        for written, shown in UNITS.items():
            ends = (f" ({written})", f" [{written}]", f", {written}", f"_{written}", f" {written}")
            end = next((end for end in ends if header.endswith(end)), None)
            if end is not None:
                name, unit = header.removesuffix(end), shown
                break
    reference: str | None = None
    for word in ("abs", "gauge"):
        if name.endswith(f" {word}"):
            name, reference = name.removesuffix(f" {word}"), word
    channel = CHANNEL_OF["time" if name == "time_ms" else name]
    if channel == "barometer" or "Abs" in name:
        reference = "abs"
    elif "Gauge Boost" in name or "Manifold Boost" in name:
        reference = "gauge"
    elif channel in PRESSURES and reference is None:
        reference = UNMARKED[case, header]
    return channel, unit, reference


def _read(path: Path) -> tuple[str, Recording]:
    return path.parts[-3].removeprefix("practice-"), read_recording(path)


@needs_cases
@pytest.mark.parametrize("path", LOGS, ids=[path.parts[-3] for path in LOGS])
def test_every_column_of_a_practice_log_is_named_rightly(path: Path) -> None:
    case, recording = _read(path)
    headers = [column.header for column in read_delimited(path).columns]
    found = {c.column: (c.name, c.unit, c.reference) for c in recording.channels.values()}
    assert found == {header: _by_eye(case, header) for header in headers}


@needs_cases
@pytest.mark.parametrize("path", LOGS, ids=[path.parts[-3] for path in LOGS])
def test_units_of_a_practice_log_give_values_that_a_car_has(path: Path) -> None:
    _, recording = _read(path)
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
        _, recording = _read(path)
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
