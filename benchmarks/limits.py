"""What this machine can do at most: multiply-adds per second of one core, by a kernel that does nothing else."""

from __future__ import annotations

import time

import numpy as np

from boostproof.physics.lanes import Kernel, make_kernel
from boostproof.physics.ops import component

_CHAINS, _DEPTH = 8, 16  # enough independent chains to fill the pipelines, deep enough to hide the loads


@component
def _deep(x, a, b):
    """Sixteen multiply-adds, each waiting for the one before."""
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    x = x * a + b
    return x * a + b


@component
def _step(state, par, inp, h):
    a, b = par
    new = (
        _deep(state[0], a, b), _deep(state[1], a, b), _deep(state[2], a, b), _deep(state[3], a, b),
        _deep(state[4], a, b), _deep(state[5], a, b), _deep(state[6], a, b), _deep(state[7], a, b),
    )  # fmt: skip
    return new, (new[0],)


@component
def _initial(par, inp):
    one = 0.0 * par[0] + 1.0
    return (one, one + 0.1, one + 0.2, one + 0.3, one + 0.4, one + 0.5, one + 0.6, one + 0.7)


def multiply_add_kernel() -> Kernel:
    """The kernel that is timed."""
    return make_kernel(_step, _initial, _CHAINS, 2, 1, 1, sources=[__file__], name="multiply_adds")


def fma_gflops(steps: int = 400, lanes: int = 1024) -> float:
    """Measured multiply-adds, two operations each, of one core in float32. [1e9/s], best of five"""
    kernel = multiply_add_kernel()
    par = np.full((2, lanes), 0.5, np.float32)
    drive = (np.zeros((steps, 1)), np.full(steps, 1e-3), np.full(steps, -1), 1)
    kernel.run(par, *drive)
    best = 0.0
    for _ in range(5):
        start = time.process_time()
        for _ in range(8):
            kernel.run(par, *drive, threads=1)
        best = max(best, 8 * lanes * steps * _CHAINS * _DEPTH * 2 / (time.process_time() - start))
    return best / 1e9
