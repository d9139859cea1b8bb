"""What is known of a car as a distribution over sound cars.

A `Prior` maps standard normal numbers ``z`` (dimensions, candidates) to parameter arrays of *sound*
cars: what is written in car.toml enters with its tolerance, the rest with the spread of its kind of
car. Typical ranges are common practice without a citable source unless marked.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from boostproof.physics import layout
from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.hardware import CONTROLLERS, GATES

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec
    from boostproof.quantity import Quantity

FloatArray = NDArray[np.float64]
Shape = Literal["normal", "lognormal"]

STANDARD_TARGET = 9.0e4  # Pa gauge, where neither car.toml nor the log says what was wanted


@dataclass(frozen=True)
class Nuisance:
    """One unknown of a sound car.

    Attributes
    ----------
    name : parameter of `boostproof.physics.layout`, or a free name that `derive` uses
    shape : "normal" (centre, sd in SI) or "lognormal" (median in SI, sd of the logarithm)
    centre, sd : see shape
    quantity : where given, its own distribution is used instead
    low, high : the value is kept within these
    """

    name: str
    shape: Shape
    centre: float
    sd: float
    quantity: Quantity | None = None
    low: float = -np.inf
    high: float = np.inf

    def value(self, z: FloatArray) -> FloatArray:
        """Values for standard normal numbers, same shape. [SI]"""
        if self.quantity is not None and self.quantity.form == "range":
            from scipy.special import ndtr

            out = self.quantity.ppf(np.clip(ndtr(z), 1e-9, 1 - 1e-9))
        elif self.shape == "lognormal":
            out = self.centre * np.exp(self.sd * np.clip(z, -6.0, 6.0))
        else:
            out = self.centre + self.sd * z
        return np.asarray(np.clip(out, self.low, self.high))


@dataclass(frozen=True)
class Prior:
    """Distribution over sound cars.

    Attributes
    ----------
    nuisances : one per dimension of z, in order
    fixed : parameters that do not vary
    derive : completes the values by name, for parameters that follow from others
    controller : kind of controller of the car
    target : boost wanted [Pa gauge], None where unknown
    facts : what came from the car file, for the verdict's list of evidence
    """

    nuisances: tuple[Nuisance, ...]
    fixed: Mapping[str, float]
    derive: Callable[[dict[str, FloatArray]], None]
    controller: str
    target: float | None
    facts: tuple[str, ...] = ()

    @property
    def size(self) -> int:
        """Number of dimensions of z."""
        return len(self.nuisances)

    def sound(self, z: FloatArray) -> FloatArray:
        """Parameter array of sound cars.

        Parameters
        ----------
        z : (dimensions, n) standard normal numbers; further rows are left alone

        Returns
        -------
        (parameters, n), SI, clipped to each parameter's range
        """
        n = z.shape[1]
        values = {v.name: v.value(z[i]) for i, v in enumerate(self.nuisances)}
        self.derive(values)
        par = np.empty((layout.SIZE, n))
        for i, p in enumerate(layout.PARAMETERS):
            given = values.get(p.name)
            par[i] = self.fixed.get(p.name, p.neutral) if given is None else given
            np.clip(par[i], p.low, p.high, out=par[i])
        return par


def rated_air_flow(displacement: float, redline: float, target: float) -> float:
    """Air flow that a typical sound engine takes at redline and target boost. [kg/s]

    Four-stroke speed-density with volumetric efficiency 0.90 and a charge at 318 K.

    >>> round(rated_air_flow(2.0e-3, 733.0, 100e3), 3)
    0.232
    """
    return 0.9 * displacement * redline * 0.0795775 * (101325.0 + target) / (AIR_GAS_CONSTANT * 318.0)


class _Collector:
    """Collects nuisances; what the car file knows replaces what its kind suggests."""

    def __init__(self) -> None:
        self.list: list[Nuisance] = []
        self.facts: list[str] = []

    def normal(
        self, name: str, centre: float, sd: float, *, low: float = -np.inf, high: float = np.inf
    ) -> None:
        self.list.append(Nuisance(name, "normal", centre, sd, None, low, high))

    def log(self, name: str, median: float, sd: float, *, low: float = -np.inf, high: float = np.inf) -> None:
        self.list.append(Nuisance(name, "lognormal", median, sd, None, low, high))

    def known(self, name: str, quantity: Quantity | None, fact: str) -> bool:
        """Enter a known quantity; False where it is not known."""
        if quantity is None:
            return False
        self.list.append(Nuisance(name, "normal", quantity.value, quantity.sd, quantity, low=0.0))
        self.facts.append(fact)
        return True


def build_prior(car: CarSpec, target: float | None = None) -> Prior:
    """The prior of a car.

    Parameters
    ----------
    car : what is known
    target : boost wanted where the log shows it and car.toml does not [Pa gauge]

    Returns
    -------
    Prior
    """
    c = _Collector()
    wanted = target_of(car) if target_of(car) is not None else target
    level = STANDARD_TARGET if wanted is None else wanted
    displacement = car.engine.displacement.value
    redline = car.engine.redline.value
    count = float(car.turbo.count or 1) if car.turbo is not None else 1.0
    rated = rated_air_flow(displacement, redline, level)
    fixed = {"displacement": displacement, "redline": redline}
    metering = car.engine.fuel_metering
    fixed |= {"air_metered": float(metering == "air meter"), "pressure_metered": float(metering == "speed density")}
    vents = car.intake is not None and car.intake.bypass_valve == "vents"
    fixed["bypass_recirculates"] = 0.0 if vents else 1.0
    _engine(c, car, displacement, rated)
    _turbo(c, car, rated, count)
    external = car.wastegate.kind == "external poppet"
    fixed |= _gate(c, car, rated, external)
    controller = car.controller.kind
    _actuator(c, car, level, external, controller)
    fixed |= _controller(c, car, level, controller)
    c.normal("boost_gain", 1.0, 0.006)
    c.normal("boost_offset", 0.0, 800.0)
    names = {v.name for v in c.list}

    def derive(values: dict[str, FloatArray]) -> None:
        values["free_travel"] = values["gate_travel"] * values.pop("travel_reserve")
        values["spring_rate"] = values.pop("spring_span") / values["gate_travel"]
        if "controller_opening" in names:
            opening = values.pop("controller_opening")
            if "offset" in names:
                values["opening_pressure"] = np.maximum(opening - values["offset"], 5e3)
            else:
                values["offset"] = np.maximum(opening - values["opening_pressure"], 0.0)
        if "vent_ratio" in names:
            values["vent_area"] = values["line_area"] * values.pop("vent_ratio")
        if controller == "solenoid 4-port":  # one valve feeds and vents both chambers
            values["upper_feed"] = values["line_area"]
            values["upper_vent"] = values["vent_area"]

    return Prior(tuple(c.list), fixed, derive, controller, wanted, tuple(c.facts))


def target_of(car: CarSpec) -> float | None:
    """Boost wanted at the manifold as one level, None where it is not given. [Pa gauge]

    Of rows over rpm the median is taken.
    """
    target = car.limits.target if car.limits is not None else None
    if target is None or isinstance(target, str):
        return None
    if isinstance(target, tuple):
        levels = [r.boost.value for r in target if r.boost is not None]
        return float(np.median(levels)) if levels else None
    return float(target.value)


def _engine(c: _Collector, car: CarSpec, displacement: float, rated: float) -> None:
    c.normal("breathing", 0.93, 0.07, low=0.5)
    c.normal("breathing_tilt", 0.0, 0.15)
    c.normal("breathing_bow", 0.4, 0.2, low=0.0)
    mixture = car.engine.full_load_lambda
    c.normal("mixture", 0.82 if mixture is None else mixture, 0.035 if mixture is None else 0.015)
    c.normal("exhaust_temperature_base", 1030.0, 45.0)
    c.normal("exhaust_temperature_rise", 70.0, 25.0, low=0.0)
    c.log("filter_loss", 2.5e3 / rated**2, 0.5)
    # pressure lost in the cooler at rated flow, p2^2 - pim^2 = loss R T m^2
    c.log("cooler_loss", 2.0 * 1.9e5 * 8.0e3 / (AIR_GAS_CONSTANT * 325.0 * rated**2), 0.45)
    c.normal("cooler_effectiveness", 0.70, 0.08)
    c.normal("cooler_soak", 10.0, 6.0)
    c.log("bypass_lift", 2.0e4, 0.8)
    c.log("charge_volume", 4.0 * displacement, 0.25)
    c.log("exhaust_loss", 1.2e5 * 1.5e4 / (296.3 * (1.08 * rated) ** 2 * 1000.0), 0.45)
    c.log("exhaust_volume", 1.6 * displacement, 0.2)


def _turbo(c: _Collector, car: CarSpec, rated: float, count: float) -> None:
    share = rated / count
    inducer = car.turbo.compressor_inducer if car.turbo is not None else None
    exducer = car.turbo.compressor_exducer if car.turbo is not None else None
    # effective area that chokes a wheel: 0.78 of the inducer circle (hub and blades, from memory)
    if inducer is not None:
        area, area_sd = 0.78 * 0.7854 * inducer.value**2, 0.10
        c.facts.append("compressor inducer")
    else:
        area, area_sd = 1.32 * share / 191.0, 0.20
    diameter = exducer.value if exducer is not None else 0.058 * float(np.sqrt(area / 1.15e-3))
    c.log("compressor_area", area * count, area_sd)
    c.log("compressor_diameter", diameter, 0.02 if exducer is not None else 0.07)
    c.normal("compressor_head", 0.62, 0.03)
    c.normal("compressor_work", 0.92, 0.055)
    c.normal("compressor_work_slope", 0.33, 0.05)
    turbine = car.turbo.turbine_inducer if car.turbo is not None else None
    c.log("turbine_area", 5.4e-4 * rated / 0.211, 0.25)
    c.log("turbine_diameter", turbine.value if turbine is not None else 0.87 * diameter, 0.06)
    c.normal("turbine_efficiency", 0.55, 0.07, low=0.25)
    c.normal("pulse_gain", -0.1, 0.2)
    wheel = 0.87 * diameter
    # 0.008 rho D^5 of the turbine and 0.007 rho D^5 of the compressor wheel, an estimate from shape
    c.log("shaft_inertia", count * (65.6 * wheel**5 + 19.3 * diameter**5), 0.4)
    c.log("shaft_drag", 4.0e-6 * count, 0.7)


def _gate(c: _Collector, car: CarSpec, rated: float, external: bool) -> dict[str, float]:
    """Nuisances of the gate; returns the parameters that its kind fixes."""
    # car.toml gives the port as found; a port that is too small may be the fault, so the sound size
    # keeps the spread of its kind and the found one is evidence on the candidate's actual port
    gate = car.wastegate
    count = float(gate.count or 1)
    typical = (0.039 if external else 0.031) * (rated / 0.21) ** 0.3 / float(np.sqrt(count))
    c.log("port_diameter", typical, 0.13)
    c.normal("gate_flow", 0.70, 0.05, low=0.3)
    c.normal("lift_ratio", 1.0, 0.02 if external else 0.12, low=0.3)
    if not c.known("gate_travel", gate.full_travel, "gate travel"):
        c.normal("gate_travel", 0.0105 if external else 0.0118, 0.0009, low=0.003)
    c.normal("travel_reserve", 1.25, 0.07, low=1.0)
    fixed = {"gate_count": count}
    if not external:
        lever = gate.lever_radius
        fixed["lever_arm"] = GATES[gate.kind]["lever_arm"] if lever is None else lever.value
    return fixed


def _actuator(c: _Collector, car: CarSpec, level: float, external: bool, controller: str) -> None:
    actuator = car.actuator
    opening = actuator.opening_pressure if actuator is not None else None
    through = car.controller.opening_pressure
    if not c.known("opening_pressure", opening, "actuator opening pressure") and not (
        through is not None and controller == "ball and spring"
    ):
        marked = actuator.marked_boost if actuator is not None else None
        share = {"none": 1.25, "ball and spring": 0.85, "bleed valve": 0.85}.get(controller, 0.68)
        c.log("opening_pressure", level * share if marked is None else marked.value, 0.22)
    c.log("spring_span", 2.7e4, 0.28)
    c.log("assistance", 0.38 if external else 0.29, 0.3)
    c.log("assistance_fade", 60.0, 0.5)
    c.log("friction", 1.5e3, 0.5)
    c.log("chamber_volume", 6.0e-5, 0.35)


def _controller(c: _Collector, car: CarSpec, level: float, controller: str) -> dict[str, float]:
    """Nuisances of the controller; returns the parameters that its kind fixes."""
    known = car.controller
    fixed = dict(CONTROLLERS[controller])  # its sizes give way to what varies
    meant = car.signal_line.take_off if car.signal_line is not None else None
    fixed["take_off"] = 1.0 if meant == "intake manifold" else 0.0
    if controller == "ball and spring":
        c.log("line_area", 4.0e-6, 0.3)
        hole = known.bleed_hole
        if hole is None:
            c.log("bleed_area", 4.5e-7, 0.3)
        elif isinstance(hole, str):  # looked for and not there: only what the seals pass
            c.log("bleed_area", 1.0e-9, 0.5)
        else:
            c.log("bleed_area", 0.65 * 0.7854 * hole.value**2, 0.1)
        c.log("offset_per_turn", 8.0e3, 0.45)  # 4 to 12 kPa and more (common practice, no source)
        c.normal("offset_at_slack", 8.0e3, 5.0e3, low=0.0)
        has_opening = c.known(
            "controller_opening", known.opening_pressure, "opening pressure through the controller"
        )
        actuator_known = car.actuator is not None and car.actuator.opening_pressure is not None
        if not (has_opening and actuator_known):
            c.log("offset", 4.0e4, 0.35)
    elif controller == "bleed valve":
        c.log("line_area", 8.0e-7, 0.5)
        c.log("bleed_area", 4.0e-7, 0.6)
        c.log("bleed_per_turn", 6.5e-8, 0.4)
    elif controller.startswith("solenoid"):
        if known.plumbing is not None:
            fixed["interrupts"] = float(known.plumbing != "bleed")
        fixed["closed_loop"] = 0.0 if known.closed_loop is False else 1.0
        c.log("line_area", 2.2e-6, 0.35)
        c.log("vent_ratio", 1.3, 0.2)
        c.normal("feed_forward", 0.58, 0.10, low=0.05, high=0.94)
        c.log("loop_gain", 2.5e-6, 0.6)
        c.log("loop_integral", 6.0e-6, 0.7)
        c.log("spool_band", 1.2e4, 0.5)
    else:
        c.log("line_area", 4.5e-6, 0.3)
    return fixed
