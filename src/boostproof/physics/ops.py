"""The few operations that the equations may use besides ``+ - * /`` and comparisons.

Equation text (a *component*) is written once and run twice: by NumPy on arrays of candidates, and by
numba on the lanes of a vector register. It therefore calls only the helpers of this module, never
``numpy`` or ``math``. Called from Python the helpers work on floats and arrays alike; inside a compiled
kernel they are replaced by single instructions (``lanes_compile.py``). This module imports neither numba
nor anything else that is slow.

Python floats stay Python floats, so that they do not widen float32 arrays.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeAlias, TypeVar

import numpy as np

#: A number of one candidate, or an array of shape (n_candidates,) with one number for each.
Value: TypeAlias = Any

_F = TypeVar("_F", bound=Callable[..., Any])

#: Every function marked as a component, in order of definition. Kernels compile the ones they call.
COMPONENTS: list[Callable[..., Any]] = []


def component(function: _F) -> _F:
    """Mark *function* as equation text that a kernel may inline. From Python it stays as it is.

    The rules for its text are in ``lanes.py``.
    """
    COMPONENTS.append(function)
    return function


def where(condition: Value, if_true: Value, if_false: Value) -> Value:
    """*if_true* where *condition* holds, else *if_false*. Both are always computed, so guard both.

    At most one of the two may be a literal: of two literals NumPy makes float64 (see ``sign``).
    """
    if isinstance(condition, bool | np.bool_):
        return if_true if condition else if_false
    return np.where(condition, if_true, if_false)


def minimum(a: Value, b: Value) -> Value:
    """The smaller of *a* and *b*. Not for NaN."""
    if isinstance(a, float | int) and isinstance(b, float | int):
        return a if a < b else b
    return np.minimum(a, b)


def maximum(a: Value, b: Value) -> Value:
    """The larger of *a* and *b*. Not for NaN."""
    if isinstance(a, float | int) and isinstance(b, float | int):
        return a if a > b else b
    return np.maximum(a, b)


def clip(x: Value, low: Value, high: Value) -> Value:
    """*x* kept between *low* and *high* (``low <= high``)."""
    return minimum(maximum(x, low), high)


def sqrt(x: Value) -> Value:
    """Square root of ``x >= 0``; guard with ``maximum(x, 0.0)`` where x may be negative."""
    if isinstance(x, float | int):
        return math.sqrt(x)
    return np.sqrt(x)


def absolute(x: Value) -> Value:
    """Magnitude of *x*."""
    if isinstance(x, float | int):
        return abs(x)
    return np.abs(x)


def sign(x: Value) -> Value:
    """-1, 0 or 1 by the sign of *x*, in the type of *x*."""
    if isinstance(x, float | int):
        return float(x > 0) - float(x < 0)
    return np.sign(x)
