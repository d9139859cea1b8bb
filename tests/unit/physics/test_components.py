"""Every component over its whole input domain: finite, without jumps, monotone where physics demands it.

The laws themselves are the standard: flow follows the pressure difference, a passage grows with lift, and
a returned slope is the derivative of what is returned with it. The laws stand in `component_laws`. Sweeps run along
each argument from points that hypothesis chooses, so that ends of ranges and equal pressures come up.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.physics.component_laws import LAWS
from tests.unit.physics.laws import POINTS, PRESSURE, WARM, Law, call, placed, scales, shifted, sweeps

from boostproof.physics import (
    actuator,
    air_side,
    exhaust_side,
    gas,
    layout,
    ops,
    orifice,
    rows,
    signal_side,
)

TESTED = settings(max_examples=20)


every_law = pytest.mark.parametrize("name", LAWS)


def points(law: Law) -> st.SearchStrategy[list[float]]:
    return st.lists(st.floats(0.0, 1.0), min_size=len(law.ranges), max_size=len(law.ranges))


def test_every_component_has_a_law() -> None:
    tested = {law.function for law in LAWS.values()} | {
        air_side.compressor_side, air_side.engine_side, air_side.charge_leaks, exhaust_side.gate_openings,
        exhaust_side.exhaust_side, signal_side.line_flows, signal_side.arm_rates, signal_side.commanded,
    }  # fmt: skip
    # by themselves below, or as parts of others
    apart = {"fourth_root", "charge_rate", "chamber_rates"}
    modules = {law.function.__module__ for law in LAWS.values()} - {__name__}
    components = {f.__name__: f for f in ops.COMPONENTS if f.__module__ in modules and f.__name__ not in apart}
    assert [n for n, f in components.items() if f not in tested and not n.startswith("_")] == []


@every_law
def test_finite_and_without_jumps(name: str) -> None:
    """Each interval of a sweep is halved 40 times towards its larger change: a jump stays, a slope shrinks."""
    law = LAWS[name]

    @TESTED
    @given(points(law))
    def check(shares: list[float]) -> None:
        arguments, moving = sweeps(law, shares)
        outputs = call(law, arguments)
        assert all(np.all(np.isfinite(o)) for o in outputs)
        inside = np.arange(len(moving)) % POINTS < POINTS - 1
        index = np.flatnonzero(inside)
        names = list(law.ranges)
        start = {n: arguments[n][index] for n in names}
        end = {n: arguments[n][index + 1] for n in names}
        # the intervals belong to the argument that moves within them
        for which in law.values:
            a, b = {n: v.copy() for n, v in start.items()}, {n: v.copy() for n, v in end.items()}
            at_a, at_b = (np.broadcast_to(call(law, x)[which], index.shape) for x in (a, b))
            for _ in range(40):
                middle = {n: 0.5 * (a[n] + b[n]) for n in names}
                at_middle = np.broadcast_to(call(law, middle)[which], index.shape)
                left = np.abs(at_middle - at_a) >= np.abs(at_b - at_middle)
                a = {n: np.where(left, a[n], middle[n]) for n in names}
                b = {n: np.where(left, middle[n], b[n]) for n in names}
                at_a, at_b = np.where(left, at_a, at_middle), np.where(left, at_middle, at_b)
            jump = np.abs(at_b - at_a) / scales(law)[which]
            worst = int(np.argmax(jump))
            assert jump[worst] < 1e-6, (which, names[moving[index[worst]]], {n: a[n][worst] for n in names})

    check()


@pytest.mark.parametrize("name", [name for name, law in LAWS.items() if law.rising or law.falling])
def test_monotone(name: str) -> None:
    law = LAWS[name]

    @TESTED
    @given(points(law))
    def check(shares: list[float]) -> None:
        arguments, moving = sweeps(law, shares)
        outputs = call(law, arguments)
        names = list(law.ranges)
        for pairs, direction in ((law.rising, 1.0), (law.falling, -1.0)):
            for which, argument in pairs:
                along = np.broadcast_to(outputs[which], moving.shape)[moving == names.index(argument)]
                steps = direction * np.diff(along)
                worst = int(np.argmin(steps))
                assert steps[worst] >= -1e-12 * (scales(law)[which] + np.abs(along).max()), (
                    which, argument, worst, {n: v[moving == names.index(argument)][worst] for n, v in arguments.items()}
                )  # fmt: skip

    check()


@pytest.mark.parametrize("name", [name for name, law in LAWS.items() if law.slopes])
def test_slopes_are_derivatives(name: str) -> None:
    """A slope lies between the differences to either side: on a smooth stretch that is a central difference."""
    law = LAWS[name]

    @TESTED
    @given(points(law))
    def check(shares: list[float]) -> None:
        arguments, moving = sweeps(law, shares)
        names = list(law.ranges)
        step = {n: law.step * (high - low) for n, (low, high) in law.ranges.items()}
        for n, (low, high) in law.ranges.items():  # by ratio where the range runs over decades
            if low > 0.0 and high > 30.0 * low:
                step[n] = min(10.0 * law.step, 1e-5) * low
            arguments[n] = np.clip(arguments[n], low + step[n], high - step[n])
        here = call(law, arguments)
        up = call(law, shifted(arguments, moving, step))
        down = call(law, shifted(arguments, moving, {n: -s for n, s in step.items()}))
        for which, argument, slope_of in law.slopes:
            value = which if callable(which) else (lambda o, k=which: o[k])
            rows_ = moving == names.index(argument)
            at, above, below = (np.broadcast_to(value(o), moving.shape)[rows_] for o in (here, up, down))
            forward, backward = (above - at) / step[argument], (at - below) / step[argument]
            slope = np.broadcast_to(slope_of(here, arguments), moving.shape)[rows_]
            size = np.maximum(np.abs(forward), np.abs(backward))
            rounding = 4e-15 * (np.abs(at) + np.abs(above)) / step[argument]
            low, high = law.ranges[argument]
            lenient = law.exact * size + 20.0 * rounding + 1e-12 * np.abs(at).max() / (high - low)
            outside = np.maximum(np.minimum(forward, backward) - slope, slope - np.maximum(forward, backward))
            outside = np.where(np.broadcast_to(law.within(here), moving.shape)[rows_], outside, 0.0)
            worst = int(np.argmax(outside - lenient))
            assert outside[worst] <= lenient[worst], (
                which, argument, f"slope {slope[worst]:.6g}, differences {backward[worst]:.6g} {forward[worst]:.6g}",
                {n: float(v[rows_][worst]) for n, v in arguments.items()},
            )  # fmt: skip

    check()


@every_law
def test_float32_stays_float32(name: str) -> None:
    law = LAWS[name]
    rng = np.random.default_rng(1)
    arguments = {n: placed(b, rng.random(64)).astype(np.float32) for n, b in law.ranges.items()}
    outputs = call(law, arguments)
    # numbers of the model itself (a slope of 1) stay Python floats, which do not widen
    assert {o.dtype for o in outputs if isinstance(o, np.ndarray)} == {np.dtype(np.float32)}
    wide = call(law, {n: v.astype(np.float64) for n, v in arguments.items()})
    for which in law.values:
        assert np.abs(outputs[which] - wide[which]).max() < 2e-3 * scales(law)[which]


@given(st.floats(*PRESSURE), st.floats(*PRESSURE), st.floats(0.0, 1e-3), st.floats(*WARM))
def test_flow_is_odd_and_reverses_with_the_pressures(a: float, b: float, area: float, warm: float) -> None:
    there, over_a, over_b = orifice.air_flow(area, a, b, warm)
    back, over_b_back, over_a_back = orifice.air_flow(area, b, a, warm)
    assert there == -back
    assert np.sign(there) in (0.0, np.sign(a - b))
    assert over_a == pytest.approx(-over_a_back, rel=1e-12)
    assert over_b == pytest.approx(-over_b_back, rel=1e-12)
    # homogeneous of first degree: m = p1 dm/dp1 + p2 dm/dp2 (Euler)
    assert there == pytest.approx(a * over_a + b * over_b, abs=1e-12 + 1e-9 * abs(a * over_a))


@given(st.floats(*PRESSURE), st.floats(*WARM), st.floats(0.02, 0.999))
def test_flow_against_the_isentropic_nozzle(high: float, warm: float, ratio: float) -> None:
    """St-Venant's nozzle, any compressible-flow text: within half a percent of choked flow while the pressures
    stand a fifth apart; the soft start at equal pressures takes up to 4.5 %."""
    scale = 1e-5 * high / np.sqrt(gas.AIR_GAS_CONSTANT * warm)
    exact = orifice.isentropic_flow_function(ratio) * scale
    allowed = 0.0055 if ratio < 0.8 else 0.02 if ratio < 0.95 else 0.045
    assert orifice.air_flow(1e-5, high, ratio * high, warm)[0] == pytest.approx(
        exact, abs=allowed * orifice.choked_flow_function(gas.AIR_GAMMA) * scale
    )


@pytest.mark.parametrize(
    ("ratio_of", "exponent", "low"),
    [(gas.isentropic_ratio_air, 0.4 / 1.4, 0.2), (gas.isentropic_ratio_exhaust, 0.2946 / 1.2946, 0.08)],
)
def test_power_laws(ratio_of: Callable[[Any], Any], exponent: float, low: float) -> None:
    """T ratio = p ratio^((gamma - 1)/gamma), exact power: 5e-5 over the ratios of the road, 1e-4 over all."""
    air = ratio_of is gas.isentropic_ratio_air
    ratio = np.geomspace(low, 8.0 if air else 1.0, 400)
    error = np.abs(ratio_of(gas.fourth_root(ratio)) / ratio**exponent - 1.0)
    assert error.max() < 1e-4
    assert error[ratio < 6.0].max() < 5e-5


@given(
    st.floats(-4e5, 8e5), st.floats(-1e5, 1.2e6), st.floats(0.0, 0.03), st.floats(0.001, 0.03), st.floats(0.0, 4e5)
)
def test_arm_keeps_the_force_balance(force: float, push: float, travel: float, limit: float, friction: float) -> None:
    """Spring, chamber and exhaust push add up to no more than friction, unless the arm is at an end."""
    spring, assistance, fade, opening = 3e6, 0.25, 60.0, 6e4
    travel = min(travel, limit)
    rest = actuator.rest_travel(force, push, opening, spring, assistance, fade, friction, travel, limit)[0]
    left = force - opening + assistance / (1.0 + fade * travel) * push - spring * rest
    assert 0.0 <= rest <= limit
    if 0.0 < rest < limit:
        assert abs(left) <= friction + 1e-6 * (abs(force) + abs(push) + opening)
    elif rest == 0.0:
        assert left <= friction + 1e-6 * (abs(force) + abs(push) + opening)
    else:
        assert left >= -friction - 1e-6 * (abs(force) + abs(push) + opening)
    if rest not in (0.0, limit, travel):  # it slides: the way there is against friction, all of it
        assert abs(left) == pytest.approx(friction, abs=1e-6 * (abs(force) + abs(push) + opening))
        assert (rest - travel) * left >= -1e-6


@given(
    st.floats(-4e5, 8e5), st.floats(0.0, 1.2e6), st.floats(0.0, 0.03), st.floats(0.0, 1.5), st.floats(0.0, 500.0)
)
def test_slope_over_travel_is_that_of_a_sliding_arm(
    force: float, push: float, travel: float, assistance: float, fade: float
) -> None:
    def at(x: float) -> float:
        return float(actuator.rest_travel(force, push, 6e4, 3e6, assistance, fade, 0.0, x, 1e3)[0])

    slope = float(actuator.rest_travel(force, push, 6e4, 3e6, assistance, fade, 0.0, travel, 1e3)[3])
    measured = (at(travel + 1e-7) - at(travel - 1e-7)) / 2e-7
    if at(travel) > 1e-3:
        assert slope == pytest.approx(measured, rel=1e-4, abs=1e-5)


@given(
    st.floats(*PRESSURE), st.floats(*PRESSURE), st.floats(0.0, 0.01), st.floats(-0.5, 0.5), st.sampled_from([0.0, 1.0])
)
def test_moving_diaphragm_keeps_the_air(lower: float, upper: float, travel: float, rate: float, swapped: float) -> None:
    """No flow: p V of either chamber stays as it is (isothermal, Boyle). The hose's air is the lower chamber's."""
    par = [p.neutral for p in layout.PARAMETERS]
    par[rows.PORTS_SWAPPED] = swapped
    swept = par[rows.DIAPHRAGM_AREA] * (1.0 - 2.0 * swapped)
    rates, by, _ = signal_side.chamber_rates(0.0, 0.0, lower, upper, travel, rate, 300.0, par)
    volumes = (
        par[rows.CHAMBER_VOLUME] + par[rows.LINE_VOLUME] + swept * travel, par[rows.UPPER_VOLUME] - swept * travel
    )  # fmt: skip
    assert rates[0] * volumes[0] + lower * swept * rate == pytest.approx(0.0, abs=1e-9 * lower)
    assert rates[1] * volumes[1] - upper * swept * rate == pytest.approx(0.0, abs=1e-9 * upper)
    for factor, volume in zip(by, volumes, strict=True):
        assert factor == pytest.approx(gas.AIR_GAS_CONSTANT * 300.0 / volume)
