"""Where pulls begin and end, and what they are measured to show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.recording import Pull, Recording, find_pulls
from boostproof.recording.model import Channel, Column, Table
from boostproof.recording.pulls.metrics import METRICS, measure
from boostproof.recording.recognise import recognise

Array = NDArray[np.float64]
RATE = 50.0


def _recording(
    segments: list[tuple[float, float, float, float]], *, leave_out: str = "", noise: float = 0.3
) -> Recording:
    """A log from straight segments: (seconds, rpm at its end, throttle %, boost kPa at its end)."""
    rng = np.random.default_rng(1)
    time, rpm, throttle, boost = [0.0], [2000.0], [12.0], [-45.0]
    for seconds, rpm_to, opening, boost_to in segments:
        count = round(seconds * RATE)
        time += (time[-1] + np.arange(1, count + 1) / RATE).tolist()
        rpm += np.linspace(rpm[-1], rpm_to, count + 1)[1:].tolist()
        throttle += [opening] * count
        boost += np.linspace(boost[-1], boost_to, count + 1)[1:].tolist()
    size = len(time)
    columns = {
        "Time (s)": np.array(time),
        "Engine Speed (rpm)": np.array(rpm) + rng.normal(0.0, 3.0, size),
        "Throttle (%)": np.array(throttle) + rng.normal(0.0, 0.1, size),
        "Boost gauge (kPa)": np.array(boost) + rng.normal(0.0, noise, size),
    }
    kept = [Column(head, "", values) for head, values in columns.items() if head != leave_out]
    return recognise(Table("drawn.csv", "csv", size, tuple(kept)))


CRUISE = (2.0, 2000.0, 12.0, -45.0)
TIP_IN = (0.1, 2050.0, 99.0, 5.0)
RISE = (3.9, 3600.0, 99.0, 90.0)
HOLD = (6.0, 6500.0, 99.0, 90.0)
LIFT = (0.3, 6450.0, 1.0, -60.0)
OVERRUN = (3.0, 2000.0, 1.0, -90.0)
PULL = [CRUISE, TIP_IN, RISE, HOLD, LIFT, OVERRUN]


def _one(recording: Recording) -> Pull:
    (pull,) = find_pulls(recording)
    return pull


def test_a_pull_from_full_throttle_to_lift() -> None:
    pull = _one(_recording(PULL))
    assert (pull.from_s, pull.to_s) == pytest.approx((2.02, 12.0), abs=0.06)
    assert (pull.rpm_from, pull.rpm_to) == pytest.approx((2010, 6500), abs=30)
    assert pull.full_load and pull.ended == "lifted"
    rows = slice(pull.start, pull.stop)
    assert (pull.recording.channels["throttle"].values[rows] > 0.95).all()


def test_the_redline_or_a_second_pull_to_the_same_speed_is_a_ceiling() -> None:
    assert find_pulls(_recording(PULL), redline=6550.0)[0].ended == "ceiling"
    assert find_pulls(_recording(PULL), redline=7200.0)[0].ended == "lifted"
    assert [p.ended for p in find_pulls(_recording(PULL * 2))] == ["ceiling", "ceiling"]


def test_held_against_the_limiter_is_a_ceiling_and_the_hold_is_no_part_of_it() -> None:
    pull = _one(_recording([CRUISE, TIP_IN, RISE, HOLD, (1.5, 6500.0, 99.0, 90.0), LIFT, OVERRUN]))
    assert pull.ended == "ceiling"
    assert pull.to_s == pytest.approx(12.0, abs=0.25)


def test_end_of_file() -> None:
    assert _one(_recording(PULL[:4])).ended == "end of file"


def test_a_gear_change_parts_two_pulls() -> None:
    shift = [(0.25, 5200.0, 5.0, 10.0), (0.05, 4300.0, 60.0, 20.0)]
    pulls = find_pulls(_recording([*PULL[:4], *shift, (3.0, 6300.0, 99.0, 90.0), LIFT, OVERRUN]))
    assert [v for p in pulls for v in (p.rpm_from, p.rpm_to)] == pytest.approx(
        [2010, 6490, 4340, 6300], abs=40
    )
    assert [p.ended for p in pulls] == ["lifted", "lifted"]


def test_a_gear_change_at_full_throttle_parts_two_pulls() -> None:
    pulls = find_pulls(
        _recording([*PULL[:4], (0.2, 4300.0, 99.0, 80.0), (3.0, 6300.0, 99.0, 90.0), LIFT, OVERRUN])
    )
    assert [v for p in pulls for v in (p.rpm_from, p.rpm_to)] == pytest.approx(
        [2010, 6480, 4340, 6300], abs=40
    )
    assert [p.ended for p in pulls] == ["unknown", "lifted"]
    assert pulls[1].metrics["time_to_80_s"] is None


def test_a_lift_inside_parts_two_pulls_a_flicker_does_not() -> None:
    half = [CRUISE, TIP_IN, RISE, (2.0, 4600.0, 99.0, 90.0)]
    rest = [(3.0, 6000.0, 99.0, 90.0), LIFT, OVERRUN]
    assert len(find_pulls(_recording([*half, (0.4, 4550.0, 20.0, 10.0), *rest]))) == 2
    assert len(find_pulls(_recording([*half, (0.06, 4620.0, 80.0, 90.0), *rest]))) == 1


def test_a_sweep_at_part_throttle_is_no_full_load_pull() -> None:
    part = [(0.1, 2050.0, 38.0, -10.0), (6.0, 5000.0, 38.0, 60.0), (0.3, 4900.0, 1.0, -60.0), OVERRUN]
    both = _recording([*PULL, CRUISE, *part])
    assert [p.full_load for p in find_pulls(both)] == [True]
    assert [p.full_load for p in find_pulls(both, part_load=True)] == [True, False]
    assert find_pulls(_recording([CRUISE, *part])) == ()


def test_without_a_throttle_boost_tells() -> None:
    pull = _one(_recording(PULL, leave_out="Throttle (%)"))
    assert pull.full_load and pull.rpm_to == pytest.approx(6480, abs=60)
    assert pull.rpm_from == pytest.approx(2040, abs=60)


def test_without_throttle_and_boost_there_is_no_pull() -> None:
    recording = _recording(PULL)
    columns = [
        Column("rpm", "", recording.channels["engine_speed"].values * 30 / np.pi),
        Column("time", "s", recording.time),
    ]
    assert find_pulls(recognise(Table("two.csv", "csv", recording.rows, tuple(columns)))) == ()


def test_excluded_stretches_are_not_used() -> None:
    assert len(find_pulls(_recording(PULL * 2), excluded=[(None, 14.0)])) == 1
    assert find_pulls(_recording(PULL), excluded=[(0.0, None)]) == ()


def test_idle_and_cruise_alone_hold_no_pull() -> None:
    assert find_pulls(_recording([CRUISE, (20.0, 2300.0, 14.0, -40.0), CRUISE])) == ()


def test_the_json_of_a_pull_is_the_contract() -> None:
    answer = _one(_recording(PULL)).as_json()
    assert list(answer) == [
        "recording",
        "from_s",
        "to_s",
        "rpm_from",
        "rpm_to",
        "full_load",
        "ended",
        "metrics",
    ]
    assert answer["recording"] == "drawn.csv" and answer["full_load"] is True
    assert set(answer["metrics"]) == set(METRICS)
    assert all(m is None or set(m) == {"value", "sd"} for m in answer["metrics"].values())


def _within(pull: Pull, name: str, value: float, least: float) -> None:
    metric = pull.metrics[name]
    assert metric is not None, name
    assert metric.sd > 0.0
    assert metric.value == pytest.approx(value, abs=max(3.0 * metric.sd, least)), name


def test_a_rise_and_a_plateau() -> None:
    pull = _one(_recording(PULL))
    # Drawn: 5 kPa at 2050 rpm and 0.1 s, straight to 90 kPa at 3600 rpm 3.9 s later.
    _within(pull, "boost_threshold_rpm", 2050 + 1550 * 40 / 85, 15)
    _within(pull, "rpm_at_80", 2050 + 1550 * 67 / 85, 15)
    _within(pull, "time_to_80_s", 0.1 + 3.9 * 67 / 85, 0.03)
    _within(pull, "knee_rpm", 3600, 30)
    _within(pull, "knee_kpa_gauge", 90, 1.0)
    _within(pull, "plateau_kpa_gauge", 90, 0.1)
    _within(pull, "end_kpa_gauge", 90, 0.3)
    _within(pull, "end_rpm", 6500, 10)
    _within(pull, "creep_kpa_per_1000rpm", 0.0, 0.05)
    assert pull.metrics["spike_kpa"] is None and pull.metrics["oscillation_kpa"] is None


def test_creep_from_its_own_knee() -> None:
    pull = _one(
        _recording(
            [CRUISE, TIP_IN, RISE, (3.0, 5000.0, 99.0, 90.0), (3.0, 6500.0, 99.0, 150.0), LIFT, OVERRUN]
        )
    )
    _within(pull, "knee_rpm", 3600, 30)
    _within(pull, "plateau_kpa_gauge", 90, 0.3)
    _within(pull, "creep_from_rpm", 5000, 40)
    _within(pull, "creep_kpa_per_1000rpm", 40.0, 0.5)
    _within(pull, "peak_kpa_gauge", 150, 1.0)
    assert pull.metrics["taper_kpa"] is None


def test_taper() -> None:
    pull = _one(_recording([CRUISE, TIP_IN, RISE, (6.0, 6500.0, 99.0, 61.0), LIFT, OVERRUN]))
    _within(pull, "creep_kpa_per_1000rpm", -10.0, 0.3)
    _within(pull, "taper_kpa", 29.0, 1.0)
    assert pull.metrics["plateau_kpa_gauge"] is None


def test_a_spike_and_how_long_it_takes() -> None:
    spike = [(0.3, 3700.0, 99.0, 102.0), (0.4, 3850.0, 99.0, 88.0), (5.3, 6500.0, 99.0, 88.0)]
    pull = _one(_recording([CRUISE, TIP_IN, RISE, *spike, LIFT, OVERRUN]))
    _within(pull, "spike_kpa", 14.0, 1.5)
    # Within 3 kPa of 88 on the way down: 0.3 s up, then 11/14 of 0.4 s; from the knee, which the fit puts
    # between the end of the rise and the top.
    settling = pull.metrics["settling_s"]
    assert settling is not None and 0.1 < settling.value < 0.75


def test_a_runaway_has_no_knee() -> None:
    pull = _one(
        _recording([CRUISE, TIP_IN, (2.0, 3000.0, 99.0, 40.0), (3.0, 4500.0, 99.0, 160.0), LIFT, OVERRUN])
    )
    for name in ("knee_rpm", "knee_kpa_gauge", "plateau_kpa_gauge", "creep_kpa_per_1000rpm", "spike_kpa"):
        assert pull.metrics[name] is None, name
    _within(pull, "boost_threshold_rpm", 3500, 30)


def test_an_oscillation() -> None:
    recording = _recording(PULL)
    time = recording.time
    boost = recording.boost_gauge() / 1e3 + np.where(time > 6.0, 3.0 * np.sin(2 * np.pi * 1.4 * time), 0.0)
    pull = _one(recording)
    rows = slice(pull.start, pull.stop)
    rpm = recording.channels["engine_speed"].values[rows] * 30 / np.pi
    found = measure(time[rows], rpm, boost[rows], tip_in=True)
    wave, speed = found["oscillation_kpa"], found["oscillation_hz"]
    assert wave is not None and speed is not None
    assert wave.value == pytest.approx(3.0, rel=0.15) and speed.value == pytest.approx(1.4, abs=0.06)


def test_a_pull_that_starts_above_cannot_show_its_threshold() -> None:
    recording = _recording(PULL)
    rows = recording.time > 8.0
    kept = tuple(
        Column(c.column, "", c.values[rows] if c.name == "time" else c.values[rows] / _unit(c.name))
        for c in recording.channels.values()
    )
    pull = _one(recognise(Table("late.csv", "csv", int(rows.sum()), kept)))
    assert pull.metrics["boost_threshold_rpm"] is None and pull.metrics["time_to_80_s"] is None
    assert pull.metrics["end_kpa_gauge"] is not None


def _unit(name: str) -> float:
    return {"engine_speed": np.pi / 30, "throttle": 0.01, "boost": 1e3}[name]


# --- logs as they come ------------------------------------------------------------------------------


def _with(recording: Recording, **values: Array | None) -> Recording:
    """The same recording with channels replaced (SI) or, for None, left out."""
    channels = dict(recording.channels)
    for name, new in values.items():
        if new is None:
            del channels[name]
        else:
            channels[name] = replace(channels[name], values=new)
    return replace(recording, channels=channels)


def _same(found: tuple[Pull, ...], expected: tuple[Pull, ...], *, rpm: float = 60.0) -> None:
    assert [p.ended for p in found] == [p.ended for p in expected]
    for a, b in zip(found, expected, strict=True):
        assert (a.from_s, a.to_s) == pytest.approx((b.from_s, b.to_s), abs=0.25)
        assert (a.rpm_from, a.rpm_to) == pytest.approx((b.rpm_from, b.rpm_to), abs=rpm)
        for name in ("peak_kpa_gauge", "plateau_kpa_gauge", "end_kpa_gauge"):
            here, there = a.metrics[name], b.metrics[name]
            assert here is not None and there is not None
            assert here.value == pytest.approx(there.value, abs=1.5), name


@pytest.mark.parametrize("level", [0.75, 0.9])
def test_a_plate_that_reads_low_with_the_pedal_down_is_full_load(level: float) -> None:
    recording = _recording(PULL * 2)
    throttle = recording.channels["throttle"].values * level / 0.99
    _same(find_pulls(_with(recording, throttle=throttle)), find_pulls(recording))


@pytest.mark.parametrize("noise", [40.0, 80.0, 150.0])
def test_noise_in_engine_speed_parts_no_pull(noise: float) -> None:
    recording = _recording(PULL * 2)
    rng = np.random.default_rng(6)
    speed = recording.channels["engine_speed"].values + rng.normal(0.0, noise, recording.rows) * np.pi / 30
    _same(find_pulls(_with(recording, engine_speed=speed)), find_pulls(recording), rpm=noise)


@pytest.mark.parametrize("factor", [0.0, 0.5, 2.0])
def test_single_wrong_engine_speeds_part_no_pull(factor: float) -> None:
    recording = _recording(PULL * 2)
    speed = recording.channels["engine_speed"].values.copy()
    speed[np.random.default_rng(7).random(speed.size) < 0.01] *= factor
    _same(find_pulls(_with(recording, engine_speed=speed)), find_pulls(recording))


def test_a_hole_in_the_log_cuts_a_short_one_does_not() -> None:
    recording = _recording(PULL)
    time = recording.time
    for seconds, pulls in ((0.3, 1), (1.0, 2)):
        kept = (time < 6.0) | (time > 6.0 + seconds)
        channels = {n: replace(c, values=c.values[kept]) for n, c in recording.channels.items()}
        cut = replace(recording, rows=int(kept.sum()), time=time[kept], channels=channels)
        found = find_pulls(cut)
        assert len(found) == pulls, seconds
        assert found[-1].ended == "lifted"
        if pulls == 2:
            assert found[0].ended == "unknown" and found[1].metrics["time_to_80_s"] is None


def test_lost_cells_change_little_and_a_long_loss_of_engine_speed_cuts() -> None:
    recording = _recording(PULL * 2)
    rng = np.random.default_rng(8)
    lost = {
        name: np.where(rng.random(recording.rows) < 0.2, np.nan, recording.channels[name].values)
        for name in ("engine_speed", "throttle", "boost")
    }
    _same(find_pulls(_with(recording, **lost)), find_pulls(recording))
    gone = recording.channels["engine_speed"].values.copy()
    gone[(recording.time > 6.0) & (recording.time < 7.0)] = np.nan
    assert len(find_pulls(_with(recording, engine_speed=gone))) == 3


def test_boost_spikes_are_not_the_peak() -> None:
    recording = _recording(PULL * 2)
    boost = recording.channels["boost"].values.copy()
    boost[np.random.default_rng(9).random(boost.size) < 0.005] += 300e3
    _same(find_pulls(_with(recording, boost=boost)), find_pulls(recording))


def test_a_noisy_throttle_parts_no_pull() -> None:
    recording = _recording(PULL * 2)
    noise = np.random.default_rng(10).normal(0.0, 0.03, recording.rows)
    throttle = recording.channels["throttle"].values + noise
    _same(find_pulls(_with(recording, throttle=throttle)), find_pulls(recording))


@pytest.mark.parametrize("stuck", [False, True], ids=["no throttle", "throttle stuck open"])
def test_without_a_throttle_the_lift_is_no_part_of_the_pull(stuck: bool) -> None:
    recording = _recording(PULL * 2)
    bare = _with(recording, throttle=np.ones(recording.rows) if stuck else None)
    _same(find_pulls(bare), find_pulls(recording))


def test_without_a_throttle_the_mixture_tells_part_load() -> None:
    # A half-open plate before which the gate holds the pressure: the same boost, so only the mixture tells.
    recording = _recording([*PULL, CRUISE, *PULL])
    late = recording.time > 16.0
    bare = _with(recording, throttle=None)
    assert [p.full_load for p in find_pulls(bare, part_load=True)] == [True, True]
    mixture = Channel("lambda", "Lambda", "", None, 1.0, "", 0, np.where(late, 1.0, 0.82))
    told = replace(bare, channels={**bare.channels, "lambda": mixture})
    assert [p.full_load for p in find_pulls(told, part_load=True)] == [True, False]
    assert len(find_pulls(told)) == 1
    lean = replace(mixture, values=np.ones(recording.rows))
    assert len(find_pulls(replace(bare, channels={**bare.channels, "lambda": lean}))) == 2


def test_of_a_sweep_at_part_throttle_nothing_is_measured() -> None:
    part = [(0.1, 2050.0, 38.0, -10.0), (6.0, 5000.0, 38.0, 60.0), (0.3, 4900.0, 1.0, -60.0), OVERRUN]
    (sweep,) = find_pulls(_recording([CRUISE, *part]), part_load=True)
    assert not sweep.full_load and set(sweep.metrics) == set(METRICS)
    assert all(metric is None for metric in sweep.metrics.values())


def test_a_rise_too_short_or_too_small_is_no_pull() -> None:
    def run(seconds: float, rpm: float) -> tuple[Pull, ...]:
        lift = (0.3, rpm - 50.0, 1.0, -60.0)
        return find_pulls(_recording([CRUISE, TIP_IN, (seconds, rpm, 99.0, 60.0), lift, OVERRUN]))

    assert run(1.2, 4000.0) == () and run(4.0, 2350.0) == ()
    assert len(run(1.8, 4000.0)) == 1 and len(run(4.0, 2700.0)) == 1


def test_where_boost_ran_away_and_the_driver_lifted_a_second_is_a_pull() -> None:
    lift = (0.3, 2750.0, 1.0, -60.0)

    def run(seconds: float, boost: float, *more: tuple[float, float, float, float]) -> tuple[Pull, ...]:
        return find_pulls(_recording([CRUISE, TIP_IN, (seconds, 2800.0, 99.0, boost), lift, OVERRUN, *more]))

    (pull,) = run(1.2, 60.0)
    assert pull.ended == "lifted" and pull.to_s - pull.from_s < 1.3
    assert run(1.2, 5.0) == () and run(0.6, 60.0) == ()
    # beside a longer one it adds nothing
    assert len(run(1.2, 60.0, CRUISE, TIP_IN, (4.0, 4500.0, 99.0, 60.0), lift, OVERRUN)) == 1
