"""Drawn cars hold their target while sound; every fault shows where it says that it shows."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.demo import loop
from boostproof.demo.case import do_job
from boostproof.demo.draw import Car, plain_pull, random_car
from boostproof.demo.drive import Drive
from boostproof.demo.faults import FAULTS, apply, suits
from boostproof.demo.hardware import BALL, BLEED, NONE, SOLENOID
from boostproof.demo.metrics import plateau, true_metrics
from boostproof.demo.run import cruise, pull, roll_off
from boostproof.demo.truth import evidence

TESTS = (
    "cold-look", "sensor-check", "actuator-sweep", "controller-sweep", "line-sweep", "controller-vent",
    "solenoid-check", "free-travel", "intake-pressurise", "exhaust-back-pressure", "shaft-check",
    "port-measure", "seat-leak", "hose-flow",
)  # fmt: skip
CHANNELS = ["time", "rpm", "throttle", "map", "iat", "lambda", "duty", "exhaust_in", "air_flow"]


def one_pull(car: Car) -> Drive:
    """Key-on and a single pull to the redline."""
    phases = (
        cruise(2000.0, 3.0, keep=False),
        cruise(2000.0, 1.0),
        pull(car.redline, 450.0, lift_at=car.target + 60e3, reaction=0.2),
        roll_off(2000.0, 1.0),
    )
    return Drive("brake dyno", None, 450.0, phases, (2,), 0.0, 20.0, 20.0)


@pytest.mark.parametrize("kind", [NONE, BALL, BLEED, SOLENOID])
@pytest.mark.parametrize("seed", [1, 2])
def test_sound_car_holds_its_target(kind: float, seed: int) -> None:
    car = random_car(np.random.default_rng(seed), kind=kind)
    h = car.hardware
    found = plateau(plain_pull(h, car.redline), h.air.pressure, car.target)
    assert found.reached
    assert found.level == pytest.approx(car.target, abs=4e3)
    assert abs(found.rise) < 9e3
    assert found.spike < 14e3
    # and its gate has room to spare: held open, boost stays well below
    floor = plain_pull(h.changed("actuator", preload=-1e4), car.redline)[-1, loop.P_MANIFOLD] - h.air.pressure
    assert floor < car.target - 8e3


@pytest.mark.parametrize("kind", [NONE, BALL, BLEED, SOLENOID])
def test_sound_car_is_ordinary(cars: dict[float, Car], kind: float) -> None:
    # ranges of 1.6 to 2.5 litre petrol engines at full load: trade figures, no source
    car = cars[kind]
    found = true_metrics(plain_pull(car.hardware, car.redline), car.hardware.air.pressure, car.target)
    assert 0.9 < found["pr_back"] < 1.8
    assert 700.0 < found["egt"] < 1000.0
    assert 70.0 < found["shaft_krpm"] < 200.0
    assert 0.7 < found["p4_psi"] < 5.0
    assert 0.3 < found["p1_minus_p2"] < 3.0
    assert 1900.0 < found["rpm80"] < 4600.0


@pytest.mark.parametrize("cause", [c for c in FAULTS if c != "healthy"])
def test_fault_differs_from_its_twin(cars: dict[float, Car], cause: str) -> None:
    fault = FAULTS[cause]
    sound = cars[BALL] if BALL in fault.kinds else cars[fault.kinds[0]]
    rng = np.random.default_rng(8)
    car = apply(sound, cause, 0.75, rng)
    drive = one_pull(sound)
    found, twin = (do_job(c, sound, drive, 5, only=TESTS) for c in (car, sound))
    named = evidence(
        CHANNELS, (found.true, found.seen), (twin.true, twin.seen), found.readings, twin.readings
    )
    if cause == "reference-after-cooler":
        assert car.hardware.signal.take_off != sound.hardware.signal.take_off
    else:
        assert named, f"{cause} at 0.75 leaves no trace"
    if fault.group in ("spring", "controller", "line", "actuator") and cause not in (
        "reference-after-cooler",
    ):
        assert {"bench", "hose_flow"} & set(named)
    if fault.group == "gate capacity":
        assert "log" in named
        assert "bench" not in named or "gate_port_mm" in named
    if cause == "charge-leak":
        assert "charge_pipe_pressure_test" in named
    if cause == "sensor-scale-wrong":
        assert "map_sensor_at_15_psi_gauge" in named or "map_sensor_key_on" in named


def test_sound_twin_differs_in_nothing(cars: dict[float, Car]) -> None:
    car = cars[BALL]
    one, two = (do_job(car, car, one_pull(car), 5, only=TESTS) for _ in range(2))
    assert not evidence(CHANNELS, (one.true, one.seen), (two.true, two.seen), one.readings, two.readings)


def test_worse_is_worse(cars: dict[float, Car]) -> None:
    car = cars[BALL]

    def end(cause: str, severity: float) -> float:
        broken = apply(car, cause, severity, np.random.default_rng(1))
        return float(plain_pull(broken.hardware, car.redline)[-10:, loop.P_MANIFOLD].mean())

    for cause in (
        "port-too-small",
        "gate-travel-limited",
        "spring-too-strong",
        "bleed-oversize",
        "diaphragm-leak",
    ):
        assert end(cause, 0.1) < end(cause, 0.5) < end(cause, 0.9), cause
    for cause in ("spring-weak", "charge-leak", "turbo-worn", "gate-not-seating"):
        assert end(cause, 0.1) > end(cause, 0.9), cause


def test_wrong_sensor_in_the_loop_moves_real_boost_and_not_the_logged_one(cars: dict[float, Car]) -> None:
    sound = cars[SOLENOID]
    reads_high = sound.hardware.changed("ecu", sensor_gain=1.12)
    table = plain_pull(reads_high, sound.redline)
    ambient = sound.hardware.air.pressure
    level = plateau(table, ambient, sound.target).level
    assert level < sound.target - 10e3
    assert (level + ambient) * 1.12 - ambient == pytest.approx(sound.target, abs=5e3)


def test_pairs_join_both_edits(cars: dict[float, Car]) -> None:
    car = cars[BALL]
    both = apply(car, "charge-leak + spring-weak", 0.5, np.random.default_rng(1)).hardware
    assert both.charge.leak_area > 0.0
    assert both.actuator.preload < car.hardware.actuator.preload
    assert suits("charge-leak + spring-weak", BALL)
    assert not suits("bleed-blocked + solenoid-stuck", BALL)
    with pytest.raises(KeyError):
        apply(car, "no-such-cause", 0.5, np.random.default_rng(1))
