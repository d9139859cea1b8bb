"""The process that `apart` starts: limits first, then one file, then an answer."""

from __future__ import annotations

import os
import threading
from importlib import import_module
from pathlib import Path
from typing import IO, Any

OUT_OF_MEMORY = 77  # exit code


def main(order: dict[str, Any]) -> None:
    """Read one file, answer on standard output, and end the process.

    Parameters
    ----------
    order : "path", "companions", "reader" (module:function), "seconds" and "memory" (bytes)
    """
    answer = _private_output()
    _limit(order["seconds"], order["memory"])
    threading.Thread(target=_end_with_parent, daemon=True).start()
    try:
        _read(order, answer)
        answer.flush()
    except MemoryError:
        os._exit(OUT_OF_MEMORY)
    except BaseException:  # a panic in a library of compiled code is no Exception
        os._exit(1)
    os._exit(0)  # what the libraries leave behind needs no tidying


def _read(order: dict[str, Any], answer: IO[bytes]) -> None:
    from boostproof.errors import InputError
    from boostproof.recording.readers.answer import send_error, send_table

    module, _, function = order["reader"].partition(":")
    try:
        table = getattr(import_module(module), function)(order["path"], companions=order["companions"])
    except InputError as error:
        send_error(error, answer)
    except MemoryError:
        raise
    except Exception as error:
        # The libraries raise whatever they like on a file that is not what it says it is.
        reason = " ".join(str(error).split())[:200]
        says = f"The file could not be read ({type(error).__name__}{': ' if reason else ''}{reason})."
        where = Path(order["path"]).name
        do = "It may be damaged: copy or export it again, best as CSV."
        send_error(InputError(says, kind="unreadable", where=where, do=do), answer)
    else:
        send_table(table, answer)


def _private_output() -> IO[bytes]:
    """Standard output for the answer alone: what a library prints goes nowhere."""
    answer = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    return answer


def _limit(seconds: float, memory: int) -> None:
    """Limits of the system's own, where it has them; the time is also kept by the parent."""
    try:
        import resource
    except ImportError:  # Windows
        return
    # Busy on several cores, a process uses more seconds than the clock shows.
    processor = int(seconds * min(os.cpu_count() or 1, 8)) + 2
    wanted = [("RLIMIT_CORE", 0), ("RLIMIT_CPU", processor), ("RLIMIT_AS", memory)]
    for name, value in wanted:
        limit = getattr(resource, name, None)
        if limit is None:
            continue
        hard = resource.getrlimit(limit)[1]
        try:
            resource.setrlimit(limit, (value if hard == resource.RLIM_INFINITY else min(value, hard), hard))
        except (ValueError, OSError):  # macOS takes no limit on memory
            continue


def _end_with_parent() -> None:
    """Nobody waits for the answer of a process whose parent has ended."""
    while os.read(0, 1):
        pass
    os._exit(1)
