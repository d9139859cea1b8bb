"""The text for a graphics processor, run here by a C++ compiler, a thread after the other."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import numpy as np
import pytest
from benchmarks.cars import pull
from tests.unit.physics.kernels import toy_candidates, toy_kernel, toy_pull
from tests.unit.physics.test_kinds import cars_of_every_kind

from boostproof.diagnosis.evidence.simulator import car_kernel
from boostproof.errors import NotDoneError
from boostproof.physics import layout, system
from boostproof.physics.device_text import device_text
from boostproof.physics.stepping import pull_steps

COMPILER = next(filter(None, map(shutil.which, ("c++", "g++", "clang++"))), None)
needs_compiler = pytest.mark.skipif(COMPILER is None, reason="no C++ compiler on this machine")
_BEFORE = """#include <cmath>
using std::sqrt; using std::fabs;
#define __device__
#define __global__
#define __forceinline__ inline
#define __restrict__
static struct {int x;} blockIdx, blockDim, threadIdx;
"""
_AFTER = """
extern "C" void all(int blocks, int threads, const real* par, const real* inputs, const real* h, const int* record,
                    const real* scale, real* out, int n, int n_steps) {
  blockDim.x = threads;
  for (blockIdx.x = 0; blockIdx.x < blocks; blockIdx.x++)
    for (threadIdx.x = 0; threadIdx.x < threads; threadIdx.x++)
      pulls(par, inputs, h, record, scale, out, n, n_steps);
}
"""


def compiled(text: str, folder: Path) -> Any:
    """The kernel's text as a function over all blocks and threads."""
    assert COMPILER is not None
    source, library = folder / "pulls.cpp", folder / f"pulls{len(list(folder.iterdir()))}.so"
    source.write_text(_BEFORE + text + _AFTER)
    subprocess.run([COMPILER, "-O1", "-shared", "-fPIC", "-o", library, source], check=True, capture_output=True)
    return ctypes.CDLL(str(library)).all


@pytest.fixture
def device(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """A stand-in for CuPy, whose device is the compiler's code."""

    class Module:
        def __init__(self, code: str, options: tuple[str, ...]) -> None:
            self.run = compiled(code, tmp_path)

        def get_function(self, name: str) -> Any:
            assert name == "pulls"

            def launch(blocks: tuple[int], threads: tuple[int], given: tuple[Any, ...]) -> None:
                *arrays, n, steps = given
                addresses = [ctypes.c_void_p(a.ctypes.data) for a in arrays]
                self.run(blocks[0], threads[0], *addresses, int(n), int(steps))

            return launch

    made: Any = ModuleType("cupy")
    made.asarray, made.zeros, made.asnumpy, made.RawModule = np.ascontiguousarray, np.zeros, np.array, Module
    event = SimpleNamespace(record=lambda: None, synchronize=lambda: None)
    made.cuda = SimpleNamespace(Event=lambda block: event, runtime=SimpleNamespace(getDeviceCount=lambda: 1))
    monkeypatch.setitem(sys.modules, "cupy", made)
    monkeypatch.setenv("BOOSTPROOF_ENGINE", "device")
    return made


@needs_compiler
def test_cars_of_every_kind_run_alike_on_the_device(device: ModuleType) -> None:
    """In double precision to rounding, in single precision to what a sensor cannot see."""
    par = cars_of_every_kind()
    inputs, steps = pull(pull_steps(6.0))
    record = (np.arange(len(steps)) // 20).astype(np.int32)
    kernel, slots = car_kernel.__wrapped__(), int(record.max()) + 1
    assert kernel.engine == "device"
    exact = kernel.run(par, inputs, steps, record, slots, engine="numpy", dtype=np.float64)
    double = kernel.run(par, inputs, steps, record, slots, dtype=np.float64)
    scale = np.abs(exact).max(axis=(0, 2), keepdims=True) + 1e-12
    assert (np.abs(double - exact) / scale).max() < 1e-6
    boost = system.OUTPUT_INDEX["boost"]
    single = kernel.run(par, inputs, steps, record, slots)
    assert single.dtype == np.float32
    assert np.abs(single - exact)[:, boost].max() < 60.0  # Pa


@needs_compiler
@pytest.mark.parametrize("count", [1, 31, 33, 100])
def test_any_number_of_candidates_and_slots_named_twice(device: ModuleType, count: int) -> None:
    kernel, par = toy_kernel(), toy_candidates(count)
    inputs, steps, record, slots = toy_pull()
    record[-30:] = 2  # a slot that is gone back to
    mine = kernel.run(par, inputs, steps, record, slots, dtype=np.float64)
    theirs = kernel.run(par, inputs, steps, record, slots, engine="numpy", dtype=np.float64)
    assert np.allclose(mine, theirs, rtol=1e-9, equal_nan=True)


def test_the_text_is_that_of_the_equations_alone() -> None:
    """One statement an operation, no call but to the six helpers, and a number's own precision."""
    sizes = (system.N_STATE, layout.SIZE, system.N_INPUT, system.N_OUTPUT)
    single, double = (device_text(system.step, system.initial, sizes, double=d) for d in (False, True))
    assert "double" not in single
    assert "float" not in double
    assert single.count("const real t") + single.count("const bool t") > 1000


def test_without_a_device_it_is_said_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BOOSTPROOF_ENGINE", "device")
    monkeypatch.setitem(sys.modules, "cupy", None)
    with pytest.raises(NotDoneError, match="CuPy cannot be loaded") as problem:
        toy_kernel().run(toy_candidates(3), *toy_pull())
    assert problem.value.kind == "engine-missing"
