"""What driver and drive line did, told from boost faults: each matter drawn, beside what only looks like it."""

from __future__ import annotations

import re

import numpy as np
import pytest
from tests.unit.recording.drawn_driving import (
    BOOST,
    LEVER,
    LIFTED,
    OPENED,
    RATES,
    RPM,
    Array,
    Knots,
    Shape,
    drawn,
    rpm_at,
    seen,
)

from boostproof.recording import Pull, find_pulls
from boostproof.recording.pulls.metrics import METRICS

every_rate = pytest.mark.parametrize("rate", RATES)
LOAD_ONLY = {"part-load", "no-pull", "no-throttle"}


def _near(rate: float) -> float:
    return 0.25 + 2.0 / rate


def _one(pulls: tuple[Pull, ...]) -> Pull:
    (pull,) = [p for p in pulls if p.full_load]
    return pull


@every_rate
def test_a_plain_pull_gives_no_finding(rate: float) -> None:
    gear_speed = [(t, 0.021 * rpm) for t, rpm in RPM]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, pedal=LEVER, boost=BOOST, speed=gear_speed))
    assert kinds == {}
    pull = _one(pulls)
    assert (pull.from_s, pull.to_s) == pytest.approx((OPENED, LIFTED), abs=_near(rate))
    assert pull.ended == "lifted"


# --- throttle -------------------------------------------------------------------------------------


def _scaled(knots: Knots, factor: float) -> Knots:
    return [(t, v * factor) for t, v in knots]


@every_rate
@pytest.mark.parametrize(("top", "told"), [(88.0, True), (70.0, True), (97.0, False)])
def test_a_throttle_that_never_reads_full(rate: float, top: float, told: bool) -> None:
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=_scaled(LEVER, top / 99.0), boost=BOOST))
    assert _one(pulls).ended == "lifted"
    assert set(kinds) == ({"throttle-never-full"} if told else set())
    if told:
        assert f"{top:.0f} %" in kinds["throttle-never-full"][0].says


@every_rate
def test_a_throttle_far_from_full_is_no_full_load_and_that_is_said(rate: float) -> None:
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=_scaled(LEVER, 0.4), boost=BOOST))
    assert [p.full_load for p in pulls] == [False]
    assert set(kinds) == {"part-load", "no-pull", "throttle-never-full"}


@every_rate
def test_a_plate_whose_scale_ends_low_under_a_floored_pedal(rate: float) -> None:
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=_scaled(LEVER, 0.83), pedal=LEVER, boost=BOOST))
    assert set(kinds) == {"throttle-never-full"} and len(pulls) == 1


@every_rate
@pytest.mark.parametrize("share", [78.0, 88.0])
def test_the_plate_stands_back_while_the_pedal_is_down(rate: float, share: float) -> None:
    plate = [*LEVER[:3], (9.0, 99), (9.4, share), (14.0, share), (14.1, 0.5), (20, 0.5)]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=plate, pedal=LEVER, boost=BOOST))
    pull = _one(pulls)
    assert pull.to_s == pytest.approx(LIFTED, abs=_near(rate)) and pull.ended == "lifted"
    assert set(kinds) == {"plate-held-back"}
    (finding,) = kinds["plate-held-back"]
    assert finding.says.startswith("With the pedal down") and "boost from there on" in finding.says
    said = re.search(r"from (\d+) rpm", finding.says)
    assert said is not None and int(said[1]) == pytest.approx(rpm_at(9.2), abs=100 + 500 / rate)


@every_rate
def test_a_plate_held_back_from_the_start(rate: float) -> None:
    early = [(0, 12), (0.5, 12), (0.6, 99), (1.2, 99), (1.3, 12), (3.95, 12)]  # full once, at cruise
    pedal = [(0, 12), (0.5, 12), (0.55, 99), (1.2, 99), (1.3, 12), (3.95, 12), (4.0, 99), *LEVER[3:]]
    plate = [*early, (4.1, 80), (14.0, 80), (14.1, 0.5), (20, 0.5)]
    _, kinds = seen(drawn(rate, rpm=RPM, throttle=plate, pedal=pedal, boost=BOOST))
    assert set(kinds) == {"plate-held-back"}


@every_rate
def test_a_deep_closing_of_the_plate_ends_the_pull(rate: float) -> None:
    plate = [*LEVER[:3], (10.0, 99), (10.2, 45), (14.0, 45), (14.1, 0.5), (20, 0.5)]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=plate, pedal=LEVER, boost=BOOST))
    pull = _one(pulls)
    assert pull.to_s == pytest.approx(10.1, abs=_near(rate)) and pull.ended == "unknown"
    assert set(kinds) == {"plate-held-back"} and "was cut" in kinds["plate-held-back"][0].says


@every_rate
def test_a_lift_with_the_pedal_and_a_slow_plate_are_nothing(rate: float) -> None:
    half = [*LEVER[:3], (10.0, 99), (10.3, 60), (14.0, 60), (14.1, 0.5), (20, 0.5)]
    _, kinds = seen(drawn(rate, rpm=RPM, throttle=half, pedal=half, boost=BOOST))
    assert not set(kinds) - LOAD_ONLY
    slow = [(0, 12), (3.95, 12), (4.0, 40), (4.9, 99), *LEVER[3:]]
    _, kinds = seen(drawn(rate, rpm=RPM, throttle=slow, pedal=LEVER, boost=BOOST))
    assert kinds == {}


EASED = [*LEVER[:3], (10.0, 99), (10.4, 82), (14.0, 82), (14.1, 0.5), (20, 0.5)]


@every_rate
def test_without_a_pedal_boost_at_its_target_tells_who_closed_the_plate(rate: float) -> None:
    target = [(0, 0), (3.95, 0), (4.0, 88), (14, 88), (14.1, 0), (20, 0)]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=EASED, boost=BOOST, target=target))
    assert _one(pulls).to_s == pytest.approx(LIFTED, abs=_near(rate))
    assert set(kinds) == {"plate-held-back"} and "most likely" in kinds["plate-held-back"][0].says


@every_rate
def test_without_pedal_and_target_the_plate_ends_the_pull_and_both_reasons_are_said(rate: float) -> None:
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=EASED, boost=BOOST))
    assert _one(pulls).to_s == pytest.approx(10.1, abs=_near(rate))
    assert "driver eased off or" in kinds["plate-held-back"][0].says


# --- short pulls ----------------------------------------------------------------------------------


@every_rate
@pytest.mark.parametrize(("seconds", "told"), [(2.4, True), (4.5, False)])
def test_a_short_pull(rate: float, seconds: float, told: bool) -> None:
    end = OPENED + seconds
    rpm = [(0, 2200), (4, 2200), (end, 5000), (end + 3, 2200), (20, 2200)]
    lever = [*LEVER[:3], (end, 99), (end + 0.1, 0.5), (20, 0.5)]
    boost = [*BOOST[:3], (end - 0.5, 80), (end, 85), (end + 0.4, -80), (20, -85)]
    pulls, kinds = seen(drawn(rate, rpm=rpm, throttle=lever, boost=boost))
    assert len(pulls) == 1 and set(kinds) == ({"short-pull"} if told else set())


@every_rate
@pytest.mark.parametrize(("begin", "told"), [(6.5, True), (4.3, False), (3.0, False)])
def test_logging_that_began_within_the_pull(rate: float, begin: float, told: bool) -> None:
    pulls, kinds = seen(drawn(rate, begin=begin, rpm=RPM, throttle=LEVER, boost=BOOST))
    assert len(pulls) == 1 and set(kinds) == ({"short-pull"} if told else set())
    if told:
        assert "Logging began within" in kinds["short-pull"][0].says


# --- boost that is made on purpose ------------------------------------------------------------------


@every_rate
def test_boost_held_with_the_throttle_shut(rate: float) -> None:
    boost = [*BOOST[:5], (14.2, 60), (16.5, 62), (16.9, -80), (20, -85)]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=boost))
    assert set(kinds) == {"anti-lag"} and len(pulls) == 1
    said = re.search(r"([\d.]+) to ([\d.]+) s", kinds["anti-lag"][0].where)
    assert said is not None
    assert (float(said[1]), float(said[2])) == pytest.approx((14.1, 16.6), abs=_near(rate))


@every_rate
def test_boost_that_takes_its_time_to_go_is_no_anti_lag(rate: float) -> None:
    def pipe(time: Array) -> Array:
        before = np.interp(time, [k[0] for k in BOOST[:5]], [k[1] for k in BOOST[:5]])
        return np.where(time < 14.0, before, 90.0 * np.exp(-(time - 14.0) / 1.3))

    _, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=pipe))
    assert kinds == {}


LAUNCH_RPM: Knots = [
    (0, 900),
    (3.9, 900),
    (4.5, 4000),
    (7.0, 4000),
    (7.4, 3000),
    (14, 6500),
    (14.3, 6400),
    (20, 2400),
]
LAUNCH_BOOST: Knots = [
    (0, -60),
    (3.95, -60),
    (4.5, 5),
    (5.5, 60),
    (7, 65),
    (8.5, 90),
    (14, 90),
    (14.3, -60),
    (20, -88),
]


@every_rate
def test_boost_made_at_standstill_is_told_and_is_no_pull(rate: float) -> None:
    speed = [(0, 0), (7.0, 0), (14, 137), (20, 60)]
    pulls, kinds = seen(drawn(rate, rpm=LAUNCH_RPM, throttle=LEVER, boost=LAUNCH_BOOST, speed=speed))
    assert "anti-lag" in kinds
    assert all(p.from_s > 6.9 for p in pulls) and _one(pulls).metrics["time_to_80_s"] is None


@every_rate
def test_a_hold_on_rollers_that_the_speed_does_not_see_is_no_launch(rate: float) -> None:
    _, kinds = seen(drawn(rate, rpm=LAUNCH_RPM, throttle=LEVER, boost=LAUNCH_BOOST, speed=[(0, 0), (20, 0)]))
    assert "anti-lag" not in kinds


# --- limiter --------------------------------------------------------------------------------------


def _limited(depth: float, frequency: float, seconds: float = 1.6, top: float = 6500.0) -> dict[str, Shape]:
    """Engine speed that saw-tooths below its top from 12 s on, and boost that flutters."""
    base = [(0, 2200), (4, 2200), (12, top), (12 + seconds, top), (12.3 + seconds, top - 50), (20, 2400)]

    def tooth(time: Array) -> Array:
        phase = (time - 12.0) * frequency % 1.0
        inside = (time > 12.0) & (time < 12.0 + seconds)
        return np.where(inside, np.where(phase < 0.5, phase, 1.0 - phase) * 2.0, 0.0)

    def rpm(time: Array) -> Array:
        return np.interp(time, [k[0] for k in base], [k[1] for k in base]) - depth * tooth(time)

    def boost(time: Array) -> Array:
        return np.interp(time, [k[0] for k in BOOST], [k[1] for k in BOOST]) - 20.0 * tooth(time)

    lever = [*LEVER[:3], (12 + seconds, 99), (12.1 + seconds, 0.5), (20, 0.5)]
    return {"rpm": rpm, "boost": boost, "throttle": lever}


@pytest.mark.parametrize(
    ("rate", "depth", "frequency"),
    [(5.0, 160, 7.2), (20.0, 150, 6), (20.0, 200, 4), (100.0, 100, 12), (100.0, 150, 8), (100.0, 400, 4)],
)
def test_the_limiter_is_cut_out_and_told(rate: float, depth: float, frequency: float) -> None:
    pulls, kinds = seen(drawn(rate, **_limited(depth, frequency)))
    pull = _one(pulls)
    assert set(kinds) == {"limiter"}
    assert pull.ended == "ceiling" and pull.to_s == pytest.approx(12.0, abs=_near(rate))
    top = re.search(r"below (\d+) rpm", kinds["limiter"][0].says)
    assert top is not None and int(top[1]) == pytest.approx(6500, abs=60)


@every_rate
def test_a_cut_channel_tells_the_limiter_where_its_teeth_do_not_show(rate: float) -> None:
    curves = _limited(15.0, 6.0)
    cut = [(0, 0), (11.99, 0), (12.0, 1), (13.6, 1), (13.61, 0), (20, 0)]
    pulls, kinds = seen(drawn(rate, **curves, cut=cut))
    assert set(kinds) == {"limiter"} and "shows the cut" in kinds["limiter"][0].says
    assert _one(pulls).to_s == pytest.approx(12.0, abs=_near(rate))


@every_rate
@pytest.mark.parametrize(("depth", "frequency"), [(0.0, 1.0), (20.0, 3.0), (80.0, 0.8)])
def test_a_speed_that_a_brake_holds_is_no_limiter(rate: float, depth: float, frequency: float) -> None:
    pulls, kinds = seen(drawn(rate, **_limited(depth, frequency, 4.0)))
    assert "limiter" not in kinds
    assert _one(pulls).ended == "ceiling" and _one(pulls).to_s < 12.6


@every_rate
def test_cuts_against_too_much_boost_are_not_taken_for_the_limiter(rate: float) -> None:
    curves = _limited(120.0, 5.0, top=5200.0)
    boost = [
        *BOOST[:3],
        (9.0, 90),
        (11.2, 150),
        (12.0, 195),
        (12.2, 150),
        (12.4, 190),
        (13.6, 185),
        (14.2, -60),
        (20, -88),
    ]
    _, kinds = seen(drawn(rate, rpm=curves["rpm"], throttle=curves["throttle"], boost=boost))
    assert "limiter" not in kinds


# --- gearbox, converter, clutch, wheels --------------------------------------------------------------

UP: Knots = [(0, 2200), (4, 2200), (9, 6400), (9.35, 4400), (14, 6300), (14.3, 6250), (20, 2400)]


@every_rate
def test_a_change_up_at_full_throttle(rate: float) -> None:
    pulls, kinds = seen(drawn(rate, rpm=UP, throttle=LEVER, boost=BOOST))
    assert set(kinds) == {"gear-change"}
    assert [p.to_s for p in pulls] == pytest.approx([9.0, LIFTED], abs=_near(rate))
    assert pulls[1].from_s == pytest.approx(9.35, abs=_near(rate))


@every_rate
def test_a_change_up_with_the_foot_off_and_a_short_lift_without_one(rate: float) -> None:
    foot = [*LEVER[:3], (8.95, 99), (9.0, 1), (9.35, 1), (9.4, 99), *LEVER[3:]]
    pulls, kinds = seen(drawn(rate, rpm=UP, throttle=foot, boost=BOOST))
    assert set(kinds) == {"gear-change"} and len(pulls) == 2
    lifted = [(0, 2200), (4, 2200), (9, 5600), (9.4, 5350), (14, 7000), (14.3, 6950), (20, 2400)]
    pulls, kinds = seen(drawn(rate, rpm=lifted, throttle=foot, boost=BOOST))
    assert kinds == {} and len(pulls) == 2


@every_rate
def test_a_frozen_engine_speed_that_catches_up_is_no_jump(rate: float) -> None:
    recording = drawn(rate, rpm=RPM, throttle=LEVER, boost=BOOST)
    speed = recording.channels["engine_speed"].values
    frozen = (recording.time > 7.0) & (recording.time < 9.5)
    speed[frozen] = speed[np.flatnonzero(frozen)[0]]
    _, kinds = seen(recording)
    assert "kickdown" not in kinds and "wheel-slip" not in kinds


@every_rate
def test_an_automatic_that_closes_its_plate_to_change_up(rate: float) -> None:
    plate = [*LEVER[:3], (8.95, 99), (9.0, 40), (9.3, 40), (9.4, 99), *LEVER[3:]]
    _, kinds = seen(drawn(rate, rpm=UP, throttle=plate, pedal=LEVER, boost=BOOST))
    assert set(kinds) == {"gear-change"}


@every_rate
def test_a_brake_that_pulls_the_speed_down_is_no_gear_change(rate: float) -> None:
    braked = [(0, 2200), (4, 2200), (9, 5600), (12, 4200), (14, 4100), (14.3, 4000), (20, 2400)]
    _, kinds = seen(drawn(rate, rpm=braked, throttle=LEVER, boost=BOOST))
    assert "gear-change" not in kinds


DOWN: Knots = [(0, 2200), (4, 2200), (8.0, 3300), (8.45, 4750), (12.5, 6500), (12.8, 6450), (20, 2400)]
DOWN_LEVER: Knots = [*LEVER[:3], (12.5, 99), (12.6, 0.5), (20, 0.5)]


@every_rate
@pytest.mark.parametrize("known", ["", "gear", "speed"])
def test_a_change_down_at_full_throttle(rate: float, known: str) -> None:
    more: dict[str, Knots] = {}
    if known == "gear":
        more["gear"] = [(0, 4), (8.2, 4), (8.21, 3), (20, 3)]
    if known == "speed":
        more["speed"] = [(0, 60), (4, 60), (8.2, 91), (12.5, 125), (20, 50)]
    pulls, kinds = seen(drawn(rate, rpm=DOWN, throttle=DOWN_LEVER, boost=BOOST, **more))
    assert set(kinds) == {"kickdown"}
    assert [p.full_load for p in pulls] == [True, True]
    assert pulls[0].to_s == pytest.approx(8.0, abs=_near(rate)) and pulls[0].ended == "unknown"
    assert pulls[1].from_s == pytest.approx(8.45, abs=_near(rate))
    assert pulls[1].metrics["time_to_80_s"] is None


FLARE: Knots = [(0, 2200), (4, 2200), (4.5, 3300), (14, 6500), (14.3, 6450), (20, 2400)]


@every_rate
def test_a_converter_that_lets_the_engine_run_up(rate: float) -> None:
    pulls, kinds = seen(drawn(rate, rpm=FLARE, throttle=LEVER, boost=BOOST))
    assert set(kinds) == {"converter-flare"}
    pull = _one(pulls)
    assert pull.from_s == pytest.approx(4.5, abs=_near(rate)) and pull.metrics["time_to_80_s"] is None


@every_rate
def test_a_converter_that_slips_longer_is_told_by_the_ratio_of_the_speeds(rate: float) -> None:
    def speed(time: Array) -> Array:
        rpm = np.interp(time, [k[0] for k in RPM], [k[1] for k in RPM])
        slip = np.interp(time, [0, 4, 4.2, 7, 20], [0, 0, 0.3, 0.0, 0.0])
        return 0.021 * rpm / (1.0 + slip)

    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=BOOST, speed=speed))
    assert set(kinds) == {"converter-flare"}
    assert _one(pulls).from_s == pytest.approx(OPENED, abs=_near(rate))


@every_rate
@pytest.mark.parametrize("written", ["late", "in whole km/h", "once a second"])
def test_slow_and_late_vehicle_speeds_are_no_slip(rate: float, written: str) -> None:
    def speed(time: Array) -> Array:
        at = time - 0.4 if written == "late" else time
        at = np.floor(at) if written == "once a second" else at
        kmh = 0.021 * np.interp(at, [k[0] for k in RPM], [k[1] for k in RPM])
        return np.round(kmh) if written == "in whole km/h" else kmh

    _, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=BOOST, speed=speed))
    assert kinds == {}


@every_rate
def test_acceleration_that_grows_with_boost_is_no_jump(rate: float) -> None:
    spooling = [(0, 2200), (4, 2200), (7.0, 2900), (7.6, 3150), (11, 6200), (11.3, 6150), (20, 2400)]
    lever = [*LEVER[:3], (11, 99), (11.1, 0.5), (20, 0.5)]
    boost = [*BOOST[:3], (7, 20), (7.8, 120), (11, 120), (11.3, -60), (20, -88)]
    pulls, kinds = seen(drawn(rate, rpm=spooling, throttle=lever, boost=boost))
    assert kinds == {} and len(pulls) == 1


@every_rate
def test_a_drive_line_that_shuffles_is_neither_slip_nor_limiter(rate: float) -> None:
    def rpm(time: Array) -> Array:
        wave = 60.0 * np.exp(-(time - 4.0) / 0.4) * np.sin(2 * np.pi * 4.0 * (time - 4.0))
        return np.interp(time, [k[0] for k in RPM], [k[1] for k in RPM]) + np.where(time > 4.0, wave, 0.0)

    pulls, kinds = seen(drawn(rate, rpm=rpm, throttle=LEVER, boost=BOOST))
    assert kinds == {} and len(pulls) == 1


@every_rate
@pytest.mark.parametrize(("height", "parted"), [(300.0, False), (700.0, True)])
def test_wheels_that_spin_and_grip_again(rate: float, height: float, parted: bool) -> None:
    bump = [(7.0, 0), (7.5, height), (7.8, height), (8.3, 0)]

    def rpm(time: Array) -> Array:
        base = np.interp(time, [k[0] for k in RPM], [k[1] for k in RPM])
        return base + np.interp(time, [k[0] for k in bump], [k[1] for k in bump], left=0.0, right=0.0)

    pulls, kinds = seen(drawn(rate, rpm=rpm, throttle=LEVER, boost=BOOST))
    assert set(kinds) == {"wheel-slip"}
    assert pulls[-1].to_s == pytest.approx(LIFTED, abs=_near(rate))
    if parted:
        assert pulls[0].to_s == pytest.approx(7.0, abs=_near(rate)) and pulls[0].rpm_to < rpm_at(7.0) + 200
        assert pulls[1].from_s == pytest.approx(8.2, abs=_near(rate))
    else:
        assert len(pulls) == 1


@every_rate
def test_a_clutch_that_slips_once_boost_is_there(rate: float) -> None:
    def speed(time: Array) -> Array:
        rpm = np.interp(time, [k[0] for k in RPM], [k[1] for k in RPM])
        return 0.021 * rpm / (1.0 + np.interp(time, [0, 7.5, 9.5, 14, 14.3, 20], [0, 0, 0.14, 0.14, 0, 0]))

    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=BOOST, speed=speed))
    assert set(kinds) == {"clutch-slip"} and len(pulls) == 1


# --- no boost at all --------------------------------------------------------------------------------

NO_BOOST: Knots = [(0, -45), (3.95, -45), (4.1, -0.5), (14, -3.5), (14.3, -70), (15, -90), (20, -90)]


@every_rate
def test_an_engine_without_boost_is_told_and_nothing_is_measured(rate: float) -> None:
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=NO_BOOST))
    pull = _one(pulls)
    assert set(pull.metrics) == set(METRICS) and all(m is None for m in pull.metrics.values())
    assert set(kinds) == {"naturally-aspirated"}


@every_rate
def test_so_is_one_without_a_throttle_channel_or_at_an_unknown_height(rate: float) -> None:
    manifold = [(t, 85.0 + v) for t, v in NO_BOOST]
    _, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, manifold=manifold))
    assert "naturally-aspirated" in kinds
    pulls, kinds = seen(drawn(rate, rpm=RPM, boost=NO_BOOST))
    assert set(kinds) == {"no-throttle", "naturally-aspirated"}
    assert all(m is None for m in _one(pulls).metrics.values())


@every_rate
@pytest.mark.parametrize("end", [9.0, 15.0, 30.0])
def test_a_turbo_whose_gate_stands_open_still_makes_boost(rate: float, end: float) -> None:
    boost = [*NO_BOOST[:2], (4.1, -2), (14, end), *NO_BOOST[4:]]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=boost))
    assert kinds == {} and _one(pulls).metrics["peak_kpa_gauge"] is not None


@every_rate
def test_a_turbo_at_an_unknown_height_is_told_by_its_rise(rate: float) -> None:
    manifold = [(0, 40), (3.95, 40), (4.1, 80), (14, 101), (14.3, 30), (20, 25)]
    _, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, manifold=manifold))
    assert "naturally-aspirated" not in kinds


@every_rate
def test_a_dead_sensor_or_pressure_before_the_throttle_says_no_such_thing(rate: float) -> None:
    _, kinds = seen(drawn(rate, rpm=RPM, throttle=LEVER, boost=[(0, 0.5), (20, 0.5)]))
    assert "naturally-aspirated" not in kinds
    _, kinds = seen(
        drawn(rate, rpm=RPM, throttle=LEVER, boost=NO_BOOST, pipe=[(k[0], max(k[1], 0)) for k in BOOST])
    )
    assert "naturally-aspirated" not in kinds


# --- full load without a throttle, and what is none ----------------------------------------------------


@every_rate
@pytest.mark.parametrize("name", ["torque", "flow"])
def test_without_throttle_and_boost_torque_or_air_tells_full_load(rate: float, name: str) -> None:
    load = [(0, 40), (3.95, 40), (4.1, 150), (7.5, 300), (11, 300), (14, 230), (14.1, -30), (20, -30)]

    def flow(time: Array) -> Array:
        per_turn = np.interp(time, [k[0] for k in load], [k[1] for k in load]).clip(5.0)
        return per_turn * np.interp(time, [k[0] for k in RPM], [k[1] for k in RPM]) / 10_000.0

    pulls, _ = seen(drawn(rate, rpm=RPM, **{name: load if name == "torque" else flow}))
    pull = _one(pulls)
    assert (pull.from_s, pull.to_s) == pytest.approx((OPENED, LIFTED), abs=_near(rate) + 0.1)


@every_rate
def test_a_wide_open_switch_tells_full_load(rate: float) -> None:
    switch = [(0, 0), (3.97, 0), (3.98, 1), (14.0, 1), (14.01, 0), (20, 0)]
    pulls, kinds = seen(drawn(rate, rpm=RPM, throttle=[(t, 100.0 * v) for t, v in switch], boost=BOOST))
    assert kinds == {} and _one(pulls).to_s == pytest.approx(LIFTED, abs=_near(rate))


@every_rate
def test_a_pedal_in_volts_that_was_never_floored_is_no_full_load(rate: float) -> None:
    volts = [(0, 0.9), (3.95, 0.9), (4.0, 1.7), (14.0, 1.7), (14.1, 0.5), (20, 0.5)]
    part = [(0, -60), (3.95, -60), (4.1, -35), (14, -30), (14.3, -80), (20, -88)]
    pulls, _ = seen(drawn(rate, rpm=RPM, pedal_volts=volts, boost=part))
    assert [p.full_load for p in pulls] == [False]
    floored = [(t, 0.5 + (v - 0.5) * 3.0) for t, v in volts]
    pulls, _ = seen(drawn(rate, rpm=RPM, pedal_volts=floored, boost=BOOST))
    assert [p.full_load for p in pulls] == [True]


@every_rate
def test_speeds_held_at_full_or_part_throttle_are_no_pulls(rate: float) -> None:
    held = [(0, 2200), (4, 3000), (9, 3000), (9.5, 3200), (14, 3250), (14.3, 3200), (20, 3200)]
    assert find_pulls(drawn(rate, rpm=held, throttle=LEVER, boost=BOOST), part_load=True) == ()
