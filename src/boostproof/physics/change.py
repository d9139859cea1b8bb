"""A named, pure edit of the parameter array: hardware, set-up, cause, tried part and repair alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputRangeError
from boostproof.physics import layout

How = Literal["scale", "add", "set", "share", "add share", "swap"]
FloatArray = NDArray[np.floating]


@dataclass(frozen=True)
class Change:
    """One edit of one parameter, by an amount that grows with severity.

    Attributes
    ----------
    parameter : name of the row
    how : "scale" multiplies, "add" adds, "set" replaces, "share" replaces by a fraction of ``other``,
        "add share" adds a multiple of ``other``, "swap" exchanges with ``other`` (no amount)
    mild, severe : amount at severity 0 and 1
    spacing : "linear" or "log" between the two
    other : second parameter for "share", "add share" and "swap"
    """

    parameter: str
    how: How
    mild: float = 0.0
    severe: float = 0.0
    spacing: Literal["linear", "log"] = "linear"
    other: str = ""

    def amount(self, severity: FloatArray) -> FloatArray:
        """Amount for severities 0..1; same shape."""
        s = np.asarray(severity)
        if self.spacing == "log":
            return np.asarray(self.mild * (self.severe / self.mild) ** s)
        return np.asarray(self.mild + (self.severe - self.mild) * s)

    def apply(self, par: FloatArray, severity: FloatArray) -> FloatArray:
        """The array with this edit made; the given one is left as it is.

        Parameters
        ----------
        par : (parameters, candidates), SI
        severity : (candidates,), 0 mild to 1 severe

        Returns
        -------
        (parameters, candidates), clipped to the parameter's range

        Raises
        ------
        InputRangeError
            Unknown parameter.
        """
        row = layout.index_of(self.parameter)
        out = np.array(par)
        if self.how == "swap":
            second = layout.index_of(self.other)
            out[[row, second]] = out[[second, row]]
            return out
        value = self.amount(severity)
        if self.how == "scale":
            out[row] = out[row] * value
        elif self.how == "add":
            out[row] = out[row] + value
        elif self.how == "set":
            out[row] = value
        elif self.how == "share":
            out[row] = out[layout.index_of(self.other)] * value
        elif self.how == "add share":
            out[row] = out[row] + out[layout.index_of(self.other)] * value
        else:
            raise InputRangeError(f"unknown kind of change {self.how!r}.", where=self.parameter)
        bounds = layout.PARAMETERS[row]
        out[row] = np.clip(out[row], bounds.low, bounds.high)
        return out


def apply_all(changes: tuple[Change, ...], par: FloatArray, severity: FloatArray) -> FloatArray:
    """All edits one after the other; shapes as `Change.apply`."""
    for change in changes:
        par = change.apply(par, severity)
    return par
