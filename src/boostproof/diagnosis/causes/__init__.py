"""The catalogue of causes, one table each, in catalogue order."""

from __future__ import annotations

from difflib import get_close_matches

from boostproof.diagnosis.causes import actuator, air_path, control, engine, gate, signal
from boostproof.diagnosis.causes.model import Cause, Fitted
from boostproof.diagnosis.causes.pairs import compatible
from boostproof.errors import InputRangeError

CATALOGUE: tuple[Cause, ...] = tuple(
    sorted(
        (
            *gate.CAUSES, *actuator.CAUSES, *signal.CAUSES, *control.CAUSES, *air_path.CAUSES, *engine.CAUSES,
        ),
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


def applicable(
    controller: str,
    external: bool,
    *,
    gates: int = 1,
    dual_chambers: bool = False,
    closed_loop: bool | None = None,
) -> tuple[Cause, ...]:
    """Causes that a car can have.

    Parameters
    ----------
    controller : kind of boost controller
    external : external poppet gate, else an internal flapper
    gates : gates in parallel
    dual_chambers : hose ports on both sides of the diaphragm
    closed_loop : whether the control unit corrects boost; None where it is not known, and then a solenoid
        is taken to be driven by one that does
    """
    loop = controller.startswith("solenoid") if closed_loop is None else closed_loop
    car = Fitted(controller, external, gates, dual_chambers, loop)
    return tuple(c for c in CATALOGUE if c.applies(car))


__all__ = ["BY_ID", "CATALOGUE", "Cause", "Fitted", "applicable", "cause", "compatible"]
