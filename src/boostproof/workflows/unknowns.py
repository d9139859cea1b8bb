"""What each figure of car.toml that was not told would save, were it known.

Value of information, as for the tests (`boostproof.diagnosis.choice.worth`): expected minutes of repairing in the best
order now, less the same when the figure is known as well as such a figure usually is. It is taken over the candidate
cars that the evidence leaves, at what each of them had when it was sound: that is what a data sheet tells. What the same
figures dealt out at random would seem to save is taken off, because few candidates each know their own again.
Finding the figure costs nothing here. What does not vary among the candidates (where the line is taken off, how a
solenoid is plumbed, the boost wanted) has no worth that could be taken from them, and none is given.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from boostproof.physics.layout import INDEX
from boostproof.sources.tolerances import USUAL

if TYPE_CHECKING:
    from boostproof.bench.response import Array
    from boostproof.car.spec import CarSpec
    from boostproof.diagnosis.choice.next_test import Known
    from boostproof.workflows.verdict import UnknownWorth

LEAST = 5.0  # min; less is not worth a look into the papers
_SHUFFLES = 8
_BALL = "ball and spring"
Sound = Mapping[str, "Array"]


@dataclass(frozen=True)
class Figure:
    """A figure of car.toml, and what stands for it in a candidate.

    Attributes
    ----------
    name : in car.toml
    value : of sound parameters by name
    sd : standard deviation with which it is known once told, at its middle value, in the unit of `value`
    controller : kind of boost controller that has it, "" for any
    """

    name: str
    value: Callable[[Sound], Array]
    sd: Callable[[float], float]
    controller: str = ""


def _log(parameter: str) -> Callable[[Sound], Array]:
    return lambda sound: np.log(sound[parameter])


def _share(sd: float) -> Callable[[float], float]:
    return lambda middle: sd


# Doubts that are no key's own are those with which a told figure enters the prior (boostproof.car.prior).
FIGURES = (
    Figure("engine.full_load_lambda", lambda sound: sound["mixture"], _share(0.015)),
    Figure("turbo.compressor_inducer", _log("compressor_area"), _share(0.10)),
    Figure("turbo.compressor_exducer", _log("compressor_diameter"), _share(0.02)),
    Figure("turbo.turbine_inducer", _log("turbine_diameter"), _share(0.06)),
    Figure("wastegate.full_travel", lambda sound: sound["gate_travel"], USUAL["wastegate.full_travel"].sd),
    Figure("actuator.opening_pressure", lambda sound: sound["opening_pressure"], USUAL["actuator.opening_pressure"].sd),
    Figure("controller.opening_pressure", lambda sound: sound["opening_pressure"] + sound["offset"],
           USUAL["controller.opening_pressure"].sd, _BALL),
    Figure("controller.bleed_hole", _log("bleed_area"), _share(0.1), _BALL),
)  # fmt: skip


def unknowns(car: CarSpec, known: Known, *, seed: int) -> tuple[UnknownWorth, ...]:
    """The figures that were not told and would save at least `LEAST` minutes, most first.

    Parameters
    ----------
    car : as told
    known : candidates, their weights and what mends them (`boostproof.diagnosis.choice.next_test.known_from`)
    seed : of the random dealing
    """
    from boostproof.workflows.verdict import UnknownWorth

    sound = {name: known.candidates.sound[i] for name, i in INDEX.items()}
    found = [
        UnknownWorth(one.name, saved(known, one, sound, seed))
        for one in FIGURES
        if not told(car, one.name) and one.controller in ("", car.controller.kind)
    ]
    return tuple(sorted((u for u in found if u.minutes_saved >= LEAST), key=lambda u: -u.minutes_saved))


def told(car: CarSpec, name: str) -> bool:
    """Whether car.toml says a figure."""
    table, key = name.split(".")
    part = getattr(car, table)
    return part is not None and getattr(part, key) is not None


def saved(known: Known, figure: Figure, sound: Sound, seed: int) -> float:
    """Expected minutes of repair that knowing one figure saves. [min]"""
    value = np.asarray(figure.value(sound), float)
    if np.ptp(value) <= 0.0:
        return 0.0
    weight = known.seen.weight[:-1]
    sd = figure.sd(float(np.average(value, weights=weight)))
    rng = np.random.default_rng([seed, 79, FIGURES.index(figure)])
    chance = [_minutes(known, rng.permutation(value), sd) for _ in range(_SHUFFLES)]
    return max(0.0, _minutes(known, value, sd) - float(np.mean(chance) + np.std(chance)))


def _minutes(known: Known, value: Array, sd: float) -> float:
    from boostproof.diagnosis.choice.outcomes import outcomes_of
    from boostproof.diagnosis.choice.worth import worth
    from boostproof.observation import reading

    outcomes = outcomes_of([reading("told", 0.0, sd)], {"told": value}, known.seen, {}, np.random.default_rng(0))
    return worth(known.belief, known.belief.joint(outcomes.table)).minutes
