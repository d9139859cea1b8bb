"""What loggers do to data, put on a drawn drive with the truth at hand; and what looks like it but is sound."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.recording import ColumnChoice, Recording, find_pulls
from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise
from boostproof.recording.tidy import tidied

Array = NDArray[np.float64]

_path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
_spec = importlib.util.spec_from_file_location("drive", _path)
assert _spec is not None and _spec.loader is not None
_drive = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_drive)

NEW = {
    "time-rewound", "clock-wrapped", "duplicate-rows", "rows-out-of-order", "gap-in-log", "jittery-clock",
    "mixed-rates", "stale-repeats", "slow-logger", "frozen-channel", "sensor-at-limit", "spikes",
    "swapped-channels", "inverted-channel", "channel-delay", "lost-cells",
}  # fmt: skip
HEADS = {
    "time_s": ("Time (s)", 3),
    "rpm": ("RPM", 0),
    "throttle_pct": ("TPS (%)", 1),
    "boost_kpa": ("Boost (kPa)", 1),
    "map_kpa": ("MAP (kPa)", 1),
    "compressor_kpa": ("Compressor outlet pressure gauge (kPa)", 1),
    "turbine_kpa": ("Exhaust back pressure gauge (kPa)", 1),
    "intake_c": ("IAT (C)", 1),
    "exhaust_c": ("EGT (C)", 0),
    "coolant_c": ("Coolant (C)", 1),
    "flow_gs": ("Air flow (g/s)", 1),
    "gear": ("Gear", 0),
    "speed_kmh": ("Vehicle speed (km/h)", 1),
}
USUAL = ("time_s", "rpm", "throttle_pct", "boost_kpa", "intake_c", "coolant_c")


def _drawn(rate: float, seed: int = 7) -> dict[str, Array]:
    return dict(_drive.drive(rate, seed))


def _table(drive: dict[str, Array], keys: tuple[str, ...] = USUAL) -> Table:
    columns = []
    for key in keys:
        head, digits = HEADS[key]
        values = np.round(drive[key], digits)
        columns.append(Column(head, "", values, int(np.isnan(values).sum())))
    return Table("log.csv", "csv", len(columns[0].values), tuple(columns))


def _read(drive: dict[str, Array], keys: tuple[str, ...] = USUAL, named: bool = False) -> Recording:
    told = {HEADS[k][0]: k for k in keys}
    names = {
        "boost": ("Boost (kPa)", "gauge"),
        "compressor_outlet_pressure": (HEADS["compressor_kpa"][0], "gauge"),
        "turbine_inlet_pressure": (HEADS["turbine_kpa"][0], "gauge"),
    }
    # Named as a person would: what is wrong with the values must not be taken for another unit.
    columns = {n: ColumnChoice(h, "kPa", r) for n, (h, r) in names.items() if named and h in told}
    return recognise(_table(drive, keys), columns)


def _kinds(recording: Recording) -> set[str]:
    return {finding.kind for finding in recording.findings} & NEW


def _says(recording: Recording, kind: str) -> str:
    return next(f.says for f in recording.findings if f.kind == kind)


def _rows(drive: dict[str, Array], rows: Array | list[int]) -> dict[str, Array]:
    return {key: values[rows] for key, values in drive.items()}


@pytest.mark.parametrize("rate", [10.0, 20.0, 50.0, 100.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_sound_log_gives_none_of_these_findings(rate: float, seed: int) -> None:
    every = tuple(HEADS)
    keys = tuple(k for k in every if k != "map_kpa")
    assert _kinds(_read(_drawn(rate, seed), keys)) == set()
    assert _kinds(_read(_drawn(rate, seed), tuple(k for k in every if k != "boost_kpa"))) == set()


# --- clocks ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "scale", "bits"),
    [("ms", 1e3, 16), ("us", 1e6, 24), ("ms", 1e3, 24), ("us", 1e6, 32), ("ms", 1e3, 32)],
)
@pytest.mark.parametrize("rate", [10.0, 50.0])
@pytest.mark.parametrize("before", [3.0, 11.0, 22.0])  # s before the wrap: idle, in a pull, in the next
def test_a_counter_that_wraps_goes_on(unit: str, scale: float, bits: int, rate: float, before: float) -> None:
    drive = _drawn(rate)
    true = drive["time_s"].copy()
    table = _table(drive)
    counts = np.mod(np.round(true * scale) + 2.0**bits - before * scale, 2.0**bits)
    columns = (Column(f"Time ({unit})", "", counts), *table.columns[1:])
    recording = recognise(Table("log.csv", "csv", table.rows, columns))
    assert _kinds(recording) == {"clock-wrapped"}
    np.testing.assert_allclose(np.diff(recording.time), np.diff(true), atol=2e-3)
    assert len(find_pulls(recording)) == 2


@pytest.mark.parametrize(("period", "before"), [(60.0, 9.0), (3600.0, 20.0), (65.535, 12.0), (10.0, 0.0)])
def test_a_clock_that_shows_only_its_seconds_goes_on(period: float, before: float) -> None:
    drive = _drawn(20.0)
    true = drive["time_s"].copy()
    drive["time_s"] = np.mod(true + period - before, period)
    recording = _read(drive)
    if period == 10.0:  # no clock does that: the log was started again
        assert "time-rewound" in _kinds(recording) and "clock-wrapped" not in _kinds(recording)
        return
    assert _kinds(recording) == {"clock-wrapped"}
    np.testing.assert_allclose(recording.time - recording.time[0], true, atol=1e-2)


def test_several_wraps_are_counted() -> None:
    drive = _drawn(50.0)
    many = {key: np.concatenate([values] * 5) for key, values in drive.items()}
    many["time_s"] = np.mod(np.arange(len(many["rpm"])) / 50.0, 60.0)
    assert "(2 times)" in _says(_read(many), "clock-wrapped")


def test_a_log_started_again_after_just_a_minute_is_no_wrap() -> None:
    drive = _drawn(20.0)
    rows = len(drive["rpm"])
    drive["time_s"] = np.where(np.arange(rows) < 260, 47.0 + np.arange(rows) / 20.0, np.arange(rows) / 20.0 - 13.0)
    drive["rpm"][260:] = 850.0  # it had been at nearly 5500
    assert "time-rewound" in _kinds(_read(drive)) and "clock-wrapped" not in _kinds(_read(drive))


@pytest.mark.parametrize("rate", [10.0, 40.0])
@pytest.mark.parametrize("every", [2, 7, 100])
def test_rows_written_twice_are_read_once(rate: float, every: int) -> None:
    drive = _drawn(rate)
    count = len(drive["rpm"])
    twice = np.sort(np.concatenate([np.arange(count), np.arange(0, count, every)]))
    recording = _read(_rows(drive, twice))
    assert _kinds(recording) == {"duplicate-rows"}
    assert recording.rows == count == len(recording.time)
    assert all(len(channel.values) == count for channel in recording.channels.values())
    np.testing.assert_allclose(recording.time, np.round(drive["time_s"], 3))


def test_a_block_written_twice_is_read_once() -> None:
    drive = _drawn(20.0)
    count = len(drive["rpm"])
    rows = np.concatenate([np.arange(240), np.arange(215, count)])
    recording = _read(_rows(drive, rows))
    assert _kinds(recording) == {"duplicate-rows"} and recording.rows == count


def test_rows_of_a_coarse_clock_are_not_the_same_row() -> None:
    drive = _drawn(10.0)
    drive["time_s"] = np.floor(drive["time_s"])
    for key in ("rpm", "throttle_pct", "boost_kpa", "intake_c", "coolant_c"):
        drive[key][:60] = drive[key][0]  # at rest, and rounded so that nothing moves
    recording = _read(drive)
    assert recording.rows == len(drive["rpm"]) and "duplicate-rows" not in _kinds(recording)


@pytest.mark.parametrize("rate", [10.0, 50.0])
@pytest.mark.parametrize(("every", "block"), [(9, 1), (40, 1), (40, 2), (60, 3)])
def test_rows_out_of_order_are_sorted(rate: float, every: int, block: int) -> None:
    drive = _drawn(rate)
    rows = np.arange(len(drive["rpm"]))
    for start in range(every, rows.size - 2 * block, every):
        rows[start : start + 2 * block] = np.roll(rows[start : start + 2 * block], block)
    recording = _read(_rows(drive, rows))
    assert _kinds(recording) == {"rows-out-of-order"}
    np.testing.assert_allclose(recording.time, np.round(drive["time_s"], 3))
    np.testing.assert_allclose(recording.channels["boost"].values, np.round(drive["boost_kpa"], 1) * 1e3)


def test_a_table_in_order_stays_the_same_object() -> None:
    table = _table(_drawn(20.0))
    assert tidied(table, 0) is table and tidied(table, None) is table


@pytest.mark.parametrize(("start", "stop"), [(9.6, 10.7), (15.0, 18.0), (3.0, 3.8)])
def test_a_hole_is_told_with_its_place_and_length(start: float, stop: float) -> None:
    drive = _drawn(20.0)
    kept = np.flatnonzero((drive["time_s"] < start - 1e-9) | (drive["time_s"] > stop - 1e-9))
    recording = _read(_rows(drive, kept))
    assert _kinds(recording) == {"gap-in-log"}
    told = re.search(r"([0-9.]+) s from ([0-9.]+) s", _says(recording, "gap-in-log"))
    assert told is not None
    assert float(told[1]) == pytest.approx(stop - start + 0.05, abs=0.06)
    assert float(told[2]) == pytest.approx(start - 0.05, abs=0.06)


def test_times_of_arrival_are_evened() -> None:
    drive = _drawn(50.0)
    true = drive["time_s"].copy()
    # Five rows at a time come over the radio, 2 ms apart.
    burst = np.arange(true.size) // 5 * 5
    drive["time_s"] = true[burst] + 0.002 * (np.arange(true.size) - burst)
    recording = _read(drive)
    assert _kinds(recording) == {"jittery-clock"}
    inside = slice(30, -30)
    off = recording.time[inside] - true[inside]
    assert float(np.std(off)) < 0.006 < float(np.std(drive["time_s"] - true))


def test_true_times_of_an_uneven_logger_stay() -> None:
    fine = _drawn(1000.0)
    rng = np.random.default_rng(3)
    rows = np.cumsum(rng.integers(5, 60, 800))
    drive = _rows(fine, rows[rows < len(fine["rpm"])])
    recording = _read(drive)
    assert _kinds(recording) == set()
    np.testing.assert_allclose(recording.time, np.round(drive["time_s"], 3))


# --- rates ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [20.0, 100.0])
@pytest.mark.parametrize("every", [2, 5, 10])
def test_cells_that_are_blank_by_rule_are_not_lost(rate: float, every: int) -> None:
    drive = _drawn(rate)
    for key, phase in (("intake_c", 1), ("coolant_c", 0), ("boost_kpa", every - 1)):
        blank = np.arange(len(drive["rpm"])) % every != phase
        drive[key] = np.where(blank, np.nan, drive[key])
    recording = _read(drive)
    assert _kinds(recording) - {"slow-logger"} == {"mixed-rates"}
    assert ("slow-logger" in _kinds(recording)) == (rate / every < 7.0)
    boost = recording.channels["boost"]
    assert boost.lost_cells == 0 and boost.samples is not None
    assert len(boost.samples.time) == np.isfinite(drive["boost_kpa"]).sum()
    told = np.isfinite(drive["boost_kpa"])
    np.testing.assert_allclose(boost.values[told], np.round(drive["boost_kpa"][told], 1) * 1e3)
    assert np.isfinite(boost.values[every:-every]).all()
    assert f"Boost (kPa) {rate / every:.2g} a second" in _says(recording, "mixed-rates")


@pytest.mark.parametrize("share", [0.1, 0.5, 0.8])
def test_cells_lost_by_chance_stay_lost(share: float) -> None:
    drive = _drawn(50.0)
    rng = np.random.default_rng(4)
    drive["boost_kpa"] = np.where(rng.random(len(drive["rpm"])) < share, np.nan, drive["boost_kpa"])
    recording = _read(drive)
    assert "mixed-rates" not in _kinds(recording)
    assert recording.channels["boost"].lost_cells == np.isnan(drive["boost_kpa"]).sum()


def test_a_column_that_breaks_off_is_lost() -> None:
    drive = _drawn(20.0)
    drive["boost_kpa"] = np.where(np.arange(len(drive["rpm"])) > 200, np.nan, drive["boost_kpa"])
    assert "mixed-rates" not in _kinds(_read(drive))


def _polled(drive: dict[str, Array], rate: float, answers: float) -> dict[str, Array]:
    """One question at a time, in turn; each row repeats the last answer of each channel."""
    keys = [key for key in USUAL if key != "time_s"]
    held = dict(drive)
    for number, key in enumerate(keys):
        asked = np.arange(number / (answers * len(keys)), drive["time_s"][-1], 1.0 / answers)
        last = np.clip(np.searchsorted(asked, drive["time_s"], side="right") - 1, 0, None)
        source = np.clip(np.searchsorted(drive["time_s"], asked - 1e-9), 0, len(drive["rpm"]) - 1)
        held[key] = drive[key][source[last]]
    return held


@pytest.mark.parametrize("rate", [10.0, 25.0, 50.0, 100.0])
@pytest.mark.parametrize("answers", [2.0, 4.0, 6.0])
def test_a_polled_logger_is_told_and_mended(rate: float, answers: float) -> None:
    drive = _drawn(rate)
    recording = _read(_polled(drive, rate, answers))
    assert _kinds(recording) == {"stale-repeats", "slow-logger"}
    speed = recording.channels["engine_speed"]
    assert speed.samples is not None
    told = (len(speed.samples.time) - 1) / (speed.samples.time[-1] - speed.samples.time[0])
    assert told == pytest.approx(answers, rel=0.12)
    # The line between answers is nearer to the truth than the answers held.
    inside = (drive["time_s"] > 9.0) & (drive["time_s"] < 13.5)
    held = _polled(drive, rate, answers)["rpm"]
    mended = speed.values[inside] * 30.0 / np.pi
    error = float(np.std(mended - drive["rpm"][inside]))
    assert error < 0.7 * float(np.std(held[inside] - drive["rpm"][inside]))
    assert len(find_pulls(recording)) == 2


@pytest.mark.parametrize("steps", [(10.0, 0.5), (25.0, 1.0), (50.0, 2.5), (100.0, 5.0)])
@pytest.mark.parametrize("rate", [10.0, 50.0])
def test_coarse_steps_are_no_repeats(steps: tuple[float, float], rate: float) -> None:
    drive = _drawn(rate)
    for key, step in zip(("rpm", "boost_kpa"), steps, strict=True):
        drive[key] = np.round(drive[key] / step) * step
    recording = _read(drive)
    assert not _kinds(recording) & {"stale-repeats", "frozen-channel"}
    np.testing.assert_allclose(recording.channels["boost"].values, drive["boost_kpa"] * 1e3)


def test_gears_and_switches_keep_their_steps() -> None:
    drive = _drawn(50.0)
    held = _polled(drive, 50.0, 4.0)
    held["gear"] = np.where(drive["time_s"] < 16.0, 3.0, 4.0)
    recording = _read(held, (*USUAL, "gear"))
    assert set(np.unique(recording.channels["gear"].values)) == {3.0, 4.0}


# --- sensors --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [10.0, 20.0, 100.0])
@pytest.mark.parametrize("size", [-150.0, 60.0, 300.0])
@pytest.mark.parametrize("count", [1, 8])
def test_spikes_are_taken_out_and_counted(rate: float, size: float, count: int) -> None:
    drive = _drawn(rate)
    clean = np.round(drive["boost_kpa"], 1) * 1e3
    rows = np.linspace(50, len(clean) - 40, count).astype(int)
    drive["boost_kpa"][rows] += size
    recording = _read(drive, named=True)
    assert "spikes" in _kinds(recording) and _says(recording, "spikes").startswith(f"{count} sample")
    values = recording.channels["boost"].values
    assert recording.rows == len(clean) and recording.channels["boost"].lost_cells == 0
    others = np.setdiff1d(np.arange(len(clean)), rows)
    np.testing.assert_allclose(values[others], clean[others])
    steep = np.abs(np.gradient(clean))[rows]
    assert (np.abs(values[rows] - clean[rows]) < 3e3 + 2.0 * steep).all()


@pytest.mark.parametrize("hertz", [6.0, 9.0, 12.0])
def test_surge_is_no_spike(hertz: float) -> None:
    drive = _drawn(50.0)
    inside = (drive["time_s"] > 14.1) & (drive["time_s"] < 14.9)
    swing = 55.0 * np.sin(2.0 * np.pi * hertz * drive["time_s"])
    drive["boost_kpa"] = np.where(inside, 20.0 + swing, drive["boost_kpa"])
    recording = _read(drive)
    assert "spikes" not in _kinds(recording)
    np.testing.assert_allclose(recording.channels["boost"].values, np.round(drive["boost_kpa"], 1) * 1e3)


@pytest.mark.parametrize("floor", [-70.0, -50.0, 0.0])
def test_the_lower_end_of_the_manifold_sensor_is_told(floor: float) -> None:
    drive = _drawn(20.0)
    drive["boost_kpa"] = np.maximum(drive["boost_kpa"], floor)
    assert f"at {floor:.1f} kPa gauge, its lowest" in _says(_read(drive), "sensor-at-limit")


def test_a_throttle_at_its_end_is_no_fault() -> None:
    drive = _drawn(20.0)
    drive["throttle_pct"] = np.clip(drive["throttle_pct"], 1.0, 98.0)
    assert _kinds(_read(drive)) == set()


def test_pressures_with_each_others_names_are_asked_for() -> None:
    drive = _drawn(20.0)
    drive["boost_kpa"], drive["turbine_kpa"] = drive["turbine_kpa"], drive["boost_kpa"]
    recording = _read(drive, (*USUAL, "turbine_kpa"), named=True)
    assert "swapped-channels" in _kinds(recording)
    assert "Boost (kPa) shows no vacuum" in _says(recording, "swapped-channels")
    np.testing.assert_allclose(recording.channels["boost"].values, np.round(drive["boost_kpa"], 1) * 1e3)


def test_a_sensor_before_the_throttle_is_not_swapped() -> None:
    drive = _drawn(20.0)
    drive["boost_kpa"] = np.maximum(drive["boost_kpa"], 1.0) + 0.2 * np.random.default_rng(2).normal(
        size=len(drive["rpm"])
    )
    assert "swapped-channels" not in _kinds(_read(drive, (*USUAL, "turbine_kpa")))


def test_an_exhaust_as_cold_as_charge_air_is_asked_for() -> None:
    drive = _drawn(20.0)
    drive["intake_c"], drive["exhaust_c"] = drive["exhaust_c"], drive["intake_c"]
    assert "swapped-channels" in _kinds(_read(drive, (*USUAL, "exhaust_c")))
    drive["exhaust_c"] = np.full(len(drive["rpm"]), 22.0)  # a thermocouple that is not plugged in
    drive["intake_c"] = _drawn(20.0)["intake_c"]
    assert "swapped-channels" not in _kinds(_read(drive, (*USUAL, "exhaust_c")))


@pytest.mark.parametrize("rate", [10.0, 50.0])
def test_a_throttle_the_wrong_way_round_is_turned(rate: float) -> None:
    drive = _drawn(rate)
    sound = _read(drive)
    drive["throttle_pct"] = 100.0 - drive["throttle_pct"]
    recording = _read(drive)
    assert _kinds(recording) == {"inverted-channel"}
    np.testing.assert_allclose(
        recording.channels["throttle"].values, sound.channels["throttle"].values, atol=1e-3
    )
    assert recording.channels["boost"].reference == "gauge"
    assert [p.rpm_to for p in find_pulls(recording)] == pytest.approx([p.rpm_to for p in find_pulls(sound)], abs=30)


def test_a_boost_of_the_wrong_sign_is_turned() -> None:
    drive = _drawn(20.0)
    sound = drive["boost_kpa"].copy()
    drive["boost_kpa"] = -sound
    recording = _read(drive, named=True)
    np.testing.assert_allclose(recording.boost_gauge(), sound * 1e3, atol=60.0)
    assert "inverted-channel" in _kinds(recording)
    assert "wrong sign" in _says(recording, "inverted-channel")


def test_an_outlet_pressure_of_the_wrong_sign_is_turned() -> None:
    drive = _drawn(20.0)
    sound = drive["compressor_kpa"].copy()
    drive["compressor_kpa"] = -sound
    recording = _read(drive, (*USUAL, "compressor_kpa"), named=True)
    assert "inverted-channel" in _kinds(recording)
    np.testing.assert_allclose(
        recording.channels["compressor_outlet_pressure"].values, sound * 1e3, atol=60.0
    )


def test_a_drive_that_lifts_often_is_not_inverted() -> None:
    drive = _drawn(20.0)
    # Cruise at a fixed speed with the throttle half open all along: nothing tells which way it counts.
    drive["rpm"] = np.full(len(drive["rpm"]), 2500.0)
    drive["throttle_pct"] = 50.0 + 20.0 * np.sin(drive["time_s"])
    assert "inverted-channel" not in _kinds(_read(drive))


# --- delays ---------------------------------------------------------------------------------------------


def _late(drive: dict[str, Array], key: str, seconds: float) -> dict[str, Array]:
    return drive | {key: np.interp(drive["time_s"] - seconds, drive["time_s"], drive[key])}


@pytest.mark.parametrize("rate", [10.0, 20.0, 100.0])
@pytest.mark.parametrize("delay", [0.5, 0.9])
@pytest.mark.parametrize("key", ["boost_kpa", "compressor_kpa", "flow_gs"])
def test_a_late_channel_is_told_with_its_delay(rate: float, delay: float, key: str) -> None:
    keys = (*USUAL, *({"compressor_kpa", "flow_gs"} & {key}))
    recording = _read(_late(_drawn(rate), key, delay), keys)
    assert "channel-delay" in _kinds(recording)
    told = float(_says(recording, "channel-delay").split("comes ")[1].split(" s")[0])
    # A drawn manifold fills within a tenth of a second of the throttle.
    assert told == pytest.approx(delay, abs=0.12)


@pytest.mark.parametrize("delay", [0.0, 0.05, 0.1])
@pytest.mark.parametrize("key", ["boost_kpa", "compressor_kpa", "flow_gs"])
def test_the_lag_of_a_sound_sensor_is_not_told(delay: float, key: str) -> None:
    keys = (*USUAL, *({"compressor_kpa", "flow_gs"} & {key}))
    assert "channel-delay" not in _kinds(_read(_late(_drawn(50.0), key, delay), keys))
