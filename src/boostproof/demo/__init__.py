"""Invented cars, driven and tested by a simulator of its own; it shares no physics with the diagnosis.

Nothing heavy is imported before a function is called.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["make_case", "write_demo_case"]


def make_case(directory: str | Path, *, cause: str, severity: float, seed: int) -> Path:
    """Write one invented case folder; see :func:`boostproof.demo.case.make_case`."""
    from .case import make_case as make

    return make(directory, cause=cause, severity=severity, seed=seed)


def write_demo_case(directory: str | Path, *, seed: int = 1) -> Path:
    """Write the demo shop's job; see :func:`boostproof.demo.shop.write_demo_case`."""
    from .shop import write_demo_case as write

    return write(directory, seed=seed)
