"""The three drives on which a fault shows its signature: slow ramp, tip-in at held speed, second pull.

The ramp rises over 14 s from 0.30 to 0.97 of redline; the tip-in is at 0.60; the two pulls of 5 s stand 2 s apart.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.drive import gate_heat
from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.physics import layout, system

STEP = 0.01  # s
_CRUISE = 2.0  # s before the throttle opens
_RAMP, _TIP, _PULL, _LIFT = 14.0, 3.0, 5.0, 2.0  # s
_RAMP_SHARES, _PULL_SHARES, _HELD = (0.30, 0.97), (0.42, 0.90), 0.60
_WARM = 0.13  # throttle in cruise
_LIFTED = 0.13  # and lifted off


@dataclass(frozen=True)
class Traces:
    """Outputs of a sound car (first) and faulty ones over the three drives.

    Attributes
    ----------
    par : (parameters, n)
    speed, ramp : engine speed over redline (rows,), outputs of the slow ramp (rows, outputs, n)
    tip : from the tip-in on, steps of 10 ms
    first, lift, second : the two pulls and the lift-off between them
    ambient : [Pa abs]
    """

    par: Array = field(repr=False)
    speed: Array = field(repr=False)
    ramp: Array = field(repr=False)
    tip: Array = field(repr=False)
    first: Array = field(repr=False)
    lift: Array = field(repr=False)
    second: Array = field(repr=False)
    ambient: float


def drive(par: Array, target: float, *, ambient: float = 101325.0, outside: float = 295.0) -> Traces:
    """Simulate cars through the three drives.

    Parameters
    ----------
    par : (parameters, n) the sound car first, SI
    target : boost wanted [Pa gauge]
    ambient, outside : air around [Pa abs], [K]
    """
    redline = float(par[layout.index_of("redline"), 0])

    def run(share: Array, throttle: Array) -> Array:
        steps = np.full(len(share), STEP)
        inputs = np.zeros((len(share), system.N_INPUT))
        inputs[:, 0], inputs[:, 1], inputs[:, 2] = share * redline, throttle, target
        inputs[:, 4], inputs[:, 5] = ambient, outside
        inputs[:, 6] = gate_heat(throttle, steps)
        record = np.arange(len(share), dtype=np.int32)
        return np.asarray(car_kernel().run(par, inputs, steps, record, len(share)), float)

    def times(seconds: float) -> Array:
        return np.asarray(STEP * np.arange(round(seconds / STEP)), float)

    cruise, ramp = times(_CRUISE), times(_RAMP)
    share = np.interp(ramp, (0.0, _RAMP), _RAMP_SHARES)
    slow = run(np.concatenate([0.0 * cruise + share[0], share]), np.concatenate([0.0 * cruise + _WARM, 0.0 * ramp + 1]))
    tip = times(_TIP)
    held = run(np.full(len(cruise) + len(tip), _HELD), np.concatenate([0.0 * cruise + _WARM, 0.0 * tip + 1.0]))
    up, off = np.interp(times(_PULL), (0.0, _PULL), _PULL_SHARES), np.interp(times(_LIFT), (0.0, _LIFT), _PULL_SHARES[::-1])
    twice = run(
        np.concatenate([0.0 * cruise + up[0], up, off, up]),
        np.concatenate([0.0 * cruise + _WARM, 0.0 * up + 1.0, 0.0 * off + _LIFTED, 0.0 * up + 1.0]),
    )
    a, b = len(cruise) + len(up), len(cruise) + len(up) + len(off)
    return Traces(
        par, share, slow[len(cruise) :], held[len(cruise) :],
        twice[len(cruise) : a], twice[a:b], twice[b:], ambient,
    )  # fmt: skip
