"""What an instrument makes of a pressure: gain, offset, end of range, lag, steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from boostproof.physics.ops import component, minimum

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray


@component
def shown_pressure(pressure, gain, offset, full_scale):
    """Reading of an absolute pressure sensor at rest, held at its end of range. [Pa]

    >>> float(shown_pressure(250e3, 1.0, 1e3, 1e6)), float(shown_pressure(250e3, 1.0, 1e3, 240e3))
    (251000.0, 240000.0)
    """
    return minimum(gain * pressure + offset, full_scale)


def lagged(values: ArrayLike, steps: ArrayLike, time_constant: float) -> NDArray[np.float64]:
    """First-order lag of samples along the first axis, exact for values held over each step.

    ``y[i+1] = y[i] + (1 - exp(-h/tau)) (x[i] - y[i])``, from rest at the first sample.

    Parameters
    ----------
    values : (samples, ...) any unit
    steps : (samples,) time to the next sample [s]
    time_constant : tau, 0 for none [s]

    >>> lagged([0.0, 1.0, 1.0], [0.1, 0.1, 0.1], 0.1).round(3).tolist()
    [0.0, 0.0, 0.632]
    """
    import numpy as np

    x = np.asarray(values, float)
    if time_constant <= 0.0:
        return x.copy()
    share = 1.0 - np.exp(-np.asarray(steps, float) / time_constant)
    out = np.empty_like(x)
    out[0] = x[0]
    for i in range(1, len(x)):
        out[i] = out[i - 1] + share[i - 1] * (x[i - 1] - out[i - 1])
    return out


def quantised(values: ArrayLike, step: float) -> NDArray[np.float64]:
    """Values as an instrument with this resolution shows them; its standard uncertainty is step/sqrt(12).

    >>> quantised([1.2, 1.3], 0.25).tolist()
    [1.25, 1.25]
    """
    import numpy as np

    x = np.asarray(values, float)
    return x if step <= 0.0 else np.asarray(np.round(x / step) * step)
