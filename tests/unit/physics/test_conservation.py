"""Mass and energy: what goes in comes out or is stored.

On the derivatives the balances hold to rounding: every flux is summed here anew, from the components, and set
against what `system.rates` returns. Over a pull the steps keep them with an error that falls with h squared.
References: the conservation laws themselves.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest

from boostproof.physics import layout, rows, system
from boostproof.physics.air_side import charge_leaks, compressor_side
from boostproof.physics.exhaust_side import gate_openings
from boostproof.physics.gas import (
    AIR_CP,
    AIR_GAS_CONSTANT,
    EXHAUST_CP,
    EXHAUST_GAS_CONSTANT,
    fourth_root,
    isentropic_ratio_exhaust,
)
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.physics.orifice import air_flow, exhaust_flow_function, tube_flow
from boostproof.physics.pneumatics import node_balance
from boostproof.physics.signal_side import NODE_TIME
from boostproof.physics.turbine import BLADE_SPEED_OPTIMUM, turbine_flow_function

Array = np.ndarray
State = tuple[Array, ...]
KINDS = [(controller, gate) for controller in CONTROLLERS for gate in GATES]
OUT = system.OUTPUT_INDEX
FUEL_PER_AIR = 1.0 / 14.6  # at lambda 1


def inputs_at(t: float) -> tuple[float, ...]:
    return 712.0 * (0.45 + 0.2 * max(t, 0.0)), 0.13 if t < 0.0 else 1.0, 9e4, 0.35, 99e3, 300.0, 0.0


@cache
def pull() -> tuple[tuple[Array, ...], list[tuple[float, State]]]:
    """Four cars of every kind of hardware, varied by a fifth and leaking, and their states along a pull."""
    rng = np.random.default_rng(4)
    columns = []
    for controller, gate in KINDS:
        par = np.array([[p.neutral] * 4 for p in layout.PARAMETERS])
        for row, parameter in enumerate(layout.PARAMETERS):
            par[row] = np.clip(par[row] * np.exp(0.2 * rng.standard_normal(4)), parameter.low, parameter.high)
        columns.append(fitted(fitted(par, GATES[gate]), CONTROLLERS[controller]))
    par = np.column_stack(columns)
    n = par.shape[1]
    for name, value in {
        "charge_leak": 4e-5, "bypass_leak": 5e-5, "exhaust_leak": 2e-5, "diaphragm_leak": 5e-7, "line_leak": 5e-7,
        "gate_leak": 2e-5, "air_metered": 1.0, "closed_loop": 1.0, "leak_after_cooler": 1.0,
    }.items():  # fmt: skip
        par[layout.INDEX[name]] = np.where(rng.random(n) < 0.5, value, 0.0)
    cars = tuple(par)
    state = system.initial(cars, inputs_at(-1.0))
    t, seen = -0.3, []
    while t < 2.5:
        h = 0.0025 if -1e-9 < t < 0.1 else 0.01
        state, _ = system.step(state, cars, inputs_at(t + 0.5 * h), h)
        t += h
        seen.append((t, state))
    return cars, seen[::12]


@cache
def moments() -> list[dict[str, Any]]:
    """Of every kept moment: states, derivatives and outputs by name, with the time and the inputs."""
    par, seen = pull()
    out = []
    for t, state in seen:
        inputs = inputs_at(t)
        derivatives, _, outputs = system.rates(state, par, inputs)
        out.append(
            {"inputs": inputs, **dict(zip(system.STATES, state, strict=True)),
             **{f"d_{name}": value for name, value in zip(system.STATES, derivatives, strict=True)},
             **{f"out_{name}": value for name, value in zip(system.OUTPUTS, outputs, strict=True)}}
        )  # fmt: skip
    return out


def same(left: Array, right: Array, size: Array) -> None:
    assert np.abs(left - right).max() < 1e-12 * np.max(size)


def leaks(m: dict[str, Any], par: Any) -> tuple[Array, Array]:
    """Lost from the charge side, and of that back to the inlet. [kg/s]"""
    return charge_leaks(
        m["charge_pressure"], m["out_boost"] + m["inputs"][4], m["out_compressor_outlet_temperature"],
        m["out_intake_temperature"], m["inputs"][4], par,
    )[:2]  # fmt: skip


def turbine_flow(m: dict[str, Any], par: Any) -> Array:
    ratio = np.minimum(m["out_turbine_outlet_pressure"] / m["exhaust_pressure"], 0.9999)
    per_area = m["exhaust_pressure"] / np.sqrt(EXHAUST_GAS_CONSTANT * m["out_exhaust_temperature"])
    return np.asarray(par[rows.TURBINE_AREA] * per_area * turbine_flow_function(fourth_root(ratio))[0])


def burnt(m: dict[str, Any]) -> Array:
    return np.asarray(m["out_engine_flow"] * (1.0 + FUEL_PER_AIR / m["out_mixture"]))


def stored_charge(m: dict[str, Any], par: Any) -> Array:
    """Rate of the air in the charge pipes, ``V dp/dt / (R T)``. [kg/s]"""
    return np.asarray(m["d_charge_pressure"] * par[rows.CHARGE_VOLUME] / (AIR_GAS_CONSTANT * m["out_intake_temperature"]))


def stored_exhaust(m: dict[str, Any], par: Any) -> Array:
    return np.asarray(
        m["d_exhaust_pressure"] * par[rows.EXHAUST_VOLUME] / (EXHAUST_GAS_CONSTANT * m["out_exhaust_temperature"])
    )


def test_charge_side() -> None:
    """Through the compressor = into the engine + leaks + stored."""
    par, _ = pull()
    for m in moments():
        lost, returned = leaks(m, par)
        through = m["out_air_flow"] + returned  # an air meter stands before the point where the valve returns
        flow, drawn, *_ = compressor_side(
            m["shaft_speed"], m["charge_pressure"], m["inputs"][0], m["inputs"][4], m["inputs"][5], par
        )
        same(through, flow + drawn, through)
        same(stored_charge(m, par), through - m["out_engine_flow"] - lost, through)


def test_exhaust_manifold() -> None:
    """Air and fuel of the engine = through the turbine + past it + stored; what passes it by area and pressures."""
    par, _ = pull()
    for m in moments():
        same(stored_exhaust(m, par), burnt(m) - turbine_flow(m, par) - m["out_gate_flow"], burnt(m))
        area = gate_openings(m["travel"], m["other_travel"], par)[0] + par[rows.EXHAUST_LEAK]
        apart = par[rows.DUMP_APART]
        behind = apart * m["inputs"][4] + (1.0 - apart) * m["out_turbine_outlet_pressure"]
        per_area = m["exhaust_pressure"] / np.sqrt(EXHAUST_GAS_CONSTANT * m["out_exhaust_temperature"])
        ratio = np.minimum(behind / m["exhaust_pressure"], 0.9999)
        same(m["out_gate_flow"], area * per_area * exhaust_flow_function(ratio)[0], burnt(m))


def test_whole_car() -> None:
    """Air in at the filter + fuel = out at the tail, leaks and what is stored in both volumes."""
    par, _ = pull()
    for m in moments():
        lost, returned = leaks(m, par)
        fuel = burnt(m) - m["out_engine_flow"]
        out = turbine_flow(m, par) + m["out_gate_flow"] + lost - returned
        same(m["out_air_flow"] + fuel, out + stored_charge(m, par) + stored_exhaust(m, par), out)


def test_shaft_energy() -> None:
    """d(J w^2/2)/dt = turbine power - compressor power - drag; the compressor's power is the air's enthalpy rise."""
    par, _ = pull()
    for m in moments():
        speed = m["shaft_speed"]
        flow, _, torque, outlet, *_ = compressor_side(
            speed, m["charge_pressure"], m["inputs"][0], m["inputs"][4], m["inputs"][5], par
        )
        power = np.abs(flow) * AIR_CP * (outlet - m["inputs"][5])
        same(torque * speed, power, power)
        same(outlet, m["out_compressor_outlet_temperature"], outlet)
        ratio = np.minimum(m["out_turbine_outlet_pressure"] / m["exhaust_pressure"], 0.9999)
        work = EXHAUST_CP * m["out_exhaust_temperature"] * (1.0 - isentropic_ratio_exhaust(fourth_root(ratio)))
        # jet speed with 20 m/s added in squares, so that a turbine without drop stands
        blade = 0.5 * par[rows.TURBINE_DIAMETER] * speed / np.sqrt(2.0 * work + 400.0) / BLADE_SPEED_OPTIMUM
        slow = 1.0 - m["inputs"][0] / par[rows.REDLINE]
        at_best = par[rows.TURBINE_EFFICIENCY] * (1.0 + par[rows.PULSE_GAIN] * slow)
        efficiency = at_best * np.maximum(2.0 * blade - blade * blade, -blade)
        driving = turbine_flow(m, par) * work * efficiency
        kinetic = par[rows.SHAFT_INERTIA] * speed * m["d_shaft_speed"]
        drag = par[rows.SHAFT_DRAG] * speed * speed
        same(kinetic, driving - power - drag, driving)
        assert np.all(efficiency <= at_best * (1.0 + 1e-12))  # a parabola with its top at the best efficiency
        assert np.all(outlet[flow > 0.0] >= m["inputs"][5])


def test_chambers() -> None:
    """d(p V)/dt / (R T) = flows in less flows out, for either chamber and its moving diaphragm (isothermal)."""
    par, _ = pull()
    swept = par[rows.DIAPHRAGM_AREA] * (1.0 - 2.0 * par[rows.PORTS_SWAPPED])
    for m in moments():
        ambient, warm = m["inputs"][4], m["inputs"][5]
        lower, upper = m["lower_pressure"], m["upper_pressure"]
        node = m["node_pressure"] + NODE_TIME * m["d_node_pressure"]
        below = par[rows.CHAMBER_VOLUME] + par[rows.LINE_VOLUME] + swept * m["travel"]
        above = par[rows.UPPER_VOLUME] - swept * m["travel"]
        stored = [
            (d * volume + p * sign * swept * m["d_travel"]) / (AIR_GAS_CONSTANT * warm)
            for d, volume, p, sign in (
                (m["d_lower_pressure"], below, lower, 1.0), (m["d_upper_pressure"], above, upper, -1.0)
            )
        ]  # fmt: skip
        into = tube_flow(par[rows.HOSE_AREA], node, lower, warm)[0]
        both = par[rows.LINE_LEAK] + par[rows.DIAPHRAGM_LEAK]
        outside = ambient + par[rows.DIAPHRAGM_LEAK] / (both + 1e-20) * (upper - ambient)
        through = air_flow(par[rows.DIAPHRAGM_LEAK], lower, outside, warm)[0]
        leak = air_flow(par[rows.LINE_LEAK], lower, outside, warm)[0]
        supply = m["charge_pressure"]
        assert not np.any(par[rows.TAKE_OFF])  # the signal is taken at the compressor
        share = share_of(m, par)
        fed = par[rows.SOLENOID] * share * (par[rows.UPPER_FEED] > 0.0)
        gained = fed * air_flow(par[rows.UPPER_FEED], supply, upper, warm)[0]
        vented = (1.0 - fed) * tube_flow(par[rows.UPPER_VENT], upper, ambient, warm)[0]
        size = np.abs(into) + np.abs(vented) + 1e-4
        same(stored[0], into - through - leak, size)
        same(stored[1], through + gained - vented, size)


def share_of(m: dict[str, Any], par: Any) -> Array:
    """Share of the time that the valve vents: the duty commanded, as the cars have sound valves."""
    return np.asarray(m["out_duty"] + 0.0 * par[rows.SOLENOID])


def test_line_takes_little_of_the_charge_and_its_node_keeps_none() -> None:
    """The air that the signal line bleeds is not taken from the charge pipes: below 1 % of the engine's. What
    Newton's single step leaves over at the node is below 3 % of the chamber's own flow, on average over a pull."""
    par, _ = pull()
    over, passed = 0.0, 0.0
    for m in moments():
        node = m["node_pressure"] + NODE_TIME * m["d_node_pressure"]
        named = [par[row] for row in (rows.LINE_AREA, rows.OFFSET, rows.CHECK, rows.SOLENOID, rows.INTERRUPTS)]
        into = node_balance(
            m["charge_pressure"], node, m["inputs"][4] + 0.0 * node, m["inputs"][5], *named, share_of(m, par),
            par[rows.VENT_AREA], par[rows.BLEED_AREA],
        )[0]  # fmt: skip
        onward = tube_flow(par[rows.HOSE_AREA], node, m["lower_pressure"], m["inputs"][5])[0]
        vents = par[rows.BLEED_AREA] + par[rows.SOLENOID] * share_of(m, par) * par[rows.VENT_AREA]
        bled = air_flow(vents, node, m["inputs"][4], m["inputs"][5])[0]
        assert np.all(bled < 0.01 * m["out_engine_flow"])
        over, passed = over + np.abs(into - onward).mean(), passed + np.abs(onward).mean()
    assert over < 0.03 * passed


# ------------------------------------------------------------------ over a pull, by the steps


def residuals(h: float) -> dict[str, float]:
    """What a smooth stretch of 0.3 s gains more than flows and powers bring, in shares of what it turns over."""
    par = tuple(fitted(np.array([[p.neutral] for p in layout.PARAMETERS]), {"friction": 0.0, "port_diameter": 0.03}))
    inputs = (450.0, 1.0, 9e4, 0.2, 101325.0, 298.0, 0.0)
    state = system.initial(par, inputs)
    for _ in range(600):
        state, _ = system.step(state, par, inputs, 1e-3)
    inputs = (450.0, 0.6, 9e4, 0.2, 101325.0, 298.0, 0.0)

    def look(state: State) -> dict[str, Any]:
        derivatives, _, outputs = system.rates(state, par, inputs)
        m = {"inputs": inputs, **dict(zip(system.STATES, state, strict=True))}
        m |= {f"d_{name}": value for name, value in zip(system.STATES, derivatives, strict=True)}
        return m | {f"out_{name}": outputs[i] for name, i in OUT.items()}

    seen = [look(state)]
    for _ in range(round(0.3 / h)):
        state, _ = system.step(state, par, inputs, h)
        seen.append(look(state))

    def total(name: str) -> Array:
        """Integral by the trapezium rule, of second order as the steps."""
        values = np.array([np.broadcast_to(m[name], (1,))[0] for m in seen])
        return np.asarray(h * (values.sum() - 0.5 * (values[0] + values[-1])))

    swept = par[rows.DIAPHRAGM_AREA]
    for m in seen:
        warm = AIR_GAS_CONSTANT * inputs[5]
        node = m["node_pressure"] + NODE_TIME * m["d_node_pressure"]
        m["air"] = m["lower_pressure"] * (par[rows.CHAMBER_VOLUME] + par[rows.LINE_VOLUME] + swept * m["travel"]) / warm
        m["inflow"] = tube_flow(par[rows.HOSE_AREA], node, m["lower_pressure"], inputs[5])[0]
        m["energy"] = 0.5 * par[rows.SHAFT_INERTIA] * m["shaft_speed"] ** 2
        m["power"] = par[rows.SHAFT_INERTIA] * m["shaft_speed"] * m["d_shaft_speed"]
    first, last = seen[0], seen[-1]
    pairs = {
        "charge": ("charge_pressure", "d_charge_pressure", 1e5), "exhaust": ("exhaust_pressure", "d_exhaust_pressure", 1e5),
        "shaft energy": ("energy", "power", float(first["energy"][0])),
        "air of the chamber": ("air", "inflow", float(first["air"][0])),
    }  # fmt: skip
    return {
        what: float(np.abs(last[stored] - first[stored] - total(rate))[0] / size)
        for what, (stored, rate, size) in pairs.items()
    }


@pytest.mark.parametrize("what", ["charge", "exhaust", "shaft energy", "air of the chamber"])
def test_steps_keep_the_balance_with_the_square_of_the_step(what: str) -> None:
    found = [residuals_of(h)[what] for h in (0.01, 0.005, 0.0025)]
    assert found[0] < 2e-3
    assert np.log2(found[0] / found[2]) / 2.0 > 1.6


@cache
def residuals_of(h: float) -> dict[str, float]:
    return residuals(h)
