"""Shared by the tests of kernels: drives for the toy model, and running Python afresh."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from tests.unit.physics import toy_turbo

from boostproof.physics.lanes import Kernel, make_kernel

ROOT = Path(__file__).resolve().parents[3]


def toy_kernel(name: str = "toy") -> Kernel:
    """A fresh kernel of the toy turbo model."""
    toy = toy_turbo
    return make_kernel(
        toy.step, toy.initial, toy.N_STATE, toy.N_PAR, toy.N_INP, toy.N_OUT, sources=[toy], name=name
    )


def toy_candidates(n: int, seed: int = 1) -> NDArray[np.float32]:
    """Parameters drawn evenly over the toy's ranges, (n_par, n)."""
    low, high = np.array(toy_turbo.RANGES).T[:, :, None]
    return (low + (high - low) * np.random.default_rng(seed).random((toy_turbo.N_PAR, n))).astype(np.float32)


def toy_pull(steps: int = 400) -> tuple[NDArray[Any], NDArray[Any], NDArray[np.int32], int]:
    """Inputs, step sizes, record and number of slots of a pull of 5 ms steps."""
    t = np.arange(steps) * 0.005
    inputs = np.column_stack([2500 + 900 * t, np.minimum(1.0, 0.3 + 5 * t), 950 + 20 * t])
    record = (np.arange(steps) // 20 - 2).clip(-1).astype(np.int32)
    return inputs, np.full(steps, 0.005), record, int(record.max()) + 1


def run_python(code: str, *arguments: object, **environment: str | None) -> str:
    """Output of *code* in a fresh interpreter that can import the package and the tests.

    ``None`` takes a variable out of the environment. Raises AssertionError with what the interpreter
    said where it failed.
    """
    done = start_python(code, *arguments, **environment)
    out, err = done.communicate(timeout=120)
    assert done.returncode == 0, err
    return out.strip()


def start_python(code: str, *arguments: object, **environment: str | None) -> subprocess.Popen[str]:
    """The same, not waited for."""
    path = os.pathsep.join(str(p) for p in (ROOT / "src", ROOT))
    variables = {**os.environ, "PYTHONPATH": path, **environment}
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        env={k: v for k, v in variables.items() if v is not None},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
