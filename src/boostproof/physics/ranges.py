"""One way to refuse a number outside the range that an equation covers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from boostproof.errors import InputRangeError


def within(
    values: ArrayLike, low: float, high: float, *, name: str, unit: str, where: str, do: str, gaps: bool = True
) -> NDArray[np.float64]:
    """The values as an array, if all lie between two limits.

    Parameters
    ----------
    values : any shape
    low, high : limits, both allowed
    name, unit, where, do : what the values are, for the message
    gaps : NaN is a gap in the data and passes; else it is refused

    Returns
    -------
    ndarray
        Same shape, float64.

    Raises
    ------
    InputRangeError
        If a value lies outside.

    Examples
    --------
    >>> within([1.0, 2.0], 0.0, 3.0, name="x", unit="m", where="here", do="Look.")
    array([1., 2.])
    >>> within(4.0, 0.0, 3.0, name="x", unit="m", where="here", do="Look.")
    Traceback (most recent call last):
    boostproof.errors.InputRangeError: here: x must lie between 0 m and 3 m, got 4 m. Look.
    """
    array = np.asarray(values, dtype=float)
    outside = array[(array < low) | (array > high) | (np.isnan(array) & (not gaps))]
    if outside.size:
        unit = f" {unit}" if unit else ""
        few = outside.min(), outside.max()
        got = f"{few[0]:g}{unit}" if outside.size == 1 or few[0] == few[1] else f"{few[0]:g} to {few[1]:g}{unit}"
        raise InputRangeError(
            f"{name} must lie between {low:g}{unit} and {high:g}{unit}, got {got}.",
            kind="range",
            where=where,
            do=do,
        )
    return array
