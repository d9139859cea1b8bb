"""Filter, compressor, cooler, throttle and engine in a row, with slopes over what they depend on."""

from __future__ import annotations

from boostproof.physics import rows
from boostproof.physics.compressor import (
    WINDMILL,
    choke_flow,
    isentropic_head,
    map_flow,
    pass_through,
    work_coefficient,
)
from boostproof.physics.ducts import inlet_pressure, leaking_valve_area, pressure_behind, throttle_loss
from boostproof.physics.engine import swallowing, volumetric_efficiency
from boostproof.physics.gas import AIR_CP, AIR_GAS_CONSTANT
from boostproof.physics.ops import absolute, component, sign
from boostproof.physics.orifice import air_flow

_GUESS_TEMPERATURE = 320.0  # K, for the flow that makes the filter's loss


@component
def compressor_side(speed, charge, engine_speed, ambient, outside, par):
    """Compressor between the air around and the charge pipe.

    Parameters
    ----------
    speed : shaft [rad/s], charge : pressure after the compressor [Pa abs], engine_speed [rad/s]
    ambient, outside : pressure [Pa abs] and temperature [K] of the air around

    Returns
    -------
    flow, flow drawn through a slow wheel [kg/s], torque taken [N m], outlet temperature [K], head over
    that of the surge side [1]; slopes over speed and over charge pressure of flow (both together), torque,
    outlet temperature
    """
    guess = swallowing(par[rows.BREATHING], par[rows.DISPLACEMENT], engine_speed, _GUESS_TEMPERATURE) * charge
    inlet = inlet_pressure(ambient, par[rows.FILTER_LOSS], guess)
    inlet_fall = 2.0 * (ambient - inlet) / charge  # Pa/Pa, by which the inlet falls as the engine draws more
    radius = 0.5 * par[rows.COMPRESSOR_DIAMETER]
    tip = radius * speed
    tip2 = tip * tip
    slow = tip2 + WINDMILL
    head, head_over_log = isentropic_head(charge / inlet, outside)
    psi = head / slow
    choked, choke_slope = choke_flow(tip, par[rows.COMPRESSOR_AREA], inlet, outside)
    fraction, fraction_slope = map_flow(psi, par[rows.COMPRESSOR_HEAD])
    flow = choked * fraction
    work, work_slope = work_coefficient(fraction, par[rows.COMPRESSOR_WORK], par[rows.COMPRESSOR_WORK_SLOPE])
    through, through_slope = pass_through(par[rows.COMPRESSOR_AREA], inlet, charge, outside)
    lever = radius * radius * speed
    torque = absolute(flow) * work * lever
    outlet = outside + work * tip2 * (1.0 / AIR_CP)

    psi_speed = -2.0 * psi * tip * radius / slow
    psi_charge = head_over_log * (1.0 / charge + inlet_fall / inlet) / slow
    fraction_speed, fraction_charge = fraction_slope * psi_speed, fraction_slope * psi_charge
    flow_speed = choked * fraction_speed + flow * choke_slope / speed
    flow_charge = choked * fraction_charge - flow * inlet_fall / inlet
    side = sign(flow)
    torque_speed = torque / speed + lever * side * (
        work * flow_speed + flow * work_slope * fraction_speed
    )
    torque_charge = lever * side * (work * flow_charge + flow * work_slope * fraction_charge)
    outlet_speed = (2.0 * tip * radius * work + tip2 * work_slope * fraction_speed) * (1.0 / AIR_CP)
    outlet_charge = tip2 * work_slope * fraction_charge * (1.0 / AIR_CP)
    slopes = (
        flow_speed,
        flow_charge + through_slope * (1.0 + inlet_fall),
        torque_speed,
        torque_charge,
        outlet_speed,
        outlet_charge,
    )
    return flow, through, torque, outlet, psi / par[rows.COMPRESSOR_HEAD], slopes


@component
def engine_side(charge, exhaust, outlet, outlet_speed, outlet_charge, engine_speed, throttle, outside, par):
    """Cooler, throttle and cylinders.

    Parameters
    ----------
    charge, exhaust : pressures after the compressor and before the turbine [Pa abs]
    outlet : temperature after the compressor [K], and its slopes over shaft speed and charge pressure
    engine_speed [rad/s], throttle : opening [1], outside : temperature of the air around [K]

    Returns
    -------
    charge temperature at the manifold [K], its relative slopes over shaft speed and charge pressure;
    manifold pressure [Pa abs], its relative slopes over speed, charge and exhaust; air that the engine
    swallows [kg/s], its relative slopes likewise
    """
    cool = outside + par[rows.COOLER_SOAK]
    passing = 1.0 - par[rows.COOLER_EFFECTIVENESS]
    intake = cool + passing * (outlet - cool)
    warm_speed, warm_charge = passing * outlet_speed / intake, passing * outlet_charge / intake
    efficiency, residual = volumetric_efficiency(
        engine_speed / par[rows.REDLINE],
        par[rows.BREATHING],
        par[rows.BREATHING_TILT],
        par[rows.BREATHING_BOW],
        exhaust / charge,
        par[rows.RESIDUAL_EFFECT],
    )
    per_pressure = swallowing(efficiency, par[rows.DISPLACEMENT], engine_speed, intake)
    manifold, lost = pressure_behind(charge, per_pressure, par[rows.COOLER_LOSS] + throttle_loss(throttle), intake)
    breath_charge = residual * exhaust / (charge * charge)
    breath_exhaust = -1.0 * residual / charge
    manifold_slopes = (
        0.5 * lost * warm_speed,
        1.0 / charge - lost * (breath_charge - 0.5 * warm_charge),
        -1.0 * lost * breath_exhaust,
    )
    flow_slopes = (
        manifold_slopes[0] - warm_speed,
        manifold_slopes[1] + breath_charge - warm_charge,
        manifold_slopes[2] + breath_exhaust,
    )
    return intake, warm_speed, warm_charge, manifold, manifold_slopes, per_pressure * manifold, flow_slopes


@component
def charge_leaks(charge, manifold, outlet, intake, ambient, par):
    """What charge pipes and recirculation valve lose. [kg/s] lost, [kg/s] of it back to the inlet, slope

    Pressures [Pa abs], temperatures [K]; the slope is over the charge pressure [kg/(s Pa)]. Both leak from
    one place, before or behind the cooler.
    """
    place = par[rows.LEAK_AFTER_COOLER]
    inside = charge + place * (manifold - charge)
    warm = outlet + place * (intake - outlet)
    valve = leaking_valve_area(par[rows.BYPASS_LEAK], par[rows.BYPASS_LIFT], charge, ambient)
    per_area, slope, _ = air_flow(1.0 + 0.0 * valve, inside, ambient, warm)
    area = par[rows.CHARGE_LEAK] + valve
    return area * per_area, par[rows.BYPASS_RECIRCULATES] * valve * per_area, area * slope


@component
def charge_rate(flow, intake, par):
    """Rate of the charge pressure for a net flow, ``R T m / V``. [Pa/s]"""
    return AIR_GAS_CONSTANT * intake / par[rows.CHARGE_VOLUME] * flow
