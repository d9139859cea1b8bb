"""The invented drive as an MDF file of three rates and as a log of a CAN bus: channels and pulls are found."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.recording import Recording, find_pulls
from boostproof.recording.readers import read_table
from boostproof.recording.recognise import recognise

from .styles import drive

Array = NDArray[np.float64]
PULLS = ((8.0, 14.0), (19.0, 25.0))  # as drive.py draws them
BAROMETER = 98.6e3


@pytest.fixture(scope="module")
def drawn() -> dict[str, Array]:
    """Curves at a hundred samples a second."""
    return drive(100.0, 3)


@pytest.fixture(scope="module")
def measurement(drawn: dict[str, Array], tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """Three groups of 100, 10 and 1 samples a second."""
    asammdf = pytest.importorskip("asammdf", reason="asammdf needs zstd, which has no wheel for this Python here")
    groups = {
        1: {"Engine Speed": ("rpm", "rpm"), "Throttle Position": ("throttle_pct", "%"),
            "Boost Pressure": ("boost_kpa", "kPa"), "Ignition Angle": ("ignition_deg", "deg")},
        10: {"Lambda 1": ("lambda", ""), "Intake Air Temperature": ("intake_c", "degC")},
        100: {"Coolant Temperature": ("coolant_c", "degC"), "Barometric Pressure": ("baro_kpa", "kPa")},
    }  # fmt: skip
    mdf = asammdf.MDF(version="4.11")
    for every, channels in groups.items():
        time = drawn["time_s"][::every]
        mdf.append([asammdf.Signal(drawn[c][::every], time, name=n, unit=u) for n, (c, u) in channels.items()])
    path = mdf.save(tmp_path_factory.mktemp("mdf") / "drive.mf4", compression=2)
    mdf.close()
    return recognise(read_table(path))


DBC = f"""VERSION ""
NS_ :
BS_:
BU_: ECU
BO_ 268 ENGINE_FAST: 8 ECU
 SG_ EngineSpeed : 0|16@1+ (0.25,0) [0|0] "rpm" ECU
 SG_ ThrottlePosition : 16|8@1+ (0.4,0) [0|0] "%" ECU
 SG_ ManifoldPressureAbs : 31|16@0+ (0.01,0) [0|0] "kPa" ECU
BO_ {0x18FEF101 | 1 << 31} AIR: 8 ECU
 SG_ IntakeAirTemp : 0|8@1+ (1,-40) [0|0] "degC" ECU
 SG_ Lambda : 8|16@1+ (0.001,0) [0|0] "" ECU
BO_ 1000 SLOW: 8 ECU
 SG_ CoolantTemp : 0|8@1+ (1,-40) [0|0] "degC" ECU
 SG_ BarometricPressure : 8|16@1+ (0.1,0) [0|0] "kPa" ECU
"""


def _raw(values: Array, scale: float, offset: float = 0.0) -> NDArray[np.int64]:
    return np.round((values - offset) / scale).clip(0).astype(np.int64)


def _can_log(drawn: dict[str, Array]) -> str:
    """Frames in the order in which a bus carries them, packed byte by byte here and not by the reader."""
    speed, throttle, manifold = (
        _raw(drawn["rpm"], 0.25),
        _raw(drawn["throttle_pct"], 0.4),
        _raw(drawn["map_kpa"], 0.01),
    )
    intake, mixture = _raw(drawn["intake_c"], 1.0, -40.0), _raw(drawn["lambda"], 0.001)
    coolant, barometer = _raw(drawn["coolant_c"], 1.0, -40.0), _raw(drawn["baro_kpa"], 0.1)
    lines: list[tuple[float, str]] = []
    for k, time in enumerate(drawn["time_s"]):
        data = speed[k].item().to_bytes(2, "little") + bytes([throttle[k]]) + manifold[k].item().to_bytes(2, "big")
        lines.append((time, f"10C#{data.hex()}000000"))
        if k % 10 == 0:
            data = bytes([intake[k]]) + mixture[k].item().to_bytes(2, "little")
            lines.append((time + 0.0013, f"18FEF101#{data.hex()}0000000000"))
        if k % 100 == 0:
            data = bytes([coolant[k]]) + barometer[k].item().to_bytes(2, "little")
            lines.append((time + 0.0021, f"3E8#{data.hex()}0000000000"))
    return "".join(f"({1700000000.0 + time:.6f}) can0 {frame.upper()}\n" for time, frame in lines)


@pytest.fixture(scope="module")
def bus(drawn: dict[str, Array], tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """A candump log with its database beside it."""
    folder = tmp_path_factory.mktemp("can")
    (folder / "car.dbc").write_text(DBC)
    path = folder / "candump-2023-11-14.log"
    path.write_text(_can_log(drawn))
    return recognise(read_table(path))


@pytest.mark.parametrize("kind", ["measurement", "bus"])
def test_channels_and_pulls_are_found(kind: str, drawn: dict[str, Array], request: pytest.FixtureRequest) -> None:
    recording: Recording = request.getfixturevalue(kind)
    assert recording.rate_hz == pytest.approx(100.0, rel=1e-3)
    pressure = "boost" if kind == "measurement" else "manifold_pressure"
    assert {"engine_speed", "throttle", pressure, "intake_temperature", "lambda", "coolant_temperature",
            "barometer"} <= set(recording.channels)  # fmt: skip
    steps: dict[str, tuple[str, float, float]] = {  # channel: (drawn, to SI, a little over half a step of the bits)
        "engine_speed": ("rpm", np.pi / 30.0, 0.02),
        "throttle": ("throttle_pct", 0.01, 0.0021),
        "boost": ("boost_kpa", 1e3, 1.0),
        "manifold_pressure": ("map_kpa", 1e3, 6.0),
    }
    for name in ("engine_speed", "throttle", pressure):
        curve, factor, step = steps[name]
        expected = drawn[curve] * factor
        if kind == "bus":
            expected = expected.clip(0.0)  # an unsigned signal
        np.testing.assert_allclose(recording.channels[name].values[: len(expected)], expected, atol=step)
    assert recording.barometer.value == pytest.approx(BAROMETER, abs=60.0)

    pulls = find_pulls(recording)
    assert len(pulls) == 2
    for pull, (start, stop) in zip(pulls, PULLS, strict=True):
        assert pull.full_load
        assert (pull.from_s, pull.to_s) == pytest.approx((start, stop), abs=0.3)
        assert (pull.rpm_from, pull.rpm_to) == pytest.approx((2200.0, 6190.0), abs=120.0)


@pytest.mark.parametrize("kind", ["measurement", "bus"])
def test_slow_channels_keep_their_own_samples(
    kind: str, drawn: dict[str, Array], request: pytest.FixtureRequest
) -> None:
    recording: Recording = request.getfixturevalue(kind)
    for name, curve, every in (("intake_temperature", "intake_c", 10), ("coolant_temperature", "coolant_c", 100)):
        samples: Any = recording.channels[name].samples
        assert samples is not None, name
        expected = drawn[curve][::every] + 273.15
        np.testing.assert_allclose(samples.values, expected, atol=0.51)  # whole degrees on the bus
        assert samples.time == pytest.approx(drawn["time_s"][::every], abs=0.003)
