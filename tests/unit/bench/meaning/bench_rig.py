"""A bench of its own for the tests: an actuator, a ball, a leak and a sensor, read with a gauge that errs.

Written apart from the tool's model: force balance of the diaphragm whose area falls with the stroke, volume that
empties by small steps of time through a nozzle written with the Mach number, and readings rounded to marks. The
gauge errs as its class allows; the person as people do (judgement).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

AIR, R, WARM, GAMMA = 101325.0, 287.05, 293.15, 1.4
MARK, CLASS, RANGE = 2e3, 0.01, 2.5e5
GAUGE = {"smallest_mark": "2 kPa", "class_": "1 %", "range": "250 kPa"}


@dataclass(frozen=True)
class Truth:
    """What is true of one car, SI."""

    opening: float
    slope: float
    offset: float
    leak: float
    gain: float


def outflow(area: float, gauge: np.ndarray) -> np.ndarray:
    """Mass flow of a nozzle to the air around. [kg/s]"""
    p = np.maximum(gauge, 0.0) + AIR
    mach = np.minimum(np.sqrt(2.0 / (GAMMA - 1.0) * ((p / AIR) ** ((GAMMA - 1.0) / GAMMA) - 1.0)), 1.0)
    spread = (1.0 + 0.5 * (GAMMA - 1.0) * mach**2) ** (-(GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))
    return area * p * mach * np.sqrt(GAMMA / (R * WARM)) * spread


def left_after(start: float, area: float, volume: float, seconds: float, steps: int = 600) -> float:
    """Gauge pressure after emptying, isothermal, by Heun's steps. [Pa]"""
    p, dt = np.array(start), seconds / steps
    for _ in range(steps):
        first = -R * WARM / volume * outflow(area, p)
        second = -R * WARM / volume * outflow(area, p + dt * first)
        p = np.maximum(p + 0.5 * dt * (first + second), 0.0)
    return float(p)


class Person:
    """One gauge on one day, and the eyes behind it."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.zero = rng.uniform(-1.0, 1.0) * CLASS * RANGE
        self.scale = 1.0 + rng.normal(0.0, 0.004)

    def reads(self, pressure: float, judgement: float) -> str:
        """A pressure as written down, to the nearest mark."""
        shown = pressure * self.scale + self.zero + self.rng.normal(0.0, judgement) + self.rng.normal(0.0, 0.25 * MARK)
        return f"{max(round(shown / MARK), 0) * MARK / 1e3:g} kPa"

    def rules(self, length: float) -> str:
        """A length read off a rule, to half a millimetre."""
        return f"{round((length + self.rng.normal(0.0, 0.3e-3)) / 0.5e-3) * 0.5:g} mm"


def draw(rng: np.random.Generator, chamber: float) -> tuple[Truth, list[dict]]:
    """One car with its readings, as keys of readings.toml with their test. ``chamber``: its volume [m3]"""
    area, fall = rng.uniform(1.2e-3, 2.1e-3), rng.uniform(0.01, 0.05)
    stroke = rng.uniform(9e-3, 13e-3)
    preload, stiffness = rng.uniform(30e3, 110e3) * area, rng.uniform(15e3, 40e3) * area / stroke
    rub = rng.uniform(0.5e3, 3e3) * area

    def balance(travel: float) -> float:
        return (preload + rub + stiffness * travel) / (area * (1.0 - fall * travel / stroke))

    opening, full = balance(0.0), balance(stroke)
    offset = rng.uniform(10e3, 70e3)
    leak = 10.0 ** rng.uniform(-9.3, -8.0)
    gain, shift = rng.normal(1.0, 0.03), rng.normal(0.0, 3e3)
    person = Person(rng)

    def sweep(added: float) -> dict:
        seen, missing = rng.uniform(0.1e-3, 0.6e-3), rng.uniform(0.0, 0.03)
        return {
            "first_movement": person.reads(added + balance(seen), 1.2e3),
            "full_travel": person.reads(added + balance(stroke * (1.0 - missing)), 1.5e3),
            "travel": person.rules(stroke),
        }

    start = 0.5 * (opening + full)
    volume = chamber + rng.uniform(1e-5, 6e-5)
    held = {
        "start": person.reads(start, 0.8e3),
        "after_10_s": person.reads(left_after(start, leak, volume, 10.0), 0.8e3),
        "after_60_s": person.reads(left_after(start, leak, volume, 60.0), 0.8e3),
    }
    barometer = rng.uniform(97e3, 103e3)
    rows = []
    for applied in (0.0, 50e3, 100e3, 150e3):
        # a hand pump is brought to a mark of the gauge: what is really there differs by the gauge's errors
        true = 0.0 if applied == 0.0 else (applied - person.zero - rng.normal(0.0, 0.4 * MARK)) / person.scale
        reads = gain * (barometer + true) + shift + rng.normal(0.0, 250.0)
        row = {"applied": f"{applied / 1e3:g} kPa", "reads": f"{reads / 1e3:.1f} kPa abs"}
        if applied == 0.0:
            row["barometer"] = f"{(barometer + rng.normal(0.0, 200.0)) / 1e3:.1f} kPa"
        rows.append(row)
    truth = Truth(opening, (full - opening) / stroke, offset, leak, gain)
    return truth, [
        {"test": "actuator-sweep", "leak": held} | sweep(0.0),
        {"test": "controller-sweep"} | sweep(offset),
        {"test": "sensor-check", "rows": rows},
    ]
