"""The car as one transient system: shaft, charge side, exhaust side, signal and gates.

Ten states per candidate. One step is a linearly implicit W-method of second order (Rosenbrock form with
gamma = 1/(2 + sqrt 2), whose order does not depend on the Jacobian used). The Jacobian is that of the
equations but for entries that do not matter; with it the error at 10 ms is a sixth of that with slopes
of the components alone.
"""

from __future__ import annotations

from boostproof.physics import rows
from boostproof.physics.air_side import charge_leaks, charge_rate, compressor_side, engine_side
from boostproof.physics.elimination import solve
from boostproof.physics.engine import brake_torque, exhaust_temperature
from boostproof.physics.exhaust_side import exhaust_side, gate_openings
from boostproof.physics.fuel import mixture_in_cylinder
from boostproof.physics.gas import EXHAUST_GAS_CONSTANT, exhaust_per_air
from boostproof.physics.ops import clip, component
from boostproof.physics.sensors import shown_pressure
from boostproof.physics.signal_side import NODE_TIME, arm_rates, chamber_rates, commanded, line_flows

STATES = (
    "shaft_speed",  # [rad/s]
    "charge_pressure",  # after the compressor [Pa abs]
    "exhaust_pressure",  # before the turbine [Pa abs]
    "node_pressure",  # behind the controller, as remembered [Pa abs]
    "lower_pressure",  # chamber that opens the gate [Pa abs]
    "upper_pressure",  # chamber on the spring side [Pa abs]
    "travel",  # of the arm at the rod [m]
    "other_travel",  # of a second gate that differs from the first [m]
    "integral",  # part of the boost loop [1]
    "sensed_pressure",  # what the manifold sensor shows [Pa abs]
)
INPUTS = (
    "engine_speed", "throttle", "target", "logged_duty", "ambient_pressure", "ambient_temperature",
    "gate_heat",  # how hot gate and housing are, 0 cold to 1 soaked by long full load [1]
)  # fmt: skip
OUTPUTS = (
    "boost_measured",  # gauge, as the car's own sensor shows it [Pa]
    "boost",  # gauge at the manifold [Pa]
    "compressor_outlet_pressure",  # abs [Pa]
    "turbine_inlet_pressure",  # abs [Pa]
    "turbine_outlet_pressure",  # abs [Pa]
    "line_pressure",  # actuator chamber that the line feeds, gauge [Pa]
    "travel",  # arm at the rod [m]
    "duty",  # commanded [1]
    "air_flow",  # at the air meter [kg/s]
    "intake_temperature",  # charge at the manifold [K]
    "exhaust_temperature",  # before the turbine [K]
    "shaft_speed",  # [rad/s]
    "engine_flow",  # air that the engine swallows [kg/s]
    "mixture",  # lambda in the cylinders [1]
    "torque",  # at the crank [N m]
    "gate_flow",  # exhaust past the turbine [kg/s]
    "compressor_outlet_temperature",  # [K]
    "surge_share",  # head over that of the surge side [1]
    "upper_pressure",  # other actuator chamber, gauge [Pa]
)
N_STATE, N_INPUT, N_OUTPUT = len(STATES), len(INPUTS), len(OUTPUTS)
OUTPUT_INDEX = {name: i for i, name in enumerate(OUTPUTS)}

_GAMMA = 0.29289322  # 1 / (2 + sqrt 2)
_FASTEST = 4.0e4  # rad/s; no rotor of this kind reaches it


@component
def initial(par, inp):
    """State at rest: shaft turning slowly, all pressures those around, gates shut."""
    zero = 0.0 * par[rows.REDLINE]
    ambient = inp[4] + zero
    sensed = shown_pressure(ambient, par[rows.BOOST_GAIN], par[rows.BOOST_OFFSET], par[rows.BOOST_FULL_SCALE])
    return (
        zero + 1500.0, ambient, ambient + 1000.0, ambient, ambient, ambient, zero, zero, zero, sensed
    )  # fmt: skip


@component
def rates(state, par, inp):
    """Time derivatives, Jacobian and outputs of one moment.

    Parameters
    ----------
    state, par, inp : tuples in the order of STATES, layout.PARAMETERS and INPUTS

    Returns
    -------
    derivatives (10), Jacobian entries as `elimination.solve` takes them, outputs in the order of OUTPUTS
    """
    speed, charge, exhaust, before, lower, upper, travel, other_travel, integral, sensed = state
    engine_speed, throttle, target, logged_duty, ambient, outside, heat = inp
    n = engine_speed / par[rows.REDLINE]

    flow, through, taken, outlet, surge_share, compressor = compressor_side(
        speed, charge, engine_speed, ambient, outside, par
    )
    flow_speed, flow_charge, taken_speed, taken_charge, outlet_speed, outlet_charge = compressor
    intake, warm_speed, warm_charge, manifold, manifold_over, engine_flow, engine_over = engine_side(
        charge, exhaust, outlet, outlet_speed, outlet_charge, engine_speed, throttle, outside, par
    )
    lost, returned, lost_charge = charge_leaks(charge, manifold, outlet, intake, ambient, par)
    d_charge = charge_rate(flow + through - engine_flow - lost, intake, par)

    shown = shown_pressure(manifold, par[rows.BOOST_GAIN], par[rows.BOOST_OFFSET], par[rows.BOOST_FULL_SCALE])
    metered = flow + through - returned
    mixture = mixture_in_cylinder(
        par[rows.MIXTURE], engine_flow, metered, manifold, sensed, par[rows.AIR_METERED], par[rows.PRESSURE_METERED]
    )
    hot = exhaust_temperature(
        par[rows.EXHAUST_TEMPERATURE_BASE],
        par[rows.EXHAUST_TEMPERATURE_RISE],
        n,
        manifold,
        mixture,
        par[rows.MIXTURE],
        par[rows.IGNITION_RETARD],
    )
    burnt = engine_flow * exhaust_per_air(mixture)
    area, area_travel, area_other = gate_openings(travel, other_travel, par)
    after, gates, net_exhaust, drive, net_over, drive_over = exhaust_side(
        burnt, hot, exhaust, area, speed, n, ambient, par
    )
    exhaust_factor = EXHAUST_GAS_CONSTANT * hot / par[rows.EXHAUST_VOLUME]
    d_exhaust = exhaust_factor * net_exhaust
    d_speed = (drive - taken - par[rows.SHAFT_DRAG] * speed) / par[rows.SHAFT_INERTIA]

    error = target + par[rows.TARGET_SHIFT] - (sensed - ambient)
    duty, vent_share, share_error, share_integral, following = commanded(error, integral, logged_duty, par)
    rate = par[rows.LOOP_INTEGRAL] * following * par[rows.CLOSED_LOOP]
    supply = charge + par[rows.TAKE_OFF] * (manifold - charge)
    node, net_lower, net_upper, lower_over, upper_over, node_over = line_flows(
        supply, before, lower, upper, ambient, outside, vent_share, par
    )
    facing = 1.0 - 2.0 * par[rows.PORTS_SWAPPED]
    d_travel, d_other, arm, other = arm_rates(
        facing * (lower - upper), exhaust - after, travel, other_travel, heat, par
    )
    chambers, by, swept = chamber_rates(net_lower, net_upper, lower, upper, travel, d_travel, outside, par)
    lag = 1.0 / par[rows.BOOST_LAG]
    derivatives = (
        d_speed, d_charge, d_exhaust, (node - before) * (1.0 / NODE_TIME), chambers[0], chambers[1], d_travel,
        d_other, rate * error, lag * (shown - sensed),
    )  # fmt: skip

    # the three coupled rows; hot follows the manifold, burnt the engine's flow
    hotter = par[rows.EXHAUST_TEMPERATURE_RISE] * n * manifold * 1e-5 / hot
    per_inertia = 1.0 / par[rows.SHAFT_INERTIA]
    charge_factor = charge_rate(1.0, intake, par)
    exhaust_speed, exhaust_charge, exhaust_exhaust = (
        exhaust_factor * (net_over[0] * engine_over[0] + net_over[1] * hotter * manifold_over[0]),
        exhaust_factor * (net_over[0] * engine_over[1] + net_over[1] * hotter * manifold_over[1]),
        exhaust_factor
        * (net_over[0] * engine_over[2] + net_over[1] * hotter * manifold_over[2] + net_over[2]),
    )
    shaft = (
        per_inertia
        * (
            drive_over[3] + drive_over[0] * engine_over[0] + drive_over[1] * hotter * manifold_over[0]
            - taken_speed - par[rows.SHAFT_DRAG]
        ),
        per_inertia
        * (drive_over[0] * engine_over[1] + drive_over[1] * hotter * manifold_over[1] - taken_charge),
        per_inertia
        * (drive_over[0] * engine_over[2] + drive_over[1] * hotter * manifold_over[2] + drive_over[2]),
        charge_factor * (flow_speed - engine_flow * engine_over[0]) + d_charge * warm_speed,
        charge_factor * (flow_charge - engine_flow * engine_over[1] - lost_charge) + d_charge * warm_charge,
        -1.0 * charge_factor * engine_flow * engine_over[2],
    )
    exhaust_row = (
        exhaust_speed,
        exhaust_charge,
        exhaust_exhaust,
        exhaust_factor * net_over[3] * area_travel,
        exhaust_factor * net_over[3] * area_other,
    )
    supply_charge = 1.0 + par[rows.TAKE_OFF] * (manifold * manifold_over[1] - 1.0)
    signal = (
        (-1.0 * lag, lag * par[rows.BOOST_GAIN] * manifold * manifold_over[1], -1.0 * rate, -1.0 * share_error,
         share_integral),
        (by[0] * lower_over[0] * supply_charge, by[1] * upper_over[0] * supply_charge),
        (by[0] * lower_over[1], by[1] * upper_over[1]),
        (by[0] * lower_over[2], by[1] * upper_over[2]),
        (node_over[0] * supply_charge, node_over[1], node_over[2]),
    )  # fmt: skip
    arms = (facing * arm[0], arm[1], arm[2], facing * arm[3], facing * other[0], other[1], other[2])
    outputs = (
        sensed - ambient,
        manifold - ambient,
        charge,
        exhaust,
        after,
        lower - ambient,
        travel,
        duty,
        metered,
        intake,
        hot,
        speed,
        engine_flow,
        mixture,
        brake_torque(
            engine_flow,
            engine_speed,
            mixture,
            par[rows.INDICATED_EFFICIENCY],
            par[rows.IGNITION_RETARD],
            par[rows.DISPLACEMENT],
            par[rows.FRICTION_PRESSURE],
            manifold,
            exhaust,
        ),
        gates,
        outlet,
        surge_share,
        upper - ambient,
    )
    return derivatives, (shaft, exhaust_row, signal, arms, swept), outputs


@component
def moved(state, k, h, node, par, ambient):
    """State moved by ``h k``, kept within what the components accept; the node from ``node`` on."""
    most = par[rows.GATE_TRAVEL]
    low, high = 0.3 * ambient, 8.0 * ambient
    return (
        clip(state[0] + h * k[0], 300.0, _FASTEST),
        clip(state[1] + h * k[1], low, high),
        clip(state[2] + h * k[2], 0.9 * ambient, 12.0 * ambient),
        clip(node + h * k[3], low, high),
        clip(state[4] + h * k[4], low, high),
        clip(state[5] + h * k[5], low, high),
        clip(state[6] + h * k[6], 0.0, most),
        clip(state[7] + h * k[7], 0.0, most),
        clip(state[8] + h * k[8], -1.0, 1.0),
        state[9] + h * k[9],
    )


@component
def remembered(state, derivatives):
    """Pressure of the node behind the controller as `rates` found it. [Pa abs]"""
    return state[3] + NODE_TIME * derivatives[3]


@component
def step(state, par, inp, h):
    """One step of ``h`` seconds; returns the new state and the outputs at its start.

    The node's pressure is found anew in every evaluation; where Newton's method starts follows the
    pressures around by the node's slopes.
    """
    ambient = inp[4] + 0.0 * state[0]
    f0, jacobian, outputs = rates(state, par, inp)
    node = remembered(state, f0)
    gh = _GAMMA * h
    k1 = solve(f0, jacobian, gh)
    f1, _, _ = rates(moved(state, k1, 0.5 * h, node, par, ambient), par, inp)
    difference = (
        f1[0] - k1[0], f1[1] - k1[1], f1[2] - k1[2], f1[3], f1[4] - k1[4],
        f1[5] - k1[5], f1[6] - k1[6], f1[7] - k1[7], f1[8] - k1[8], f1[9] - k1[9],
    )  # fmt: skip
    d = solve(difference, jacobian, gh)
    k2 = (
        d[0] + k1[0], d[1] + k1[1], d[2] + k1[2], d[3] + k1[3], d[4] + k1[4],
        d[5] + k1[5], d[6] + k1[6], d[7] + k1[7], d[8] + k1[8], d[9] + k1[9],
    )  # fmt: skip
    return moved(state, k2, h, node, par, ambient), outputs
