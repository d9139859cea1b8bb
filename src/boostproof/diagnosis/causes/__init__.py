"""The catalogue of causes, one table each, in catalogue order."""

from __future__ import annotations

from difflib import get_close_matches

from boostproof.diagnosis.causes import actuator, air_path, gate, signal
from boostproof.diagnosis.causes.model import Cause
from boostproof.errors import InputRangeError

CATALOGUE: tuple[Cause, ...] = tuple(
    sorted(
        (*gate.CAUSES, *actuator.CAUSES, *signal.CAUSES, *air_path.CAUSES),
        key=lambda cause: cause.number,
    )
)
BY_ID: dict[str, Cause] = {cause.id: cause for cause in CATALOGUE}


def cause(cause_id: str) -> Cause:
    """A cause by its id.

    Raises
    ------
    InputRangeError
        If there is none; the nearest ids are given.
    """
    if cause_id not in BY_ID:
        near = ", ".join(get_close_matches(cause_id, BY_ID, 3)) or "see `boostproof causes`"
        raise InputRangeError(f"no cause is called {cause_id!r}.", where="causes", do=f"Nearest: {near}.")
    return BY_ID[cause_id]


def applicable(controller: str, external: bool) -> tuple[Cause, ...]:
    """Causes that a car with this controller and gate can have."""
    return tuple(c for c in CATALOGUE if c.applies(controller, external))


__all__ = ["BY_ID", "CATALOGUE", "Cause", "applicable", "cause"]
