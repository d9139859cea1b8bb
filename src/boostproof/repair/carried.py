"""What the log has shown of the model's errors is kept for the pull to come.

The errors of the model along a pull are a smooth curve, an offset and a shift along engine speed, as the
likelihood takes them (`diagnosis.evidence.pulls`). Each candidate leaves its own residual in the log; given that,
the errors of the next pull are normal with a mean that follows the residual where the log reaches and fades
beyond. What belongs to a new set-up, and to the new pull alone, is drawn afresh.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.pulls import ErrorsToCome

ErrorsAt = Callable[[Array, bool], ErrorsToCome]
"""Expected boost at the ramp's speeds, and whether the car will have been changed, to the joint errors."""

_MOST = 4.0  # standard deviations of a residual that are believed; the likelihood bends there too
_JITTER = 1.0  # Pa2
# What stays open is drawn so much wider, because errors are sized by slopes of a log that holds them already: in 300
# cars of the model with such errors a band of nine in ten held 0.85 without it, least right after the turbo comes up.
_WIDER = 1.2


@dataclass(frozen=True)
class Carried:
    """Errors of the pull to come, given the log's.

    Attributes
    ----------
    slots : (m,) of the log's bins
    observed : (m,) boost measured there [Pa gauge]
    scale : (m,) standard deviation of those errors before the log [Pa]
    gain : (k, m) mean of the errors to come over the residual
    factor : (k, k) root of what stays open [Pa]
    """

    slots: list[int] = field(repr=False)
    observed: Array = field(repr=False)
    scale: Array = field(repr=False)
    gain: Array = field(repr=False)
    factor: Array = field(repr=False)

    @classmethod
    def of(cls, errors: ErrorsToCome) -> Carried:
        """Condition the joint errors on those of the log."""
        m = len(errors.observed)
        c = errors.covariance
        logged, cross, coming = c[:m, :m], c[m:, :m], c[m:, m:]
        gain = np.asarray(np.linalg.solve(logged, cross.T).T if m else np.zeros((len(coming), 0)), float)
        left = coming - gain @ cross.T
        values, vectors = np.linalg.eigh(0.5 * (left + left.T))
        factor = np.asarray(_WIDER * vectors * np.sqrt(np.maximum(values, _JITTER)), float)
        return cls(errors.slots, errors.observed, np.asarray(np.sqrt(np.diag(logged)), float), gain, factor)

    def draw(self, pulls: Array, normals: Array) -> Array:
        """Errors of the pull to come, to be added to what the model says.

        Parameters
        ----------
        pulls : (slots, n) simulated boost of the pulls that were driven, as the car's sensor shows it [Pa gauge]
        normals : (k, n) standard normal

        Returns
        -------
        (k, n) Pa
        """
        return self.mean(pulls) + self.factor @ normals

    def mean(self, pulls: Array) -> Array:
        """Expected errors of the pull to come, (k, n) [Pa]."""
        residual = self.observed[:, None] - pulls[self.slots]
        held = np.clip(residual, -_MOST * self.scale[:, None], _MOST * self.scale[:, None])
        return np.asarray(self.gain @ held)
