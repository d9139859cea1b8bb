"""Gauge or absolute, barometer, key-on, and what a recording says about its own sensors."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.errors import InputError
from boostproof.recording import ColumnChoice, Recording
from boostproof.recording.columns.timebase import time_axis
from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise
from boostproof.units import find_unit

Array = NDArray[np.float64]
KPA = {"kPa": 1.0, "psi": 6.894757, "bar": 100.0, "mbar": 0.1, "inHg": 3.386389}

_path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
_spec = importlib.util.spec_from_file_location("drive", _path)
assert _spec is not None and _spec.loader is not None
_drive = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_drive)
DRIVE: dict[str, Array] = _drive.drive(20.0, 40)


def _with(
    columns: dict[str, Array], *, barometer: float | None = None, rows: slice = slice(None)
) -> Recording:
    every = {"Time (s)": DRIVE["time_s"], "RPM": DRIVE["rpm"], "TPS (%)": DRIVE["throttle_pct"], **columns}
    table = tuple(Column(head, "", values[rows]) for head, values in every.items())
    return recognise(Table("log.csv", "csv", len(table[0].values), table), barometer=barometer)


def _finding(recording: Recording, kind: str) -> str:
    return next(f.says for f in recording.findings if f.kind == kind)


@pytest.mark.parametrize("unit", sorted(KPA))
@pytest.mark.parametrize("said", [True, False])
@pytest.mark.parametrize("fault", ["sound", "reads 20 kPa high", "reads 15 kPa low", "gain 0.8", "gain 1.25"])
@pytest.mark.parametrize("rest", ["key on", "running"])
def test_manifold_pressure_is_told_absolute_whatever_is_wrong_with_the_sensor(
    unit: str, said: bool, fault: str, rest: str
) -> None:
    offset = {"reads 20 kPa high": 20.0, "reads 15 kPa low": -15.0}.get(fault, 0.0)
    gain = {"gain 0.8": 0.8, "gain 1.25": 1.25}.get(fault, 1.0)
    # A sensor cannot show less than nothing.
    values = np.maximum(DRIVE["map_kpa"] * gain + offset, 0.3) / KPA[unit]
    rows = slice(None) if rest == "key on" else slice(60, None)
    recording = _with({f"Manifold Pressure ({unit})" if said else "Manifold Pressure": values}, rows=rows)
    channel = recording.manifold_channel()
    assert (channel.name, channel.reference) == ("manifold_pressure", "abs")
    # Mercury without a word and without a reading at rest looks like psi; it is then said to be unsure.
    assert channel.unit == unit or (unit == "inHg" and not said and rest == "running" and channel.sure < 0.9)


@pytest.mark.parametrize("unit", ["kPa", "psi", "bar", "mbar"])
@pytest.mark.parametrize("head", ["Boost", "Pressure", "Turbo pressure", "Intake pressure"])
@pytest.mark.parametrize("offset", [0.0, 21.8, -9.0])
def test_boost_is_told_gauge(unit: str, head: str, offset: float) -> None:
    recording = _with({f"{head} ({unit})": (DRIVE["boost_kpa"] + offset) / KPA[unit]})
    assert (recording.manifold_channel().name, recording.manifold_channel().reference) == ("boost", "gauge")


def test_boost_logged_absolute_is_manifold_pressure() -> None:
    recording = _with({"Boost (psi)": DRIVE["map_kpa"] / KPA["psi"]})
    assert recording.manifold_channel().name == "manifold_pressure"
    assert float(np.nanmax(recording.boost_gauge())) == pytest.approx(97.5e3, abs=2e3)


@pytest.mark.parametrize(
    ("head", "values", "reference"),
    [
        ("Boost Target (psi)", DRIVE["target_kpa"] / KPA["psi"], "gauge"),
        ("Boost Target (kPa)", DRIVE["target_kpa"] + 98.6, "abs"),
        ("Desired MAP (kPa)", DRIVE["target_kpa"] + 98.6, "abs"),
        ("Target Manifold Pressure, psi", DRIVE["target_kpa"] / KPA["psi"] + 14.3, "abs"),
        ("Soll Ladedruck", DRIVE["target_kpa"] * 10 + 986, "abs"),
    ],
)
def test_a_target_is_read_beside_the_boost_reached(head: str, values: Array, reference: str) -> None:
    recording = _with({"MAP (kPa)": DRIVE["map_kpa"], head: values})
    assert recording.channels["boost_target"].reference == reference
    assert float(np.median(recording.pressure_gauge("boost_target"))) == pytest.approx(95e3, abs=1.5e3)


def test_pressures_elsewhere_are_told_by_where_they_rest() -> None:
    recording = _with(
        {
            "MAP (kPa)": DRIVE["map_kpa"],
            "Charge pipe pressure (bar)": (DRIVE["compressor_kpa"] + 98.6) / 100,
            "EBP (psi)": DRIVE["turbine_kpa"] / KPA["psi"],
        }
    )
    assert recording.channels["compressor_outlet_pressure"].reference == "abs"
    assert recording.channels["turbine_inlet_pressure"].reference == "gauge"


def test_lambda_and_air_fuel_ratio_go_by_their_values() -> None:
    assert "lambda" in _with({"Wideband": DRIVE["lambda"]}).channels
    assert "air_fuel_ratio" in _with({"Wideband": DRIVE["lambda"] * 14.7}).channels
    assert "air_fuel_ratio" in _with({"Lambda": DRIVE["lambda"] * 14.7}).channels


def test_a_percentage_is_not_taken_for_time() -> None:
    table = tuple(
        Column(h, "", v)
        for h, v in {
            "throttle_pct": np.linspace(0.0, 99.0, 200),
            "rpm": np.linspace(900.0, 6000.0, 200),
            "t (s)": np.linspace(0.0, 20.0, 200),
        }.items()
    )
    recording = recognise(Table("log.csv", "csv", 200, table))
    assert recording.channels["time"].column == "t (s)"
    assert recording.channels["throttle"].column == "throttle_pct"


def test_a_clock_without_a_name_is_found_by_how_it_runs() -> None:
    table = tuple(
        Column(h, "", v)
        for h, v in {"X1": np.arange(200) * 0.05, "rpm": np.linspace(900.0, 6000.0, 200)}.items()
    )
    recording = recognise(Table("log.csv", "csv", 200, table))
    assert recording.channels["time"].column == "X1" and recording.rate_hz == pytest.approx(20.0)
    assert recording.channels["time"].sure < 0.7


@pytest.mark.parametrize(
    ("steps", "unit", "rpm_step", "taken"),
    [
        (20.0, None, 5.0, "ms"),
        (0.02, None, 5.0, "s"),
        (1.0, None, 300.0, "s"),
        (1.0, None, 0.5, "ms"),
        (20.0, "s", 5.0, "ms"),
        (0.02, "ms", 5.0, "s"),
        (20_000.0, None, 5.0, "us"),
        (0.02, "s", 5.0, "s"),
    ],
)
def test_seconds_or_milliseconds(steps: float, unit: str | None, rpm_step: float, taken: str) -> None:
    column = Column("time", "", np.arange(400) * steps)
    axis = time_axis(
        column, None if unit is None else find_unit(unit), 1000 + np.arange(400) * rpm_step, "log.csv"
    )
    assert axis.unit == taken
    assert any(f.kind == "time-unit" for f in axis.findings) == (unit is not None and unit != taken)


def test_jitter_of_a_clock_never_runs_back() -> None:
    values = np.arange(200) * 0.02
    values[50] -= 0.03
    axis = time_axis(Column("time", "", values), find_unit("s"), None, "log.csv")
    assert (np.diff(axis.time) >= 0.0).all() and not axis.findings


# --- the air around -------------------------------------------------------------------------------


def test_the_barometer_is_logged_or_given_or_read_at_rest() -> None:
    absolute = {"MAP (kPa)": DRIVE["map_kpa"]}
    logged = _with(absolute | {"Baro (kPa)": DRIVE["baro_kpa"]}, barometer=97e3).barometer
    assert (logged.source, logged.value) == ("logged", pytest.approx(98.6e3))
    assert _with(absolute, barometer=98.2e3).barometer.source == "given"
    at_rest = _with(absolute).barometer
    assert (at_rest.source, at_rest.value) == ("key-on", pytest.approx(98.6e3, abs=200))
    running = _with(absolute, rows=slice(60, None))
    assert running.barometer.source == "standard atmosphere" and running.barometer.sd > 2e3
    assert "no-barometer" in {f.kind for f in running.findings}


def test_values_are_never_mended_by_the_key_on_reading() -> None:
    recording = _with({"MAP (kPa)": DRIVE["map_kpa"] + 12.0}, barometer=98.6e3)
    assert recording.key_on is not None and recording.key_on.mean == pytest.approx(110.6e3, abs=200)
    np.testing.assert_allclose(recording.boost_gauge(), (DRIVE["map_kpa"] + 12.0 - 98.6) * 1e3)
    assert "+12.0 kPa" in _finding(recording, "key-on-offset")


def test_a_logger_that_subtracts_a_fixed_atmosphere_is_told_from_a_sensor_fault() -> None:
    shifted = DRIVE["boost_kpa"] + 98.6 - 101.325
    says = _finding(_with({"Boost (kPa)": shifted}, barometer=98.6e3), "gauge-from-standard-atmosphere")
    assert "-2.8 kPa" in says
    plain = _with({"Boost (kPa)": DRIVE["boost_kpa"] + 6.0}, barometer=98.6e3)
    assert {f.kind for f in plain.findings} & {"key-on-offset", "gauge-from-standard-atmosphere"} == {
        "key-on-offset"
    }
    sound = _with({"Boost (kPa)": DRIVE["boost_kpa"]}, barometer=98.6e3)
    assert not {f.kind for f in sound.findings} & {"key-on-offset", "gauge-from-standard-atmosphere"}


def test_an_overrun_below_the_vacuum_of_the_day_shows_a_fixed_atmosphere_too() -> None:
    shifted = np.where(DRIVE["boost_kpa"] < -88.0, -91.0, DRIVE["boost_kpa"]) + 89.0 - 101.325 + 1.5
    recording = _with({"Boost (kPa)": shifted}, barometer=89e3, rows=slice(60, None))
    assert recording.key_on is None
    assert "On the overrun" in _finding(recording, "gauge-from-standard-atmosphere")


def test_a_sea_level_barometer_is_questioned() -> None:
    recording = _with({"MAP (kPa)": DRIVE["map_kpa"], "Baro (kPa)": DRIVE["baro_kpa"]}, barometer=101.9e3)
    assert "98.6 kPa" in _finding(recording, "barometer-differs")


def test_a_sensor_at_its_end_is_said() -> None:
    recording = _with({"MAP (kPa)": np.minimum(DRIVE["map_kpa"], 180.0)}, barometer=98.6e3)
    assert "180.0 kPa absolute" in _finding(recording, "sensor-at-limit")


# --- columns named by a person --------------------------------------------------------------------


def _table() -> Table:
    columns = {
        "T1": DRIVE["time_s"],
        "A": DRIVE["rpm"],
        "B": DRIVE["throttle_pct"],
        "Pressure 2": DRIVE["boost_kpa"] / KPA["psi"],
        "Pressure 3": DRIVE["boost_kpa"] / KPA["psi"],
    }
    return Table("log.csv", "csv", len(DRIVE["rpm"]), tuple(Column(h, "", v) for h, v in columns.items()))


def test_named_columns_go_before_all_recognition() -> None:
    recording = recognise(
        _table(),
        {
            "engine_speed": ColumnChoice("a", "rpm"),
            "throttle": ColumnChoice("B", "%"),
            "boost": ColumnChoice("Pressure 2", "psi", "gauge"),
            "compressor_outlet_pressure": ColumnChoice("Pressure 3", "psi", "gauge"),
        },
    )
    found = {c.name: (c.column, c.unit, c.reference, c.sure) for c in recording.channels.values()}
    assert found["engine_speed"] == ("A", "rpm", None, 1.0)
    assert found["boost"] == ("Pressure 2", "psi", "gauge", 1.0)
    assert found["compressor_outlet_pressure"] == ("Pressure 3", "psi", "gauge", 1.0)
    assert found["time"][0] == "T1"
    assert all(
        c.why == "named in pulls.toml" or "named in pulls.toml;" in c.why
        for c in recording.channels.values()
        if c.name != "time"
    )


@pytest.mark.parametrize(
    ("columns", "kind", "do"),
    [
        ({"engine_speed": ColumnChoice("Presure 2")}, "no-column", "'Pressure 2'"),
        ({"engine_sped": ColumnChoice("A")}, "unknown-channel", "engine_speed"),
        ({"engine_speed": ColumnChoice("A", "rmp")}, "unknown-unit", "rpm"),
        ({"engine_speed": ColumnChoice("A", "psi")}, "unknown-unit", "rpm"),
    ],
)
def test_a_wrong_name_gets_the_nearest_right_one(
    columns: dict[str, ColumnChoice], kind: str, do: str
) -> None:
    with pytest.raises(InputError) as error:
        recognise(_table(), columns)
    assert error.value.kind == kind
    assert do in error.value.do


def test_a_channel_that_is_not_there_is_asked_for_clearly() -> None:
    recording = _with({})
    with pytest.raises(InputError, match="no boost and no manifold pressure"):
        recording.boost_gauge()
    with pytest.raises(InputError, match="no pressure channel line_pressure"):
        recording.pressure_abs("line_pressure")
    assert "no-boost" in {f.kind for f in recording.findings}
