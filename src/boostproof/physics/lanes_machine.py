"""Machine code of kernels: kept on disk, found again, linked into this process. Needs llvmlite, not numba.

So a process that finds its kernel on disk starts without the compiler, which saves it some 0.4 s. Nothing
that is wrong with the disk makes a run fail: the kernel is then compiled anew.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import json
import os
import tempfile
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import llvmlite.binding as llvm  # type: ignore[import-untyped]

from boostproof.physics import lanes_cache

_FORMAT = 1
_POINTERS, _SIZES = 7, 4  # arguments of a chunk function: arrays, then whole numbers
_PROTOTYPE = ctypes.CFUNCTYPE(
    ctypes.c_int32, *[ctypes.c_void_p] * (2 + _POINTERS), *[ctypes.c_ssize_t] * _SIZES
)
_lock = threading.Lock()  # LLVM's set-up is not for several threads at once
_engines: list[Any] = []  # for as long as the process lives, as linked code may not move


@dataclass(frozen=True)
class MachineCode:
    """An object file in memory and the name of the chunk function in it."""

    symbol: str
    code: bytes


def host() -> str:
    """What machine code must fit: platform, processor, and settings that change the compiler's mind."""
    settings = sorted(f"{k}={v}" for k, v in os.environ.items() if k.startswith("NUMBA_"))
    features = llvm.get_host_cpu_features().flatten()
    return " ".join((llvm.get_process_triple(), llvm.get_host_cpu_name(), features, *settings))


def _file_name(name: str, key: str) -> str:
    machine = hashlib.sha256(host().encode()).hexdigest()
    return f"{name}-{key[:16]}-{machine[:8]}.kernel"


def stored(name: str, key: str) -> MachineCode | None:
    """The kernel *name* compiled from text *key* for this machine, or None if it is not there unharmed."""
    try:
        with open(os.path.join(lanes_cache.cache_folder(), _file_name(name, key)), "rb") as file:
            header, code = json.loads(file.readline()), file.read()
        if header == _header(header["symbol"], key, code):
            return MachineCode(str(header["symbol"]), code)
    except (OSError, ValueError, KeyError, TypeError):  # missing, or not what we wrote
        pass
    return None


def store(name: str, key: str, compiled: MachineCode) -> None:
    """Keep a kernel on disk if possible. Written under another name and then moved, so that processes
    may share the folder and none sees half a file."""
    folder = lanes_cache.cache_folder()
    with contextlib.suppress(OSError):  # disk full or taken away
        handle, path = tempfile.mkstemp(dir=folder, prefix=f"{name}-", suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(json.dumps(_header(compiled.symbol, key, compiled.code)).encode() + b"\n")
                file.write(compiled.code)
            os.replace(path, os.path.join(folder, _file_name(name, key)))
        except OSError:
            os.unlink(path)
            raise
    lanes_cache.prune(folder, name)


def _header(symbol: str, key: str, code: bytes) -> dict[str, Any]:
    sha = hashlib.sha256(code).hexdigest()
    return {"format": _FORMAT, "key": key, "host": host(), "symbol": symbol, "sha256": sha}


def link(compiled: MachineCode) -> Callable[..., None]:
    """Make machine code callable: ``chunk(par, inputs, h, record, scale, scratch, out, start, stop)``.

    The arrays must be C-ordered and of the types that the code was compiled for; nothing is checked.
    Python's lock is free while it runs. Each kernel gets an engine of its own, so that names in one
    cannot meet those in another.
    """
    with _lock:
        llvm.initialize_native_target()
        llvm.initialize_native_asmprinter()
        target = llvm.Target.from_triple(llvm.get_process_triple())
        engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), target.create_target_machine())
        engine.add_object_file(llvm.ObjectFileRef.from_data(compiled.code))
        engine.finalize_object()
        _engines.append(engine)
        function = _PROTOTYPE(engine.get_function_address(compiled.symbol))

    def chunk(
        par: Any, inputs: Any, h: Any, record: Any, scale: Any, scratch: Any, out: Any, start: int, stop: int
    ) -> None:
        unused = (ctypes.c_void_p * 2)()  # where numba's functions put a result and an exception
        at = ctypes.addressof(unused)
        arrays = [a.ctypes.data for a in (par, inputs, h, record, scale, scratch, out)]
        status = function(at, at + ctypes.sizeof(ctypes.c_void_p), *arrays, par.shape[1], len(h), start, stop)
        if status != 0:
            raise RuntimeError(f"compiled kernel {compiled.symbol} stopped with status {status}")

    return chunk
