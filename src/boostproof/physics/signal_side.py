"""Boost loop, signal line, actuator chambers and arms, with slopes over what they depend on."""

from __future__ import annotations

from boostproof.physics import rows
from boostproof.physics.actuator import rest_travel
from boostproof.physics.boost_loop import loop_duty
from boostproof.physics.controller import valve_duty
from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.ops import clip, component, maximum, minimum
from boostproof.physics.pneumatics import (
    lower_chamber_balance,
    node_balance,
    node_pressure,
    upper_chamber_balance,
)

NODE_TIME = 0.001  # s; as a differential equation the node's memory follows it with this lag
_SPRINGLESS = 0.9  # share of the spring's rate that a loose gate lacks; its own drag keeps the rest
TRAVEL_TIME = 0.012  # s, inertia of arm and diaphragm as a first-order lag


@component
def commanded(error, integral, logged_duty, par):
    """Duty commanded and vent share of the valve.

    ``error`` target minus boost as the control unit knows it [Pa]. Returns duty, vent share, slopes of
    the vent share over error [1/Pa] and integral part, share of the integral rate in force.
    """
    closed = par[rows.CLOSED_LOOP]
    found, slope, inside, following = loop_duty(
        error,
        integral,
        par[rows.FEED_FORWARD],
        par[rows.LOOP_GAIN],
        par[rows.SPOOL_BAND],
        par[rows.DUTY_LIMIT],
        par[rows.WIND_UP],
    )
    duty = closed * found + (1.0 - closed) * logged_duty
    share = valve_duty(duty, par[rows.DUTY_STUCK], par[rows.DUTY_STUCK_AT], par[rows.DUTY_REVERSED])
    acting = closed * (1.0 - par[rows.DUTY_STUCK]) * (1.0 - 2.0 * par[rows.DUTY_REVERSED])
    return duty, share, acting * slope, acting * inside, following


@component
def line_flows(supply, start, lower, upper, ambient, temperature, vent_share, par):
    """Node pressure, and net flows into the lower and the upper chamber of the actuator.

    Pressures absolute [Pa], ``start`` the node's a moment ago; temperature of the air in the line [K];
    vent share of the solenoid [1].

    Returns
    -------
    node pressure [Pa]; two net flows [kg/s]; slopes of the lower chamber's over supply and lower pressure
    [kg/(s Pa)] and vent share [kg/s]; of the upper chamber's over supply, upper pressure and vent share;
    of the node over supply and lower pressure and vent share
    """
    solenoid, hose = par[rows.SOLENOID], par[rows.HOSE_AREA]
    into, into_supply, into_node, into_share = node_balance(
        supply,
        start,
        ambient,
        temperature,
        par[rows.LINE_AREA],
        par[rows.OFFSET] + par[rows.BALL_STICK],
        par[rows.CHECK],
        solenoid,
        par[rows.INTERRUPTS],
        vent_share,
        par[rows.VENT_AREA],
        par[rows.BLEED_AREA],
    )
    node, over_flow, node_lower = node_pressure(start, into, into_node, supply, lower, ambient, hose, temperature)
    net, through, over_lower, over_node, through_upper = lower_chamber_balance(
        node, lower, upper, ambient, temperature, hose, par[rows.LINE_LEAK], par[rows.DIAPHRAGM_LEAK]
    )
    fed = clip(par[rows.UPPER_FEED] * 1e9, 0.0, 1.0) * solenoid
    above, above_supply, above_upper, above_share = upper_chamber_balance(
        supply, upper, ambient, temperature, par[rows.UPPER_FEED], fed * vent_share, par[rows.UPPER_VENT]
    )
    by_flow = over_node * over_flow
    lower_slopes = (by_flow * into_supply, over_lower + over_node * node_lower, by_flow * into_share)
    upper_slopes = (above_supply, above_upper + through_upper, fed * above_share)
    node_slopes = (over_flow * into_supply, node_lower, over_flow * into_share)
    return node, net, above + through, lower_slopes, upper_slopes, node_slopes


@component
def chamber_rates(net, above, lower, upper, travel, d_travel, temperature, par):
    """Rates of the chamber pressures: isothermal filling, and the volume that the diaphragm sweeps.

    ``net``, ``above`` : net flows into lower and upper chamber [kg/s]. Returns two rates [Pa/s], the
    factors on the flows [Pa/kg], and what a unit of travel rate adds in the lower (negative) and upper
    chamber [Pa/m]. The hose's air is the lower chamber's.
    """
    warm = AIR_GAS_CONSTANT * temperature
    swept = par[rows.DIAPHRAGM_AREA] * (1.0 - 2.0 * par[rows.PORTS_SWAPPED])
    lower_part = 1.0 / maximum(par[rows.CHAMBER_VOLUME] + par[rows.LINE_VOLUME] + swept * travel, 3e-6)
    upper_part = 1.0 / maximum(par[rows.UPPER_VOLUME] - swept * travel, 3e-6)
    by_lower, by_upper = warm * lower_part, warm * upper_part
    stretch, squeeze = -1.0 * lower * swept * lower_part, upper * swept * upper_part
    rates = (by_lower * net + stretch * d_travel, by_upper * above + squeeze * d_travel)
    return rates, (by_lower, by_upper), (stretch, squeeze)


@component
def arm_rates(force, exhaust_difference, travel, other_travel, heat, par):
    """Rates of both arms and their slopes.

    ``force`` lower minus upper chamber pressure, turned round where the ports are swapped [Pa]; ``heat`` of
    gate and housing [1]. With the rod off neither chambers nor spring reach the first gate.
    Returns two rates [m/s]; for each arm the slopes over force, exhaust difference [m/(s Pa)] and own
    travel [1/s]; for the first, which the chambers feel, also that over force when it slides.
    """
    most = par[rows.GATE_TRAVEL]
    held = 1.0 - par[rows.ROD_OFF]
    rest, by_force, by_push, by_travel, yielding = rest_travel(
        held * force,
        exhaust_difference,
        held * par[rows.OPENING_PRESSURE],
        par[rows.SPRING_RATE] * (1.0 - _SPRINGLESS * par[rows.ROD_OFF]),
        par[rows.ASSISTANCE],
        par[rows.ASSISTANCE_FADE],
        par[rows.FRICTION] + heat * par[rows.HEAT_BINDING],
        travel,
        minimum(most, par[rows.FREE_TRAVEL]),
    )
    other_rest, other_force, other_push, other_own, _ = rest_travel(
        force,
        exhaust_difference,
        par[rows.OPENING_PRESSURE] + par[rows.OTHER_OPENING],
        par[rows.SPRING_RATE],
        par[rows.ASSISTANCE],
        par[rows.ASSISTANCE_FADE],
        par[rows.OTHER_FRICTION],
        other_travel,
        minimum(most, par[rows.OTHER_TRAVEL]),
    )
    per = 1.0 / TRAVEL_TIME
    one = (per * held * by_force, per * by_push, per * (by_travel - 1.0), per * held * yielding)
    two = (per * other_force, per * other_push, per * (other_own - 1.0))
    return per * (rest - travel), per * (other_rest - other_travel), one, two
