"""What a bench test is: how it is done, what it costs, and what a candidate would answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from boostproof.bench.procedures import Procedure, procedure
from boostproof.bench.response import Response
from boostproof.observation import Observation, word
from boostproof.uncertainty import rectangular_uncertainty


@dataclass(frozen=True)
class CarContext:
    """What a test must know of the car.

    Attributes
    ----------
    controller : kind of controller
    external : external gate
    target : boost wanted [Pa gauge]
    redline : [rad/s]
    can : what the shop can do (lift, exhaust_tap, scan_tool, …), None where it did not say
    compression_ratio, cylinders : of the engine, None where not known
    full_travel : of the actuator at the rod [m], None where not known
    done : ids of the tests that were done
    """

    controller: str
    external: bool
    target: float
    redline: float
    can: tuple[tuple[str, bool], ...] = ()
    compression_ratio: float | None = None
    cylinders: int | None = None
    full_travel: float | None = None
    done: tuple[str, ...] = ()

    def possible(self, need: str) -> bool:
        """Whether the shop can do what a test needs; what it did not say counts as possible."""
        return not need or dict(self.can).get(need, True)


@dataclass(frozen=True)
class Gauge:
    """The pressure gauge in hand.

    Attributes
    ----------
    mark : smallest mark [Pa]
    zero : standard deviation of the error that all its readings share [Pa]
    """

    mark: float = 2.0e3
    zero: float = 1.5e3

    def noise(self, person: float = 1.2e3) -> float:
        """Standard deviation of one reading: half a mark's rounding, and the person's judgement. [Pa]"""
        return float(np.hypot(0.4 * self.mark, person))


def gauge_of(spec: Any) -> Gauge:
    """The gauge described in readings.toml; a usual shop gauge where it is not."""
    if spec is None:
        return Gauge()
    mark = spec.smallest_mark.value if spec.smallest_mark is not None else 2.0e3
    span = spec.range.value if spec.range is not None else 4.0e5
    accuracy = spec.class_.value if spec.class_ is not None else None
    # class is the largest error in percent of range
    zero = rectangular_uncertainty(accuracy * span) if accuracy is not None else 1.5e3 + 0.15 * mark
    return Gauge(float(mark), float(zero))


Respond = Callable[[Any, Gauge, CarContext], Response]
Probe = Callable[[CarContext], Response]


def everywhere(context: CarContext) -> bool:
    """A test that every car allows."""
    return True


@dataclass(frozen=True)
class BenchTest:
    """One test.

    Attributes
    ----------
    id, number : as in the catalogue
    minutes : usual time [min]
    respond : a reading as evidence
    probe : what would be read, for choosing the next test
    fits : cars that allow it
    need : what the shop must have (a key of pull_place), empty for nothing special
    """

    id: str
    number: int
    minutes: float
    respond: Respond = field(repr=False)
    probe: Probe = field(repr=False)
    fits: Callable[[CarContext], bool] = everywhere
    need: str = ""

    @property
    def procedure(self) -> Procedure:
        """How it is done; its text holds placeholders (`boostproof.bench.procedures.fill`)."""
        return procedure(self.id)

    @property
    def title(self) -> str:
        """A few words for a technician."""
        return self.procedure.title

    @property
    def steps(self) -> tuple[str, ...]:
        """How it is done, in order."""
        return self.procedure.steps

    @property
    def cautions(self) -> tuple[str, ...]:
        """What may hurt, first on every screen."""
        return tuple(caution.says for caution in self.procedure.cautions)


def log10(x: Any) -> Any:
    """Decimal logarithm that bears zero."""
    return np.log10(np.maximum(x, 1e-15))


def number(value: Any) -> float | None:
    """SI number of a quantity; None where it is unknown or a word ("none": looked for, not seen)."""
    return None if value is None or isinstance(value, str) else float(value.value)


def places(heard_at: str | tuple[str, ...] | None) -> tuple[str, ...]:
    """Where a hiss was heard, as one or several places were written; none noted is none."""
    if heard_at is None:
        return ()
    return (heard_at,) if isinstance(heard_at, str) else tuple(heard_at)


def heard(feature: str) -> Observation:
    """A hiss heard at a place, for the logarithm of the area that leaks there."""
    return word(feature, -7.6, 0.0, 0.3)
