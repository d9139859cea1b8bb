"""One car followed step by step: every pressure, flow and opening at chosen moments.

The car is driven by the same `physics.system.step` as all candidates; what the model does not give out is found
from its states with the same component functions. Nothing here is physics of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.physics import rows, system
from boostproof.physics.air_side import charge_leaks
from boostproof.physics.controller import supply_share, through_ball
from boostproof.physics.ducts import leaking_valve_area
from boostproof.physics.exhaust_side import exhaust_side, gate_openings
from boostproof.physics.gas import exhaust_per_air
from boostproof.physics.orifice import air_flow, tube_flow
from boostproof.physics.pneumatics import lower_chamber_balance, upper_chamber_balance
from boostproof.physics.signal_side import commanded, line_flows
from boostproof.physics.system import INPUTS, OUTPUT_INDEX, STATES
from boostproof.physics.wastegate import gate_lift

Array = NDArray[np.float64]
Values = tuple[float, ...]

_SETTLING = 12  # rounds until the node behind the controller no longer moves; 3 or 4 are enough


@dataclass(frozen=True)
class Moments:
    """A car at some moments of a drive.

    Attributes
    ----------
    inputs : what drove it then, (moments, inputs) as `system.INPUTS`
    outputs : what the model gave out, (moments, outputs) as `system.OUTPUTS`
    found : further quantities by name, (moments,) each: pressures gauge [Pa], flows [kg/s], openings [1], lengths
        [m], areas [m2]
    """

    inputs: Array = field(repr=False)
    outputs: Array = field(repr=False)
    found: dict[str, Array] = field(repr=False)

    def output(self, name: str) -> Array:
        """One of `system.OUTPUTS` over the moments."""
        return np.asarray(self.outputs[:, OUTPUT_INDEX[name]])


def follow(
    par: Array, inputs: Array, steps: Array, kept: Sequence[int], *, tell: Callable[[float], None] | None = None
) -> Moments:
    """Drive one car from rest and look at it at the beginning of the chosen steps.

    Parameters
    ----------
    par : (parameters,), SI
    inputs : (steps, inputs) as `system.INPUTS`
    steps : (steps,) step sizes [s]
    kept : steps to look at, rising
    tell : called now and then with the share done
    """
    # plain floats: for a single car they are ten times as fast as arrays of length one
    car = tuple(float(value) for value in par)
    chosen = set(kept)
    last = max(chosen)
    state: Values = tuple(float(x) for x in system.initial(car, tuple(inputs[0].tolist())))
    seen: list[tuple[Values, Values, Values]] = []
    for number, (row, h) in enumerate(zip(inputs[: last + 1].tolist(), steps[: last + 1].tolist(), strict=True)):
        before = state
        state, outputs = system.step(state, car, tuple(row), h)
        if number in chosen:
            seen.append((before, tuple(row), tuple(float(x) for x in outputs)))
        if tell is not None and number % 200 == 0:
            tell(number / (last + 1))
    found = [moment(before, car, row, outputs) for before, row, outputs in seen]
    return Moments(
        np.array([row for _, row, _ in seen]),
        np.array([outputs for *_, outputs in seen]),
        {name: np.array([one[name] for one in found]) for name in found[0]},
    )


def moment(state: Values, par: Values, inp: Values, outputs: Values) -> dict[str, float]:
    """What the model knows of one moment beside its outputs.

    Parameters
    ----------
    state, par, inp, outputs : in the order of `system.STATES`, `layout.PARAMETERS`, `system.INPUTS` and
        `system.OUTPUTS`; the outputs are those of a step from this state
    """
    found = _exhaust(state, par, inp, outputs) | _charge(state, par, inp, outputs) | _signal(state, par, inp, outputs)
    return {name: float(value) for name, value in found.items()}


def _state(state: Values, name: str) -> float:
    return state[STATES.index(name)]


def _input(inp: Values, name: str) -> float:
    return inp[INPUTS.index(name)]


def _exhaust(state: Values, par: Values, inp: Values, outputs: Values) -> dict[str, float]:
    """Flows between engine and exhaust, and how far the gates stand open."""
    travel, other = _state(state, "travel"), _state(state, "other_travel")
    burnt = outputs[OUTPUT_INDEX["engine_flow"]] * exhaust_per_air(outputs[OUTPUT_INDEX["mixture"]])
    area = gate_openings(travel, other, par)[0]
    ambient = _input(inp, "ambient_pressure")
    _, past, net, *_ = exhaust_side(
        burnt, outputs[OUTPUT_INDEX["exhaust_temperature"]], _state(state, "exhaust_pressure"), area,
        _state(state, "shaft_speed"), _input(inp, "engine_speed") / par[rows.REDLINE], ambient, par,
    )  # fmt: skip
    leak = past * par[rows.EXHAUST_LEAK] / (area + par[rows.EXHAUST_LEAK] + 1e-20)
    stop = min(par[rows.GATE_TRAVEL], par[rows.FREE_TRAVEL])
    other_stop = min(par[rows.GATE_TRAVEL], par[rows.OTHER_TRAVEL])
    differs = par[rows.OTHER_GATES] > 0.0
    return {
        "exhaust_flow": burnt,
        "turbine_flow": burnt - net - past,
        "gates_flow": past - leak,
        "exhaust_leak_flow": leak,
        "gate_area": area,
        "gate_lift": gate_lift(travel, par[rows.LIFT_RATIO], par[rows.LEVER_ARM])[0],
        "gate_open": travel / max(stop, 1e-9),
        "other_gate_open": other / max(other_stop, 1e-9) if differs else travel / max(stop, 1e-9),
    }


def _charge(state: Values, par: Values, inp: Values, outputs: Values) -> dict[str, float]:
    """Flows between air filter and engine."""
    ambient = _input(inp, "ambient_pressure")
    manifold = outputs[OUTPUT_INDEX["boost"]] + ambient
    lost, returned, _ = charge_leaks(
        _state(state, "charge_pressure"), manifold, outputs[OUTPUT_INDEX["compressor_outlet_temperature"]],
        outputs[OUTPUT_INDEX["intake_temperature"]], ambient, par,
    )  # fmt: skip
    valve = leaking_valve_area(par[rows.BYPASS_LEAK], par[rows.BYPASS_LIFT], _state(state, "charge_pressure"), ambient)
    whole = valve + par[rows.CHARGE_LEAK] + 1e-20
    return {
        "compressor_flow": outputs[OUTPUT_INDEX["air_flow"]] + returned,
        "charge_leak_flow": lost * par[rows.CHARGE_LEAK] / whole,
        "bypass_leak_flow": lost * valve / whole,
    }


def _signal(state: Values, par: Values, inp: Values, outputs: Values) -> dict[str, float]:
    """Pressures and flows of signal line, controller and actuator."""
    ambient, warm = _input(inp, "ambient_pressure"), _input(inp, "ambient_temperature")
    charge = _state(state, "charge_pressure")
    lower, upper = _state(state, "lower_pressure"), _state(state, "upper_pressure")
    supply = charge + par[rows.TAKE_OFF] * (outputs[OUTPUT_INDEX["boost"]] + ambient - charge)
    error = _input(inp, "target") + par[rows.TARGET_SHIFT] - (_state(state, "sensed_pressure") - ambient)
    _, vent_share, *_ = commanded(error, _state(state, "integral"), _input(inp, "logged_duty"), par)
    node = _state(state, "node_pressure")
    for _ in range(_SETTLING):
        node = line_flows(supply, node, lower, upper, ambient, warm, vent_share, par)[0]
    free = supply_share(vent_share, par[rows.SOLENOID], par[rows.INTERRUPTS])
    area, offset, ball = par[rows.LINE_AREA], par[rows.OFFSET] + par[rows.BALL_STICK], par[rows.CHECK]
    passing = through_ball(area, supply, node, ambient, warm, offset, ball)[0]
    out = air_flow(1.0, node, ambient, warm)[0]
    onward = tube_flow(par[rows.HOSE_AREA], node, lower, warm)[0]
    net, through, *_ = lower_chamber_balance(
        node, lower, upper, ambient, warm, par[rows.HOSE_AREA], par[rows.LINE_LEAK], par[rows.DIAPHRAGM_LEAK]
    )
    return {
        "take_off": supply - ambient,
        "behind_controller": node - ambient,
        "ball_open": _ball_open(passing, supply, node, ambient, warm, par),
        "valve_share": par[rows.SOLENOID] * vent_share,
        "controller_flow": free * passing,
        "bleed_flow": par[rows.BLEED_AREA] * out,
        "valve_flow": par[rows.SOLENOID] * vent_share * par[rows.VENT_AREA] * out,
        "actuator_flow": onward,
        "line_leak_flow": onward - net - through,
        "diaphragm_flow": through,
        "upper_flow": upper_chamber_balance(
            supply, upper, ambient, warm, par[rows.UPPER_FEED], _fed(par) * vent_share, par[rows.UPPER_VENT]
        )[0],
    }


def _fed(par: Values) -> float:
    """Whether a 4-port valve feeds the spring side, as `line_flows` takes it."""
    return min(max(par[rows.UPPER_FEED] * 1e9, 0.0), 1.0) * par[rows.SOLENOID]


def _ball_open(passing: float, supply: float, node: float, ambient: float, warm: float, par: Values) -> float:
    """Share of the way past the ball that is free: its flow over that without the ball, at the same pressures. [1]

    Zero where no ball is fitted, and where the ball sits.
    """
    if par[rows.CHECK] < 0.5 or passing <= 0.0:
        return 0.0
    clear = through_ball(par[rows.LINE_AREA], supply, node, ambient, warm, 0.0, par[rows.CHECK])[0]
    return float(min(passing / max(clear, 1e-12), 1.0))
