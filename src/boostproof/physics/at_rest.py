"""Pressures at rest in the signal line, for many candidates at once.

A pressure at rest is the root of one balance: what a part lets through, less what is lost behind it. Each step
of the kernel halves the bracket of every candidate, so that the root is found like any other model is run.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boostproof import physics
from boostproof.physics.lanes import Kernel, make_kernel
from boostproof.physics.ops import component, where
from boostproof.physics.orifice import air_flow, tube_flow
from boostproof.physics.pneumatics import node_balance

Array = NDArray[np.float64]

HALVINGS = 15  # 8 bar / 2^15 = 24 Pa, in which a straight line is right to a pascal but for kinks

# rows of what the kernel is given
(
    LOW, HIGH, OTHER, LOST_AREA, LOST_FLOW, AMBIENT, TEMPERATURE, AREA, OFFSET, BALL, SOLENOID, INTERRUPTS, VENT_SHARE,
    VENT_AREA, BLEED, HOSE_AREA,
) = range(16)  # fmt: skip
SIZE = 16


@component
def start(par, inp):
    """Bracket [Pa abs], and what the balance is at its ends; not known yet, zero keeps to them."""
    return par[LOW], par[HIGH], 0.0 * par[LOW], 0.0 * par[LOW]


@component
def halve(state, par, inp, h):
    """One halving; the second result is the root by a straight line between the ends. [Pa abs]

    ``inp`` is (1 for the hose, 0 for the controller; 1 where the pressure behind the part is sought, 0 where
    that before it is).
    """
    low, high, at_low, at_high = state
    hose, behind = inp
    middle = 0.5 * (low + high)
    before = middle + behind * (par[OTHER] - middle)
    after = par[OTHER] + behind * (middle - par[OTHER])
    through_hose, _, _ = tube_flow(par[HOSE_AREA], before, after, par[TEMPERATURE])
    through_controller, _, _, _ = node_balance(
        before, after, par[AMBIENT], par[TEMPERATURE], par[AREA], par[OFFSET], par[BALL], par[SOLENOID],
        par[INTERRUPTS], par[VENT_SHARE], par[VENT_AREA], par[BLEED],
    )  # fmt: skip
    passed = through_controller + hose * (through_hose - through_controller)
    lost, _, _ = air_flow(par[LOST_AREA], middle, par[AMBIENT], par[TEMPERATURE])
    # both balances fall as the pressure that is sought rises
    value = behind * (passed - lost) + (1.0 - behind) * (par[LOST_FLOW] - passed)
    above = value > 0.0
    low, at_low = where(above, middle, low), where(above, value, at_low)
    high, at_high = where(above, high, middle), where(above, at_high, value)
    drop = at_low - at_high
    share = where(drop > 0.0, at_low / where(drop > 0.0, drop, 1.0 + 0.0 * drop), 0.5 + 0.0 * drop)
    return (low, high, at_low, at_high), (low + (high - low) * share,)


@lru_cache(maxsize=1)
def kernel() -> Kernel:
    """The compiled balance, one per process."""
    return make_kernel(halve, start, 4, SIZE, 2, 1, sources=[physics], name="at-rest")


def pressure_at_rest(par: Array, *, through_hose: bool, behind: bool) -> Array:
    """The pressure, per candidate, at which as much comes through a part as is lost; an end of the bracket where none is.

    Parameters
    ----------
    par : (SIZE, n) float64, rows as named above; pressures absolute
    through_hose : the part is the hose, else the controller
    behind : the pressure sought is that behind the part, and what is lost flows out of ``LOST_AREA`` there; else
        it is that before it, and ``LOST_FLOW`` is lost
    """
    record = np.full(HALVINGS, -1, np.int32)
    record[-1] = 0
    out = kernel().run(
        par, np.tile([float(through_hose), float(behind)], (HALVINGS, 1)), np.ones(HALVINGS), record, 1,
        threads=1, dtype=np.float64,
    )  # fmt: skip
    return np.asarray(out[0, 0], float)
