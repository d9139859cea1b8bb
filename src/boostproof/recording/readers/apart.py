"""Reading a file that is not trusted: in a process of its own, with limits on time and memory.

A log may come from anybody. A small file can unpack to terabytes or keep a parser busy for ever, and the
parsers of binary formats are large libraries written in languages that crash. So the file is read by another
process; whatever becomes of that one, this one goes on.

Which files: all but small text. Text below 24 MB is read by code of our own and the CSV parser of polars, in
time and memory in proportion to its size. Measured on two cores: a process costs 0.3 s of processor time to
start, and 0.1 s to send back a million rows of twelve columns (96 MB); reading text costs 0.02 s a megabyte,
so up to some 20 MB the process would take longer than the reading. That log of 62 MB takes 1.3 s and 1.1 GB of
address space; the limit of 4 GB leaves room for 60 million numbers.

The process is a fresh interpreter, never a fork: polars has threads, and a fork of threads hangs. It is
started directly rather than by `multiprocessing`, which would run the main script of the caller once more
in it. It answers with numbers and text only (`answer`).
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from pathlib import Path

from boostproof.errors import InputError
from boostproof.recording.model import Table
from boostproof.recording.readers import read_table
from boostproof.recording.readers.answer import BrokenAnswerError, receive_table
from boostproof.recording.readers.limits import SMALLER, check_file
from boostproof.recording.readers.sniff import sniff
from boostproof.recording.readers.worker import OUT_OF_MEMORY

SECONDS = 60.0
MEMORY = 4 << 30
SMALL_TEXT = 24_000_000  # bytes
_READER = "boostproof.recording.readers:read_table"
_THREADS = "4"  # each thread of polars reserves address space, and the limit counts that
_START = (
    "import json, sys\n"
    "order = json.loads(sys.stdin.buffer.readline())\n"
    "sys.path[:] = order['import_from']\n"
    "from boostproof.recording.readers.worker import main\n"
    "main(order)\n"
)
_PIPE = 1 << 20


def read_untrusted(path: str | Path, *, companions: Sequence[str | Path] = ()) -> Table:
    """Read a log: small text here, everything else apart (parameters and errors as `read_table_apart`)."""
    path = Path(path)
    small = check_file(path) < SMALL_TEXT
    if small and sniff(path) == "text":
        return read_table(path, companions=companions)
    return read_table_apart(path, companions=companions)


def read_table_apart(
    path: str | Path,
    *,
    companions: Sequence[str | Path] = (),
    seconds: float = SECONDS,
    memory: int = MEMORY,
    reader: str = _READER,
) -> Table:
    """Read a log in a process of its own.

    Parameters
    ----------
    path : the file
    companions : other files that it takes to understand it
    seconds : after this time the process is ended
    memory : bytes of address space that the process may use, where the system can limit that (Linux)
    reader : "module:function" that reads, called like `read_table`

    Raises
    ------
    InputError
        What the reader says of the file; or that it took more than the time or memory.
    """
    path = Path(path)
    check_file(path)
    order = {
        "path": str(path),
        "companions": [str(other) for other in companions],
        "reader": reader,
        "seconds": seconds,
        "memory": memory,
        "import_from": [entry or os.getcwd() for entry in sys.path],
    }
    # The folder for unpacked files is ours, so that it goes even when the process is ended in the middle.
    with tempfile.TemporaryDirectory(prefix="boostproof-", ignore_cleanup_errors=True) as scratch:
        return _Worker(scratch).answer(order, path.name)


class _Worker:
    """A process that reads one file."""

    def __init__(self, scratch: str) -> None:
        self._late = False
        self._process = subprocess.Popen(
            [sys.executable, "-I", "-c", _START],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            pipesize=_PIPE,
            env=_environment(scratch),
            creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
        )

    def answer(self, order: dict[str, object], where: str) -> Table:
        """Its answer, or the error that says why there is none; the process is ended in any case."""
        process = self._process
        seconds, memory = float(str(order["seconds"])), int(str(order["memory"]))
        assert process.stdin is not None and process.stdout is not None
        alarm = threading.Timer(seconds, self._end_late)
        alarm.daemon = True
        alarm.start()
        try:
            process.stdin.write(json.dumps(order).encode("ascii") + b"\n")
            return receive_table(process.stdout)
        except (BrokenAnswerError, BrokenPipeError, ConnectionError) as error:
            process.wait()
            raise self._refusal(where, seconds, memory) from error
        finally:
            alarm.cancel()
            process.kill()
            process.wait()
            process.stdin.close()
            process.stdout.close()

    def _end_late(self) -> None:
        self._late = True
        self._process.kill()

    def _refusal(self, where: str, seconds: float, memory: int) -> InputError:
        """Why there is no answer, as far as the end of the process tells."""
        code = self._process.returncode
        if self._late or code == -getattr(signal, "SIGXCPU", 0):
            says, kind = f"The file could not be read within {seconds:g} s.", "too-slow"
        elif code == OUT_OF_MEMORY:
            says, kind = f"The file could not be read within {_size(memory)} of memory.", "too-large"
        else:
            says = f"Reading broke off: the file is damaged, or takes more than {_size(memory)} of memory."
            kind = "unreadable"
        do = f"{SMALLER.rstrip('.')}; if it is a small log, export it again, best as CSV."
        return InputError(says, kind=kind, where=where, do=do)


def _size(memory: int) -> str:
    return f"{memory / 1e9:.1f} GB" if memory >= 1e9 else f"{memory / 1e6:.0f} MB"


def _environment(scratch: str) -> dict[str, str]:
    """Few threads, and temporary files where the parent deletes them."""
    env = dict(os.environ)
    env |= dict.fromkeys(("TMPDIR", "TEMP", "TMP"), scratch)
    env |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "NUMEXPR_MAX_THREADS"), "1")
    env |= {"POLARS_MAX_THREADS": _THREADS, "MALLOC_ARENA_MAX": _THREADS}
    return env
