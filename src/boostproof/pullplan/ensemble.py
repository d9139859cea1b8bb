"""Candidate cars with the boost that each makes on the ladder's ramp, in each set-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Schedule
from boostproof.bench.set_ups import CONTROLLER_BYPASSED
from boostproof.diagnosis.evidence.simulator import run_pull
from boostproof.physics.change import Change
from boostproof.physics.system import OUTPUT_INDEX
from boostproof.pullplan.ramp import speeds
from boostproof.pullplan.terms import FOUND, LEAST, Terms

SENSOR = "sensor-scale-wrong"
CHANGES: dict[str, tuple[Change, ...]] = {LEAST: CONTROLLER_BYPASSED, FOUND: ()}
_LOST = 2e-5  # share of the weight that may be left out, small against the chance that is allowed
_AT_ONCE = 1024  # cars simulated together, for memory


@dataclass(frozen=True)
class Ensemble:
    """Candidates of one car.

    Attributes
    ----------
    speed : engine speeds of the ramp [rad/s], (r,)
    boost : at the manifold by set-up [Pa gauge], (r, n) each
    shown : the same as the car's own sensor shows it
    weight : (n,), sums to 1
    hypothesis : (n,) index into ``causes``
    causes : ids of what is wrong under each hypothesis with their shares in it (of two at once each has all),
        empty for a sound car
    """

    speed: Array = field(repr=False)
    boost: Mapping[str, Array] = field(repr=False)
    shown: Mapping[str, Array] = field(repr=False)
    weight: Array = field(repr=False)
    hypothesis: NDArray[np.intp] = field(repr=False)
    causes: tuple[Mapping[str, float], ...] = field(repr=False)

    @property
    def set_ups(self) -> tuple[str, ...]:
        """Set-ups in the order in which they are driven, least boost first."""
        return tuple(self.boost)

    def weighed(self, weight: Array) -> Ensemble:
        """The same cars with other weights, which need not sum to 1."""
        return replace(self, weight=weight / weight.sum())

    def without_lost(self) -> Ensemble:
        """Without the candidates that together weigh next to nothing."""
        order = np.argsort(self.weight)
        kept = np.sort(order[np.cumsum(self.weight[order]) > _LOST])
        return Ensemble(
            self.speed, {s: b[:, kept] for s, b in self.boost.items()}, {s: b[:, kept] for s, b in self.shown.items()},
            self.weight[kept] / self.weight[kept].sum(), self.hypothesis[kept], self.causes,
        )  # fmt: skip

    def joined(self, other: Ensemble, share: float) -> Ensemble:
        """These cars and others of which the same is known, which have a share of the weight."""
        return Ensemble(
            self.speed, {s: np.concatenate([b, other.boost[s]], axis=1) for s, b in self.boost.items()},
            {s: np.concatenate([b, other.shown[s]], axis=1) for s, b in self.shown.items()},
            np.concatenate([(1.0 - share) * self.weight, share * other.weight]),
            np.concatenate([self.hypothesis, other.hypothesis + len(self.causes)]), self.causes + other.causes,
        )  # fmt: skip

    def chances(self, among: Array | None = None) -> dict[str, float]:
        """Chance that each cause has a hand in it, likeliest first; ``among`` weighs the cars further, (n,)."""
        w = self.weight if among is None else self.weight * among
        mass = np.bincount(self.hypothesis, w, minlength=len(self.causes))
        out: dict[str, float] = {}
        for shares, p in zip(self.causes, mass, strict=True):
            for one, share in shares.items():
                out[one] = out.get(one, 0.0) + share * float(p)
        return dict(sorted(out.items(), key=lambda item: -item[1]))


def simulate(
    par: Array,
    weight: Array,
    hypothesis: NDArray[np.intp],
    causes: Sequence[Mapping[str, float]],
    terms: Terms,
    schedule: Schedule,
    *,
    controller: bool,
) -> Ensemble:
    """Drive candidates up the whole ramp, with the least boost and as found.

    Parameters
    ----------
    par : (parameters, n), SI
    weight, hypothesis : (n,)
    causes : shares of the ids by hypothesis
    terms, schedule : of the ladder
    controller : whether there is a controller to take out; without one the car as found makes the least boost
    """
    boost: dict[str, Array] = {}
    shown: dict[str, Array] = {}
    for set_up in (LEAST, FOUND) if controller else (FOUND,):
        parts = []
        for first in range(0, par.shape[1], _AT_ONCE):
            out = run_pull(par[:, first : first + _AT_ONCE], CHANGES[set_up], schedule)
            parts.append(out[:, [OUTPUT_INDEX["boost"], OUTPUT_INDEX["boost_measured"]]])
        both = np.concatenate(parts, axis=2)
        boost[set_up], shown[set_up] = both[:, 0], both[:, 1]
    return Ensemble(speeds(terms), boost, shown, weight / weight.sum(), hypothesis, tuple(causes))
