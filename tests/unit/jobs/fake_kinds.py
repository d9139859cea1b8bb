"""Kinds of work that the tests ask for: they run in the worker's process."""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from boostproof.errors import InputError

_HERE = "tests.unit.jobs.fake_kinds"
FAKE = {
    name: f"{_HERE}:{name}"
    for name in ("count", "slow", "gated", "refuse", "fail", "die", "odd", "echo", "inspect", "missing", "vast")
}


def afterwards(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """Notes in the store's folder which job was answered; for the second one the process dies, once."""
    with (folder / "answered").open("a") as file:
        file.write(f"{choices['job']}\n")
    if len((folder / "answered").read_text().split()) == 2:
        os.kill(os.getpid(), 9)
    return {}


def count(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """Files in the folder, and how often it was asked for."""
    if "runs" in choices:
        with Path(choices["runs"]).open("a") as file:
            file.write(f"{os.getpid()}\n")
    files = {p.relative_to(folder).as_posix(): p.read_text() for p in folder.rglob("*") if p.is_file()}
    return {"format": 1, "seed": 7, "versions": {"prior": "1"}, "files": files, "process": os.getpid()}


def slow(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """Takes a minute, unless it is ended."""
    with Path(choices["runs"]).open("a") as file:
        file.write(f"{os.getpid()}\n")
    for step in range(600):
        progress(f"step {step}", step / 600)
        time.sleep(0.1)
    return {}


def gated(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """Goes on when a file is there; says so once, so that nothing but its end tells it of the other side's."""
    with Path(choices["runs"]).open("a") as file:
        file.write(f"{os.getpid()}\n")
    progress("at the gate", 0.25, {"seen": "the gate"})
    while not Path(choices["gate"]).exists():
        time.sleep(0.02)
    return {"seed": 1, "process": os.getpid()}


def inspect(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """A quick kind, by its name."""
    return {"at": time.monotonic()}


def echo(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """Its choices, and when it was done."""
    return {"choices": dict(choices), "at": time.monotonic()}


def refuse(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """Cannot use what is there."""
    raise InputError("No pull.", kind="no-pull", where=str(folder / "recordings"), do=f"See {folder / 'car.toml'}.")


def fail(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """A fault of the program."""
    raise ZeroDivisionError("division by zero")


def die(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """As if the system had ended the process."""
    os._exit(9)


def odd(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """What JSON does not hold."""
    return {"value": float("nan")}


def vast(folder: Path, choices: Mapping[str, Any], progress: Any) -> dict[str, Any]:
    """What no row of the database holds."""
    return {"seed": 10**30}
