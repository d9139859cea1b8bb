"""Files of the same pulls brought together: clocks found again that were set apart on purpose."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from boostproof.errors import InputError
from boostproof.recording import Recording, find_pulls
from boostproof.recording.joining import join
from boostproof.recording.model import Column, Samples, Table
from boostproof.recording.recognise import recognise
from boostproof.recording.signals.clock_match import match_clocks

_spec = importlib.util.spec_from_file_location(
    "drive", Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
)
assert _spec is not None and _spec.loader is not None
_drive = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_drive)

HEADS = {
    "rpm": "Engine speed (rpm)",
    "throttle_pct": "Throttle (%)",
    "boost_kpa": "Boost (kPa gauge)",
    "turbine_kpa": "Exhaust manifold pressure (kPa gauge)",
    "lambda": "Lambda",
    "torque_nm": "Torque (Nm)",
}


def _file(
    name: str, channels: str, rate: float, *, ahead: float = 0.0, runs: float = 1.0, seed: int = 1,
    companion: bool = False,
) -> Recording:  # fmt: skip
    drive = _drive.drive(rate, seed)
    columns = [Column("Time (s)", "", drive["time_s"] * runs + ahead)]
    columns += [Column(HEADS[c], "", drive[c]) for c in channels.split()]
    table = Table(name, "csv", len(drive["time_s"]), tuple(columns))
    return recognise(table, companion=companion)


@pytest.mark.parametrize(("ahead", "runs"), [(0.0, 1.0), (7.31, 1.0), (-5.02, 1.0), (86_400.4, 1.003)])
def test_a_clock_set_apart_is_found_again(ahead: float, runs: float) -> None:
    ecu = _file("ecu.csv", "rpm throttle_pct lambda", 10.0)
    box = _file("box.csv", "rpm boost_kpa", 40.0, ahead=ahead, runs=runs, seed=2)
    whole = join([ecu, box])
    assert {"engine_speed", "throttle", "lambda", "boost"} <= set(whole.channels)
    drawn = _drive.drive(40.0, 2)
    samples = whole.channels["boost"].samples or Samples(whole.time, whole.channels["boost"].values)
    # Each sample of the box stands where it was driven.
    late = samples.time - drawn["time_s"][: len(samples.time)]
    assert np.abs(late).max() < 0.03
    assert [f.kind for f in whole.findings if f.kind.startswith("join")] == ["joined"]
    pulls = find_pulls(whole)
    assert [round(p.from_s) for p in pulls] == [8, 19] and all(p.full_load for p in pulls)
    peak = pulls[0].metrics["peak_kpa_gauge"]
    assert peak is not None and peak.value == pytest.approx(96.0, abs=1.5 + 3.0 * peak.sd)


def test_a_box_without_engine_speed_is_laid_by_boost() -> None:
    ecu = _file("ecu.csv", "rpm throttle_pct boost_kpa", 20.0)
    box = _file("box.csv", "boost_kpa turbine_kpa", 50.0, ahead=-3.4, seed=3, companion=True)
    assert "engine_speed" not in box.channels
    whole = join([ecu, box])
    assert {"boost", "boost_check", "turbine_inlet_pressure"} <= set(whole.channels)
    rows = np.isfinite(whole.channels["turbine_inlet_pressure"].values)
    drawn = _drive.drive(50.0, 3)
    told = whole.channels["turbine_inlet_pressure"].values[rows]
    true = np.interp(whole.time[rows], drawn["time_s"], drawn["turbine_kpa"] * 1e3)
    assert np.median(np.abs(told - true)) < 1.5e3


def test_a_file_without_engine_speed_stands_alone_badly() -> None:
    with pytest.raises(InputError, match="engine speed"):
        _file("box.csv", "boost_kpa turbine_kpa", 50.0)
    bare = _file("box.csv", "boost_kpa turbine_kpa", 50.0, companion=True)
    with pytest.raises(InputError, match="engine speed") as caught:
        join([bare])
    assert caught.value.kind == "no-engine-speed"


def test_another_drive_is_not_joined() -> None:
    ecu = _file("ecu.csv", "rpm throttle_pct", 10.0)
    rng = np.random.default_rng(3)
    time = np.arange(0.0, 30.0, 0.05)
    rpm = 3000.0 + 900.0 * np.cumsum(rng.normal(0.0, 0.05, time.size))
    other = recognise(
        Table(
            "other.csv",
            "csv",
            len(time),
            (Column("Time (s)", "", time), Column(HEADS["rpm"], "", np.clip(rpm, 800.0, 7000.0))),
        )
    )
    with pytest.raises(InputError) as caught:
        join([ecu, other])
    assert caught.value.kind == "cannot-join" and caught.value.where == "other.csv"


def test_a_table_without_time_is_laid_over_the_pull() -> None:
    ecu = _file("ecu.csv", "rpm throttle_pct boost_kpa", 20.0)
    rpm = np.arange(2300.0, 6101.0, 100.0)
    table = recognise(
        Table(
            "dyno.csv",
            "csv",
            len(rpm),
            (Column("Engine speed (rpm)", "", rpm), Column("Torque (Nm)", "", 0.05 * rpm + 100.0)),
        )
    )
    assert not table.time_known
    whole = join([ecu, table])
    told = np.isfinite(whole.channels["torque"].values)
    speed = whole.channels["engine_speed"].values[told] * 30.0 / np.pi
    assert told.sum() > 50
    assert whole.channels["torque"].values[told] == pytest.approx(0.05 * speed + 100.0, abs=1.0)
    # Two pulls were driven, and the table may belong to either.
    assert "join-unsure" in {f.kind for f in whole.findings}


def test_a_repeated_drive_leaves_a_doubt() -> None:
    # The same blip every ten seconds: any multiple of ten fits.
    time = np.arange(0.0, 60.0, 0.05)
    blip = 2000.0 + 3000.0 * np.exp(-(((time % 10.0) - 5.0) ** 2))
    match = match_clocks(Samples(time, blip), Samples(time + 4.0, blip), same_scale=True)
    assert match is not None and not match.unique
    once = 2000.0 + 3000.0 * np.exp(-((time - 25.0) ** 2))
    match = match_clocks(Samples(time, once), Samples(time + 4.0, once), same_scale=True)
    assert match is not None and match.unique and match.offset == pytest.approx(-4.0, abs=0.01)


def test_nothing_moves_nothing_is_matched() -> None:
    time = np.arange(0.0, 20.0, 0.1)
    assert match_clocks(Samples(time, np.full(200, 800.0)), Samples(time, time), same_scale=True) is None
