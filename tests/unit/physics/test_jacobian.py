"""The Jacobian that `system.rates` hands to `elimination.solve`, against differences of the derivatives.

A W-method keeps its order with any Jacobian (tests/unit/physics/test_convergence.py), so entries may be left
out; `LEFT_OUT` lists every one that is, why, and how much it may amount to on pulls with every kind of
hardware. References: finite differences, and `numpy.linalg.solve`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.physics import layout, system
from boostproof.physics.elimination import solve
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.signal_side import NODE_TIME

Array = np.ndarray
State = tuple[Array, ...]
NODE = system.STATES.index("node_pressure")
# the node's pressure has no rate of its own: it follows from the others, and so do its slopes
MOVING = [i for i in range(system.N_STATE) if i != NODE]
NAMES = [system.STATES[i] for i in MOVING]
SIZE = dict(
    zip(system.STATES, (1e4, 1e5, 1e5, 1e5, 1e5, 1e5, 1e-2, 1e-2, 0.3, 1e5), strict=True)
)  # usual size of each state
SIZES = np.array([SIZE[name] for name in NAMES])
ROWS = [*NAMES, "node_pressure"]
MARKS = (0.05, 0.2, 0.4, 0.8, 1.5, 2.5, 3.5)  # s after the throttle has opened

#: Entries (row, column) that differ from the derivatives, why, and the largest difference over the largest
#: entry of the row (sliding arms; 98 of 100 states). All others: 1 %.
LEFT_OUT: dict[tuple[str, str], tuple[float, str]] = {
    ("shaft_speed", "travel"): (0.08, "gas of a dump pipe of its own does not load the exhaust system"),
    ("shaft_speed", "charge_pressure"): (0.03, "the same"),
    ("shaft_speed", "exhaust_pressure"): (0.02, "the same"),
    ("exhaust_pressure", "travel"): (0.025, "the same"),
    ("travel", "travel"): (0.03, "the same, felt by the arm"),
    ("other_travel", "travel"): (0.03, "the same, by the gas that the first gate takes"),
    ("charge_pressure", "shaft_speed"): (0.02, "warmth of what a charge leak loses"),
    ("lower_pressure", "upper_pressure"): (0.15, "a leaking diaphragm, one way only"),
    ("upper_pressure", "lower_pressure"): (0.15, "the same"),
    ("lower_pressure", "lower_pressure"): (0.015, "the chamber's own pressure in what a moving arm adds"),
    ("upper_pressure", "upper_pressure"): (0.01, "the same"),
    ("lower_pressure", "travel"): (0.03, "the chamber's volume over the travel"),
    ("upper_pressure", "travel"): (0.025, "the same"),
    ("travel", "charge_pressure"): (0.045, "pressure after the turbine, against which the exhaust pushes"),
    ("other_travel", "charge_pressure"): (0.045, "the same"),
    ("lower_pressure", "charge_pressure"): (0.04, "the same, by the arm's rate"),
    ("upper_pressure", "charge_pressure"): (0.035, "the same"),
    ("integral", "sensed_pressure"): (1.2, "how far the integral part follows, at the band's edge"),
    ("sensed_pressure", "shaft_speed"): (0.025, "manifold pressure over the charge's warmth"),
    ("sensed_pressure", "exhaust_pressure"): (0.03, "and over what the cylinders breathe"),
}


def inputs_at(t: float) -> tuple[float, ...]:
    return 712.0 * (0.45 + 0.125 * max(t, 0.0)), 0.13 if t < 0.0 else 1.0, 9e4, 0.35, 101325.0, 298.0, 0.0


def settled(state: State, par: Any, inputs: Any, steps: int = 40) -> State:
    """The state with the node's pressure where its flows balance."""
    moved = list(state)
    for _ in range(steps):
        moved[NODE] = moved[NODE] + NODE_TIME * system.rates(tuple(moved), par, inputs)[0][NODE]
    return tuple(moved)


@cache
def pulls(sliding: bool) -> tuple[tuple[Array, ...], list[tuple[float, State]]]:
    """Cars of every kind of hardware, varied by a third, some leaking, and their states along a pull."""
    rng = np.random.default_rng(0)
    columns = []
    for gate in GATES.values():
        for controller in CONTROLLERS.values():
            par = np.array([[p.neutral] * 8 for p in layout.PARAMETERS])
            for row, parameter in enumerate(layout.PARAMETERS):
                varied = par[row] * np.exp(0.3 * rng.standard_normal(8))
                par[row] = np.clip(varied, parameter.low, parameter.high)
            columns.append(fitted(fitted(par, gate), controller))
    par = np.column_stack(columns)
    n = par.shape[1]
    for name, value in (("closed_loop", 1.0), ("charge_leak", 3e-5), ("diaphragm_leak", 1e-6), ("take_off", 1.0)):
        par[layout.INDEX[name]] = np.where(rng.random(n) < 0.3, value, 0.0)
    par[layout.INDEX["leak_after_cooler"]] = 0.0
    if sliding:
        par[layout.INDEX["friction"]] = par[layout.INDEX["other_friction"]] = 0.0
    cars = tuple(par)
    state = system.initial(cars, inputs_at(-1.0))
    t, seen = -0.3, []
    while len(seen) < len(MARKS):
        h = 0.0025 if -1e-9 < t < 0.1 else 0.01
        state, _ = system.step(state, cars, inputs_at(t + 0.5 * h), h)
        t += h
        if t >= MARKS[len(seen)] - 1e-9:
            seen.append((t, settled(state, cars, inputs_at(t))))
    return cars, seen


def handed_over(state: State, par: Any, inputs: Any) -> Array:
    """Jacobian within `solve`, probed with unit vectors; the node's slopes are the last row. (n, 10, 9)"""
    gh = 1e-3
    entries = system.rates(state, par, inputs)[1]
    zero = 0.0 * state[0]
    columns = []
    for i in MOVING:
        right = [zero] * system.N_STATE
        right[i] = zero + 1.0
        columns.append(np.array(solve(tuple(right), entries, gh)))
    answers = np.array(columns).transpose(2, 1, 0)  # (car, state, column)
    inverse = np.linalg.inv(answers[:, MOVING])
    node = answers[:, NODE][:, None, :] @ inverse
    return np.concatenate([(np.eye(len(MOVING)) - inverse) / gh, node], axis=1)


def differences(state: State, par: Any, inputs: Any) -> tuple[Array, Array]:
    """Forward and backward differences of the derivatives, node settled, and of the node's pressure. (n, 10, 9)"""

    def at(which: int, by: float) -> Array:
        moved = list(state)
        moved[which] = moved[which] + by
        there = settled(tuple(moved), par, inputs, 5)  # it starts nearby
        rates = system.rates(there, par, inputs)[0]
        return np.array([rates[i] + 0.0 * state[0] for i in MOVING] + [there[NODE]])

    here = at(0, 0.0)
    out = []
    for sign in (1.0, -1.0):
        steps = {i: sign * 1e-6 * SIZE[system.STATES[i]] for i in MOVING}
        out.append(np.array([(at(i, step) - here) / step for i, step in steps.items()]).transpose(2, 1, 0))
    return out[0], out[1]


@cache
def compared(sliding: bool) -> tuple[Array, Array, Array]:
    """Jacobian handed over, and differences to either side, in usual sizes; all states one after the other."""
    par, seen = pulls(sliding)
    scale = SIZES[None, None, :] / np.append(SIZES, SIZE["node_pressure"])[None, :, None]
    parts = []
    for t, state in seen:
        parts.append([handed_over(state, par, inputs_at(t)), *differences(state, par, inputs_at(t))])
    ours, up, down = (scale * np.concatenate([p[k] for p in parts]) for k in range(3))
    return ours, up, down


def test_entries_are_the_derivatives() -> None:
    """Each lies between the differences to either side (at a kink these differ), but for what is left out."""
    ours, up, down = compared(True)
    size = np.maximum(np.maximum(np.abs(up), np.abs(down)).max(axis=2, keepdims=True), 1e-3)
    outside = np.maximum(np.minimum(up, down) - ours, ours - np.maximum(up, down)) / size
    both = [ours[:, NAMES.index(arm), NAMES.index("lower_pressure")] != 0.0 for arm in ("travel", "other_travel")]
    sliding = both[0] & both[1]  # an arm at its seat or stop is treated as one that slides, see below
    assert 0.4 < sliding.mean() < 1.0
    usual = np.quantile(outside[sliding], 0.98, axis=0)
    found = {
        (row, column): float(usual[i, j]) for i, row in enumerate(ROWS) for j, column in enumerate(NAMES)
    }  # fmt: skip
    wrong = {key: value for key, value in found.items() if value > LEFT_OUT.get(key, (0.01, ""))[0]}
    assert wrong == {}
    # what the list names is really missing, so that the list does not outlive its reasons
    assert [key for key in LEFT_OUT if found[key] < 1e-3] == []


@pytest.mark.parametrize(("h", "usual", "largest"), [(0.0025, 2e-4, 5e-3), (0.01, 2.5e-3, 3e-2)])
@pytest.mark.parametrize("sliding", [True, False])
def test_what_is_left_out_hardly_moves_a_stage(h: float, usual: float, largest: float, sliding: bool) -> None:
    """First stage of a step with the Jacobian handed over and with the full one, in usual sizes of the states."""
    ours, up, down = compared(sliding)
    par, seen = pulls(sliding)
    rates = np.concatenate(
        [np.array([system.rates(state, par, inputs_at(t))[0][i] + 0.0 * state[0] for i in MOVING]).T for t, state in seen]
    ) / SIZES  # fmt: skip
    gh = 0.29289322 * h
    eye = np.eye(len(MOVING))
    with_ours, with_full = (
        np.linalg.solve(eye - gh * jacobian[:, :-1], rates[:, :, None])[:, :, 0]
        for jacobian in (ours, 0.5 * (up + down))
    )
    moved = h * np.abs(with_ours - with_full).max(axis=1)
    assert np.quantile(moved, 0.98) < usual
    assert moved.max() < largest


def test_held_arm_is_treated_as_sliding() -> None:
    """Dry friction, seat or stop hold the arm: its rate does not depend on anything, yet the entry stays that of a
    sliding arm, so that an arm that lets go within the step is damped."""
    held, up, _ = compared(False)
    row = NAMES.index("travel")
    still = np.all(up[:, row, NAMES.index("lower_pressure")][:, None] == 0.0, axis=1)
    assert 0.2 < still.mean() < 1.0
    assert held[still, row, row].max() < -1.0 / 0.0121  # never less than the lag of arm and diaphragm itself


# ------------------------------------------------------------------ elimination


def dense(right: tuple[float, ...], entries: Any, gh: float) -> Array:
    """The same equations as one matrix, solved by `numpy.linalg.solve`."""
    shaft, exhaust_row, signal, arms, (stretch, squeeze) = entries
    (sensor_own, sensor_charge, integral_sensor, share_sensor, share_integral), over_charge, own, over_share, node = signal
    arm_force, arm_push, arm_own, arm_yield, other_force, other_push, other_own = arms
    speed, charge, exhaust, at_node, lower, upper, arm, other, integral, sensor = range(10)
    matrix, known = np.eye(10), np.array(right, float)

    def less(row: int, column: int, value: float) -> None:
        matrix[row, column] -= value

    for row, values in ((speed, shaft[:3]), (charge, shaft[3:]), (exhaust, exhaust_row[:3])):
        for column, value in zip((speed, charge, exhaust), values, strict=True):
            less(row, column, gh * value)
    less(exhaust, arm, gh * exhaust_row[3])
    less(exhaust, other, gh * exhaust_row[4])
    less(sensor, sensor, gh * sensor_own)
    less(sensor, charge, gh * sensor_charge)
    less(integral, sensor, gh * integral_sensor)
    for row, k, swept in ((lower, 0, stretch), (upper, 1, squeeze)):
        less(row, row, gh * own[k])
        less(row, charge, gh * over_charge[k])
        less(row, sensor, gh * over_share[k] * share_sensor)
        less(row, integral, gh * over_share[k] * share_integral)
        less(row, arm, swept)  # the rate that a moving arm adds, less what is in the right-hand side already
        known[row] -= swept * right[arm]
    for row, force in ((arm, arm_force), (other, other_force)):
        less(row, lower, gh * force)
        less(row, upper, -gh * force)
    less(arm, exhaust, gh * arm_push)
    swept_force = stretch / (1.0 - gh * own[0]) - squeeze / (1.0 - gh * own[1])
    less(arm, arm, gh * (arm_own + (arm_yield - arm_force) * swept_force))
    less(other, exhaust, gh * other_push)
    less(other, other, gh * other_own)
    known[at_node] = 0.0
    less(at_node, charge, node[0])
    less(at_node, lower, node[1])
    less(at_node, sensor, node[2] * share_sensor)
    less(at_node, integral, node[2] * share_integral)
    return np.linalg.solve(matrix, known)


def plain(entries: Any, car: int) -> Any:
    if isinstance(entries, tuple):
        return tuple(plain(e, car) for e in entries)
    return float(np.broadcast_to(entries, (car + 1,))[car] if np.ndim(entries) == 0 else entries[car])


@given(
    st.floats(1e-4, 1e-2), st.integers(0, 191), st.integers(0, len(MARKS) - 1),
    st.lists(st.floats(-1.0, 1.0), min_size=10, max_size=10),
)  # fmt: skip
def test_elimination_equals_a_dense_solution(gh: float, car: int, mark: int, shares: list[float]) -> None:
    entries = plain(all_entries(mark), car)
    right = tuple(share * SIZE[name] for share, name in zip(shares, system.STATES, strict=True))
    ours, reference = np.array(solve(right, entries, gh)), dense(right, entries, gh)
    sizes = np.array(list(SIZE.values()))
    assert np.abs((ours - reference) / sizes).max() < 1e-9 * max(1.0, np.abs(reference / sizes).max())


@cache
def all_entries(mark: int) -> Any:
    par, seen = pulls(False)
    t, state = seen[mark]
    return system.rates(state, par, inputs_at(t))[1]


def shaped(values: Iterator[float]) -> Any:
    """Random entries with the signs that physics gives the diagonal."""
    v = values.__next__
    own = lambda: -1e3 * abs(v())  # noqa: E731
    shaft = (own(), 0.05 * v(), 0.05 * v(), 500.0 * v(), own(), 50.0 * v())
    exhaust_row = (100.0 * v(), 100.0 * v(), own(), 1e9 * v(), 1e9 * v())
    loop = (own(), 1e2 * v(), 1e-4 * v(), 1e-5 * v(), v())
    signal = (loop, (5e2 * v(), 5e2 * v()), (own(), own()), (1e7 * v(), 1e7 * v()), (v(), v(), 1e5 * v()))
    arms = (2e-5 * abs(v()), 1e-5 * v(), own(), 2e-5 * abs(v()), 2e-5 * v(), 1e-5 * v(), own())
    return shaft, exhaust_row, signal, arms, (-3e6 * abs(v()), 3e6 * abs(v()))


@given(st.floats(1e-4, 3e-3), st.integers(0, 2**32 - 1))
def test_elimination_of_random_entries(gh: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    entries = shaped(iter(rng.uniform(-1.0, 1.0, 60).tolist()))
    right = tuple((rng.uniform(-1.0, 1.0, 10) * np.array(list(SIZE.values()))).tolist())
    ours, reference = np.array(solve(right, entries, gh)), dense(right, entries, gh)
    sizes = np.array(list(SIZE.values()))
    assert np.abs((ours - reference) / sizes).max() < 1e-7 * max(1.0, np.abs(reference / sizes).max())
