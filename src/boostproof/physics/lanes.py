"""Kernels: one text of the equations, run for thousands of candidate cars at once.

:func:`make_kernel` takes a model's ``step`` and ``initial`` and gives a :class:`Kernel` with three engines:

- **lanes**: numba, float32, blocks of 32 candidates whose numbers sit side by side in vector registers.
  Compiled at the first run (2-3 s for a car model) and kept on disk, where the next process finds it without
  loading the compiler (0.03 s); ``lanes_cache.py`` says where, and when a kernel is too old to be used.
- **numpy**: the same functions called with arrays of all candidates; needs no compiler.
- **device**: a graphics processor (``device.py``), where ``BOOSTPROOF_ENGINE=device`` asks for it by name.

``float64`` is for audits and takes a kernel of its own. The tests read the machine code, so that text which
is no longer vectorised is found; ``benchmarks/lanes.py`` measures.

Rules for the text of components
--------------------------------
1. A component is a module-level function decorated with ``ops.component``; it calls only components and the
   helpers of ``ops`` (``where minimum maximum clip sqrt absolute sign``), by name or as
   ``module.function``. No ``numpy``, no ``math`` functions, no exp, log or powers other than ``x ** 2``
   (they are not vectorised): use short polynomials and square roots.
2. Straight-line code: no ``if``, ``and``, ``or``, ``not``, loops, comprehensions, lists, exceptions,
   f-strings, closures or ``*args``. Choose with ``where``; join conditions with ``&`` and ``|`` (each
   comparison in brackets), never ``~``. Both branches of ``where`` are always computed: guard divisors and
   arguments of ``sqrt`` in both.
3. Constants: float or int literals, module-level numbers and tuples of numbers (``COEFFS[2]``), also
   through an imported module (``gas.R_AIR``). Write them plainly; a compiler pass narrows them to the
   lanes' type, and folds constants among themselves in float64 as Python does. Never ``np.float32(...)``.
   To a component pass ``2.0``, not ``2`` (an int passed on stays an int and widens everything to float64).
4. Not two literals in one ``where``: NumPy then gives float64. Use ``sign``, or arithmetic.
5. Index tuples (``par[PORT_AREA]``) with literals or module-level ints only.
6. Every component takes at least one number or tuple of the model; no default arguments that are floats.
7. Return a number or a tuple of numbers. ``step`` returns exactly ``n_state`` and ``n_out`` of them.
8. No NaN and no infinity may be needed: the compiler assumes there are none. Clamp inside, test for finite
   outputs outside.
9. What depends on ``inp`` and ``h`` only is computed once for all lanes; keep it in expressions of its own.
"""

from __future__ import annotations

import importlib.util
import os
import re
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from functools import lru_cache
from typing import Any, Literal, TypeAlias, get_args

import numpy as np
from numpy.typing import ArrayLike, DTypeLike, NDArray

from boostproof.errors import InputRangeError, NotDoneError
from boostproof.physics import lanes_cache
from boostproof.physics.lanes_cache import Source

Engine: TypeAlias = Literal["auto", "lanes", "numpy", "device"]
Floats: TypeAlias = NDArray[np.floating[Any]]
Cancel: TypeAlias = Callable[[], bool] | None
Progress: TypeAlias = Callable[[int, int], None] | None

LANES = 32  # candidates per block: two 512-bit, four 256-bit or eight 128-bit registers of float32
CHUNK = 1024  # candidates handed to a thread at a time
NUMPY_CHUNK = 8192  # NumPy pays for every operation, so it wants many candidates at a time
ONE_THREAD_BELOW = 25600  # waking threads costs more than it gives below this many steps of all candidates together

_SLOW = "The slow engine (NumPy) is used, with fewer candidates: {}."


class Kernel:
    """A model ready to run; made by :func:`make_kernel`. May be shared by threads.

    Attributes:
        name: for file names and messages.
        engine: what ``engine="auto"`` uses here, ``"lanes"``, ``"numpy"`` or ``"device"``.
        engine_note: why, where it is not the fast one; else empty.
    """

    def __init__(
        self,
        step: Callable[..., Any],
        initial: Callable[..., Any],
        sizes: tuple[int, int, int, int],
        sources: Sequence[Source],
        name: str,
    ) -> None:
        self.name = name
        self._step, self._initial, self._sizes, self._sources = step, initial, sizes, tuple(sources)
        self._built: dict[str, Callable[..., None]] = {}
        self._lock = threading.Lock()
        self.engine: Literal["lanes", "numpy", "device"] = "lanes"
        self.engine_note = ""
        if os.environ.get("BOOSTPROOF_ENGINE") == "device":
            self.engine = "device"
        elif not _numba_is_installed():
            self._fall_back("numba is not installed")

    def _fall_back(self, reason: object) -> None:
        self.engine, self.engine_note = "numpy", _SLOW.format(reason)

    def run(
        self,
        par: ArrayLike,
        inputs: ArrayLike,
        h: ArrayLike,
        record: ArrayLike,
        n_slots: int,
        *,
        engine: Engine = "auto",
        threads: int | None = None,
        cancel: Cancel = None,
        progress: Progress = None,
        dtype: DTypeLike = np.float32,
    ) -> Floats:
        """Run every candidate through all steps.

        Args:
            par: (n_par, n) parameters, SI; one column for each candidate.
            inputs: (n_steps, n_inp) what drives the model, the same for all candidates.
            h: (n_steps,) step sizes, s.
            record: (n_steps,) slot that the outputs of a step go to, or -1. A slot named by several steps
                gets the mean over them.
            n_slots: number of slots.
            engine: ``"auto"`` is the fast one where it is available, or the one that was asked for by name.
            threads: of the lanes engine; default one for each processor. Little work always runs on one.
            cancel: asked between chunks of candidates; true ends the run.
            progress: called between chunks, in the calling thread, with candidates done and all.
            dtype: float32, or float64 to audit a result.

        Returns:
            (n_slots, n_out, n) outputs of type *dtype*; NaN in a slot that no step names.

        Raises:
            InputRangeError: array shapes, slots, engine or dtype do not fit.
            NotDoneError: cancelled, ``engine="lanes"`` where numba cannot be had, or a device where there is none.
            ValueError: the model's text calls what it may not (rule 1).
            FileNotFoundError: one of the sources named to `make_kernel` is not there.
        """
        kind = np.dtype(dtype)
        if kind.name not in ("float32", "float64") or engine not in get_args(Engine):
            raise InputRangeError(
                f"engine {engine!r} with dtype {kind.name}",
                kind="range",
                where=f"kernel {self.name}",
                do=f"Engines are {', '.join(get_args(Engine))}; types are float32 and float64.",
            )
        arrays = self._checked(par, inputs, h, record, n_slots, kind)
        slots, n = arrays[3], arrays[0].shape[1]
        counts = np.bincount(slots[slots >= 0], minlength=n_slots)
        out: Floats = np.zeros((n_slots, self._sizes[3], n), kind)
        if n and n_slots and len(slots):
            scale = (1.0 / np.maximum(counts, 1)).astype(kind)
            chosen = self.engine if engine == "auto" else engine
            compiled = self._compiled_for(engine, kind) if chosen == "lanes" else None
            if chosen == "device":
                self._on_device(kind)(*arrays, scale, out)
            elif compiled is None:
                self._run_numpy(arrays, scale, out, cancel, progress)
            else:
                rows = self._sizes[0] + self._sizes[1] + self._sizes[3]

                def chunk(start: int, stop: int) -> None:
                    compiled(*arrays, scale, _aligned(rows * LANES, kind), out, start, stop)

                few = n * len(slots) < ONE_THREAD_BELOW
                _over_chunks(chunk, n, 1 if few else threads, cancel, progress)
        out[counts == 0] = np.nan
        return out

    def _checked(
        self, par: Any, inputs: Any, h: Any, record: Any, n_slots: int, kind: np.dtype[Any]
    ) -> tuple[Floats, Floats, Floats, NDArray[np.int32]]:
        _, n_par, n_inp, _ = self._sizes
        par, inputs, h = (np.ascontiguousarray(a, kind) for a in (par, inputs, h))
        record = np.ascontiguousarray(record, np.int32)
        steps = len(h)
        wrong = [
            f"{what} has shape {array.shape}, expected {expected}"
            for what, array, good, expected in (
                ("par", par, par.ndim == 2 and par.shape[0] == n_par, f"({n_par}, n)"),
                ("inputs", inputs, inputs.shape == (steps, n_inp), f"({steps}, {n_inp})"),
                ("h", h, h.ndim == 1, "(n_steps,)"),
                ("record", record, record.shape == (steps,), f"({steps},)"),
            )
            if not good
        ]
        if not wrong and steps and record.max() >= n_slots:
            wrong.append(f"record names slot {record.max()}, but there are {n_slots}")
        if wrong:
            raise InputRangeError("; ".join(wrong) + ".", kind="shape", where=f"kernel {self.name}")
        return par, inputs, h, record

    # ------------------------------------------------------------ the lanes engine

    def _compiled_for(self, engine: Engine, kind: np.dtype[Any]) -> Callable[..., None] | None:
        """The compiled function, or None where numba cannot be had and *engine* is "auto"."""
        with self._lock:  # two threads asking at once compile only once
            if kind.name not in self._built:
                if not _numba_is_installed():
                    self._missing(engine, "numba is not installed")
                    return None
                key, name = self._key(kind), self._file_name(kind)
                try:
                    from boostproof.physics import lanes_machine

                    code = lanes_machine.stored(name, key)
                    if code is None:
                        import numba  # a broken one, or one at odds with NumPy, shows here

                        settings: Any = numba.config  # its stub leaves the settings out
                        if settings.DISABLE_JIT:
                            raise ImportError("NUMBA_DISABLE_JIT is set")
                except (ImportError, OSError) as problem:
                    self._missing(engine, f"numba cannot be loaded ({problem})")
                    return None
                if code is None:
                    from boostproof.physics import lanes_compile

                    code = lanes_compile.build(self._step, self._initial, self._sizes, kind.type, name)
                    lanes_machine.store(name, key, code)
                self._built[kind.name] = lanes_machine.link(code)
            return self._built[kind.name]

    def _missing(self, engine: Engine, reason: str) -> None:
        """Fall back to NumPy, or say that this cannot be done where lanes were asked for by name."""
        if engine == "lanes":
            raise NotDoneError(
                f"The fast engine cannot be used: {reason}.",
                kind="engine-missing",
                where=f"kernel {self.name}",
                do='Install numba, or use the engine "numpy".',
            )
        self._fall_back(reason)

    def _file_name(self, kind: np.dtype[Any]) -> str:
        return re.sub(r"\W+", "_", f"{self.name}_{kind.name}")

    def _key(self, kind: np.dtype[Any]) -> str:
        files = lanes_cache.source_files(self._sources, (self._step, self._initial))
        names = self._step.__qualname__, self._initial.__qualname__
        return lanes_cache.digest(files, self._sizes, kind.name, names, *lanes_cache.compiler_versions())

    def assembly(self, dtype: DTypeLike = np.float32) -> str:
        """Machine code of the lanes engine as text, compiled afresh; for tests and benchmarks.

        Raises ImportError without numba.
        """
        from boostproof.physics import lanes_compile

        kind = np.dtype(dtype)
        return lanes_compile.assembly(
            self._step, self._initial, self._sizes, kind.type, self._file_name(kind)
        )

    # ------------------------------------------------------------ the device engine

    def _on_device(self, kind: np.dtype[Any]) -> Callable[..., None]:
        """The function that runs on the device, made at the first run."""
        from boostproof.physics import device

        with self._lock:
            name = f"device {kind.name}"
            if name not in self._built:
                if reason := device.missing():
                    raise NotDoneError(
                        f"The device engine cannot be used: {reason}.",
                        kind="engine-missing",
                        where=f"kernel {self.name}",
                        do="Install CuPy for your NVIDIA device, or unset BOOSTPROOF_ENGINE.",
                    )
                self._built[name] = device.build(self._step, self._initial, self._sizes, kind)
            return self._built[name]

    # ------------------------------------------------------------ the numpy engine

    def _run_numpy(
        self, arrays: tuple[Any, ...], scale: Floats, out: Floats, cancel: Cancel, progress: Progress
    ) -> None:
        def chunk(start: int, stop: int) -> None:
            par, inputs, h, record = arrays
            values = tuple(np.ascontiguousarray(row[start:stop]) for row in par)
            # Inputs and steps as Python floats, which take the type of the arrays they meet.
            rows = inputs.tolist()
            with np.errstate(all="ignore"):  # both sides of every `where` are computed
                state = tuple(
                    np.broadcast_to(np.asarray(x, par.dtype), (stop - start,))
                    for x in self._initial(values, tuple(rows[0]))
                )
                for row, dt, slot in zip(rows, h.tolist(), record.tolist(), strict=True):
                    if cancel and cancel():
                        raise _cancelled(start, out.shape[2])
                    state, outputs = self._step(state, values, tuple(row), dt)
                    if slot >= 0:
                        for j, value in enumerate(outputs):
                            out[slot, j, start:stop] += value * scale[slot]

        # One thread: Python's lock is held between the many short operations.
        _over_chunks(chunk, out.shape[2], 1, cancel, progress, NUMPY_CHUNK)


def make_kernel(
    step: Callable[..., Any],
    initial: Callable[..., Any],
    n_state: int,
    n_par: int,
    n_inp: int,
    n_out: int,
    *,
    sources: Sequence[Source],
    name: str,
) -> Kernel:
    """A kernel for a model whose text follows the rules above. Quick: nothing is compiled yet.

    Args:
        step: component ``step(state, par, inp, h) -> (new_state, output)``, all tuples of numbers;
            ``h`` is the step size in s.
        initial: component ``initial(par, inp) -> state`` at the first row of the inputs.
        n_state, n_par, n_inp, n_out: lengths of the tuples, all at least 1.
        sources: modules, packages, files or folders whose text the equations and their constants come from;
            a kernel kept on disk is used only while none of them has changed.
        name: for file names and messages.
    """
    return Kernel(step, initial, (n_state, n_par, n_inp, n_out), sources, name)


def _numba_is_installed() -> bool:
    try:
        return importlib.util.find_spec("numba") is not None
    except (ImportError, ValueError):
        return False


def _aligned(size: int, kind: np.dtype[Any]) -> Floats:
    """An empty array that starts on a cache line, as whole-register stores like it."""
    raw: Floats = np.empty(size + 64 // kind.itemsize, kind)
    skip = (-raw.ctypes.data % 64) // kind.itemsize
    return raw[skip : skip + size]


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _cancelled(done: int, n: int) -> NotDoneError:
    return NotDoneError("Cancelled.", kind="cancelled", where=f"after {done} of {n} candidates")


def _over_chunks(
    work: Callable[[int, int], None],
    n: int,
    threads: int | None,
    cancel: Cancel,
    progress: Progress,
    largest: int | None = None,
) -> None:
    """Call ``work(start, stop)`` over all of ``range(n)``, on threads where it pays."""
    count = max(1, threads or _processors())
    rounds = -(-n // (count * (largest or CHUNK)))  # chunks for each thread: as many for one as for another
    size = -(-n // (count * rounds * LANES)) * LANES  # an even share in whole blocks
    parts = [(a, min(a + size, n)) for a in range(0, n, size)]
    done = 0

    def proceed(finished: int) -> None:
        nonlocal done
        done += finished
        if progress and finished:
            progress(done, n)
        if cancel and done < n and cancel():
            raise _cancelled(done, n)

    proceed(0)
    if count == 1 or len(parts) == 1:
        for start, stop in parts:
            work(start, stop)
            proceed(stop - start)
        return
    pool, waiting = _pool(count), dict[Future[None], int]()
    try:
        while parts or waiting:
            while parts and len(waiting) <= count:  # one more than threads, so that none waits for us
                start, stop = parts.pop(0)
                waiting[pool.submit(work, start, stop)] = stop - start
            for future in wait(waiting, return_when=FIRST_COMPLETED).done:
                finished = waiting.pop(future)
                future.result()
                proceed(finished)
    finally:
        for future in waiting:
            future.cancel()
        wait(waiting)  # none may write on after we have returned


@lru_cache(maxsize=4)
def _pool(count: int) -> ThreadPoolExecutor:
    """Threads kept from run to run: starting them anew took a tenth of a diagnosis."""
    return ThreadPoolExecutor(count, thread_name_prefix="boostproof-lanes")


if hasattr(os, "register_at_fork"):  # a forked process has none of its parent's threads
    os.register_at_fork(after_in_child=_pool.cache_clear)
