"""Every component over its whole input domain: finite, without jumps, monotone where physics demands it.

The laws themselves are the standard: flow follows the pressure difference, a passage grows with lift, and
a returned slope is the derivative of what is returned with it. A *law* names a component, the ranges of its
arguments (from `layout` and from what the model clips its states to) and what must hold. Sweeps run along
each argument from points that hypothesis chooses, so that ends of ranges and equal pressures come up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostproof.physics import (
    actuator,
    air_side,
    boost_loop,
    compressor,
    controller,
    ducts,
    engine,
    exhaust_side,
    fuel,
    gas,
    layout,
    ops,
    orifice,
    pneumatics,
    rows,
    sensors,
    signal_side,
    turbine,
    wastegate,
)

Range = tuple[float, float]
Outputs = list[Any]
Arguments = dict[str, Any]

PRESSURE: Range = (1.8e4, 8.64e5)  # 0.3 of 60 kPa to 8 times 108 kPa, as `system.moved` keeps the states
EXHAUST: Range = (5.4e4, 1.296e6)
AMBIENT: Range = (6.0e4, 1.08e5)
OUTSIDE: Range = (240.0, 330.0)
WARM: Range = (230.0, 800.0)
HOT: Range = (400.0, 2000.0)
SHAFT: Range = (300.0, 3.0e4)  # to 286 000 1/min, above any wheel's burst speed
ENGINE: Range = (80.0, 1200.0)
SHARE: Range = (0.0, 1.0)
FLOW: Range = (0.0, 1.5)

POINTS = 33  # along each argument
TESTED = settings(max_examples=20)


def of(name: str) -> Range:
    """Range of a parameter."""
    row = layout.parameter(name)
    return row.low, row.high


@dataclass(frozen=True)
class Law:
    """A component and what must hold for it. Outputs are numbered after nested tuples are laid flat.

    Attributes
    ----------
    function : called by keyword
    ranges : of its arguments
    values : outputs that must have no jumps (slopes may have them, at kinks)
    rising, falling : pairs of output and argument; level stretches are allowed
    slopes : output (number, or made of the outputs), argument, and the derivative made of outputs and arguments
    within : where the slopes are checked, of the outputs; beyond the ends of the map a slope is held on purpose
    exact : relative error of a slope that is let pass (that of power laws is of the exact power)
    step : of the differences, of the range
    """

    function: Callable[..., Any]
    ranges: dict[str, Range]
    values: tuple[int, ...] = (0,)
    rising: tuple[tuple[int, str], ...] = ()
    falling: tuple[tuple[int, str], ...] = ()
    slopes: tuple[tuple[Any, str, Callable[[Outputs, Arguments], Any]], ...] = ()
    within: Callable[[Outputs], Any] = lambda outputs: True
    exact: float = 2e-4
    step: float = 1e-7


def over_parameters(function: Callable[..., Any], ranges: dict[str, Range], **fixed: float) -> tuple[Any, dict[str, Range]]:
    """A component that takes ``par`` as one that takes by name, in capitals, the parameters that it reads."""
    read: set[int] = set()

    class Recorder(list[float]):
        def __getitem__(self, row: Any) -> float:
            read.add(row)
            return list.__getitem__(self, row)

    function(**{name: 0.5 * (low + high) for name, (low, high) in ranges.items()},
             par=Recorder(p.neutral for p in layout.PARAMETERS))  # fmt: skip
    names = [layout.NAMES[row].upper() for row in sorted(read) if layout.NAMES[row].upper() not in fixed]

    def by_name(**arguments: Any) -> Any:
        par = [p.neutral for p in layout.PARAMETERS]
        for name in names:
            par[getattr(rows, name)] = arguments.pop(name)
        for name, value in fixed.items():
            par[getattr(rows, name)] = value
        return function(**arguments, par=par)

    return by_name, ranges | {name: of(name.lower()) for name in names}


def flat(result: Any) -> Iterator[Any]:
    if isinstance(result, tuple):
        for part in result:
            yield from flat(part)
    else:
        yield result


def call(law: Law, arguments: Arguments) -> Outputs:
    return list(flat(law.function(**arguments)))


def placed(bounds: Range, share: Any) -> Any:
    """Share 0..1 of a range; of one over more than a decade and a half by ratio."""
    low, high = bounds
    if low > 0.0 and high > 30.0 * low:
        return np.clip(low * (high / low) ** np.asarray(share), low, high)
    return low + (high - low) * np.asarray(share)


def sweeps(law: Law, shares: list[float]) -> tuple[Arguments, np.ndarray]:
    """Arguments along each argument in turn, one after the other, and which argument moves: (args * POINTS,)."""
    names = list(law.ranges)
    moving = np.repeat(np.arange(len(names)), POINTS)
    out = {}
    for i, name in enumerate(names):
        share = np.full(len(moving), shares[i])
        share[moving == i] = np.linspace(0.0, 1.0, POINTS)
        out[name] = placed(law.ranges[name], share)
    return out, moving


def shifted(arguments: Arguments, moving: np.ndarray, by: dict[str, float]) -> Arguments:
    return {
        name: np.where(moving == i, value + by[name], value) for i, (name, value) in enumerate(arguments.items())
    }


_scales: dict[int, list[float]] = {}


def scales(law: Law) -> list[float]:
    """Usual largest size of each output."""
    if id(law) not in _scales:
        rng = np.random.default_rng(3)
        sample = {name: placed(bounds, rng.random(2000)) for name, bounds in law.ranges.items()}
        _scales[id(law)] = [float(np.quantile(np.abs(o), 0.99)) + 1e-30 for o in call(law, sample)]
    return _scales[id(law)]


def throttled_engine(
    speed: Any, charge: Any, exhaust: Any, engine_speed: Any, throttle: Any, outside: Any, par: Any
) -> Any:
    """`engine_side` behind a compressor whose outlet warms with shaft speed and pressure."""
    outlet = outside + 2e-3 * speed + 1e-4 * charge
    warm = 0.0 * speed
    return air_side.engine_side(
        charge, exhaust, outlet, warm + 2e-3, warm + 1e-4, engine_speed, throttle, outside, par
    )


def leaking_pipes(charge: Any, drop: Any, outlet: Any, intake: Any, ambient: Any, par: Any) -> Any:
    """`charge_leaks` with the manifold a steady drop below the charge pipe."""
    return air_side.charge_leaks(charge, charge - drop * charge, outlet, intake, ambient, par)


_compressor_side, _compressor_ranges = over_parameters(
    air_side.compressor_side,
    {"speed": SHAFT, "charge": PRESSURE, "engine_speed": ENGINE, "ambient": AMBIENT, "outside": OUTSIDE},
)
# within what the components it calls do not clip; the clips are swept in laws of their own
_compressor_ranges |= {"FILTER_LOSS": (0.0, 5e4), "charge": (3.0e4, 4.0e5), "engine_speed": (80.0, 800.0),
                       "DISPLACEMENT": (5e-4, 3e-3)}  # fmt: skip
_engine_side, _engine_ranges = over_parameters(
    throttled_engine,
    {"speed": SHAFT, "charge": (1e5, 2e5), "exhaust": (6e4, 3.9e5), "engine_speed": ENGINE, "throttle": SHARE,
     "outside": OUTSIDE},
)  # fmt: skip
_engine_ranges |= {"REDLINE": (800.0, 1200.0), "BREATHING_BOW": (0.0, 1.0)}
_charge_leaks, _leak_ranges = over_parameters(
    leaking_pipes,
    {"charge": PRESSURE, "drop": (0.0, 0.1), "outlet": WARM, "intake": WARM, "ambient": AMBIENT},
    LEAK_AFTER_COOLER=0.0,
)
_openings, _opening_ranges = over_parameters(
    exhaust_side.gate_openings, {"travel": of("gate_travel"), "other_travel": of("gate_travel")}
)
# a flapper turns by less than half a turn: lever and travel as `layout` limits them one by one would turn further
_opening_ranges |= {"LEVER_ARM": (2.2e-2, 10.0)}
_exhaust_side, _exhaust_ranges = over_parameters(
    exhaust_side.exhaust_side,
    {"burnt": (0.005, 1.5), "hot": HOT, "exhaust": EXHAUST, "area": (0.0, 4e-3), "speed": SHAFT,
     "speed_fraction": (0.1, 1.3), "ambient": AMBIENT},
    DUMP_APART=0.0,
)  # fmt: skip
_line_flows, _line_ranges = over_parameters(
    signal_side.line_flows,
    {"supply": (1.6e5, 8.64e5), "start": PRESSURE, "lower": PRESSURE, "upper": PRESSURE, "ambient": AMBIENT,
     "temperature": OUTSIDE, "vent_share": SHARE},
)  # fmt: skip
_line_ranges |= {"OFFSET": (0.0, 1e5), "BALL_STICK": (0.0, 0.0)}  # what is left of the supply drives the ball
_arm_rates, _arm_ranges = over_parameters(
    signal_side.arm_rates,
    {"force": (-4e5, 8e5), "exhaust_difference": (-1e5, 1.2e6), "travel": of("gate_travel"),
     "other_travel": of("gate_travel")},
)  # fmt: skip
_commanded, _commanded_ranges = over_parameters(
    signal_side.commanded, {"error": (-4e5, 4e5), "integral": (-1.0, 1.0), "logged_duty": SHARE}
)
# the boost loop's slope over its integral part is told by that over the error, so it needs some gain
_commanded_ranges |= {"LOOP_GAIN": (1e-7, 1e-4)}

_REST_RANGES: dict[str, Range] = {
    "opening_force": (-4e5, 8e5), "exhaust_difference": (-1e5, 1.2e6), "opening_pressure": (-1.98e5, 8e5),
    "spring_rate": of("spring_rate"), "assistance": of("assistance"), "fade": of("assistance_fade"),
    "friction": of("friction"), "travel": of("gate_travel"), "limit": of("gate_travel"),
}  # fmt: skip

LAWS: dict[str, Law] = {
    "air_flow": Law(
        orifice.air_flow,
        {"area": (0.0, 1e-3), "pressure_from": PRESSURE, "pressure_to": PRESSURE, "temperature": WARM},
        rising=((0, "pressure_from"),), falling=((0, "pressure_to"),),
        slopes=((0, "pressure_from", lambda o, a: o[1]), (0, "pressure_to", lambda o, a: o[2])),
    ),
    "tube_flow": Law(
        orifice.tube_flow,
        {"area": (0.0, 1e-3), "pressure_from": PRESSURE, "pressure_to": PRESSURE, "temperature": WARM},
        rising=((0, "pressure_from"),), falling=((0, "pressure_to"),),
        slopes=((0, "pressure_from", lambda o, a: o[1]), (0, "pressure_to", lambda o, a: o[2])),
    ),
    "exhaust_flow_function": Law(
        orifice.exhaust_flow_function, {"ratio": (0.0, 1.0)},
        falling=((0, "ratio"),), slopes=((0, "ratio", lambda o, a: o[1]),),
    ),
    "series_area": Law(
        orifice.series_area, {"first": (0.0, 1e-3), "second": (0.0, 1e-3)},
        rising=((0, "first"), (0, "second")),
    ),
    "restricted_flow": Law(
        orifice.restricted_flow,
        {"area": (0.0, 1e-3), "pressure_from": PRESSURE, "pressure_to": PRESSURE, "temperature": WARM,
         "rubbing": SHARE},
        rising=((0, "pressure_from"),), falling=((0, "pressure_to"),),
        slopes=((0, "pressure_from", lambda o, a: o[1]), (0, "pressure_to", lambda o, a: o[2])),
    ),
    # nothing comes back through a ball; the line behind it stays above half the air around
    "through_ball": Law(
        controller.through_ball,
        {"area": of("line_area"), "supply": PRESSURE, "behind": (5.4e4, 8.64e5), "ambient": AMBIENT,
         "temperature": OUTSIDE, "offset": (0.0, 1.1e6), "fitted": (1.0, 1.0)},
        rising=((0, "supply"), (0, "area")), falling=((0, "behind"), (0, "offset")),
        slopes=((0, "supply", lambda o, a: o[1]), (0, "behind", lambda o, a: o[2])),
    ),
    "through_ball, leaking": Law(
        controller.through_ball,
        {"area": of("line_area"), "supply": (1.6e5, 8.64e5), "behind": PRESSURE, "ambient": AMBIENT,
         "temperature": OUTSIDE, "offset": (0.0, 1e5), "fitted": SHARE},
        rising=((0, "supply"),), falling=((0, "behind"), (0, "offset")),
        slopes=((0, "supply", lambda o, a: o[1]), (0, "behind", lambda o, a: o[2])),
    ),
    "valve_duty": Law(
        controller.valve_duty, {"duty": SHARE, "stuck": SHARE, "stuck_at": SHARE, "reversed_": (0.0, 0.5)},
        rising=((0, "duty"), (0, "stuck_at")),
    ),
    "supply_share": Law(
        controller.supply_share, {"vent_share": SHARE, "solenoid": SHARE, "interrupts": SHARE},
        falling=((0, "vent_share"), (0, "solenoid"), (0, "interrupts")),
    ),
    "node_balance": Law(
        pneumatics.node_balance,
        {"supply": (1.6e5, 8.64e5), "node": PRESSURE, "ambient": AMBIENT, "temperature": OUTSIDE, "area": of("line_area"),
         "offset": (0.0, 1e5), "ball": SHARE, "solenoid": SHARE, "interrupts": SHARE,
         "vent_share": SHARE, "vent_area": of("vent_area"), "bleed": of("bleed_area")},
        falling=((0, "node"),),
        slopes=((0, "supply", lambda o, a: o[1]), (0, "node", lambda o, a: o[2]),
                (0, "vent_share", lambda o, a: o[3])),
    ),
    "node_pressure": Law(
        pneumatics.node_pressure,
        {"start": PRESSURE, "net": (-0.01, 0.01), "net_slope": (-1e-6, -1e-10), "supply": PRESSURE, "lower": PRESSURE,
         "ambient": AMBIENT, "hose_area": (1e-6, 1e-4), "temperature": OUTSIDE},
        rising=((0, "net"),),
    ),
    # the two leaks together stand at one pressure, so each is tested without the other
    "lower_chamber_balance, line leaking": Law(
        lambda **a: pneumatics.lower_chamber_balance(**a, diaphragm_leak=0.0 * a["line_leak"]),
        {"node": PRESSURE, "lower": PRESSURE, "upper": PRESSURE, "ambient": AMBIENT, "temperature": OUTSIDE,
         "hose_area": of("hose_area"), "line_leak": of("line_leak")},
        values=(0, 1), rising=((0, "node"), (0, "ambient")), falling=((0, "lower"),),
        slopes=((0, "lower", lambda o, a: o[2]), (0, "node", lambda o, a: o[3])),
    ),
    "lower_chamber_balance": Law(
        pneumatics.lower_chamber_balance,
        {"node": PRESSURE, "lower": PRESSURE, "upper": PRESSURE, "ambient": AMBIENT, "temperature": OUTSIDE,
         "hose_area": of("hose_area"), "line_leak": (0.0, 0.0), "diaphragm_leak": (1e-9, 2e-5)},
        values=(0, 1), rising=((0, "node"), (1, "lower"), (0, "upper")), falling=((0, "lower"), (1, "upper")),
        slopes=((0, "lower", lambda o, a: o[2]), (0, "node", lambda o, a: o[3]), (1, "upper", lambda o, a: o[4])),
    ),
    "upper_chamber_balance": Law(
        pneumatics.upper_chamber_balance,
        {"supply": PRESSURE, "upper": PRESSURE, "ambient": AMBIENT, "temperature": OUTSIDE,
         "feed_area": of("upper_feed"), "feed_share": SHARE, "vent_area": of("upper_vent")},
        rising=((0, "supply"),), falling=((0, "upper"),),
        slopes=((0, "supply", lambda o, a: o[1]), (0, "upper", lambda o, a: o[2]),
                (0, "feed_share", lambda o, a: o[3])),
    ),
    "loop_duty": Law(
        boost_loop.loop_duty,
        {"error": (-4e5, 4e5), "integral": (-1.0, 1.0), "feed_forward": SHARE, "gain": of("loop_gain"),
         "spool_band": of("spool_band"), "limit": of("duty_limit"), "wind_up": SHARE},
        values=(0, 3), rising=((0, "error"), (0, "integral"), (0, "feed_forward"), (0, "limit"), (3, "wind_up")),
        slopes=((0, "error", lambda o, a: o[1]), (0, "integral", lambda o, a: o[2])),
    ),
    "rest_travel": Law(
        actuator.rest_travel, _REST_RANGES,
        rising=((0, "opening_force"), (0, "limit")), falling=((0, "opening_pressure"),),
        slopes=((0, "opening_force", lambda o, a: o[1]), (0, "exhaust_difference", lambda o, a: o[2])),
    ),
    "gate_lift": Law(
        wastegate.gate_lift, {"travel": of("gate_travel"), "ratio": of("lift_ratio"), "arm": (2.2e-2, 10.0)},
        rising=((0, "travel"), (0, "ratio"), (0, "arm")), slopes=((0, "travel", lambda o, a: o[1]),),
    ),
    "gate_area": Law(
        wastegate.gate_area,
        {"lift": (0.0, 0.09), "diameter": of("port_diameter"), "port_flow": of("gate_flow"),
         "seat_cosine": of("seat_cosine"), "seat_slope": of("seat_slope")},
        rising=((0, "lift"), (0, "diameter"), (0, "port_flow")), slopes=((0, "lift", lambda o, a: o[1]),),
    ),
    "behind_dump_pipe": Law(
        wastegate.behind_dump_pipe, {"area": (0.0, 6.4e-3), "dump_area": of("dump_area")},
        rising=((0, "area"), (0, "dump_area")), slopes=((0, "area", lambda o, a: o[1]),),
    ),
    "isentropic_head": Law(
        compressor.isentropic_head, {"pressure_ratio": (0.2, 8.0), "temperature_in": OUTSIDE},
        rising=((0, "pressure_ratio"),),
        slopes=((0, "pressure_ratio", lambda o, a: o[1] / a["pressure_ratio"]),), exact=1e-3,
    ),
    "choke_flow": Law(
        compressor.choke_flow,
        {"tip_speed": (3.0, 1800.0), "area": of("compressor_area"), "pressure_in": (3e4, 1.08e5),
         "temperature_in": OUTSIDE},
        rising=((0, "tip_speed"), (0, "area"), (0, "pressure_in")),
        slopes=((0, "tip_speed", lambda o, a: o[1] * o[0] / a["tip_speed"]),),
    ),
    "map_flow": Law(
        compressor.map_flow, {"head_coefficient": (-40.0, 70.0), "head_limit": of("compressor_head")},
        falling=((0, "head_coefficient"),),
    ),
    "map_flow on the map": Law(
        compressor.map_flow, {"head_coefficient": (0.0, 1.3), "head_limit": of("compressor_head")},
        falling=((0, "head_coefficient"),), rising=((0, "head_limit"),),
        slopes=((0, "head_coefficient", lambda o, a: o[1]),), within=lambda o: o[0] > -0.149,
    ),
    "work_coefficient": Law(
        compressor.work_coefficient,
        {"flow_fraction": (-0.2, 1.3), "work": of("compressor_work"), "work_slope": of("compressor_work_slope")},
        rising=((0, "work"),), falling=((0, "flow_fraction"),),
        slopes=((0, "flow_fraction", lambda o, a: o[1]),),
    ),
    "pass_through": Law(
        compressor.pass_through,
        {"area": of("compressor_area"), "pressure_in": (3e4, 1.08e5), "pressure_out": PRESSURE,
         "temperature_in": OUTSIDE},
        rising=((0, "pressure_in"), (0, "area")), falling=((0, "pressure_out"),),
        slopes=((0, "pressure_out", lambda o, a: o[1]),), step=1e-5,
    ),
    "turbine_flow_function": Law(
        turbine.turbine_flow_function, {"root": (0.53, 1.0)},
        falling=((0, "root"),),
        slopes=((0, "root", lambda o, a: o[1] * 4.0 * a["root"] ** 3),),
    ),
    "turbine_torque": Law(
        turbine.turbine_torque,
        {"flow": FLOW, "temperature_in": HOT, "expansion": (0.55, 1.05), "shaft_speed": SHAFT,
         "diameter": of("turbine_diameter"), "efficiency": (0.05, 1.5)},
        values=(0, 1), rising=((1, "temperature_in"),), falling=((0, "shaft_speed"), (1, "expansion")),
        slopes=((0, "flow", lambda o, a: o[2]), (0, "shaft_speed", lambda o, a: o[4]),
                (0, "expansion", lambda o, a: -o[3] * gas.EXHAUST_CP * a["temperature_in"] * (a["expansion"] < 1.0))),
    ),
    "volumetric_efficiency": Law(
        engine.volumetric_efficiency,
        {"speed_fraction": (0.1, 1.2), "level": of("breathing"), "tilt": of("breathing_tilt"),
         "bow": (0.0, 1.0), "pressure_ratio": (0.3, 4.0), "residual_effect": of("residual_effect")},
        rising=((0, "level"),), falling=((0, "pressure_ratio"), (0, "bow")),
        slopes=((0, "pressure_ratio", lambda o, a: -o[1] * o[0]),),
    ),
    "swallowing": Law(
        engine.swallowing,
        {"efficiency": (0.05, 1.6), "displacement": of("displacement"), "engine_speed": ENGINE, "temperature": WARM},
        rising=((0, "efficiency"), (0, "displacement"), (0, "engine_speed")), falling=((0, "temperature"),),
    ),
    "exhaust_temperature": Law(
        engine.exhaust_temperature,
        {"base": of("exhaust_temperature_base"), "rise": of("exhaust_temperature_rise"), "speed_fraction": (0.1, 4.0),
         "manifold": PRESSURE, "mixture": (0.24, 2.8), "wanted": of("mixture"), "retard": of("ignition_retard")},
        rising=((0, "manifold"), (0, "mixture"), (0, "retard"), (0, "speed_fraction")),
    ),
    "brake_torque": Law(
        engine.brake_torque,
        {"air": FLOW, "engine_speed": ENGINE, "mixture": (0.24, 2.8), "efficiency": of("indicated_efficiency"),
         "retard": of("ignition_retard"), "displacement": of("displacement"), "friction": of("friction_pressure"),
         "manifold": PRESSURE, "exhaust": EXHAUST},
        rising=((0, "air"), (0, "efficiency"), (0, "manifold")),
        falling=((0, "mixture"), (0, "friction"), (0, "exhaust"), (0, "engine_speed")),
    ),
    "inlet_pressure": Law(
        ducts.inlet_pressure, {"ambient": AMBIENT, "loss": of("filter_loss"), "flow": (0.0, 3.0)},
        rising=((0, "ambient"),), falling=((0, "loss"), (0, "flow")),
    ),
    "pressure_behind": Law(
        ducts.pressure_behind,
        {"pressure": PRESSURE, "per_pressure": (1e-9, 1e-5), "loss": (0.0, 1e10), "temperature": WARM},
        values=(0, 1), rising=((0, "pressure"), (1, "loss")), falling=((0, "per_pressure"), (0, "loss")),
        slopes=((0, "pressure", lambda o, a: o[0] / a["pressure"]),
                (0, "per_pressure", lambda o, a: -o[1] * o[0] / a["per_pressure"]),
                (0, "temperature", lambda o, a: -0.5 * o[1] * o[0] / a["temperature"])),
    ),
    "throttle_loss": Law(ducts.throttle_loss, {"opening": SHARE}, falling=((0, "opening"),)),
    "exhaust_pressure": Law(
        ducts.exhaust_pressure,
        {"flow": (1e-3, 1.5), "temperature": HOT, "loss": of("exhaust_loss"), "ambient": AMBIENT},
        rising=((0, "flow"), (0, "temperature"), (0, "loss"), (0, "ambient")),
        slopes=((0, "flow", lambda o, a: o[1] / a["flow"]),
                (0, "temperature", lambda o, a: 0.5 * o[1] / a["temperature"])),
    ),
    "leaking_valve_area": Law(
        ducts.leaking_valve_area,
        {"area": of("bypass_leak"), "lift_pressure": of("bypass_lift"), "pressure": PRESSURE, "ambient": AMBIENT},
        rising=((0, "area"), (0, "pressure")), falling=((0, "lift_pressure"), (0, "ambient")),
    ),
    "mixture_in_cylinder": Law(
        fuel.mixture_in_cylinder,
        {"wanted": of("mixture"), "swallowed": (1e-3, 1.5), "metered": (-0.3, 1.5), "pressure": PRESSURE,
         "pressure_shown": (-2e5, 1e6), "by_air_meter": SHARE, "by_pressure": SHARE},
        rising=((0, "wanted"), (0, "swallowed"), (0, "pressure")),
        falling=((0, "metered"), (0, "pressure_shown")),
    ),
    "shown_pressure": Law(
        sensors.shown_pressure,
        {"pressure": PRESSURE, "gain": of("boost_gain"), "offset": of("boost_offset"),
         "full_scale": of("boost_full_scale")},
        rising=((0, "pressure"), (0, "gain"), (0, "offset"), (0, "full_scale")),
    ),
    "isentropic_ratio_air": Law(gas.isentropic_ratio_air, {"root": (0.66, 1.7)}, rising=((0, "root"),)),
    "isentropic_ratio_exhaust": Law(gas.isentropic_ratio_exhaust, {"root": (0.53, 1.0)}, rising=((0, "root"),)),
    "exhaust_per_air": Law(gas.exhaust_per_air, {"mixture": (0.24, 2.8)}, falling=((0, "mixture"),)),
    "compressor_side": Law(
        _compressor_side, _compressor_ranges | {"charge": (1.09e5, 4.0e5)}, values=(0, 2, 3, 4),
        rising=((4, "charge"),), exact=1e-3,
        slopes=((lambda o: o[0] + o[1], "speed", lambda o, a: o[5]), (lambda o: o[0] + o[1], "charge", lambda o, a: o[6]),
                (2, "speed", lambda o, a: o[7]), (2, "charge", lambda o, a: o[8]),
                (3, "speed", lambda o, a: o[9]), (3, "charge", lambda o, a: o[10])),
        within=lambda o: o[4] < 0.99,
    ),
    "compressor_side, drawn through": Law(
        _compressor_side, _compressor_ranges | {"charge": (1.8e4, 2.9e4)}, values=(0, 1, 2, 3, 4),
        slopes=((lambda o: o[0] + o[1], "speed", lambda o, a: o[5]),
                (lambda o: o[0] + o[1], "charge", lambda o, a: o[6])), exact=1e-3,
    ),
    "compressor_side, no filter": Law(
        lambda **a: _compressor_side(**a, FILTER_LOSS=0.0),
        {name: bounds for name, bounds in _compressor_ranges.items() if name != "FILTER_LOSS"},
        falling=((0, "charge"), (1, "charge")), rising=((0, "COMPRESSOR_HEAD"), (3, "COMPRESSOR_WORK")),
    ),
    "engine_side": Law(
        _engine_side, _engine_ranges, values=(0, 3, 7),
        rising=((7, "charge"), (3, "exhaust"), (7, "throttle"), (3, "throttle")),
        falling=((7, "exhaust"), (7, "COOLER_LOSS")),
        slopes=((0, "speed", lambda o, a: o[1] * o[0]), (0, "charge", lambda o, a: o[2] * o[0]),
                (3, "speed", lambda o, a: o[4] * o[3]), (3, "charge", lambda o, a: o[5] * o[3]),
                (3, "exhaust", lambda o, a: o[6] * o[3]), (7, "speed", lambda o, a: o[8] * o[7]),
                (7, "charge", lambda o, a: o[9] * o[7]), (7, "exhaust", lambda o, a: o[10] * o[7])),
    ),
    "charge_leaks": Law(
        _charge_leaks, _leak_ranges, values=(0, 1), rising=((0, "charge"),),
    ),
    "charge_leaks, valve tight": Law(
        lambda **a: _charge_leaks(**a, BYPASS_LEAK=0.0),
        {name: bounds for name, bounds in _leak_ranges.items() if name != "BYPASS_LEAK"},
        values=(0, 1), rising=((0, "charge"),), slopes=((0, "charge", lambda o, a: o[2]),),
    ),
    "gate_openings": Law(
        _openings, _opening_ranges, rising=((0, "travel"), (0, "other_travel"), (0, "DUMP_AREA")),
        slopes=((0, "travel", lambda o, a: o[1]), (0, "other_travel", lambda o, a: o[2])),
    ),
    "exhaust_side": Law(
        _exhaust_side, _exhaust_ranges, values=(0, 1, 2, 3),
        rising=((0, "burnt"), (0, "EXHAUST_LOSS"), (1, "area"), (1, "exhaust"), (2, "burnt")),
        falling=((1, "burnt"), (2, "exhaust"), (2, "area"), (3, "speed"), (2, "TURBINE_AREA")),
        exact=1e-2,  # powers of a ratio of 0.07 are right to that
        slopes=((2, "burnt", lambda o, a: o[4] / a["burnt"]), (2, "hot", lambda o, a: o[5] / a["hot"]),
                (2, "exhaust", lambda o, a: o[6]), (2, "area", lambda o, a: o[7]),
                (3, "burnt", lambda o, a: o[8] / a["burnt"]), (3, "hot", lambda o, a: o[9] / a["hot"]),
                (3, "exhaust", lambda o, a: o[10]), (3, "speed", lambda o, a: o[11])),
    ),
    # Newton's step to the node jumps where a ball shuts; its slopes hold at rest: tests/unit/physics/test_jacobian.py
    "line_flows": Law(
        _line_flows, _line_ranges, values=(2,), rising=((2, "supply"), (2, "lower")), falling=((2, "upper"),),
        slopes=((2, "supply", lambda o, a: o[6]), (2, "upper", lambda o, a: o[7]), (2, "vent_share", lambda o, a: o[8])),
    ),
    "arm_rates": Law(
        _arm_rates, _arm_ranges, values=(0, 1), rising=((0, "force"), (1, "force")),
        slopes=((0, "force", lambda o, a: o[2]), (0, "exhaust_difference", lambda o, a: o[3]),
                (1, "force", lambda o, a: o[6]), (1, "exhaust_difference", lambda o, a: o[7])),
    ),
    "commanded": Law(
        _commanded, _commanded_ranges, values=(0, 1, 4), rising=((0, "error"), (0, "logged_duty")),
        slopes=((1, "error", lambda o, a: o[2]), (1, "integral", lambda o, a: o[3])), step=1e-5,
    ),
}  # fmt: skip

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
