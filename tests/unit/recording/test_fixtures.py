"""Whole recordings of ugly makes: every column named rightly, values in SI, both pulls found."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from boostproof.recording import Recording, find_pulls, read_recording

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "recordings"
RPM = 30.0 / np.pi


def _load(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


expected = _load(Path(__file__).with_name("expected.py"))
EVERY = expected.OPEN | expected.HELD_OUT
EVERY_NAMES = {name: {e[0] for e in table.values() if e is not None} for name, table in EVERY.items()}
TWO_PULLS = sorted(set(EVERY) - {"by_hand.csv", "only_the_pull.csv", "doubles.csv"})


def _read(name: str) -> Recording:
    return read_recording(FIXTURES / name)


def _kinds(recording: Recording) -> set[str]:
    return {finding.kind for finding in recording.findings}


@pytest.mark.parametrize("name", sorted(EVERY))
def test_every_column_is_what_it_is(name: str) -> None:
    found = {c.column: (c.name, c.unit, c.reference) for c in _read(name).channels.values()}
    assert {header: found.get(header) for header in EVERY[name]} == EVERY[name]
    assert set(found) <= set(EVERY[name])


@pytest.mark.parametrize("name", TWO_PULLS)
def test_both_pulls_are_found_with_the_boost_that_was_drawn(name: str) -> None:
    pulls = find_pulls(_read(name))
    assert [pull.full_load for pull in pulls] == [True, True]
    for pull in pulls:
        assert pull.rpm_from == pytest.approx(2230, abs=80)
        assert pull.rpm_to == pytest.approx(6150, abs=100)
        peak, plateau = pull.metrics["peak_kpa_gauge"], pull.metrics["plateau_kpa_gauge"]
        assert peak is not None and plateau is not None
        # 2.7 kPa where no barometer stands in the file and 101.3 kPa was taken for 98.6.
        around = (
            abs(pull.recording.barometer.value - 98.6e3) / 1e3
            if "manifold_pressure" in EVERY_NAMES[name]
            else 0
        )
        assert peak.value == pytest.approx(96.5, abs=1.5 + around)
        assert plateau.value == pytest.approx(95.0, abs=1.0 + around)


@pytest.mark.parametrize(
    "name", sorted(set(EVERY) - {"positive_only.csv", "only_the_pull.csv", "by_hand.csv"})
)
def test_the_engine_stopped_tells_gauge_from_absolute(name: str) -> None:
    recording = _read(name)
    assert recording.key_on is not None
    rest = 98.6e3 if recording.key_on.reference == "abs" else 0.0
    assert recording.key_on.mean == pytest.approx(rest, abs=600)
    assert recording.key_on.count >= 15


def test_values_are_si() -> None:
    recording = _read("mercury.csv")
    top = float(np.nanmax(recording.channels["manifold_pressure"].values))
    assert top == pytest.approx((97.0 + 98.6) * 1e3, abs=1.5e3)
    assert float(np.nanmax(recording.channels["engine_speed"].values)) * RPM == pytest.approx(6200, abs=40)
    assert float(np.nanmax(recording.channels["throttle"].values)) == pytest.approx(0.993, abs=0.01)
    hot = float(np.nanmax(recording.channels["exhaust_temperature_before_turbine"].values))
    assert hot == pytest.approx(420 + 480 * 0.985 + 273.15, abs=20)
    assert recording.boost_gauge() == pytest.approx(
        recording.pressure_abs("manifold_pressure") - 98.6e3, abs=30
    )


def test_times_go_on_over_midnight() -> None:
    recording = _read("clock.csv")
    assert recording.time[0] == pytest.approx(86380.0)
    assert recording.time[-1] - recording.time[0] == pytest.approx(27.9, abs=0.01)
    assert {"repeated-header", "lost-cells"} <= _kinds(recording)
    lost = {c.column: c.lost_cells for c in recording.channels.values()}
    # Four cells made unreadable, and the last line cut off in its boost: "00:00:07.900|2" and no more.
    assert lost == {
        "Clock": 0,
        "Eng. Spd [rpm]": 1,
        "Boost [kPa rel]": 3,
        "TPS [%]": 1,
        "Lambda": 2,
        "Knock [V]": 1,
    }


def test_a_clock_of_whole_seconds_is_spread() -> None:
    recording = _read("coarse_clock.csv")
    assert "coarse-clock" in _kinds(recording)
    assert np.diff(recording.time).min() > 0.05
    assert recording.rate_hz == pytest.approx(10.0, rel=0.02)
    # The drive starts at 14:58:50.34.
    assert recording.time[0] == pytest.approx(14 * 3600 + 58 * 60 + 50.34, abs=0.12)


def test_a_restarted_clock_is_carried_on() -> None:
    recording = _read("restarted.csv")
    assert "time-rewound" in _kinds(recording)
    assert (np.diff(recording.time) > 0.0).all()
    assert recording.time[320] - recording.time[319] == pytest.approx(1.0)


def test_a_table_by_hand_is_one_pull_without_seconds() -> None:
    recording = _read("by_hand.csv")
    assert "no-time" in _kinds(recording) and not recording.time_known and recording.rate_hz is None
    (pull,) = find_pulls(recording)
    assert (pull.rpm_from, pull.rpm_to) == pytest.approx((2200, 6000), abs=60)
    peak, end = pull.metrics["peak_kpa_gauge"], pull.metrics["end_kpa_gauge"]
    assert peak is not None and end is not None
    assert (peak.value, end.value) == pytest.approx((95.0, 92.0), abs=0.1)
    assert pull.metrics["time_to_80_s"] is None and pull.metrics["spike_kpa"] is None


def test_a_log_of_the_pull_alone() -> None:
    recording = _read("only_the_pull.csv")
    (pull,) = find_pulls(recording)
    assert pull.ended == "end of file"
    assert recording.key_on is None and "no-barometer" in _kinds(recording)


def test_a_frozen_sensor_is_said() -> None:
    findings = [f for f in _read("doubles.csv").findings if f.kind == "frozen-channel"]
    assert len(findings) == 1 and "20.5 to 23.4 s" in findings[0].where


def test_fixtures_are_what_their_script_writes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.syspath_prepend(str(FIXTURES))
    for name in ("drive", "writing", "held_out", "make_recordings"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    script = importlib.import_module("make_recordings")
    monkeypatch.setattr(importlib.import_module("writing"), "HERE", tmp_path)
    script.main()
    written = {path.name for path in tmp_path.iterdir()}
    assert written == set(EVERY)
    for name in sorted(written):
        assert (tmp_path / name).read_bytes() == (FIXTURES / name).read_bytes(), name
