"""The steps: order 2, whatever the Jacobian; finite for any car; as a reference solver on the same equations.

References: Steihaug and Wolfbrandt 1979 for W-methods (order without an exact Jacobian, from memory), and
`scipy.integrate.solve_ivp` (LSODA, 1e-6) on `system.rates`.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.physics import layout, system
from boostproof.physics.elimination import solve
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.pneumatics import node_balance

KERNEL = car_kernel()
BOOST = system.OUTPUT_INDEX["boost"]
SIZES = np.array([1e4, 1e5, 1e5, 1e5, 1e5, 1e5, 1e-2, 1e-2, 0.3, 1e5])
NODE = system.STATES.index("node_pressure")
MOVING = np.arange(system.N_STATE) != NODE  # the node's pressure is found from the others
REDLINE = 712.0
LOW, HIGH = (np.array([getattr(p, end) for p in layout.PARAMETERS])[:, None] for end in ("low", "high"))
Array = np.ndarray


def cars(count: int = 1, **values: Any) -> Array:
    par = np.array([[p.neutral] * count for p in layout.PARAMETERS])
    for name, value in values.items():
        par[layout.index_of(name)] = value
    return par


# ------------------------------------------------------------------ order


@cache
def smooth(controller: str) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
    """Parameters, inputs and state of a sliding gate in mid travel, away from every end: a smooth problem."""
    par = tuple(float(x) for x in fitted(cars(friction=0.0, port_diameter=0.03), CONTROLLERS[controller])[:, 0])
    state = system.initial(par, (450.0, 1.0, 9e4, 0.2, 101325.0, 298.0, 0.0))
    for _ in range(600):
        state, _ = system.step(state, par, (450.0, 1.0, 9e4, 0.2, 101325.0, 298.0, 0.0), 1e-3)
    assert 1e-3 < state[6] < 0.011
    return par, (450.0, 0.6, 9e4, 0.3, 101325.0, 298.0, 0.0), tuple(float(x) for x in state)


def ended(controller: str, steps: int) -> Array:
    par, inputs, state = smooth(controller)
    for _ in range(steps):
        state, _ = system.step(state, par, inputs, 0.2 / steps)
    return np.array([float(x) for x in state])


@cache
def reference(controller: str) -> Array:
    return ended(controller, 2400)


def errors(controller: str, counts: tuple[int, ...]) -> Array:
    return np.array([np.abs((ended(controller, n) - reference(controller)) / SIZES)[MOVING].max() for n in counts])


@pytest.mark.parametrize("controller", ["none", "solenoid 3-port", "solenoid 4-port"])
def test_order_is_two(controller: str) -> None:
    """Halved steps, a quarter of the error; 8 ms steps are off by less than 0.1 % already.

    With a valve in the line the finest steps gain a little less: there the node's pressure, which
    Newton's method leaves a millionth off, is the larger part of the error.
    """
    found = errors(controller, (25, 50, 100, 200))
    assert found[0] < 1e-3
    order = np.log2(found[:-1] / found[1:])
    assert np.all((order > 1.7) & (order < 2.3)), order
    assert order[0] > 1.85


def times(entries: Any, factor: Callable[[], float]) -> Any:
    return tuple(times(e, factor) for e in entries) if isinstance(entries, tuple) else factor() * entries


@pytest.mark.parametrize("how", ["zero", "half", "random"])
def test_order_does_not_need_the_jacobian(how: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """W-property: with a wrong Jacobian, or none, small steps still converge with order two."""
    expected = reference("none")

    def wrong(right: Any, entries: Any, gh: float) -> Any:
        rng = np.random.default_rng(1)  # the same wrong matrix at every stage
        factor = {"zero": lambda: 0.0, "half": lambda: 0.5, "random": lambda: float(rng.uniform(0.3, 1.7))}[how]
        return solve(right, times(entries, factor), gh)

    monkeypatch.setattr(system, "solve", wrong)
    found = [np.abs((ended("none", n) - expected) / SIZES)[MOVING].max() for n in (200, 400)]
    assert found[0] < 5e-4
    assert 1.7 < np.log2(found[0] / found[1]) < 2.4


# ------------------------------------------------------------------ any car


def drive(rng: np.random.Generator, steps: int = 220) -> tuple[Array, Array]:
    """Inputs all over their ranges, with the step sizes of a pull; engine speed, throttle and duty may jump."""
    h = np.concatenate([np.full(20, 0.0125), np.full(40, 0.0025), np.full(steps - 60, 0.015)])
    start, end = rng.uniform(80.0, 1200.0, 2)
    speed = start + (end - start) * np.linspace(0.0, 1.0, steps) if rng.random() < 0.7 else rng.uniform(80.0, 1200.0, steps)
    throttle = np.where(np.arange(steps) < 20, rng.random(), np.where(np.arange(steps) < 160, 1.0, rng.random(steps)))
    air = np.full(steps, rng.uniform(60e3, 108e3)), np.full(steps, rng.uniform(240.0, 330.0))
    target, duty, heat = np.full(steps, rng.uniform(0.0, 2.5e5)), rng.random(steps), rng.random(steps)
    return np.column_stack([speed, throttle, target, duty, *air, heat]), h


def anywhere(rng: np.random.Generator, count: int) -> Array:
    """Every parameter over its whole range: evenly, by ratio where it runs over decades, or at an end."""
    share, way = rng.random((2, layout.SIZE, count))
    even = LOW + (HIGH - LOW) * share
    by_ratio = np.where(LOW > 0.0, np.maximum(LOW, 1e-30) * (HIGH / np.maximum(LOW, 1e-30)) ** share, even)
    return with_sense(np.where(way < 0.4, even, np.where(way < 0.7, by_ratio, np.where(way < 0.85, LOW, HIGH))))


def with_sense(par: Array) -> Array:
    """What no rotor can be is left out: lighter than half its wheels (shape factors are an estimate), or with a
    compressor that yields work at choke."""
    row = layout.INDEX
    wheels = 9.6 * par[row["compressor_diameter"]] ** 5 + 33.0 * par[row["turbine_diameter"]] ** 5
    par[row["shaft_inertia"]] = np.clip(np.maximum(par[row["shaft_inertia"]], wheels), 3e-6, 6e-4)
    par[row["compressor_work"]] = np.maximum(par[row["compressor_work"]], 1.2 * par[row["compressor_work_slope"]] + 0.1)
    return par


def check_pull(par: Array, inputs: Array, h: Array, engine: Any, kind: Any) -> None:
    out = KERNEL.run(par, inputs, h, np.arange(len(h), dtype=np.int32), len(h), engine=engine, dtype=kind)
    assert np.unique(np.argwhere(~np.isfinite(out))[:, 2]).tolist() == []  # numbers of the cars that are not
    for name, low, high in (("compressor_outlet_pressure", 0.3, 8.0), ("turbine_inlet_pressure", 0.9, 12.0)):
        ratio = out[:, system.OUTPUT_INDEX[name]] / inputs[:, 4][:, None]
        assert np.all((ratio > low - 1e-4) & (ratio < high + 1e-4))
    travel = out[:, system.OUTPUT_INDEX["travel"]]
    assert np.all((travel >= 0.0) & (travel <= par[layout.INDEX["gate_travel"]] + 1e-7))


@pytest.mark.parametrize("kind", [np.float64, np.float32])
@pytest.mark.parametrize("seed", range(8))
def test_finite_for_two_thousand_cars_of_any_size(seed: int, kind: Any) -> None:
    """250 cars for each of eight drives."""
    rng = np.random.default_rng(seed)
    par, (inputs, h) = anywhere(rng, 250), drive(rng)
    check_pull(par, inputs, h, "numpy", kind)


@pytest.mark.parametrize("seed", range(4))
def test_lanes_are_finite_for_two_thousand_cars_of_every_kind(seed: int) -> None:
    """Sizes up to 1.4 times the usual or below, float32; engine speed, throttle, duty all over their ranges."""
    rng = np.random.default_rng(seed)
    columns = []
    for gate in GATES.values():
        for controller in CONTROLLERS.values():
            par = cars(24) * 2.0 ** rng.uniform(-0.5, 0.5, (layout.SIZE, 24))
            columns.append(fitted(fitted(np.clip(par, LOW, HIGH), gate), controller))
    par = np.column_stack(columns)
    par[layout.INDEX["closed_loop"]] = rng.random(par.shape[1]) < 0.5
    check_pull(par, *drive(rng), "auto", np.float32)


@settings(max_examples=30)
@given(st.lists(st.floats(0.0, 1.0), min_size=layout.SIZE, max_size=layout.SIZE), st.integers(0, 2**32 - 1))
def test_finite_for_any_car(shares: list[float], seed: int) -> None:
    """Ends of ranges as hypothesis likes them; scalars, so that every candidate may have its own inputs."""
    par = tuple(with_sense(LOW + (HIGH - LOW) * np.array(shares)[:, None])[:, 0].tolist())
    inputs, h = drive(np.random.default_rng(seed), 90)
    state = system.initial(par, tuple(inputs[0].tolist()))
    for row, step in zip(inputs.tolist(), h.tolist(), strict=True):
        state, outputs = system.step(state, par, tuple(row), step)
        assert np.all(np.isfinite(state)) and np.all(np.isfinite(outputs))


# ------------------------------------------------------------------ reference solver

KINDS = [(controller, gate) for controller in CONTROLLERS for gate in GATES]
DURATION = 2.5


def pull_inputs(t: float) -> tuple[float, ...]:
    return REDLINE * (0.45 + 0.5 * max(t, 0.0) / DURATION), 0.13 if t < 0.0 else 1.0, 9e4, 0.35, 101325.0, 298.0, 0.0


@cache
def boosts() -> tuple[Array, Array, Array]:
    """Times of the steps after the throttle opens, boost of every kind by steps and by LSODA. [s], [kPa]"""
    par = np.column_stack([fitted(fitted(cars(), GATES[gate]), CONTROLLERS[kind]) for kind, gate in KINDS])
    edges = np.concatenate(
        [np.arange(-0.5, -1e-9, 0.0125), np.arange(0.0, 0.1 - 1e-9, 0.0025), np.arange(0.1, 1.5 - 1e-9, 0.01),
         np.arange(1.5, DURATION - 1e-9, 0.015)]
    )  # fmt: skip
    h = np.diff(np.append(edges, DURATION))
    inputs = np.array([pull_inputs(t) for t in edges + 0.5 * h])
    steps = KERNEL.run(
        par, inputs, h, np.arange(len(h), dtype=np.int32), len(h), engine="numpy", dtype=np.float64
    )[:, BOOST]
    after = edges > -1e-9
    rows, n = tuple(par), len(KINDS)

    def rates(t: float, y: Array) -> Array:  # car by car, so that the Jacobian has a band of 9 either side
        derivatives = system.rates(tuple(y.reshape(n, -1).T), rows, pull_inputs(t))[0]
        return np.array([d + np.zeros(n) for d in derivatives]).T.ravel()

    state = np.array(system.initial(rows, pull_inputs(-1.0))).T.ravel()
    for begin, end, when in ((-0.5, -1e-12, None), (0.0, DURATION, edges[after])):
        solved = solve_ivp(
            rates, (begin, end), state, method="LSODA", rtol=1e-6, atol=np.tile(1e-6 * SIZES, n), lband=9, uband=9,
            t_eval=when,
        )  # fmt: skip
        assert solved.success
        state = solved.y[:, -1]
    exact = [
        system.rates(tuple(y.reshape(n, -1).T), rows, pull_inputs(t))[2][BOOST]
        for t, y in zip(solved.t, solved.y.T, strict=True)
    ]
    return edges[after], 1e-3 * steps[after], 1e-3 * np.array(exact)


@pytest.fixture
def quick_node(monkeypatch: pytest.MonkeyPatch) -> None:
    """As an equation, the node behind the controller follows with a lag that the steps do not have."""
    monkeypatch.setattr(system, "NODE_TIME", 1e-3)


@pytest.mark.parametrize(("kind", "gate"), KINDS)
def test_against_a_reference_solver(kind: str, gate: str, quick_node: None) -> None:
    """Boost within 0.1 kPa all the way, with 2.5, 10 and 15 ms steps, inputs of the middle of each."""
    _, steps, exact = boosts()
    car = KINDS.index((kind, gate))
    assert exact[-1, car] > 40.0
    assert np.abs(steps - exact)[:, car].max() < 0.1


# ------------------------------------------------------------------ rest of the line


@pytest.mark.parametrize("kind", ["none", "ball", "bleed", "3-port", "2-port"])
def test_line_comes_to_rest_where_its_flows_balance(kind: str) -> None:
    """Steady supply, 15 ms steps, lines up to 2.5 mm bore and hoses up to 5 mm: the node's Newton steps end at the
    root that bisection finds."""
    rng, n = np.random.default_rng(2), 250

    def spread(low: float, high: float) -> Array:
        return np.asarray(low * (high / low) ** rng.random(n))

    # masses so large that supply and exhaust stand still
    par = cars(n, opening_pressure=4e5, friction=4e6, charge_volume=1e9, exhaust_volume=1e9, shaft_inertia=1e9,
               line_area=spread(3e-7, 5e-6), hose_area=spread(1e-6, 1e-5), chamber_volume=spread(2e-5, 2e-4))  # fmt: skip
    for name, value in {
        "none": {},
        "ball": {"check": 1.0, "offset": rng.uniform(1e3, 6e4, n), "bleed_area": spread(1e-7, 1e-6)},
        "bleed": {"bleed_area": spread(1e-8, 2e-6)},
        "3-port": {"solenoid": 1.0, "vent_area": spread(5e-7, 5e-6)},
        "2-port": {"solenoid": 1.0, "interrupts": 0.0, "vent_area": spread(5e-7, 5e-6)},
    }[kind].items():
        par[layout.INDEX[name]] = value
    rows, inputs = tuple(par), (400.0, 1.0, 0.0, 0.4, 101325.0, 298.0, 0.0)
    supply = rng.uniform(1.2e5, 3e5, n)
    state = list(system.initial(rows, inputs))
    for k in range(600):
        state = list(state)
        state[1] = 101325.0 + min(1.0, 0.02 + k / 100.0) * (supply - 101325.0)
        state, _ = system.step(tuple(state), rows, inputs, 0.015)

    def net(node: Array) -> Array:
        named = [par[layout.INDEX[name]] for name in ("line_area", "offset", "check", "solenoid", "interrupts")]
        vents = [par[layout.INDEX[name]] for name in ("vent_area", "bleed_area")]
        return np.asarray(node_balance(supply, node, 101325.0 + 0.0 * node, 298.0, *named, 0.4, *vents)[0])

    low, high = np.full(n, 101325.0), supply.copy()
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = np.where(net(middle) > 0.0, middle, low), np.where(net(middle) > 0.0, high, middle)
    assert np.abs(state[4] - low).max() < 1e3
    assert np.median(np.abs(state[4] - low)) < 1.0
