"""The law of every component: its ranges, what rises and falls, and which outputs are slopes."""

from __future__ import annotations

from typing import Any

from tests.unit.physics.laws import (
    AMBIENT,
    ENGINE,
    EXHAUST,
    FLOW,
    HOT,
    OUTSIDE,
    PRESSURE,
    SHAFT,
    SHARE,
    WARM,
    Law,
    Range,
    of,
    over_parameters,
)

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
    orifice,
    pneumatics,
    sensors,
    signal_side,
    turbine,
    wastegate,
)


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
     "other_travel": of("gate_travel"), "heat": SHARE},
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
