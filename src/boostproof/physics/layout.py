"""The parameters of a car, by name: what a row of every parameter array means.

Arrays are ``(parameters, candidates)``. Every cause, repair and setting is an edit of these rows
(see `boostproof.physics.change`); fault parameters always exist and hold their neutral value on a
sound car.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

from boostproof.errors import InputRangeError

Scope = Literal["car", "instrument", "pull"]


@dataclass(frozen=True)
class Parameter:
    """One row of a parameter array.

    Attributes
    ----------
    name : full word name
    unit : SI unit, "1" for a pure number
    neutral : value of a sound, unspecified car; a fault parameter's value when the fault is absent
    low, high : the range that the model accepts; values are clipped to it before a run
    scope : "car" stays with the car, "instrument" with a sensor or gauge, "pull" with one set-up
    doc : one line
    """

    name: str
    unit: str
    neutral: float
    low: float
    high: float
    scope: Scope
    doc: str


def _car(name: str, unit: str, neutral: float, low: float, high: float, doc: str) -> Parameter:
    return Parameter(name, unit, neutral, low, high, "car", doc)


PARAMETERS: tuple[Parameter, ...] = (
    # engine
    _car("displacement", "m3", 2.0e-3, 0.5e-3, 8.0e-3, "swept volume of all cylinders"),
    _car("redline", "rad/s", 712.0, 300.0, 1200.0, "highest engine speed used, sets the speed scale"),
    _car("breathing", "1", 0.94, 0.4, 1.3, "volumetric efficiency at 60 % of redline, by manifold air"),
    _car(
        "breathing_tilt",
        "1",
        0.0,
        -0.6,
        0.6,
        "change of volumetric efficiency per unit of speed over redline",
    ),
    _car(
        "breathing_bow", "1", 0.35, 0.0, 1.5, "fall of volumetric efficiency with the square of that distance"
    ),
    _car(
        "residual_effect",
        "1",
        0.088,
        0.0,
        0.3,
        "loss of breathing per unit of exhaust over manifold pressure",
    ),
    _car("mixture", "1", 0.82, 0.6, 1.1, "lambda at full load"),
    _car(
        "exhaust_temperature_base",
        "K",
        1040.0,
        700.0,
        1300.0,
        "gas temperature before the turbine at no load",
    ),
    _car(
        "exhaust_temperature_rise", "K", 70.0, 0.0, 250.0, "its rise per bar of manifold pressure at redline"
    ),
    _car("ignition_retard", "rad", 0.0, -0.35, 0.7, "ignition later than usual at full load"),
    _car("indicated_efficiency", "1", 0.36, 0.15, 0.5, "work on the pistons over heat of the burnt fuel"),
    _car("friction_pressure", "Pa", 1.8e5, 5.0e4, 5.0e5, "mean effective pressure of engine friction"),
    _car("air_metered", "1", 0.0, 0.0, 1.0, "1 where fuel goes by an air meter before the compressor"),
    _car("pressure_metered", "1", 0.0, 0.0, 1.0, "1 where fuel goes by the manifold pressure sensor"),
    # intake side
    _car("filter_loss", "Pa s2/kg2", 5.0e4, 0.0, 2.0e6, "inlet duct and filter drop over flow squared"),
    _car("cooler_loss", "1/m4", 7.0e5, 0.0, 1.0e8, "cooler and pipe loss: p2^2 - pim^2 = loss R T m^2"),
    _car("cooler_effectiveness", "1", 0.72, 0.0, 0.98, "charge cooler effectiveness"),
    _car("cooler_soak", "K", 8.0, -10.0, 60.0, "cooling air at the charge cooler above the air outside"),
    _car("charge_volume", "m3", 8.0e-3, 1.0e-3, 4.0e-2, "pipes, cooler and manifold after the compressor"),
    _car("charge_leak", "m2", 0.0, 0.0, 4.0e-4, "effective area of a leak of the charge pipes"),
    _car("leak_after_cooler", "1", 0.0, 0.0, 1.0, "0 the pipes leak before the cooler, 1 behind it"),
    _car(
        "bypass_leak", "m2", 0.0, 0.0, 4.0e-4, "effective area of a leaking recirculation valve once lifted"
    ),
    _car("bypass_lift", "Pa", 2.0e4, 0.0, 3.0e5, "charge pressure at which that leak begins"),
    _car("bypass_recirculates", "1", 1.0, 0.0, 1.0, "1 where that leak returns to the inlet, 0 to the open air"),
    # compressor and turbine
    _car("compressor_diameter", "m", 0.058, 0.025, 0.12, "outer diameter of the compressor wheel"),
    _car(
        "compressor_area", "m2", 1.15e-3, 2.0e-4, 6.0e-3, "effective inducer area that chokes the compressor"
    ),
    _car("compressor_head", "1", 0.62, 0.3, 0.8, "isentropic head over tip speed squared at the surge side"),
    _car("compressor_work", "1", 0.86, 0.5, 2.0, "work over tip speed squared at the surge side"),
    _car("compressor_work_slope", "1", 0.33, 0.0, 0.7, "its fall from no flow to choke"),
    _car("turbine_area", "m2", 4.6e-4, 5.0e-5, 3.0e-3, "effective flow area of the turbine"),
    _car("turbine_diameter", "m", 0.050, 0.02, 0.11, "inlet diameter of the turbine wheel"),
    _car("turbine_efficiency", "1", 0.68, 0.1, 0.9, "best turbine efficiency with bearings"),
    _car("pulse_gain", "1", 0.0, -0.7, 0.7, "turbine power gained by pulses, or lost, towards low speed"),
    _car("shaft_inertia", "kg m2", 2.4e-5, 3.0e-6, 6.0e-4, "rotor inertia"),
    _car("turbo_wear", "1", 0.0, 0.0, 1.0, "how far wear shows on wheels and shaft by hand"),
    _car("shaft_drag", "N m s", 2.0e-6, 0.0, 5.0e-5, "bearing drag torque over shaft speed"),
    # exhaust
    _car("exhaust_loss", "1/m4", 4.5e4, 0.0, 1.0e7, "exhaust system loss: p4 (p4 - pamb) = loss R m^2 T4"),
    _car("exhaust_volume", "m3", 3.5e-3, 5.0e-4, 2.0e-2, "exhaust manifold up to turbine and gate"),
    _car("exhaust_leak", "m2", 0.0, 0.0, 3.0e-4, "effective area of a leak before the turbine"),
    # gate
    _car("port_diameter", "m", 0.027, 0.008, 0.09, "port of one gate"),
    _car("gate_count", "1", 1.0, 1.0, 2.0, "gates in parallel"),
    _car("lift_ratio", "1", 1.0, 0.1, 3.0, "lift at the valve centre over travel at the rod"),
    _car("lever_arm", "m", 1.0, 5.0e-3, 10.0, "lever that the rod turns; long where the valve lifts straight"),
    _car("seat_cosine", "1", 1.0, 0.5, 1.0, "cosine of the seat angle of a poppet, 1 flat"),
    _car("seat_slope", "1", 0.0, 0.0, 0.5, "sine times cosine of the seat angle"),
    _car("gate_flow", "1", 0.70, 0.1, 1.0, "discharge coefficient of the wide open port"),
    _car("gate_travel", "m", 0.012, 0.0, 0.03, "travel at the rod that the actuator can give"),
    _car("free_travel", "m", 0.0145, 0.0, 0.04, "travel at the rod until the gate meets a stop"),
    _car("gate_leak", "m2", 0.0, 0.0, 5.0e-4, "effective area of the gate when shut"),
    _car("dump_area", "m2", 1.0e-2, 2.0e-5, 1.0e-2, "effective area of the pipe behind each gate"),
    _car("dump_apart", "1", 0.0, 0.0, 1.0, "0 the gates' gas rejoins the exhaust, 1 a pipe of its own to the open air"),
    _car("other_gates", "1", 0.0, 0.0, 1.0, "how many of the gates differ from the first, as the next four rows say"),
    _car("other_opening", "Pa", 0.0, -2.0e5, 4.0e5, "opening pressure of the other gate above that of the first"),
    _car("other_travel", "m", 0.0145, 0.0, 0.04, "travel at the rod of the other gate until it meets a stop"),
    _car("other_flow", "1", 0.70, 0.1, 1.0, "discharge coefficient of the wide open port of the other gate"),
    _car("other_friction", "Pa", 1.5e3, 0.0, 4.0e6, "half the hysteresis of the other gate"),
    # actuator
    _car(
        "opening_pressure",
        "Pa",
        6.0e4,
        2.0e3,
        4.0e5,
        "gauge pressure at which the arm starts to move on the bench",
    ),
    _car("spring_rate", "Pa/m", 3.0e6, 2.0e5, 5.0e7, "chamber pressure per travel at the rod"),
    _car(
        "assistance", "1", 0.25, -1.5, 1.5,
        "share of exhaust push that acts as chamber pressure, seated; negative where it holds the gate shut",
    ),
    _car("assistance_fade", "1/m", 60.0, 0.0, 500.0, "how that push fades with travel"),
    _car("friction", "Pa", 1.5e3, 0.0, 4.0e6, "half the hysteresis, as chamber pressure"),
    _car("heat_binding", "Pa", 0.0, 0.0, 4.0e6, "friction added once gate and shaft are hot through"),
    _car("rod_off", "1", 0.0, 0.0, 1.0, "1 where the rod no longer holds the gate, so that only the exhaust moves it"),
    _car("chamber_volume", "m3", 6.0e-5, 5.0e-6, 5.0e-4, "actuator chamber with hose"),
    _car("diaphragm_area", "m2", 1.6e-3, 5.0e-4, 6.0e-3, "effective area of the diaphragm"),
    _car("upper_volume", "m3", 6.0e-5, 1.0e-5, 5.0e-4, "chamber on the spring side of the diaphragm"),
    _car("upper_vent", "m2", 6.0e-6, 1.0e-11, 1.0e-3, "effective area through which that chamber is vented"),
    _car("upper_feed", "m2", 0.0, 0.0, 5.0e-5, "effective area through which a 4-port valve feeds that chamber"),
    _car("ports_swapped", "1", 0.0, 0.0, 1.0, "1 where the line is on the spring side of the diaphragm"),
    _car("diaphragm_leak", "m2", 0.0, 0.0, 2.0e-5, "effective area of a leaking diaphragm"),
    # signal line and controller
    _car("take_off", "1", 0.0, 0.0, 1.0, "0 signal taken at the compressor outlet, 1 at the manifold"),
    _car("line_area", "m2", 4.0e-6, 1.0e-9, 1.5e-5, "effective area from take-off to actuator"),
    _car("line_volume", "m3", 6.0e-6, 1.0e-6, 1.0e-4, "hose between controller and actuator"),
    _car("hose_area", "m2", 6.0e-6, 1.0e-10, 1.5e-5, "effective area between controller and actuator chamber"),
    _car("line_leak", "m2", 0.0, 0.0, 2.0e-5, "effective area of a leak of the line at the actuator"),
    _car("offset", "Pa", 0.0, 0.0, 5.0e5, "pressure that a ball and spring takes off the signal"),
    _car("ball_stick", "Pa", 0.0, 0.0, 6.0e5, "further pressure that a sticking ball takes off the signal"),
    _car("check", "1", 0.0, 0.0, 1.0, "1 where a ball lets nothing flow back"),
    _car("bleed_area", "m2", 0.0, 0.0, 2.0e-5, "effective area of the bleed at the actuator side"),
    _car(
        "offset_per_turn", "Pa", 1.6e4, 0.0, 1.0e5, "offset that one turn of the controller's adjuster adds"
    ),
    _car("offset_at_slack", "Pa", 8.0e3, 0.0, 1.5e5, "offset with the adjuster slack"),
    _car("bleed_per_turn", "m2", 1.2e-7, 0.0, 5.0e-6, "bleed area that one turn of a bleed valve opens"),
    _car("solenoid", "1", 0.0, 0.0, 1.0, "1 where a 3-port valve stands in the line"),
    _car("interrupts", "1", 1.0, 0.0, 1.0, "1 where the valve shuts the supply while it vents, 0 where it only bleeds"),
    _car("vent_area", "m2", 2.0e-6, 0.0, 2.0e-5, "effective area of the solenoid's vent leg"),
    _car("duty_stuck", "1", 0.0, 0.0, 1.0, "share of the valve that no longer follows the duty"),
    _car("duty_stuck_at", "1", 0.0, 0.0, 1.0, "duty at which it is stuck"),
    _car("duty_reversed", "1", 0.0, 0.0, 1.0, "1 where supply and vent legs are swapped"),
    # engine control unit
    _car(
        "closed_loop", "1", 0.0, 0.0, 1.0, "1 where duty is found by feedback, 0 where the logged duty drives"
    ),
    _car("feed_forward", "1", 0.5, 0.0, 1.0, "duty before correction"),
    _car("loop_gain", "1/Pa", 2.5e-6, 0.0, 1.0e-4, "duty per boost error"),
    _car("loop_integral", "1/(Pa s)", 6.0e-6, 0.0, 2.0e-4, "duty per boost error and second"),
    _car("spool_band", "Pa", 1.2e4, 0.0, 1.0e5, "boost error above which the duty is held at its limit"),
    _car("wind_up", "1", 0.0, 0.0, 1.0, "how far the integral part runs on while the duty stands at an end"),
    _car("duty_limit", "1", 0.95, 0.0, 1.0, "highest duty that the control unit commands"),
    _car("target_shift", "Pa", 0.0, -2.0e5, 2.0e5, "control unit's target above the intended one"),
    # instruments
    Parameter("boost_gain", "1", 1.0, 0.2, 3.0, "instrument", "manifold sensor gain on absolute pressure"),
    Parameter("boost_offset", "Pa", 0.0, -1.5e5, 1.5e5, "instrument", "manifold sensor offset"),
    Parameter("boost_lag", "s", 0.010, 1.0e-3, 1.0, "instrument", "manifold sensor's time constant, hose included"),
    Parameter("boost_full_scale", "Pa", 1.0e6, 1.0e5, 1.0e6, "instrument", "absolute pressure at which the sensor stops"),
)

NAMES: tuple[str, ...] = tuple(p.name for p in PARAMETERS)
INDEX: dict[str, int] = {name: i for i, name in enumerate(NAMES)}
SIZE = len(PARAMETERS)


def index_of(name: str) -> int:
    """Row of a parameter.

    Raises
    ------
    InputRangeError
        If there is no such parameter; the nearest names are given.
    """
    if name not in INDEX:
        near = ", ".join(get_close_matches(name, NAMES, 3)) or ", ".join(NAMES[:5]) + ", …"
        raise InputRangeError(
            f"no parameter is called {name!r}.",
            kind="unknown-parameter",
            where="layout",
            do=f"Nearest: {near}.",
        )
    return INDEX[name]


def parameter(name: str) -> Parameter:
    """The description of a parameter; raises as `index_of`."""
    return PARAMETERS[index_of(name)]
