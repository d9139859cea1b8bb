"""From damaged and distorted logs to the answer of "inspect", and files joined at random.

Whatever stands in a log, what comes out is an answer in plain JSON or an InputError; no number in it is infinite,
and no calculation meets what it cannot calculate with.
"""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.unit.recording.drawn_tables import Damage, damaged, damages

from boostproof.errors import InputError
from boostproof.recording import find_pulls, read_recording
from boostproof.recording.checks.about_pulls import about_pulls
from boostproof.recording.joining import join
from boostproof.recording.model import Recording
from boostproof.workflows.inspect import Inspection

Array = NDArray[np.float64]
pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")

_path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
_spec = importlib.util.spec_from_file_location("recordings_drive", _path)
assert _spec is not None and _spec.loader is not None
_drive = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_drive)
DRIVE: dict[str, Array] = _drive.drive(10.0, 5)
HEADERS = {
    "time_s": "time s", "rpm": "rpm", "throttle_pct": "throttle %", "map_kpa": "MAP kPa", "baro_kpa": "baro kPa",
    "intake_c": "intake temp C", "speed_kmh": "speed km/h", "lambda": "lambda", "gear": "gear",
}  # fmt: skip
drawn = settings(
    max_examples=60,
    deadline=5000,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def _csv(columns: dict[str, Array]) -> bytes:
    lines = [";".join(columns)]
    lines += [";".join("" if np.isnan(v) else f"{v:.10g}" for v in row) for row in zip(*columns.values(), strict=True)]
    return "\n".join(lines).encode()


def _answer(recording: Recording) -> None:
    pulls = find_pulls(recording, part_load=True)
    findings = recording.findings + about_pulls(recording, pulls)
    answer = json.dumps(Inspection(recording, pulls, findings).as_json(), allow_nan=False)
    assert json.loads(answer)["file"]["rows"] == recording.rows


def _read(path: Path, content: bytes) -> Recording | None:
    path.write_bytes(content)
    try:
        return read_recording(path)
    except InputError as error:
        assert error.says.endswith(".") and error.kind and error.where and error.do
        return None


SOUND = _csv({header: DRIVE[name] for name, header in HEADERS.items()})


def test_the_sound_log_has_its_two_pulls(tmp_path: Path) -> None:
    recording = _read(tmp_path / "log.csv", SOUND)
    assert recording is not None and len(find_pulls(recording)) == 2


@settings(drawn)
@given(what=damages)
def test_a_damaged_log(tmp_path: Path, what: list[Damage]) -> None:
    recording = _read(tmp_path / "log.csv", damaged(SOUND, what))
    if recording is not None:
        _answer(recording)


def _still(values: Array, _: np.random.Generator) -> Array:
    return np.full(len(values), values[len(values) // 3])


def _gone(values: Array, rng: np.random.Generator) -> Array:
    return np.where(rng.random(len(values)) < 0.5, np.nan, values)


def _piece(values: Array, rng: np.random.Generator) -> Array:
    first = rng.integers(0, len(values))
    return np.where(np.arange(len(values)) // 40 == first // 40, np.nan, values)


DISTORTIONS = {
    "still": _still,
    "zero": lambda v, _: np.zeros(len(v)),
    "empty": lambda v, _: np.full(len(v), np.nan),
    "half gone": _gone,
    "a piece gone": _piece,
    "one left": lambda v, _: np.where(np.arange(len(v)) == 7, v, np.nan),
    "huge": lambda v, _: v * 1e15,
    "tiny": lambda v, _: v * 1e-300,
    "negative": lambda v, _: -v,
    "backwards": lambda v, _: v[::-1],
    "shuffled": lambda v, rng: rng.permutation(v),
    "noise": lambda v, rng: v + rng.normal(0.0, 30.0, len(v)),
    "spikes": lambda v, rng: np.where(rng.random(len(v)) < 0.02, 1e18, v),
    "steps": lambda v, _: np.round(v, -2),
    "two levels": lambda v, _: np.where(v > np.median(v), 1.0, 0.0),
}
distorted = st.dictionaries(st.sampled_from(sorted(HEADERS)), st.sampled_from(sorted(DISTORTIONS)), max_size=3)


@st.composite
def logs(draw: st.DrawFn) -> bytes:
    """Some channels of the drive, some of them distorted, some rows of it."""
    rng = np.random.default_rng(draw(st.integers(0, 999)))
    names = ["time_s", "rpm", *draw(st.lists(st.sampled_from(sorted(HEADERS)[1:]), max_size=5))]
    first, step = draw(st.sampled_from([0, 0, 40, 75, 270])), draw(st.sampled_from([1, 1, 2, 9]))
    last = draw(st.sampled_from([280, 280, 145, 90, 3]))
    how = draw(distorted)
    columns = {}
    for name in dict.fromkeys(names):
        values = DRIVE[name][first : first + last : step]
        columns[HEADERS[name]] = DISTORTIONS[how[name]](values, rng) if name in how else values
    if draw(st.booleans()) and draw(st.booleans()):
        del columns["time s"]
    return _csv(columns)


@settings(drawn, max_examples=120)
@given(log=logs())
def test_a_distorted_log(tmp_path: Path, log: bytes) -> None:
    recording = _read(tmp_path / "log.csv", log)
    if recording is not None:
        _answer(recording)


@settings(drawn)
@given(one=logs(), other=logs(), moved=st.sampled_from([0.0, -3.0, 40.0, 1e6]))
def test_two_logs_joined(tmp_path: Path, one: bytes, other: bytes, moved: float) -> None:
    first, second = _read(tmp_path / "one.csv", one), _read(tmp_path / "other.csv", other)
    if first is None or second is None:
        return
    moved_channels = {n: c for n, c in second.channels.items() if n != "time"}
    second = Recording(**{**vars(second), "time": second.time + moved, "channels": moved_channels})
    try:
        joined = join([first, second])
    except InputError as error:
        assert error.kind in {"cannot-join", "no-engine-speed"} and error.says.endswith(".") and error.do
        return
    assert np.isfinite(joined.time).all() and (np.diff(joined.time) >= 0.0).all()
    assert all(channel.values.shape == (joined.rows,) for channel in joined.channels.values())
    _answer(joined)
