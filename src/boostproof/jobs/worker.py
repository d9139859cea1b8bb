"""The worker's process: waits for work on a pipe, does it, says how far it is and what came of it.

It knows no store. It ends with its parent, however that ends.
"""

from __future__ import annotations

import importlib
import json
import os
import signal
import threading
import time
from collections.abc import Mapping
from multiprocessing import parent_process
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from boostproof.errors import BoostproofError
from boostproof.jobs.plain import packed

SAID_EVERY = 0.1  # s
ALONE_AFTER = 5.0  # s


def main(pipe: Connection) -> None:
    """Work until the pipe is closed.

    Takes ``(task, place, folder, choices)`` and sends ``("says", task, text, share, so_far)``, then
    ``("answer", task, answer)`` or ``("error", task, error)``.
    """
    # Both reach a whole group of processes at once. They are for the parent, which ends us when it ends; were we
    # first, the task would count as failed and not be taken up again.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _end_soon)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    while True:
        try:
            task, place, folder, choices = pipe.recv()
        except (EOFError, OSError):
            return
        pipe.send(_done(pipe, task, place, Path(folder), choices))


def _done(pipe: Connection, task: int, place: str, folder: Path, choices: Mapping[str, Any]) -> tuple[str, int, Any]:
    last = 0.0

    def progress(text: str, share: float, so_far: Mapping[str, Any] | None = None) -> None:
        nonlocal last
        if so_far is not None or time.monotonic() - last >= SAID_EVERY:
            last = time.monotonic()
            pipe.send(("says", task, text, float(share), None if so_far is None else packed(dict(so_far))))

    try:
        module, _, name = place.partition(":")
        answer = getattr(importlib.import_module(module), name)(folder, choices, progress)
        return "answer", task, json.loads(packed(dict(answer)))  # what JSON does not hold fails here
    except Exception as error:
        return "error", task, within_case(said_of(error), folder)


def said_of(error: Exception) -> dict[str, str]:
    """What is said of any exception: kind, where, says, do."""
    if isinstance(error, BoostproofError):
        return error.as_dict()
    if isinstance(error, MemoryError):
        return {
            "kind": "memory", "where": "", "says": "There was not enough memory to finish.",
            "do": "Close other programs, or cut the recording down to the pulls, and start it again.",
        }  # fmt: skip
    message = " ".join(str(error).split())
    return {
        "kind": "internal", "where": "",
        "says": f"boostproof itself failed ({type(error).__name__}{': ' + message if message else ''}); "
        "your files are as they were.",
        "do": "Please report it with the case.",
    }  # fmt: skip


def within_case(error: dict[str, str], folder: Path) -> dict[str, str]:
    """Places as paths in the case: where the store keeps it is nothing to a person."""
    return {
        key: text.replace(f"{folder}{os.sep}", "").replace(str(folder), "this job") for key, text in error.items()
    }


def _end_soon(number: int, frame: object) -> None:
    timer = threading.Timer(ALONE_AFTER, os._exit, (1,))
    timer.daemon = True
    timer.start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
