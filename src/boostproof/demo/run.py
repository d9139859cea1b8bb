"""Drive a car: from hardware and a list of phases to a table of true values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import loop
from .hardware import Hardware
from .pneumatic import signal_at_rest

Array = NDArray[np.float64]
STEP = 2e-4
SAMPLE = 5e-3


@dataclass(frozen=True)
class Phase:
    """One stretch of driving.

    ``rpm`` where it goes, ``pedal`` 0..1, ``rate`` rpm/s or minus an inertia in kg m2, ``lasts`` s at
    most, ``lift_at`` Pa gauge, ``reaction`` s.
    """

    mode: float
    rpm: float
    pedal: float
    rate: float = 0.0
    lasts: float = 2.0
    lift_at: float = 1e9
    reaction: float = 0.25
    keep: bool = True


def cruise(rpm: float, lasts: float = 2.0, *, pedal: float = 0.13, keep: bool = True) -> Phase:
    """Steady light load."""
    return Phase(loop.CRUISE, rpm, pedal, lasts=lasts, keep=keep)


def pull(
    rpm: float, rate: float, *, lift_at: float = 1e9, reaction: float = 0.25, pedal: float = 1.0
) -> Phase:
    """Full load up to ``rpm``: on a ramp (rate > 0, rpm/s) or against an inertia (rate < 0, kg m2)."""
    return Phase(loop.PULL, rpm, pedal, rate, 40.0, lift_at, reaction)


def roll_off(rpm: float, lasts: float, *, rate: float = 900.0, keep: bool = True) -> Phase:
    """Throttle shut, engine speed falling."""
    return Phase(loop.ROLL, rpm, 0.0, rate, lasts, keep=keep)


def run(
    car: Hardware, phases: Sequence[Phase], *, step: float = STEP, sample: float = SAMPLE
) -> tuple[Array, Array]:
    """True values (rows of ``loop.COLUMNS``) and the audit of masses and energies."""
    table = np.array(
        [[p.mode, p.rpm, p.pedal, p.rate, p.lasts, p.lift_at, p.reaction, float(p.keep)] for p in phases]
    )
    out = np.zeros((int(sum(p.lasts for p in phases) / sample) + 10, loop.COLUMNS))
    audit = np.zeros(loop.AUDITS)
    state = signal_at_rest(car.air.pressure)
    rows = loop.drive(
        car.air,
        car.compressor,
        car.turbine,
        car.shaft,
        car.charge,
        car.engine,
        car.exhaust,
        car.gate,
        car.actuator,
        car.signal,
        car.ecu,
        table,
        state,
        step,
        sample,
        out,
        audit,
    )
    return out[:rows], audit
