"""Units that are missing or wrong, told by what an engine can do."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.unit.recording.styles import drive

from boostproof.recording.model import Channel, Column, Recording, Table
from boostproof.recording.recognise import recognise

D = drive()
PSI = 6.894757
BESIDE = {"Time (s)": "time_s", "RPM": "rpm", "TPS (%)": "throttle_pct"}
Array = NDArray[np.float64]


def _log(without: str = "", **columns: Array) -> Recording:
    every = [Column(head, "", D[key]) for head, key in BESIDE.items() if head != without]
    every += [Column(head, "", values) for head, values in columns.items()]
    return recognise(Table("log.csv", "csv", len(D["rpm"]), tuple(every)))


def _of(recording: Recording, header: str) -> Channel:
    return next(c for c in recording.channels.values() if c.column == header)


def _kinds(recording: Recording) -> set[str]:
    return {finding.kind for finding in recording.findings}


@pytest.mark.parametrize(
    ("header", "values", "unit", "reference"),
    [
        ("Boost (kPa)", D["boost_kpa"] / PSI, "psi", "gauge"),
        ("Boost (bar)", D["boost_kpa"] / PSI, "psi", "gauge"),
        ("Boost (psi)", D["boost_kpa"], "kPa", "gauge"),
        ("Boost (psi)", D["boost_kpa"] / 100, "bar", "gauge"),
        ("MAP (kPa)", D["map_kpa"] / PSI, "psi", "abs"),
        ("MAP (psi)", D["map_kpa"], "kPa", "abs"),
        ("MAP (kPa)", D["map_kpa"] * 10, "mbar", "abs"),
        ("MAP (bar)", D["map_kpa"], "kPa", "abs"),
    ],
)
def test_a_wrong_unit_of_the_boost_sensor_is_told_and_asked_about(
    header: str, values: Array, unit: str, reference: str
) -> None:
    recording = _log(**{header: values})
    channel = _of(recording, header)
    assert (channel.unit, channel.reference) == (unit, reference)
    assert float(np.nanmax(recording.boost_gauge())) == pytest.approx(97e3, abs=4e3)
    (finding,) = [f for f in recording.findings if f.kind == "unit-differs"]
    assert header in finding.where and channel.said_unit in finding.says and unit in finding.says
    (question,) = recording.questions
    assert question.guess == 0
    assert question.options[0].choice.unit == unit
    assert channel.said_unit in {option.choice.unit for option in question.options}


@pytest.mark.parametrize("top", [0.12, 0.3, 1.0, 2.2])
@pytest.mark.parametrize(("word", "factor"), [("kPa", 1.0), ("psi", 1 / PSI), ("bar", 0.01), ("mbar", 10.0)])
def test_a_right_unit_is_believed_however_little_or_much_boost_there_is(
    top: float, word: str, factor: float
) -> None:
    """A gate that hangs open makes an eighth of the boost and is no wrong unit."""
    boost = np.where(D["boost_kpa"] > 0.0, D["boost_kpa"] * top, D["boost_kpa"])
    for name, zero in (("Boost", 0.0), ("MAP", 98.6)):
        recording = _log(**{f"{name} ({word})": (boost + zero) * factor})
        channel = _of(recording, f"{name} ({word})")
        assert (channel.unit, channel.reference) == (word, "abs" if zero else "gauge")
        assert "unit-differs" not in _kinds(recording)


@pytest.mark.parametrize("offset", [-12.0, 12.0])
def test_a_sensor_that_is_off_is_no_wrong_unit(offset: float) -> None:
    recording = _log(**{"Boost (kPa)": D["boost_kpa"] + offset})
    assert _of(recording, "Boost (kPa)").unit == "kPa" and "unit-differs" not in _kinds(recording)


def test_a_manifold_sensor_that_reads_the_barometer_at_rest_is_absolute() -> None:
    for header in ("Boost", "Boost pressure", "Turbo pressure"):
        assert _of(_log(**{header: D["map_kpa"]}), header).reference == "abs"
        assert _of(_log(**{header: D["boost_kpa"]}), header).reference == "gauge"


@pytest.mark.parametrize(
    ("unit", "factor"), [("kPa", 1.0), ("psi", 1 / PSI), ("bar", 0.01), ("mbar", 10.0), ("inHg", 1 / 3.386389)]
)
def test_a_missing_unit_is_found_by_what_an_engine_can_do(unit: str, factor: float) -> None:
    for key in ("boost_kpa", "map_kpa"):
        channel = _of(_log(Boost=D[key] * factor), "Boost")
        assert channel.unit == unit
        expected = D[key] * 1e3
        assert np.nanmax(np.abs(channel.values - expected)) < 0.05 * float(expected.max())


def test_one_wrong_unit_of_the_temperatures_is_wrong_for_all_of_the_same_name() -> None:
    recording = _log(
        **{
            "Boost (kPa)": D["boost_kpa"],
            "Coolant (C)": D["coolant_c"] * 1.8 + 32,
            "IAT (C)": D["intake_c"] * 1.8 + 32,
            "Ambient temp (K)": D["ambient_c"] + 273.15,
        }
    )
    assert _of(recording, "Coolant (C)").unit == _of(recording, "IAT (C)").unit == "F"
    assert _of(recording, "Ambient temp (K)").unit == "K"
    assert float(np.median(_of(recording, "IAT (C)").values)) < 310.0
    assert len([f for f in recording.findings if f.kind == "unit-differs"]) == 2


@pytest.mark.parametrize(
    ("to", "offset", "unit"), [(1.0, 0.0, "C"), (1.8, 32.0, "F"), (1.0, 273.15, "K")]
)
def test_temperatures_without_unit_follow_the_coolant(to: float, offset: float, unit: str) -> None:
    recording = _log(
        IAT=D["intake_c"] * to + offset, ECT=D["coolant_c"] * to + offset, Boost=D["boost_kpa"]
    )
    assert _of(recording, "ECT").unit == _of(recording, "IAT").unit == unit


@pytest.mark.parametrize(
    ("factor", "offset"), [(0.01, 0.0), (0.04, 0.5), (2.55, 0.0), (9.2, 40.0)], ids=["share", "V", "8 bit", "10 bit"]
)
def test_a_throttle_in_any_numbers_opens_fully(factor: float, offset: float) -> None:
    recording = _log("TPS (%)", TPS=D["throttle_pct"] * factor + offset, Boost=D["boost_kpa"])
    share = _of(recording, "TPS").values
    assert np.nanpercentile(share, 1) == pytest.approx(0.0, abs=0.03)
    assert np.nanpercentile(share, 99) == pytest.approx(1.0, abs=0.03)


def test_a_throttle_of_shares_called_per_cent_is_told() -> None:
    recording = _log("TPS (%)", **{"TPS (%)": D["throttle_pct"] / 100, "Boost": D["boost_kpa"]})
    assert float(np.nanmax(_of(recording, "TPS (%)").values)) == pytest.approx(1.0, abs=0.02)
    assert "unit-differs" in _kinds(recording)


def test_a_speed_without_more_is_the_engine_s_or_the_car_s_by_its_size() -> None:
    by_size = _log("RPM", Speed=D["rpm"], **{"Boost (kPa)": D["boost_kpa"]})
    assert _of(by_size, "Speed").name == "engine_speed"
    assert _of(_log(Speed=D["speed_kmh"], Boost=D["boost_kpa"]), "Speed").name == "vehicle_speed"
    assert _of(_log("RPM", **{"Eng": D["rpm"], "RPM x1000": D["rpm"] / 1e3}), "RPM x1000").unit == "krpm"


def test_lambda_and_air_fuel_ratio_are_told_by_their_size() -> None:
    assert _of(_log(Lambda=D["lambda"] * 14.7), "Lambda").name == "air_fuel_ratio"
    assert _of(_log(AFR=D["lambda"]), "AFR").name == "lambda"
    assert _of(_log(Wideband=D["lambda"]), "Wideband").name == "lambda"


def test_the_living_one_of_two_columns_is_taken() -> None:
    still = np.full_like(D["rpm"], 850.0)
    for first in ({"Engine RPM": still, "Engine Speed": D["rpm"]}, {"Engine Speed": D["rpm"], "Engine RPM": still}):
        assert _log("RPM", **first).channels["engine_speed"].column == "Engine Speed"


def test_what_is_commanded_is_not_what_is() -> None:
    for word in ("Target", "Commanded", "Desired", "Soll", "Consigne", "Objetivo", "Önskat", "目標", "Заданное"):
        recording = _log(**{f"{word} boost (kPa)": D["target_kpa"], "Boost (kPa)": D["boost_kpa"]})
        assert recording.channels["boost"].column == "Boost (kPa)"
        assert recording.channels["boost_target"].column == f"{word} boost (kPa)"


def test_a_column_without_a_name_that_runs_like_an_engine_is_taken_with_doubt() -> None:
    recording = _log("RPM", Ch3=D["rpm"], **{"Boost (kPa)": D["boost_kpa"]})
    speed = recording.channels["engine_speed"]
    assert speed.column == "Ch3" and speed.sure < 0.5
    assert any(question.about == "engine_speed" for question in recording.questions)


@pytest.mark.parametrize(("unit", "factor"), [("inHg", 0.2953), ("mbar", 10.0), ("psi", 0.145038)])
def test_a_barometer_in_another_unit_than_it_says(unit: str, factor: float) -> None:
    recording = _log(**{"Baro (kPa)": D["baro_kpa"] * factor, "MAP (kPa)": D["map_kpa"]})
    assert _of(recording, "Baro (kPa)").unit == unit
    assert recording.barometer.value == pytest.approx(98.6e3, abs=100.0)
    assert "unit-differs" in _kinds(recording)


@pytest.mark.parametrize("most", [7.0, 15.0, 40.0])  # kPa at full load: a free exhaust, and a usual one
@pytest.mark.parametrize(("unit", "kpa"), [("psi", PSI), ("mbar", 0.1), ("kPa", 1.0), ("bar", 100.0)])
def test_pressure_behind_the_turbine_without_a_unit_is_in_that_of_the_boost_sensor(
    unit: str, kpa: float, most: float
) -> None:
    """Its usual levels: 5 to 25 kPa with a free exhaust, to 50 with a usual one (common practice, no source)."""
    behind = most * (np.clip(D["boost_kpa"], 0.0, None) / D["boost_kpa"].max()) ** 1.5
    recording = _log(**{f"Boost ({unit})": D["boost_kpa"] / kpa, "Post-Turbine Pressure gauge": behind / kpa})
    channel = recording.channels["turbine_outlet_pressure"]
    assert (channel.unit, channel.reference) == (unit, "gauge")
    assert float(np.nanmax(channel.values)) == pytest.approx(1e3 * most, rel=0.05)


def test_a_unit_that_is_written_behind_the_turbine_goes_before_that_of_the_boost_sensor() -> None:
    behind = 15.0 * (np.clip(D["boost_kpa"], 0.0, None) / D["boost_kpa"].max()) ** 1.5
    recording = _log(**{"Boost (psi)": D["boost_kpa"] / PSI, "Post-Turbine Pressure gauge (kPa)": behind})
    assert recording.channels["turbine_outlet_pressure"].unit == "kPa"
