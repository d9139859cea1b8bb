"""Repairs done on cars: faults undone, parts fitted with their tolerance, everything else kept."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.bench.response import Array
from boostproof.physics import layout
from boostproof.physics.change import apply_all
from boostproof.repair.model import Chosen, Fitting
from boostproof.repair.subjects import Subjects


def mended(cars: Subjects, chosen: Sequence[Chosen], controller: str, *, seed: int) -> Array:
    """Parameters of the cars after all the chosen repairs.

    The faults that a repair undoes are left out and the others made on the sound car again; what is new has the
    spread of its kind; then come the sizes. The same seed gives each car the same parts whatever the size, so
    that sizes can be compared.

    Parameters
    ----------
    cars : as found
    chosen : done together
    controller : kind of boost controller
    seed : of the parts' errors

    Returns
    -------
    (parameters, n), SI
    """
    par = _with_new_parts(cars, chosen, seed)
    undone = {cause for c in chosen for cause in c.repair.mends if c.undoes}
    for h, a in {(int(h), int(a)) for h, a in zip(cars.hypothesis, cars.answer, strict=True)}:
        rows = np.flatnonzero((cars.hypothesis == h) & (cars.answer == a))
        named = {cause.id for cause in cars.answers[a]}
        for part, severity in zip(cars.hypotheses[h].parts, cars.severity, strict=False):
            if not named & {cause.id for cause in part.causes} & undone:
                par[:, rows] = apply_all(part.changes, par[:, rows], severity[rows])
    for place, c in enumerate(chosen):
        if c.size is not None and c.repair.edit is not None:
            error = _errors(seed, place, cars.count)
            fitting = Fitting(par, cars.sound, c.size, c.absolute, error, c.tolerance, controller)
            c.repair.edit(fitting)
    return par


def _with_new_parts(cars: Subjects, chosen: Sequence[Chosen], seed: int) -> Array:
    """The sound cars, with the parts that are new afterwards drawn from their kind."""
    out = cars.sound.copy()
    fresh = {name: sd for c in chosen if c.undoes for name, sd in c.repair.fresh.items()}
    for name, sd in fresh.items():
        p, row = layout.parameter(name), layout.index_of(name)
        made = out[row] * np.exp(sd * _errors(seed, 1000 + row, cars.count))
        out[row] = np.clip(made, p.low, p.high)
    return out


def _errors(seed: int, place: int, count: int) -> Array:
    return np.random.default_rng([seed, 401, place]).standard_normal(count)
