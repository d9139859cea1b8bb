"""Lambda and air-fuel ratio that a logger writes as whole tenths, hundredths or thousandths."""

from __future__ import annotations

import numpy as np

from boostproof.recording.model import FloatArray

# What mixtures of a running petrol engine lie between, most of the time (common practice, no source), and the steps
# looked for: ten times lambda is also what an air-fuel ratio looks like.
_USUAL = {"lambda": (0.55, 2.2, (1.0, 100.0, 1000.0)), "air_fuel_ratio": (8.0, 30.0, (1.0, 10.0, 100.0))}
_WORDS = {10.0: "tenths", 100.0: "hundredths", 1000.0: "thousandths"}
_LEAST = 0.9


def step_of_ratio(some: FloatArray, name: str) -> float:
    """What the numbers of a channel have to be divided by: 1, 10, 100 or 1000.

    Parameters
    ----------
    some : numbers of the column, without NaN
    name : our channel name; channels other than mixtures are written as they are
    """
    if name not in _USUAL or not some.size:
        return 1.0
    low, high, steps = _USUAL[name]
    for step in steps:
        if float(np.mean((some >= low * step) & (some <= high * step))) > _LEAST:
            return step
    return 1.0


def step_words(step: float) -> str:
    """The step in words."""
    return _WORDS[step]
