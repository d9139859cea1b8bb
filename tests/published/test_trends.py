"""Trends and sizes that the physics of boost control demands, on the full model.

Sources: energy balance of turbine and compressor, flow through orifices in a row (St-Venant, any
compressible-flow text; recomputed here by `divider`), force balance of spring, chamber and exhaust push,
isothermal emptying of a volume. A size that is not from one of these is marked where it stands. Trends show
direction and order of size; none is a measurement on an engine.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.physics import layout, orifice, system
from boostproof.physics.hardware import CONTROLLERS, fitted

KERNEL = car_kernel()
REDLINE = 712.0
AMBIENT = 101325.0
Array = NDArray[np.float64]


def cars(count: int = 1, **values: float | list[float]) -> Array:
    par = np.array([[p.neutral] * count for p in layout.PARAMETERS])
    for name, value in values.items():
        par[layout.index_of(name)] = value
    return par


class Pull:
    """Outputs of a pull over time from the opening of the throttle; pressures in kPa gauge where a car shows gauge."""

    def __init__(self, time: Array, share: Array, outputs: Array) -> None:
        self.time, self._share, self._outputs = time, share, outputs

    def __getitem__(self, name: str) -> Array:
        """(steps, cars), SI; boost and line pressure in kPa."""
        scale = 1e-3 if name in ("boost", "boost_measured", "line_pressure", "upper_pressure") else 1.0
        return np.asarray(scale * self._outputs[:, system.OUTPUT_INDEX[name]])

    def at(self, share: float, name: str = "boost") -> Array:
        """Of each car where the ramp passes a share of redline."""
        row = int(np.searchsorted(np.where(self.time < 0.4, 0.0, self._share), share))
        return self[name][min(row, len(self.time) - 1)]


def pull(
    par: Array,
    *,
    start: float = 0.41,
    stop: float = 1.0,
    seconds: float = 6.0,
    outside: float = 298.0,
    target: float = 90e3,
    duty: float = 0.0,
    throttle: Callable[[Array], Array] = lambda t: np.where(t < 0.0, 0.13, 1.0),
) -> Pull:
    """A second of cruise, then full throttle with engine speed rising from a share of redline to another."""
    edges = np.concatenate(
        [np.arange(-1.0, -0.05, 0.01), np.arange(-0.05, 0.15, 0.0025), np.arange(0.15, seconds, 0.01)]
    )
    steps = np.diff(np.append(edges, seconds))
    middle = edges + 0.5 * steps
    share = start + (stop - start) * np.clip(middle / seconds, 0.0, 1.0)
    inputs = np.column_stack(
        [REDLINE * share, throttle(middle), *(np.full(len(steps), x) for x in (target, duty, AMBIENT, outside, 0.0))]
    )
    out = KERNEL.run(par, inputs, steps, np.arange(len(steps), dtype=np.int32), len(steps))
    assert np.all(np.isfinite(out))
    return Pull(edges, share, np.asarray(out, float))


def held_open(count: int = 1, **values: float | list[float]) -> Array:
    """Cars whose gates open at once and wide: boost over speed is the floor."""
    return cars(count, opening_pressure=2e3, assistance=1.0, gate_travel=0.03, free_travel=0.04, **values)


# ------------------------------------------------------------------ the signal side alone, on shop air

NODE, LOWER, UPPER, TRAVEL = (
    system.STATES.index(name) for name in ("node_pressure", "lower_pressure", "upper_pressure", "travel")
)
BENCH = {"opening_pressure": 4e5, "friction": 4e6, "hose_area": 1e-5, "line_volume": 1e-6}  # the arm stays shut, 5 mm hose


def bench(
    supply: float, seconds: float, *, begin: float = 0.0, duty: float = 0.0, **values: float
) -> Callable[[float], float]:
    """Lower chamber over time for steady shop air at the take-off. [kPa gauge] from [s]"""
    par = tuple(float(x) for x in cars(1, **{**BENCH, **values})[:, 0])
    inputs = (300.0, 1.0, 0.0, duty, AMBIENT, 293.15, 0.0)
    rest = list(system.initial(par, inputs))
    rest[1] = AMBIENT + supply
    moving = [NODE, LOWER, UPPER, TRAVEL]
    rest[NODE] = rest[LOWER] = AMBIENT + begin

    def rates(_: float, y: Array) -> list[float]:
        state = list(rest)
        for i, value in zip(moving, y.tolist(), strict=True):
            state[i] = value
        return [float(system.rates(tuple(state), par, inputs)[0][i]) for i in moving]

    solved = solve_ivp(
        rates, (0.0, seconds), [rest[i] for i in moving], method="LSODA", rtol=1e-6, atol=[1, 1, 1, 1e-7],
        dense_output=True,
    )  # fmt: skip
    assert solved.success
    return lambda t: float(solved.sol(t)[1] - AMBIENT) / 1e3


def at_rest(supply: float, **values: float) -> float:
    return bench(supply, 8.0, **values)(8.0)


def divider(supply: float, area_in: float, area_out: float) -> float:
    """Pressure between two orifices in a row by exact isentropic flow. [kPa gauge] from [Pa gauge], any unit of area"""
    above = AMBIENT + supply

    def surplus(p: float) -> float:
        psi = orifice.isentropic_flow_function
        return float(area_in * above * psi(p / above) - area_out * p * psi(AMBIENT / p))

    return float(brentq(surplus, AMBIENT, above) - AMBIENT) / 1e3


def hole(millimetres: float) -> float:
    """Effective area of a drilled hole, discharge coefficient 0.7. [m2]"""
    return 0.7 * 0.25 * np.pi * (millimetres * 1e-3) ** 2


# ------------------------------------------------------------------ capacity of the gate


def test_floor_falls_with_the_port() -> None:
    """What the port takes the turbine does not get: some 12 kPa per mm of port (order of size by energy balance)."""
    millimetres = np.array([20.0, 22.0, 24.0, 26.0, 28.0, 30.0, 34.0])
    floor = pull(held_open(7, port_diameter=list(millimetres * 1e-3))).at(0.98)
    assert np.all(np.diff(floor) < 0.0)
    slopes = np.diff(floor)[1:5] / np.diff(millimetres)[1:5]
    assert np.all((slopes > -36.0) & (slopes < -4.0))


def test_floor_above_target_is_creep_whatever_the_controller() -> None:
    """A floor above the target at the top: spring alone and closed loop both end on the floor, duty at its end."""
    small = {"port_diameter": 0.023, "gate_travel": 0.03, "free_travel": 0.04}
    floor = pull(held_open(1, port_diameter=0.023)).at(0.98)[0]
    loop = fitted(cars(1, closed_loop=1.0, opening_pressure=3e4, **small), CONTROLLERS["solenoid 3-port"])
    both = pull(np.column_stack([cars(1, opening_pressure=3e4, **small), loop]), target=60e3)
    assert floor > 80.0
    assert both.at(0.98) == pytest.approx([floor, floor], abs=8.0)
    assert both.at(0.98, "duty")[1] < 0.02


def test_lower_target_needs_a_bigger_port() -> None:
    """Less boost, same engine speed: more of the gas has to pass the turbine by. Creep at 50, none at 100 kPa."""
    wide = {"spring_rate": 1e6, "assistance": 0.05, "gate_travel": 0.014}
    rise = pull(cars(4, opening_pressure=[4.5e4, 9.5e4, 4.5e4, 9.5e4], port_diameter=[0.026, 0.026, 0.032, 0.032], **wide))
    creep = rise.at(0.98) - rise.at(0.6)
    assert creep[0] > 25.0
    assert creep[1] < 10.0
    assert creep[2] < 10.0


def test_freer_exhaust_worsens_creep() -> None:
    """Less pressure after the turbine, more work from it: the floor rises; a blocked exhaust hides it."""
    floor = pull(held_open(3, port_diameter=0.024, exhaust_loss=[0.4 * 4.5e4, 4.5e4, 4.0 * 4.5e4])).at(0.98)
    assert floor[0] > floor[1] + 3.0
    assert floor[1] > floor[2] + 15.0


def test_freer_dump_pipe_helps() -> None:
    floor = pull(held_open(3, port_diameter=0.034, dump_area=[2.5e-4, 4e-4, 1e-2])).at(0.98)
    assert floor[0] > floor[1] + 10.0 > floor[2] + 20.0


def test_cold_air_worsens_creep() -> None:
    """Denser air at the same boost: more exhaust for the same gate. 25 K are worth some 20 kPa."""
    car = held_open(1, port_diameter=0.024)
    rise = pull(car, outside=273.0).at(0.8) - pull(car, outside=298.0).at(0.8)
    assert 5.0 < rise[0] < 60.0


def test_soft_creep_is_the_spring() -> None:
    """Droop k x / A: a stiff spring climbs from the threshold on without a knee, a soft one stays level."""
    par = cars(2, spring_rate=[7e6, 1.5e6], port_diameter=0.030, assistance=0.05)
    run = pull(par)
    boost = np.array([run.at(share) for share in (0.55, 0.65, 0.75, 0.85, 0.95)])
    climb = np.diff(boost, axis=0)
    assert boost[-1, 0] - boost[0, 0] > 12.0
    assert climb[:, 0].max() < 2.5 * np.median(climb[:, 0])  # gentle and straight
    assert run.at(0.95, "travel")[0] < 0.011  # and with travel in hand
    assert abs(boost[-1, 1] - boost[0, 1]) < 10.0
    # the chamber pressure that the travel costs, by the spring alone
    for car in (0, 1):
        left = run.at(0.95, "line_pressure")[car] * 1e3 - par[layout.INDEX["opening_pressure"], car]
        needed = par[layout.INDEX["spring_rate"], car] * run.at(0.95, "travel")[car]
        push = run.at(0.95, "turbine_inlet_pressure")[car] - run.at(0.95, "turbine_outlet_pressure")[car]
        assert left == pytest.approx(needed, abs=0.05 * push + 2.5e3)


def test_hard_creep_has_a_knee() -> None:
    """Travel used up: level first, then several times the slope."""
    run = pull(cars(1, spring_rate=1e6, port_diameter=0.025))
    boost = np.array([run.at(share)[0] for share in (0.55, 0.65, 0.75, 0.85)])
    full = run["travel"][:, 0] > 0.0119
    assert 0.5 < run._share[np.argmax(full & (run.time > 0.5))] < 0.8
    assert boost[3] - boost[2] > 3.0 * (boost[1] - boost[0])


def test_second_lazy_gate_gives_partial_creep() -> None:
    """One of two gates opens a sixth: the boost ends between that of two sound and of two lazy ones."""
    par = cars(3, gate_count=2.0, port_diameter=0.020, other_gates=[0.0, 1.0, 0.0],
               other_travel=[0.0145, 0.002, 0.0145], free_travel=[0.0145, 0.0145, 0.002])  # fmt: skip
    end = pull(par).at(0.8)
    assert end[0] + 15.0 < end[1] < end[2] - 15.0


# ------------------------------------------------------------------ which side of the tree


def test_line_pressure_splits_the_tree() -> None:
    """Enough for full travel and boost still rises: hot side. Low while boost is high: signal side. Between: spring."""
    par = cars(4, port_diameter=[0.034, 0.022, 0.034, 0.034], line_leak=[0.0, 0.0, 4e-6, 0.0],
               opening_pressure=[6e4, 6e4, 6e4, 9.5e4], assistance=0.1)  # fmt: skip
    run = pull(par)
    boost, line, travel = (run.at(0.9, name) for name in ("boost", "line_pressure", "travel"))
    full_travel = (6e4 + 3e6 * 0.012 + 1.5e3) / 1e3  # bench, from spring and friction
    assert np.all(boost[1:] > boost[0] + 20.0)
    assert line[1] > full_travel and travel[1] > 0.0119 and boost[1] > run.at(0.7)[1] + 10.0
    assert line[2] < 0.75 * boost[2] and line[2] < full_travel
    assert line[3] == pytest.approx(boost[3], abs=8.0)
    assert 0.0 < travel[3] < 0.0119


def test_gate_cracks_earlier_on_the_engine() -> None:
    """By the share of p3 - p4 that pushes at the valve: bench opening = chamber pressure + assistance (p3 - p4)."""
    run = pull(cars(2, assistance=[0.1, 0.36]), start=0.6, stop=0.6, seconds=8.0,
               throttle=lambda t: np.clip(0.13 + 0.04 * t, 0.13, 1.0))  # fmt: skip
    for car, assistance in ((0, 0.1), (1, 0.36)):
        row = int(np.argmax(run["travel"][:, car] > 2e-4))
        line = 1e3 * run["line_pressure"][row, car]
        push = run["turbine_inlet_pressure"][row, car] - run["turbine_outlet_pressure"][row, car]
        assert row > 0 and push > 2e4
        earlier = 6e4 + 1.5e3 + 3e6 * 2e-4 - line
        assert earlier == pytest.approx(assistance * push, rel=0.15, abs=1.5e3)


# ------------------------------------------------------------------ line


def test_slow_line_spikes_and_does_not_creep() -> None:
    """A pinch with nothing bleeding below it delays the gate at tip-in and leaves a slow ramp as it was."""
    par = cars(2, hose_area=[6e-6, 4e-7], port_diameter=0.034)
    slow = pull(par, seconds=10.0)
    assert slow.at(0.9)[1] == pytest.approx(slow.at(0.9)[0], abs=2.5)
    tip_in = pull(par, start=0.62, stop=0.64, seconds=4.0)
    assert tip_in["boost"][:, 1].max() > tip_in["boost"][:, 0].max() + 15.0
    assert tip_in["boost"][-1, 1] == pytest.approx(tip_in["boost"][-1, 0], abs=3.0)


@pytest.mark.parametrize("below", ["line_leak", "bleed_area"])
def test_slow_line_with_a_bleed_below_is_steady_overboost(below: str) -> None:
    pinched = "hose_area" if below == "line_leak" else "line_area"
    free = layout.parameter(pinched).neutral
    par = cars(3, port_diameter=0.034, **{below: [0.0, hole(1.0), hole(1.0)], pinched: [free, free, 7e-7]})
    slow = pull(par, seconds=10.0)
    assert slow.at(0.9)[1] < slow.at(0.9)[0] + 12.0  # a healthy hose hardly limits against the bleed
    assert slow.at(0.9)[2] > slow.at(0.9)[0] + 14.0
    assert slow.at(0.9)[2] == pytest.approx(slow.at(0.7)[2], abs=12.0)  # level


@pytest.mark.parametrize(
    ("pinch", "expected"), [(2.0, 97.0), (1.5, 91.0), (1.2, 80.0), (1.0, 62.0), (0.8, 35.0)]
)
def test_pinch_with_a_bleed_below(pinch: float, expected: float) -> None:
    """Of 100 kPa at the controller, 1.0 mm bleeding below the pinch; two orifices in a row, and 5 mm of hose between."""
    assert divider(1e5, pinch**2, 1.0) == pytest.approx(expected, abs=0.6)
    assert at_rest(1e5, line_area=hole(pinch), line_leak=hole(1.0)) == pytest.approx(expected - 1.0, abs=1.5)


@pytest.mark.parametrize(
    ("supply", "bleed", "expected"),
    [(4.0, 1.0, 99.8), (2.0, 0.8, 98.8), (1.5, 1.0, 91.1), (1.0, 1.0, 62.4), (1.0, 0.5, 97.1)],
)
def test_bleed_on_a_tee(supply: float, bleed: float, expected: float) -> None:
    assert divider(1e5, supply**2, bleed**2) == pytest.approx(expected, abs=0.06)
    assert at_rest(1e5, line_area=hole(supply), bleed_area=hole(bleed)) == pytest.approx(expected, abs=1.5)


@pytest.mark.parametrize(("millimetres", "seconds"), [(0.5, 0.63), (0.8, 0.25), (1.0, 0.16), (1.2, 0.11)])
def test_decay_through_the_bleed(millimetres: float, seconds: float) -> None:
    """100 to 50 kPa gauge out of 60 mL, isothermal, behind a shut ball."""
    falling = bench(0.0, 2.0, begin=1e5, check=1.0, bleed_area=hole(millimetres), chamber_volume=5.9e-5)
    measured = brentq(lambda t: falling(t) - 50.0, 1e-3, 2.0)
    assert measured == pytest.approx(seconds, rel=0.04, abs=0.005)


@pytest.mark.parametrize(("square_millimetres", "seconds"), [(0.35, 0.39), (1.0, 0.14), (2.2, 0.06)])
def test_filling_of_the_chamber(square_millimetres: float, seconds: float) -> None:
    """60 mL to 80 of 100 kPa gauge, isothermal; the model's node behind the controller lags by some 5 ms."""
    rising = bench(1e5, 2.0, line_area=square_millimetres * 1e-6, chamber_volume=5.9e-5)
    measured = brentq(lambda t: rising(t) - 80.0, 1e-3, 2.0)
    assert measured == pytest.approx(seconds, rel=0.03, abs=0.016)


@pytest.mark.parametrize(("millimetres", "litres"), [(0.5, 3.0), (0.8, 7.8), (1.0, 12.1), (1.2, 17.5)])
def test_flow_of_a_bleed(millimetres: float, litres: float) -> None:
    """Choked at 100 kPa gauge and 300 K, discharge coefficient 0.65, free air of ISO 8778 per minute."""
    area = 0.65 / 0.7 * hole(millimetres)
    flow = orifice.air_flow(area, AMBIENT + 1e5, AMBIENT, 300.0)[0]
    assert flow / orifice.ANR_DENSITY * 6e4 == pytest.approx(litres, rel=0.02)


def test_hose_passes_more_than_any_bleed() -> None:
    """0.5 m of 4 mm hose, 5.5 mm2 effective, open end: as much as a nozzle of that area; a 1.0 mm bleed takes a tenth."""
    flow = orifice.tube_flow(5.5e-6, AMBIENT + 1e5, AMBIENT, 293.15)[0]
    exact = 5.5e-6 * (AMBIENT + 1e5) / np.sqrt(287.05 * 293.15) * orifice.isentropic_flow_function(AMBIENT / (AMBIENT + 1e5))
    assert flow == pytest.approx(exact, rel=0.01)
    bleed = orifice.air_flow(hole(1.0), AMBIENT + 1e5, AMBIENT, 293.15)[0]
    assert 0.08 < bleed / flow < 0.13


# ------------------------------------------------------------------ controllers


def test_offset_and_ratio_on_the_bench() -> None:
    """Chamber over supply: a ball shifts a line of slope 1, a bleed turns it about the origin."""
    supplies = [60e3, 90e3, 120e3, 150e3]
    ball = [at_rest(p, check=1.0, offset=2.5e4, bleed_area=hole(0.5), line_area=hole(2.5)) for p in supplies]
    bleed = [at_rest(p, line_area=hole(1.0), bleed_area=hole(0.9)) for p in supplies]
    slope, offset = np.polyfit(np.array(supplies) / 1e3, ball, 1)
    assert slope == pytest.approx(1.0, abs=0.04)
    assert offset == pytest.approx(-25.0, abs=5.0)
    ratio = np.array(bleed) / (np.array(supplies) / 1e3)
    assert np.all(ratio < 0.85)
    assert np.ptp(ratio) < 0.12  # through the origin, as nearly as two orifices are


def test_offset_and_ratio_on_the_pull() -> None:
    """A ball adds the same to a soft and to a strong spring; a bleed what two orifices in a row make of it."""
    fixed = {"port_diameter": 0.030, "spring_rate": 3e6, "assistance": 0.1, "chamber_volume": 2e-5}
    tee = {"line_area": hole(1.0), "bleed_area": hole(0.9)}
    ball = {**CONTROLLERS["ball and spring"], "bleed_area": hole(0.5)}
    run = pull(np.column_stack(
        [fitted(cars(1, opening_pressure=spring, **fixed), kind) for kind in ({}, ball, tee) for spring in (4e4, 8e4)]
    ), seconds=10.0)  # fmt: skip
    level = run.at(0.85).reshape(3, 2)
    assert level[1] - level[0] == pytest.approx([25.0, 25.0], abs=7.0)
    assert level[2, 1] - level[0, 1] > 1.2 * (level[2, 0] - level[0, 0]) > 10.0
    for car in (4, 5):
        supply = run.at(0.85, "compressor_outlet_pressure")[car] - AMBIENT
        assert run.at(0.85, "line_pressure")[car] == pytest.approx(divider(supply, 1.0, 0.81), abs=3.0)


@pytest.mark.parametrize(
    ("duty", "expected"),
    [(0.1, 99.0), (0.2, 97.0), (0.3, 92.0), (0.4, 81.0), (0.5, 62.0), (0.6, 38.0), (0.7, 17.0), (0.8, 6.0)],
)
def test_duty_map_of_a_three_port_valve(duty: float, expected: float) -> None:
    """Equal legs, 100 kPa at the valve: mean flows balance, (1 - d) in = d out."""
    assert divider(1e5, 1.0 - duty, duty) == pytest.approx(expected, abs=0.7)
    at = at_rest(1e5, duty=duty, solenoid=1.0, line_area=2.2e-6, vent_area=2.2e-6)
    assert at == pytest.approx(expected, abs=2.5)


def test_gain_of_the_three_port_valve_explodes() -> None:
    """If the actuator needs 60 kPa, boost settles at 62/67/76/97/144/267 kPa for 20 to 70 % of duty."""
    expected = {0.2: 62.0, 0.3: 67.0, 0.4: 76.0, 0.5: 97.0, 0.6: 144.0, 0.7: 267.0}
    found = {}
    for duty, boost in expected.items():
        exact = brentq(lambda p, d=duty: divider(p, 1.0 - d, d) - 60.0, 60.1e3, 600e3)
        assert exact / 1e3 == pytest.approx(boost, rel=0.02)
        found[duty] = brentq(
            lambda p, d=duty: at_rest(p, duty=d, solenoid=1.0, line_area=2.2e-6, vent_area=2.2e-6) - 60.0,
            60.1e3, 600e3, xtol=200.0,
        ) / 1e3  # fmt: skip
        assert found[duty] == pytest.approx(boost, rel=0.04)
    assert found[0.7] - found[0.6] > 4.0 * (found[0.5] - found[0.4])


@pytest.mark.parametrize(("duty", "expected"), [(0.1, 93.0), (0.2, 74.0), (0.3, 52.0), (0.5, 23.0), (1.0, 6.0)])
def test_bleed_plumbing(duty: float, expected: float) -> None:
    """Pill of 1 mm in the supply, 2 mm valve that vents beside it."""
    assert divider(1e5, 1.0, 4.0 * duty) == pytest.approx(expected, abs=0.7)
    at = at_rest(1e5, duty=duty, solenoid=1.0, interrupts=0.0, line_area=hole(1.0), vent_area=hole(2.0))
    assert at == pytest.approx(expected, abs=2.5)


def test_four_port_valve_is_not_bound_to_the_spring() -> None:
    """It swaps the chambers: past half duty more boost no longer opens the gate, whereas a 3-port valve still gives way."""
    kinds = ("none", "solenoid 3-port", "solenoid 4-port")
    run = pull(np.column_stack([fitted(cars(1, port_diameter=0.034), CONTROLLERS[kind]) for kind in kinds]), duty=0.55)
    spring, three, four = run.at(0.7)
    force = run.at(0.7, "line_pressure") - run.at(0.7, "upper_pressure")
    assert three > 1.3 * spring
    assert four > 1.5 * three
    assert force[1] > 0.0 > force[2]
    shut = pull(cars(1, port_diameter=0.034, ports_swapped=1.0)).at(0.7)[0]
    assert four == pytest.approx(shut, rel=0.1)


# ------------------------------------------------------------------ chambers


def test_blocked_upper_vent_raises_boost_and_drifts() -> None:
    """Trapped air is squeezed by the travel; what seeps through the diaphragm comes on top with time."""
    par = cars(3, upper_vent=[6e-6, 1e-11, 1e-11], diaphragm_leak=[0.0, 0.0, 2e-8], port_diameter=0.034, gate_travel=0.03)
    run = pull(par, start=0.7, stop=0.7)
    early, late = (run["boost"][np.searchsorted(run.time, t)] for t in (2.0, 5.9))
    assert early[1] > early[0] + 5.0
    assert abs(late[0] - early[0]) < 1.5 and abs(late[1] - early[1]) < 1.5
    assert late[2] > early[2] + 15.0


def test_swapped_chamber_ports_run_away() -> None:
    """Line on the spring side: pressure shuts the gate, and the more the higher."""
    run = pull(cars(2, ports_swapped=[0.0, 1.0], assistance=0.1))
    assert run.at(0.6)[1] > 2.5 * run.at(0.6)[0]
    assert run["travel"][:, 1].max() < 1e-3


# ------------------------------------------------------------------ air, fuel, sensors


def test_leak_enriches_only_behind_an_air_meter() -> None:
    """Metered air that leaks away makes the mixture rich; a speed-density car does not notice, nor does an air
    meter where the recirculation valve returns what it leaks. Mass balance."""
    par = cars(5, charge_leak=[0.0, 4e-5, 4e-5, 0.0, 0.0], bypass_leak=[0.0, 0.0, 0.0, 4e-5, 4e-5],
               bypass_recirculates=[1.0, 1.0, 1.0, 1.0, 0.0], air_metered=[1.0, 1.0, 0.0, 1.0, 1.0],
               pressure_metered=[0.0, 0.0, 1.0, 0.0, 0.0], mixture=0.82)  # fmt: skip
    run = pull(par)
    mixture = run.at(0.7, "mixture")
    assert mixture[[0, 2, 3]] == pytest.approx([0.82] * 3, abs=0.01)
    assert np.all(mixture[[1, 4]] < 0.78)
    share = run.at(0.7, "engine_flow")[1] / run.at(0.7, "air_flow")[1]
    assert mixture[1] == pytest.approx(0.82 * share, rel=0.005)


# a loop that settles within seconds
LOOP = {
    "closed_loop": 1.0, "port_diameter": 0.026, "friction": 300.0, "feed_forward": 0.35, "loop_integral": 8e-6,
    "loop_gain": 5e-7, "spool_band": 3e4,
}  # fmt: skip


def test_sensor_that_reads_low_raises_real_boost() -> None:
    """In a loop the log shows the target and the boost is higher; by speed density the mixture turns lean."""
    par = fitted(cars(3, pressure_metered=1.0, boost_gain=[1.0, 0.93, 1.07], **LOOP), CONTROLLERS["solenoid 3-port"])
    run = pull(par, target=85e3, start=0.6, stop=0.6, seconds=8.0)
    boost, shown, mixture = (run[name][-200:].mean(axis=0) for name in ("boost", "boost_measured", "mixture"))
    assert shown == pytest.approx([85.0] * 3, abs=1.0)
    absolute = AMBIENT / 1e3 + 85.0
    assert boost == pytest.approx([85.0, absolute / 0.93 - AMBIENT / 1e3, absolute / 1.07 - AMBIENT / 1e3], abs=1.2)
    assert mixture == pytest.approx([0.82, 0.82 / 0.93, 0.82 / 1.07], rel=0.005)


def test_integral_wind_up_spikes() -> None:
    """Without rest far below the target and at the duty's end the integral part has run far when boost arrives."""
    par = fitted(cars(2, wind_up=[0.0, 1.0], **(LOOP | {"loop_integral": 3e-5})), CONTROLLERS["solenoid 3-port"])
    boost = pull(par, target=85e3, start=0.45, stop=0.55, seconds=6.0)["boost"]
    assert boost[:, 1].max() > boost[:, 0].max() + 10.0


def test_retard_spools_earlier_and_heats_the_exhaust() -> None:
    """Less work in the cylinder leaves more in the gas (50-80 K per 10 degrees, from memory)."""
    run = pull(cars(2, ignition_retard=[0.0, np.deg2rad(10.0)], opening_pressure=9e4), start=0.35, stop=0.7)
    reached = [run.time[np.argmax(run["boost"][:, car] > 60.0)] for car in (0, 1)]
    assert 0.0 < reached[1] < reached[0]
    hotter = np.diff(run.at(0.6, "exhaust_temperature"))[0]
    assert 45.0 < hotter < 90.0
    early = int(np.searchsorted(run.time, 0.05))
    assert run["torque"][early, 1] < run["torque"][early, 0]
