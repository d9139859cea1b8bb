"""Draw a car of plausible hardware whose sound version holds its target.

Sizes follow the usual rules of thumb (common practice, no source): a compressor that chokes at 1.2
to 1.55 times the flow of the engine, a turbine throat in step with that flow, a gate a little larger
than its floor asks for. One unknown per kind of controller is then solved so that the plateau lies
on the target; a car that creeps, starves or overshoots although sound is thrown away.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np

from . import loop
from .gas import R_AIR
from .hardware import (
    BALL,
    BLEED,
    NONE,
    SOLENOID,
    Actuator,
    Air,
    Charge,
    Compressor,
    Ecu,
    Engine,
    Exhaust,
    Gate,
    Hardware,
    Shaft,
    Signal,
    Turbine,
)
from .metrics import Plateau, plateau
from .pneumatic import critical_damping
from .run import cruise, pull, run

Rng = np.random.Generator
Array = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
KINDS = (BALL, BALL, BALL, SOLENOID, NONE, BLEED)


@dataclass(frozen=True)
class Car:
    """Hardware plus what the loop does not need: who it is and how it is set."""

    hardware: Hardware
    target: float  # Pa gauge
    redline: float  # rpm
    inducer: float  # compressor, m
    turns: float  # of the controller's adjuster; 0 where there is none
    offset_per_turn: float  # Pa, ball and spring
    offset_slack: float  # Pa, ball and spring with the adjuster slack
    bleed_per_turn: float  # m2, bleed valve
    seed: int

    @property
    def kind(self) -> float:
        return self.hardware.signal.kind

    def at_turns(self, turns: float) -> Hardware:
        """The hardware with the adjuster at ``turns``; unchanged where there is no adjuster."""
        if self.kind == BALL:
            moved = self.offset_slack + self.offset_per_turn * (turns - self.turns)
            return self.hardware.changed("signal", offset=max(moved, 0.0))
        if self.kind == BLEED:
            return self.hardware.changed("signal", bleed_area=max(self.bleed_per_turn * turns, 0.0))
        return self.hardware


def hole_area(diameter: float, discharge: float = 0.7) -> float:
    """Effective area (m2) of a round hole."""
    return discharge * 0.25 * pi * diameter * diameter


def hose_area(bore: float, length: float) -> float:
    """Effective area (m2) of a hose: wall friction 0.03 and end losses 1.5 velocity heads."""
    return 0.25 * pi * bore * bore / sqrt(0.03 * length / bore + 1.5)


def plain_pull(car: Hardware, redline: float, *, rate: float = 420.0, sample: float = 0.01) -> Array:
    """True values of one plain full-load ramp from 2000 rpm."""
    table, _ = run(car, [cruise(2000.0, 2.0, keep=False), pull(redline, rate)], sample=sample)
    return table


def most_air(engine: Engine, air: Air, target: float, redline: float) -> float:
    """Air (kg/s) of the engine at the redline (rpm) on target (Pa gauge), charge at 320 K."""
    absolute = air.pressure + target
    return engine.breathing * absolute * engine.displacement * redline / (120.0 * R_AIR * 320.0)


def choking_air(c: Compressor, air: Air, target: float) -> float:
    """Air (kg/s) at which the compressor has no head left, at the tip speed that the target needs."""
    step = ((air.pressure + target + 8e3) / (air.pressure - 2e3)) ** (1.0 / 3.5) - 1.0
    mach = sqrt(5.0 * step / (0.9 * c.head_zero_flow))
    face = 0.25 * pi * c.wheel * c.wheel * air.pressure / (R_AIR * air.temperature)
    return c.flow_scale / sqrt(1.0 + c.flow_bend * mach * mach) * mach * 346.0 * face


def _parts(rng: Rng, air: Air, target: float) -> tuple[Hardware, float, float]:
    u = rng.uniform
    litres = float(rng.choice([1.6, 1.8, 2.0, 2.2, 2.5]))
    redline = float(rng.choice(np.arange(6300.0, 7600.0, 100.0)))
    breathing = u(0.84, 0.93)
    engine = Engine(
        displacement=litres * 1e-3,
        cylinders=4.0,
        breathing=breathing,
        hump=u(0.02, 0.09),
        hump_speed=u(4000.0, 5200.0),
        hump_width=u(1500.0, 2400.0),
        compression=u(8.3, 10.2),
        heat_share=u(0.345, 0.39),
        heat_slope=u(0.004, 0.012),
        rich=round(u(0.78, 0.86), 2),
        pulse=u(0.3, 0.75),
        runner_volume=u(1.3e-3, 2.4e-3),
        wall_conductance=u(2.5, 6.0),
        wall_heat=u(900.0, 2200.0),
        work_share=u(0.33, 0.37),
        friction=u(0.9e5, 1.4e5),
    )
    most = most_air(engine, air, target, redline)
    flow_scale = u(0.37, 0.43)
    compressor = Compressor(
        0.05,
        u(1.15, 1.28),
        flow_scale,
        1.04,
        u(0.09, 0.2),
        u(1.88, 1.98),
        0.9,
        u(0.22, 0.3),
        u(0.93, 1.03),
        u(1.5e-3, 3e-3),
    )
    # the wheel that chokes at so many times the engine's air
    wheel = 0.05 * sqrt(u(1.25, 1.6) * most / choking_air(compressor, air, target))
    compressor = compressor._replace(wheel=wheel)
    turbine = Turbine(
        4.5e-4 * most / 0.21 * u(0.95, 1.3), wheel * u(0.84, 0.95), u(0.62, 0.7), u(0.64, 0.72), u(0.02, 0.08)
    )
    inertia = u(1.0, 1.5) * (0.008 * 8200.0 * turbine.wheel**5 + 0.007 * 2750.0 * wheel**5)
    charge = Charge(
        pipe_volume=u(0.004, 0.009),
        manifold_volume=u(0.002, 0.005),
        filter_loss=0.0,
        cooler_loss=0.0,
        cooler_effectiveness=u(0.62, 0.84),
        core_heat=u(1500.0, 4500.0),
        core_to_air=u(60.0, 180.0),
        leak_area=0.0,
        bypass_area=0.0,
        bypass_lift=1e9,
        throttle=0.048 + 5e-3 * litres + u(-2e-3, 3e-3),
    )
    charge = charge._replace(
        filter_loss=u(0.8e3, 3.5e3) * 1e5 / (295.0 * most**2),
        cooler_loss=u(4e3, 13e3) * 1.9e5 / (390.0 * most**2),
    )
    exhaust = Exhaust(u(8e3, 26e3) * 1.15e5 / (1080.0 * (1.08 * most) ** 2))
    external = rng.random() < 0.25
    if external:
        port = float(rng.choice([0.034, 0.038, 0.040, 0.044]))
        gate = Gate(1.0, port, u(0.62, 0.76), 1.0, 1.0, 0.0, u(0.35, 0.6), 0.0, port)
        area, stroke, span = u(2.4e-3, 3.6e-3), u(9.5e-3, 12e-3), u(15e3, 36e3)
        mass, volume = u(0.1, 0.2), u(4e-5, 1.2e-4)
    else:
        port = round(u(0.027, 0.037), 4)
        gate = Gate(0.0, port, u(0.62, 0.76), u(0.024, 0.03), u(0.017, 0.021), 0.0, u(0.35, 0.65), 0.0, port)
        area, stroke, span = u(1.2e-3, 2.1e-3), u(10e-3, 13e-3), u(15e3, 34e3)
        mass, volume = u(0.08, 0.18), u(2.5e-5, 8e-5)
    stroke = round(stroke * 2e3) / 2e3
    gate = gate._replace(free_travel=stroke * u(1.1, 1.35), valve=gate.port * u(1.04, 1.1))
    stiffness = span * area / stroke
    rub = u(0.8e3, 3e3) * area
    actuator = Actuator(
        area,
        u(1.0, 6.0),
        stiffness,
        60.0,
        mass,
        critical_damping(mass, stiffness, u(0.15, 0.4)),
        rub,
        rub * u(1.1, 1.5),
        stroke,
        volume,
        hole_area(u(0.0, 1.3e-5)),
    )
    hardware = Hardware(
        air,
        compressor,
        turbine,
        Shaft(inertia, u(0.5, 1.6) * 2.5e-6),
        charge,
        engine,
        exhaust,
        gate,
        actuator,
        _signal(rng, NONE),
        Ecu(0.0, target, 0.4, 3e-6, 6e-6, 0.0, 0.95, 2e4, 1.0, 0.0, 0.03),
    )
    return hardware, redline, wheel * u(0.74, 0.8)


def _signal(rng: Rng, kind: float) -> Signal:
    u = rng.uniform
    bore = u(3.4e-3, 4.6e-3)
    first, second = u(0.15, 0.5), u(0.15, 0.6)
    s = Signal(
        kind=kind,
        take_off=0.0,
        supply_area=hose_area(bore, first),
        supply_volume=0.25 * pi * bore**2 * first,
        path_area=hole_area(3e-3),
        hose_area=hose_area(bore, second),
        hose_volume=0.25 * pi * bore**2 * second,
        leak_area=0.0,
        bleed_area=0.0,
        offset=0.0,
        seat=u(2.6e-3, 4.2e-3),
        ball_stiffness=u(150.0, 500.0),
        ball_leak=hole_area(u(3e-5, 1.1e-4)),
        ball_stick=u(0.0, 600.0),
        ball_stuck=0.0,
        supply_port=hole_area(u(1.6e-3, 2.6e-3)),
        vent_port=0.0,
        frequency=float(rng.choice([20.0, 25.0, 31.0, 33.0, 40.0])),
        stuck=-1.0,
        reversed=0.0,
    )
    if kind == BALL:
        s = s._replace(
            bleed_area=hole_area(u(0.55e-3, 1.05e-3)),
            supply_area=min(s.supply_area, hole_area(u(2e-3, 3e-3))),
        )
    elif kind == BLEED:
        s = s._replace(path_area=hole_area(u(1.0e-3, 1.7e-3)))
    elif kind == SOLENOID:
        s = s._replace(vent_port=s.supply_port * u(0.85, 1.2))
    return s


def _solve(
    value: Callable[[float], float], low: float, high: float, *, tolerance: float, rounds: int = 14
) -> float | None:
    """Root of a rising function by false position with bisection as its guard; None if not bracketed."""
    at_low, at_high = value(low), value(high)
    if at_low > 0.0 or at_high < 0.0:
        return None
    for n in range(rounds):
        guess = 0.5 * (low + high) if n % 3 == 2 else low - at_low * (high - low) / (at_high - at_low)
        guess = min(max(guess, low + 0.02 * (high - low)), high - 0.02 * (high - low))
        here = value(guess)
        if abs(here) < tolerance:
            return guess
        if here > 0.0:
            high, at_high = guess, here
        else:
            low, at_low = guess, here
    return None


def _level(car: Hardware, redline: float) -> Plateau:
    return plateau(plain_pull(car, redline), car.air.pressure, car.ecu.target)


Fits = Callable[[Hardware, float], bool]


def random_car(rng: Rng, *, kind: float | None = None, fits: Fits | None = None) -> Car:
    """A car whose sound version holds its target; draws until one is found.

    ``rng`` decides everything; ``kind`` (one of ``hardware.KINDS``) fixes the controller, ``fits``
    turns down hardware (with its redline in rpm) before anything is solved for it.
    """
    chosen = float(rng.choice(KINDS)) if kind is None else kind
    while True:
        seed = int(rng.integers(2**31))
        car = _attempt(np.random.default_rng(seed), chosen, seed, fits)
        if car is not None:
            return car


def _attempt(rng: Rng, kind: float, seed: int, fits: Fits | None) -> Car | None:
    u = rng.uniform
    air = Air(u(97.5e3, 103.2e3), u(283.0, 305.0))
    low, high = {NONE: (30e3, 95e3), BALL: (65e3, 142e3), BLEED: (58e3, 115e3), SOLENOID: (70e3, 125e3)}[kind]
    target = round(u(low, high) / 1e3) * 1e3
    car, redline, inducer = _parts(rng, air, target)
    if fits is not None and not fits(car, redline):
        return None
    car = replace(car, signal=_signal(rng, kind))
    # the floor first: gate held open, a third of the cost of everything else
    held_open = car.changed("actuator", preload=-1e4)
    if plain_pull(held_open, redline)[-1, loop.P_MANIFOLD] - air.pressure > target - u(10e3, 25e3):
        return None
    area = car.actuator.area
    turns = per_turn = slack = bleed_per_turn = 0.0
    base = (
        target
        if kind == NONE
        else target * {BALL: u(0.5, 0.85), BLEED: u(0.5, 0.8), SOLENOID: u(0.55, 0.85)}[kind]
    )

    def with_preload(pressure: float) -> Hardware:
        return car.changed("actuator", preload=pressure * area)

    direct = (
        car
        if kind == NONE
        else replace(car, signal=car.signal._replace(kind=NONE, bleed_area=0.0, path_area=1e-5))
    )

    def base_error(pressure: float) -> float:
        return _level(direct.changed("actuator", preload=pressure * area), redline).level - base

    opening = _solve(base_error, 12e3, 230e3, tolerance=1.2e3)
    if opening is None or opening < 22e3:
        return None
    car = with_preload(opening)
    if kind == BALL:

        def offset_error(offset: float) -> float:
            return _level(car.changed("signal", offset=offset), redline).level - target

        solved = _solve(offset_error, 1e3, 140e3, tolerance=0.8e3)
        if solved is None:
            return None
        slack, per_turn = solved, u(4e3, 12e3)
        turns = round(min(u(1.0, 8.0), solved / per_turn) * 4.0) / 4.0
        car = car.changed("signal", offset=solved)
    elif kind == BLEED:

        def bleed_error(bleed: float) -> float:
            return _level(car.changed("signal", bleed_area=bleed), redline).level - target

        solved = _solve(bleed_error, 1e-9, 2.2 * car.signal.path_area, tolerance=0.8e3)
        if solved is None:
            return None
        turns = round(u(3.0, 22.0) * 4.0) / 4.0
        bleed_per_turn = solved / turns
        car = car.changed("signal", bleed_area=solved)
    elif kind == SOLENOID:

        def duty_error(duty: float) -> float:
            fixed = car.changed("ecu", active=1.0, base_duty=duty, gain=0.0, integral=0.0, highest=duty)
            return _level(fixed, redline).level - target

        solved = _solve(duty_error, 0.0, 0.85, tolerance=2.5e3)
        if solved is None or not 0.15 < solved < 0.72 or duty_error(0.95) < 0.2 * target:
            return None
        car = car.changed(
            "ecu",
            active=1.0,
            base_duty=solved,
            highest=0.95,
            gain=u(1.5e-6, 4e-6),
            integral=u(2e-6, 7e-6),
            window=u(8e3, 22e3),
            sensor_lag=u(0.015, 0.045),
        )
    sound = _level(car, redline)
    if not sound.reached or abs(sound.level - target) > 4e3 or abs(sound.rise) > 9e3:
        return None
    if sound.spike > 14e3 or sound.rpm80 > 0.62 * redline:
        return None
    return Car(car, target, redline, inducer, turns, per_turn, slack, bleed_per_turn, seed)
