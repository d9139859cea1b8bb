"""The car as one transient system: shaft, charge side, exhaust side, signal and gate.

Six states per candidate: shaft speed, pressure after the compressor, pressure before the turbine,
actuator chamber pressure, travel of the arm, integral part of the boost loop. One step is a linearly
implicit W-method of second order (Rosenbrock form with gamma = 1/(2 + sqrt 2), whose order does not
depend on the Jacobian used); the Jacobian is approximate, taken from the component slopes.
"""

from __future__ import annotations

from boostproof.physics import layout
from boostproof.physics.actuator import rest_travel
from boostproof.physics.compressor import (
    choke_flow,
    isentropic_head,
    map_flow,
    pass_through,
    work_coefficient,
)
from boostproof.physics.controller import loop_duty
from boostproof.physics.engine import (
    exhaust_pressure,
    pressure_behind,
    swallowing,
    throttle_loss,
    volumetric_efficiency,
)
from boostproof.physics.gas import (
    AIR_CP,
    AIR_GAS_CONSTANT,
    EXHAUST_GAS_CONSTANT,
    exhaust_per_air,
    fourth_root,
    isentropic_ratio_exhaust,
)
from boostproof.physics.ops import absolute, clip, component, maximum, minimum, sqrt
from boostproof.physics.orifice import air_flow, exhaust_flow_function
from boostproof.physics.pneumatics import chamber_flow, valve_duty
from boostproof.physics.turbine import turbine_flow_function, turbine_torque
from boostproof.physics.wastegate import gate_area

STATES = ("shaft_speed", "charge_pressure", "exhaust_pressure", "chamber_pressure", "travel", "integral")
INPUTS = ("engine_speed", "throttle", "target", "logged_duty", "ambient_pressure", "ambient_temperature")
OUTPUTS = (
    "boost_measured",  # gauge, as the car's own sensor shows it [Pa]
    "boost",  # gauge at the manifold [Pa]
    "compressor_outlet_pressure",  # abs [Pa]
    "turbine_inlet_pressure",  # abs [Pa]
    "turbine_outlet_pressure",  # abs [Pa]
    "line_pressure",  # actuator chamber, gauge [Pa]
    "travel",  # arm at the rod [m]
    "duty",  # commanded [1]
    "air_flow",  # at the inlet [kg/s]
    "intake_temperature",  # charge at the manifold [K]
    "exhaust_temperature",  # before the turbine [K]
    "shaft_speed",  # [rad/s]
    "engine_flow",  # air that the engine swallows [kg/s]
)
N_STATE, N_INPUT, N_OUTPUT = len(STATES), len(INPUTS), len(OUTPUTS)
OUTPUT_INDEX = {name: i for i, name in enumerate(OUTPUTS)}

TRAVEL_TIME = 0.012  # s, arm and chamber inertia as a first-order lag
_GAMMA = 0.29289322  # 1 / (2 + sqrt 2)
_WINDMILL = 2500.0  # m2/s2

_DISPLACEMENT = layout.INDEX["displacement"]
_REDLINE = layout.INDEX["redline"]
_BREATHING = layout.INDEX["breathing"]
_BREATHING_TILT = layout.INDEX["breathing_tilt"]
_BREATHING_BOW = layout.INDEX["breathing_bow"]
_RESIDUAL = layout.INDEX["residual_effect"]
_MIXTURE = layout.INDEX["mixture"]
_T3_BASE = layout.INDEX["exhaust_temperature_base"]
_T3_RISE = layout.INDEX["exhaust_temperature_rise"]
_FILTER = layout.INDEX["filter_loss"]
_COOLER = layout.INDEX["cooler_loss"]
_COOLER_EFF = layout.INDEX["cooler_effectiveness"]
_COOLER_SOAK = layout.INDEX["cooler_soak"]
_CHARGE_VOLUME = layout.INDEX["charge_volume"]
_CHARGE_LEAK = layout.INDEX["charge_leak"]
_BYPASS_LEAK = layout.INDEX["bypass_leak"]
_BYPASS_LIFT = layout.INDEX["bypass_lift"]
_COMP_DIAMETER = layout.INDEX["compressor_diameter"]
_COMP_AREA = layout.INDEX["compressor_area"]
_COMP_HEAD = layout.INDEX["compressor_head"]
_COMP_WORK = layout.INDEX["compressor_work"]
_COMP_WORK_SLOPE = layout.INDEX["compressor_work_slope"]
_TURB_AREA = layout.INDEX["turbine_area"]
_TURB_DIAMETER = layout.INDEX["turbine_diameter"]
_TURB_EFF = layout.INDEX["turbine_efficiency"]
_PULSE = layout.INDEX["pulse_gain"]
_INERTIA = layout.INDEX["shaft_inertia"]
_DRAG = layout.INDEX["shaft_drag"]
_EXHAUST_LOSS = layout.INDEX["exhaust_loss"]
_EXHAUST_VOLUME = layout.INDEX["exhaust_volume"]
_EXHAUST_LEAK = layout.INDEX["exhaust_leak"]
_PORT = layout.INDEX["port_diameter"]
_GATES = layout.INDEX["gate_count"]
_LIFT_RATIO = layout.INDEX["lift_ratio"]
_GATE_FLOW = layout.INDEX["gate_flow"]
_GATE_TRAVEL = layout.INDEX["gate_travel"]
_FREE_TRAVEL = layout.INDEX["free_travel"]
_GATE_LEAK = layout.INDEX["gate_leak"]
_OPENING = layout.INDEX["opening_pressure"]
_RATE = layout.INDEX["spring_rate"]
_ASSISTANCE = layout.INDEX["assistance"]
_FADE = layout.INDEX["assistance_fade"]
_FRICTION = layout.INDEX["friction"]
_CHAMBER = layout.INDEX["chamber_volume"]
_DIAPHRAGM = layout.INDEX["diaphragm_leak"]
_TAKE_OFF = layout.INDEX["take_off"]
_LINE = layout.INDEX["line_area"]
_HOSE = layout.INDEX["hose_area"]
_LINE_LEAK = layout.INDEX["line_leak"]
_OFFSET = layout.INDEX["offset"]
_STICK = layout.INDEX["ball_stick"]
_CHECK = layout.INDEX["check"]
_BLEED = layout.INDEX["bleed_area"]
_SOLENOID = layout.INDEX["solenoid"]
_VENT = layout.INDEX["vent_area"]
_STUCK = layout.INDEX["duty_stuck"]
_STUCK_AT = layout.INDEX["duty_stuck_at"]
_REVERSED = layout.INDEX["duty_reversed"]
_CLOSED_LOOP = layout.INDEX["closed_loop"]
_FEED_FORWARD = layout.INDEX["feed_forward"]
_LOOP_GAIN = layout.INDEX["loop_gain"]
_LOOP_INTEGRAL = layout.INDEX["loop_integral"]
_SPOOL_BAND = layout.INDEX["spool_band"]
_DUTY_LIMIT = layout.INDEX["duty_limit"]
_TARGET_SHIFT = layout.INDEX["target_shift"]
_BOOST_GAIN = layout.INDEX["boost_gain"]
_BOOST_OFFSET = layout.INDEX["boost_offset"]


@component
def initial(par, inp):
    """State at rest: shaft turning slowly, all pressures those around, gate shut."""
    zero = 0.0 * par[_REDLINE]
    ambient = inp[4] + zero
    return (zero + 1500.0, ambient, ambient + 1000.0, ambient, zero, zero)


@component
def rates(state, par, inp):
    """Time derivatives, Jacobian entries and outputs of one moment.

    Parameters
    ----------
    state, par, inp : tuples in the order of STATES, layout.PARAMETERS and INPUTS

    Returns
    -------
    derivatives (6), Jacobian entries (11), outputs (12)
    """
    speed, charge, exhaust, chamber, travel, integral = state
    engine_speed, throttle, target, logged_duty, ambient, outside = inp
    n = engine_speed / par[_REDLINE]

    # compressor: the filter loss uses the flow that the engine would swallow at 320 K
    guess = swallowing(par[_BREATHING], par[_DISPLACEMENT], engine_speed, 320.0) * charge
    inlet = maximum(ambient - par[_FILTER] * guess * guess, 0.5 * ambient)
    radius = 0.5 * par[_COMP_DIAMETER]
    tip = radius * speed
    tip2 = tip * tip
    head = isentropic_head(charge / inlet, outside)
    slow = tip2 + _WINDMILL  # below some 50 m/s the wheel is a passive part, no steeper than this
    psi = head / slow
    choked = choke_flow(tip, par[_COMP_AREA], inlet, outside) + 1e-5
    flow, flow_slope = map_flow(psi, par[_COMP_HEAD], choked)
    work = work_coefficient(flow / choked, par[_COMP_WORK], par[_COMP_WORK_SLOPE])
    through, through_slope = pass_through(par[_COMP_AREA], inlet, charge, outside)
    torque_compressor = absolute(flow) * work * radius * radius * speed
    outlet_temperature = outside + work * tip2 * (1.0 / AIR_CP)
    flow_over_charge = flow_slope * (AIR_GAS_CONSTANT * outside + 0.2857 * head) / (charge * slow)

    # charge side and engine
    cool = outside + par[_COOLER_SOAK]
    intake_temperature = cool + (1.0 - par[_COOLER_EFF]) * (outlet_temperature - cool)
    efficiency = volumetric_efficiency(
        n, par[_BREATHING], par[_BREATHING_TILT], par[_BREATHING_BOW], exhaust / charge, par[_RESIDUAL]
    )
    swallow = swallowing(efficiency, par[_DISPLACEMENT], engine_speed, intake_temperature)
    manifold = pressure_behind(charge, swallow, par[_COOLER] + throttle_loss(throttle), intake_temperature)
    manifold_share = manifold / charge
    engine_flow = swallow * manifold
    lifted = clip((charge - ambient - par[_BYPASS_LIFT]) * 1e-4, 0.0, 1.0)
    leak_area = par[_CHARGE_LEAK] + par[_BYPASS_LEAK] * lifted
    leak, leak_slope = air_flow(leak_area, ambient, charge, intake_temperature)
    charge_factor = AIR_GAS_CONSTANT * intake_temperature / par[_CHARGE_VOLUME]
    d_charge = charge_factor * (flow + through - engine_flow + leak)

    # exhaust side
    per_air = exhaust_per_air(par[_MIXTURE])
    hot = par[_T3_BASE] + par[_T3_RISE] * n * manifold * 1e-5
    burnt = engine_flow * per_air
    after = exhaust_pressure(burnt, 0.88 * hot, par[_EXHAUST_LOSS], ambient)
    ratio = minimum(after / exhaust, 0.9999)
    root = fourth_root(ratio)
    per_area = exhaust / sqrt(EXHAUST_GAS_CONSTANT * hot)
    turbine_part, turbine_slope = turbine_flow_function(root)
    turbine_flow = par[_TURB_AREA] * per_area * turbine_part
    area, area_slope = gate_area(
        par[_LIFT_RATIO] * travel, par[_PORT], par[_GATE_FLOW], par[_GATES], par[_GATE_LEAK]
    )
    open_area = area + par[_EXHAUST_LEAK]
    gate_part, gate_slope = exhaust_flow_function(ratio)
    exhaust_factor = EXHAUST_GAS_CONSTANT * hot / par[_EXHAUST_VOLUME]
    d_exhaust = exhaust_factor * (burnt - turbine_flow - open_area * per_area * gate_part)
    drive = turbine_torque(
        turbine_flow,
        hot,
        isentropic_ratio_exhaust(root),
        speed,
        par[_TURB_DIAMETER],
        par[_TURB_EFF] * (1.0 + par[_PULSE] * (1.0 - n)),
    )
    d_speed = (drive - torque_compressor - par[_DRAG] * speed) / par[_INERTIA]

    # boost loop, signal, gate
    measured = par[_BOOST_GAIN] * manifold + par[_BOOST_OFFSET] - ambient
    error = target + par[_TARGET_SHIFT] - measured
    duty, active = loop_duty(
        error,
        integral,
        par[_FEED_FORWARD],
        par[_LOOP_GAIN],
        par[_SPOOL_BAND],
        par[_DUTY_LIMIT],
        par[_CLOSED_LOOP],
        logged_duty,
    )
    vent_share = valve_duty(duty, par[_STUCK], par[_STUCK_AT], par[_REVERSED])
    supply = charge + par[_TAKE_OFF] * (manifold - charge)
    net, net_slope, net_over_supply = chamber_flow(
        supply,
        chamber,
        ambient,
        outside,
        par[_LINE],
        par[_OFFSET] + par[_STICK],
        par[_CHECK],
        par[_SOLENOID],
        vent_share,
        par[_VENT],
        par[_BLEED] + par[_LINE_LEAK] + par[_DIAPHRAGM],
    )
    # a pinch behind the controller slows the chamber and leaves its rest pressure as it is
    passing = par[_HOSE] / (par[_HOSE] + par[_LINE])
    chamber_factor = AIR_GAS_CONSTANT * outside / par[_CHAMBER] * passing
    limit = minimum(par[_GATE_TRAVEL], par[_FREE_TRAVEL])
    rest = rest_travel(
        chamber - ambient,
        exhaust - after,
        par[_OPENING],
        par[_RATE],
        par[_ASSISTANCE],
        par[_FADE],
        par[_FRICTION],
        travel,
        limit,
    )
    d_travel = (rest - travel) * (1.0 / TRAVEL_TIME)

    moving = clip(rest * (limit - rest) * 1e12, 0.0, 1.0) / (TRAVEL_TIME * par[_RATE])
    jacobian = (
        -(2.0 * torque_compressor / speed + par[_DRAG]) / par[_INERTIA],  # speed over speed
        charge_factor * (flow - 2.0 * psi * flow_slope) / speed,  # charge over speed
        charge_factor
        * (flow_over_charge + through_slope - swallow * manifold_share + leak_slope),  # charge over charge
        chamber_factor * net_slope,  # chamber over chamber
        chamber_factor
        * net_over_supply
        * (1.0 + par[_TAKE_OFF] * (manifold_share - 1.0)),  # chamber over charge
        moving,  # travel over chamber
        moving * par[_ASSISTANCE] / (1.0 + par[_FADE] * travel),  # travel over exhaust
        -exhaust_factor * per_area * gate_part * area_slope * par[_LIFT_RATIO],  # exhaust over travel
        exhaust_factor
        * (per_area / exhaust)
        * (
            par[_TURB_AREA] * (ratio * turbine_slope - turbine_part)
            + open_area * (ratio * gate_slope - gate_part)
        ),  # exhaust over exhaust
        exhaust_factor * per_air * swallow * manifold_share,  # exhaust over charge
        par[_LOOP_INTEGRAL] * active,  # integral over error
    )
    d_integral = par[_LOOP_INTEGRAL] * active * error
    derivatives = (d_speed, d_charge, d_exhaust, chamber_factor * net, d_travel, d_integral)
    outputs = (
        measured,
        manifold - ambient,
        charge,
        exhaust,
        after,
        chamber - ambient,
        travel,
        duty,
        flow + through,
        intake_temperature,
        hot,
        speed,
        engine_flow,
    )
    return derivatives, jacobian, outputs


@component
def _solve(right, jacobian, gh):
    """Solve ``(I - gh A) k = right`` for the sparse approximate Jacobian."""
    r_speed, r_charge, r_exhaust, r_chamber, r_travel, r_integral = right
    j_ss, j_cs, j_cc, j_aa, j_ac, j_xa, j_xe, j_ex, j_ee, j_ec, j_ic = jacobian
    k_speed = r_speed / (1.0 - gh * j_ss)
    k_charge = (r_charge + gh * j_cs * k_speed) / (1.0 - gh * j_cc)
    k_chamber = (r_chamber + gh * j_ac * k_charge) / (1.0 - gh * j_aa)
    b_travel = r_travel + gh * j_xa * k_chamber
    b_exhaust = r_exhaust + gh * j_ec * k_charge
    d_travel = 1.0 + gh / TRAVEL_TIME
    d_exhaust = 1.0 - gh * j_ee
    determinant = d_travel * d_exhaust - gh * gh * j_xe * j_ex
    k_travel = (b_travel * d_exhaust + gh * j_xe * b_exhaust) / determinant
    k_exhaust = (d_travel * b_exhaust + gh * j_ex * b_travel) / determinant
    return k_speed, k_charge, k_exhaust, k_chamber, k_travel, r_integral - gh * j_ic * k_charge


@component
def _moved(state, k, h, par, ambient):
    """State moved by ``h k``, kept within what the components accept."""
    return (
        maximum(state[0] + h * k[0], 300.0),
        clip(state[1] + h * k[1], 0.3 * ambient, 8.0 * ambient),
        clip(state[2] + h * k[2], 0.9 * ambient, 12.0 * ambient),
        clip(state[3] + h * k[3], 0.3 * ambient, 8.0 * ambient),
        clip(state[4] + h * k[4], 0.0, par[_GATE_TRAVEL]),
        clip(state[5] + h * k[5], -1.0, 1.0),
    )


@component
def step(state, par, inp, h):
    """One step of ``h`` seconds; returns the new state and the outputs at its start."""
    ambient = inp[4] + 0.0 * state[0]
    f0, jacobian, outputs = rates(state, par, inp)
    gh = _GAMMA * h
    k1 = _solve(f0, jacobian, gh)
    middle = _moved(state, k1, 0.5 * h, par, ambient)
    f1, _, _ = rates(middle, par, inp)
    difference = (
        f1[0] - k1[0],
        f1[1] - k1[1],
        f1[2] - k1[2],
        f1[3] - k1[3],
        f1[4] - k1[4],
        f1[5] - k1[5],
    )
    d = _solve(difference, jacobian, gh)
    k2 = (d[0] + k1[0], d[1] + k1[1], d[2] + k1[2], d[3] + k1[3], d[4] + k1[4], d[5] + k1[5])
    return _moved(state, k2, h, par, ambient), outputs
