"""Kernels on a graphics processor, for runs of many thousand cars: evaluation, not the shop's laptop.

Needs CuPy and an NVIDIA device. The text is that of every other engine (``device_text.py``); it is compiled once and
kept by CuPy in the user's cache.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.physics.device_text import device_text

Array = NDArray[np.floating[Any]]
_THREADS = 32  # of a block: a few hundred candidates then still spread over the whole device
# as the lanes are compiled: products and sums joined, quotients and roots to a few last bits
_OPTIONS = ("--std=c++17", "--use_fast_math")


def missing() -> str:
    """Why kernels cannot run on a device here; empty where they can."""
    try:
        import cupy
    except ImportError as problem:
        return f"CuPy cannot be loaded ({problem})"
    try:
        return "" if cupy.cuda.runtime.getDeviceCount() else "there is no device"
    except cupy.cuda.runtime.CUDARuntimeError as problem:
        return f"no device answers ({problem})"


def build(
    step: Callable[..., Any], initial: Callable[..., Any], sizes: tuple[int, int, int, int], kind: np.dtype[Any]
) -> Callable[..., None]:
    """A function that runs all candidates of a model on the device.

    ``run(par, inputs, h, record, scale, out)`` with arrays as in ``lanes.Kernel.run``, which adds the means over the
    recorded steps to *out*.

    Parameters
    ----------
    step, initial, sizes : of the model, as `lanes.make_kernel` takes them
    kind : float32 or float64
    """
    import cupy

    text = device_text(step, initial, sizes, double=kind == np.float64)
    kernel = cupy.RawModule(code=text, options=_OPTIONS).get_function("pulls")

    def run(par: Array, inputs: Array, h: Array, record: NDArray[np.int32], scale: Array, out: Array) -> None:
        n = par.shape[1]
        given = [cupy.asarray(a) for a in (par, inputs, h, record, scale)]
        shown = cupy.zeros(out.shape, kind)
        kernel((-(-n // _THREADS),), (_THREADS,), (*given, shown, np.int32(n), np.int32(len(h))))
        done = cupy.cuda.Event(block=True)  # asleep, so that another process has the processor
        done.record()
        done.synchronize()
        out += cupy.asnumpy(shown)

    return run
