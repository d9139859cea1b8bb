"""The usual cars of the signatures as subjects of confusability: the same sound car, with a workshop's doubts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from evaluation.families import car_of
from tests.unit.diagnosis.usual_cars import FITTED, TARGET, usual_car
from tests.unit.small_car import small_car

from boostproof.bench.tests import CarContext
from boostproof.car.prior import Prior, build_prior
from boostproof.car.spec import CarSpec
from boostproof.diagnosis.catalogue.expected import Subject, subject_from
from boostproof.diagnosis.causes import BY_ID
from boostproof.physics import layout

_RATIOS = {  # numbers of the prior that are no row of a car: what to divide, or multiply
    "travel_reserve": lambda car: car["free_travel"] / car["gate_travel"],
    "spring_span": lambda car: car["spring_rate"] * car["gate_travel"],
    "vent_ratio": lambda car: car["vent_area"] / car["line_area"],
}


def described(kind: str) -> CarSpec:
    """What car.toml would say of a usual car."""
    car = FITTED[kind]
    gate = "external poppet" if car.external else "internal flapper"
    return car_of(small_car(controller=car.controller, gate=gate, wastegate=f"count = {car.gates}"))


def prior_around(kind: str) -> Prior:
    """The usual prior of a kind of car, moved so that its middle is the usual car."""
    prior = replace(build_prior(described(kind)), target=TARGET)
    car = dict(zip(layout.NAMES, usual_car(kind)[:, 0].tolist(), strict=True))
    middle = {n.name: _RATIOS[n.name](car) if n.name in _RATIOS else car[n.name] for n in prior.nuisances}
    nuisances = tuple(replace(n, centre=middle[n.name]) for n in prior.nuisances)
    return replace(prior, nuisances=nuisances, fixed=car)


def usual_subject(kind: str, causes: Sequence[str], *, up_to: float = 0.97) -> Subject:
    """A usual car that can have some causes only, with a log up to a share of redline."""
    fitted = FITTED[kind]
    redline = float(usual_car(kind)[layout.index_of("redline"), 0])
    context = CarContext(fitted.controller, fitted.external, TARGET, redline)
    subject = subject_from(prior_around(kind), context, [BY_ID[c] for c in causes], up_to=up_to)
    return replace(subject, z=np.zeros_like(subject.z))
