"""The signal side on the bench, against common practice and its own arithmetic."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import numpy as np
import pytest

from boostproof.demo.draw import Car, hole_area, hose_area
from boostproof.demo.hardware import BALL, BLEED, NONE, SOLENOID, Hardware
from boostproof.demo.metrics import PSI
from boostproof.demo.people import ShopGauge, loudness
from boostproof.demo.pneumatic import CHAMBER, INLET, LINE, TRAVEL
from boostproof.demo.rig import Rig, solenoid_at, sweep, vent_flow


def smooth(car: Hardware) -> Hardware:
    """The car without friction at the rod, so that a sweep shows the spring alone."""
    return car.changed("actuator", friction=0.0, static_friction=0.0)


@pytest.mark.parametrize("kind", [NONE, BALL, BLEED, SOLENOID])
def test_first_movement_is_preload_over_area(cars: dict[float, Car], kind: float) -> None:
    car = smooth(cars[kind].hardware)
    result = sweep(car, "actuator", 240e3, seen=1e-4)
    a = car.actuator
    assert result.first == pytest.approx(car.bench_opening, abs=2e3)
    assert result.full is not None and result.first is not None
    # force balance at full travel, where the diaphragm's effective area has fallen off a little
    full = (a.preload + a.stiffness * car.travel) / (a.area * (1.0 - a.area_fall * car.travel))
    assert result.full == pytest.approx(full, abs=2.5e3)
    assert result.travel == pytest.approx(car.travel, abs=1e-5)


def test_friction_parts_the_way_up_from_the_way_down(cars: dict[float, Car]) -> None:
    a = cars[BALL].hardware.actuator
    force = 15e3 * a.area
    stiff = cars[BALL].hardware.changed("actuator", friction=force, static_friction=force)
    result = sweep(stiff, "actuator", 240e3, seen=3e-4)
    assert result.first is not None and result.last_return is not None
    # up and down lie twice the friction apart
    assert result.first - result.last_return == pytest.approx(30e3, rel=0.15)


def test_ball_and_spring_moves_the_opening_by_its_offset(cars: dict[float, Car]) -> None:
    car = cars[BALL].hardware
    direct, through = sweep(car, "actuator", 240e3), sweep(car, "controller", 275e3)
    assert direct.first is not None and through.first is not None
    moved = through.first - direct.first
    # the spring's offset, and what the ball must lift for the flow of the bleed
    assert car.signal.offset - 2e3 < moved < car.signal.offset + 25e3


def test_common_practice_offset_of_a_ball_and_spring(cars: dict[float, Car]) -> None:
    # Common practice, no source: an arm that first moves at 18 to 19 psi with air straight on it moved
    # at about 25 psi through a ball and spring with a bleed; at 10 psi supply the vent passes air with
    # the adjuster slack and none when it is wound in.
    base = cars[BALL]
    area = base.hardware.actuator.area
    car = smooth(base.hardware).changed("actuator", preload=18.5 * PSI * area)
    car = car.changed("signal", offset=5.0 * PSI, bleed_area=hole_area(0.8e-3), ball_stick=0.0)
    direct, through = sweep(car, "actuator", 30 * PSI), sweep(car, "controller", 40 * PSI)
    assert direct.first is not None and through.first is not None
    assert 17.5 * PSI < direct.first < 19.5 * PSI
    assert 23.0 * PSI < through.first < 27.0 * PSI
    slack = vent_flow(car.changed("signal", offset=0.0), 10 * PSI)[0]
    wound = vent_flow(car.changed("signal", offset=11 * PSI, ball_leak=0.0), 10 * PSI)[0]
    assert loudness(slack, np.random.default_rng(0)) in ("clear", "strong")
    assert loudness(wound, np.random.default_rng(0)) == "none"


@pytest.mark.parametrize(
    ("supply_hole", "bleed", "share"), [(4.0, 1.0, 99.8), (1.5, 1.0, 91.1), (1.0, 1.0, 62.4)]
)
def test_bleed_behind_a_restrictor_divides(
    cars: dict[float, Car], supply_hole: float, bleed: float, share: float
) -> None:
    # two holes in a row at 100 kPa gauge: balance of isentropic flows, computed independently
    car = cars[BLEED].hardware.changed("actuator", preload=1e4, leak_area=0.0)
    car = car.changed("signal", path_area=hole_area(supply_hole * 1e-3), bleed_area=hole_area(bleed * 1e-3))
    rig = Rig.of(replace(car, air=car.air._replace(pressure=101325.0)), "controller")
    rig.hose = 1e-3
    out = rig.hold(100e3, 6.0)
    assert out[-1, 2] == pytest.approx(share * 1e3, abs=2.0e3)


def test_solenoid_falls_from_supply_to_vent(cars: dict[float, Car]) -> None:
    car = cars[SOLENOID].hardware
    lines = [solenoid_at(car, 80e3, d)[0] for d in (0.0, 0.25, 0.5, 0.75, 1.0)]
    assert np.all(np.diff(lines) < 0.0)
    assert lines[0] > 75e3
    assert lines[-1] < 3e3
    swapped = car.changed("signal", reversed=1.0)
    assert solenoid_at(swapped, 80e3, 0.0)[0] < 3e3
    assert solenoid_at(swapped, 80e3, 1.0)[0] > 75e3
    dead = car.changed("signal", stuck=0.0)
    assert solenoid_at(dead, 80e3, 1.0)[0] > 75e3


def test_blocked_bleed_traps_the_arm(cars: dict[float, Car]) -> None:
    sound = sweep(cars[BALL].hardware, "controller", 275e3)
    shut = sweep(cars[BALL].hardware.changed("signal", bleed_area=0.0, ball_leak=0.0), "controller", 275e3)
    assert sound.returned is not None and sound.returned < 5.0
    assert shut.returned is None


@pytest.mark.parametrize("kind", [NONE, BALL, BLEED, SOLENOID])
@pytest.mark.parametrize("where", ["actuator", "controller"])
def test_no_air_is_made_or_lost_when_everything_is_shut(cars: dict[float, Car], kind: float, where: str) -> None:
    sealed = cars[kind].hardware.changed("signal", bleed_area=0.0, leak_area=0.0)
    rig = Rig.of(sealed.changed("actuator", leak_area=0.0), where)
    a, signal = rig.actuator, rig.signal
    # arm and air are still on their way
    rig.state[[INLET, LINE, CHAMBER]] = rig.ambient + np.array([3.0, 0.5, 1.0]) * sealed.bench_opening
    rig.state[TRAVEL] = 0.5 * sealed.travel

    def air() -> float:
        """Pressure times volume over all three spaces, which is mass at one temperature."""
        travel = rig.state[TRAVEL]
        chamber = a.volume + a.area * (1.0 - a.area_fall * travel) * travel
        volumes = np.array([signal.supply_volume, signal.hose_volume, chamber])
        return float(rig.state[[INLET, LINE, CHAMBER]] @ volumes)

    before, travel = air(), rig.state[TRAVEL]
    rig.hold(0.0, 60.0, shut=True)
    assert rig.state[TRAVEL] != travel
    assert air() == pytest.approx(before, rel=1e-9)


def test_a_leak_empties_the_actuator_as_choked_air_does(cars: dict[float, Car]) -> None:
    # isothermal volume behind a choked hole: p falls as exp(-t/tau), tau = V / (0.6847 A sqrt(R T))
    car = cars[NONE].hardware
    hole = hole_area(0.15e-3)
    car = car.changed("actuator", leak_area=hole, preload=1e4, static_friction=1e9)  # the rod stays where it is
    rig = Rig.of(car, "actuator")
    rig.hold(300e3, 20.0)
    volume = rig.signal.supply_volume + rig.signal.hose_volume + rig.actuator.volume
    tau = volume / (0.6847 * hole * np.sqrt(287.05 * car.air.temperature))
    start = rig.state[CHAMBER]
    for seconds in (2.0, 4.0):
        rig.hold(0.0, 2.0, shut=True)
        fallen = start * np.exp(-seconds / tau)
        assert fallen > car.air.pressure / 0.53  # still choked
        assert rig.state[CHAMBER] == pytest.approx(fallen, rel=2e-3)


@pytest.mark.parametrize("kind", [NONE, BALL, BLEED, SOLENOID])
def test_a_sound_actuator_holds_its_air_for_a_minute(cars: dict[float, Car], kind: float) -> None:
    # common practice, no source: a sound one loses less than 3 kPa in a minute
    start, _, minute = sweep(cars[kind].hardware, "actuator", 240e3).leak
    assert start - minute < 3e3


def test_torn_diaphragm_empties_the_line(cars: dict[float, Car]) -> None:
    torn = cars[NONE].hardware.changed("actuator", leak_area=hole_area(1e-3))
    assert sweep(torn, "actuator", 240e3).leak[1] < 5e3
    assert sweep(cars[NONE].hardware, "actuator", 240e3).leak[1] > 20e3


def test_hose_flows_like_the_hole_it_is_known_to_equal() -> None:
    # half a metre of 4 mm hose is about a 3.2 mm hole (friction 0.03, ends 1.5)
    assert hose_area(4e-3, 0.5) == pytest.approx(hole_area(3.2e-3), rel=0.05)
    assert hole_area(2e-3, 1.0) == pytest.approx(0.25 * pi * 4e-6)


def test_gauge_reads_whole_marks_in_its_unit() -> None:
    rng = np.random.default_rng(4)
    for _ in range(50):
        gauge = ShopGauge.draw(rng)
        text = gauge.reads(90e3, rng)
        number, unit = text.split()
        assert unit == gauge.unit
        marks = float(number) / gauge.mark
        assert marks == pytest.approx(round(marks), abs=1e-6)
        scale = {"psi": PSI, "bar": 1e5, "kPa": 1e3}[unit]
        assert float(number) * scale == pytest.approx(90e3, abs=2.5 * gauge.pascals + 2e3)
