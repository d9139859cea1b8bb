"""Exhaust manifold, turbine, gates and exhaust system, with slopes over what they depend on."""

from __future__ import annotations

from boostproof.physics import rows
from boostproof.physics.ducts import exhaust_pressure
from boostproof.physics.gas import EXHAUST_CP, EXHAUST_GAS_CONSTANT, fourth_root, isentropic_ratio_exhaust
from boostproof.physics.ops import clip, component, maximum, minimum, sqrt
from boostproof.physics.orifice import exhaust_flow_function
from boostproof.physics.turbine import turbine_flow_function, turbine_torque
from boostproof.physics.wastegate import behind_dump_pipe, gate_area, gate_lift

_EXPANSION = 0.22756  # (gamma - 1) / gamma of exhaust
_COOLED = 0.88  # temperature after the turbine over that before it, at usual expansion
_NO_DROP = 0.9999  # p4/p3 from which nothing flows


@component
def gate_openings(travel, other_travel, par):
    """Effective area of all gates together, and its slopes over both travels. [m2], [m], [m]"""
    lift, lift_slope = gate_lift(travel, par[rows.LIFT_RATIO], par[rows.LEVER_ARM])
    other_lift, other_slope = gate_lift(other_travel, par[rows.LIFT_RATIO], par[rows.LEVER_ARM])
    diameter, cosine, seat = par[rows.PORT_DIAMETER], par[rows.SEAT_COSINE], par[rows.SEAT_SLOPE]
    one, one_slope = gate_area(lift, diameter, par[rows.GATE_FLOW], cosine, seat)
    other, other_area_slope = gate_area(other_lift, diameter, par[rows.OTHER_FLOW], cosine, seat)
    one, one_share = behind_dump_pipe(one + par[rows.GATE_LEAK], par[rows.DUMP_AREA])
    other, other_share = behind_dump_pipe(other, par[rows.DUMP_AREA])
    others = par[rows.OTHER_GATES]
    alike = par[rows.GATE_COUNT] - others
    return (
        alike * one + others * other,
        alike * one_slope * one_share * lift_slope,
        others * other_area_slope * other_share * other_slope,
    )


@component
def exhaust_side(burnt, hot, exhaust, area, speed, speed_fraction, ambient, par):
    """Turbine and gates between exhaust manifold and exhaust system.

    Parameters
    ----------
    burnt : exhaust that the engine delivers [kg/s], hot : its temperature [K]
    exhaust : pressure before the turbine [Pa abs], area : of the gates, effective [m2]
    speed : shaft [rad/s], speed_fraction : engine speed over redline [1], ambient [Pa abs]

    Returns
    -------
    pressure after the turbine [Pa abs]; flow through the gates [kg/s]; net flow into the manifold [kg/s];
    torque on the shaft [N m]; slopes of the net flow over ln burnt, ln hot, exhaust pressure and area; of
    the torque over ln burnt, ln hot, exhaust pressure and shaft speed
    """
    per_area = exhaust / sqrt(EXHAUST_GAS_CONSTANT * hot)
    apart = par[rows.DUMP_APART]
    # the gas of a dump pipe of its own does not load the exhaust system
    alone, _ = exhaust_flow_function(minimum(ambient / exhaust, _NO_DROP))
    left = maximum(burnt - apart * area * per_area * alone, 0.2 * burnt)
    after, after_log = exhaust_pressure(left, _COOLED * hot, par[rows.EXHAUST_LOSS], ambient)
    drop = after / exhaust
    ratio = minimum(drop, _NO_DROP)
    flowing = clip((_NO_DROP - drop) * 1e9, 0.0, 1.0)
    behind = minimum(apart * (ambient / exhaust) + (1.0 - apart) * ratio, _NO_DROP)
    root = fourth_root(ratio)
    turbine_part, turbine_slope = turbine_flow_function(root)
    gate_part, gate_slope = exhaust_flow_function(behind)
    open_area = area + par[rows.EXHAUST_LEAK]
    turbine = par[rows.TURBINE_AREA] * per_area * turbine_part
    gates = open_area * per_area * gate_part
    efficiency = par[rows.TURBINE_EFFICIENCY] * (1.0 + par[rows.PULSE_GAIN] * (1.0 - speed_fraction))
    expansion = isentropic_ratio_exhaust(root)
    torque, work, torque_flow, torque_work, torque_speed = turbine_torque(
        turbine, hot, expansion, speed, par[rows.TURBINE_DIAMETER], efficiency
    )

    # ratio = after/exhaust: over ln burnt, ln hot, exhaust pressure
    ratio_burnt = flowing * after_log / exhaust
    ratio_hot = 0.5 * ratio_burnt
    ratio_exhaust = -1.0 * flowing * ratio / exhaust
    turbine_ratio = par[rows.TURBINE_AREA] * per_area * turbine_slope
    gates_ratio = open_area * per_area * gate_slope
    both_ratio = turbine_ratio + (1.0 - apart) * gates_ratio
    both = turbine + gates
    net = burnt - both
    behind_exhaust = (1.0 - apart) * ratio_exhaust - apart * ambient / (exhaust * exhaust)
    net_slopes = (
        burnt - both_ratio * ratio_burnt,
        0.5 * both - both_ratio * ratio_hot,
        -1.0 * both / exhaust - turbine_ratio * ratio_exhaust - gates_ratio * behind_exhaust,
        -1.0 * per_area * gate_part,
    )
    work_ratio = -1.0 * EXHAUST_CP * hot * _EXPANSION * expansion / ratio
    torque_ratio = torque_flow * turbine_ratio + torque_work * work_ratio
    torque_slopes = (
        torque_ratio * ratio_burnt,
        torque_flow * (-0.5 * turbine) + torque_work * work + torque_ratio * ratio_hot,
        torque_flow * turbine / exhaust + torque_ratio * ratio_exhaust,
        torque_speed,
    )
    return after, gates, net, torque, net_slopes, torque_slopes
