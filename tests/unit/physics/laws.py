"""What a law of a component is, and sweeps along each of its arguments.

A *law* names a component, the ranges of its arguments (from `layout` and from what the model clips its states
to) and what must hold.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from boostproof.physics import layout, rows

Range = tuple[float, float]
Outputs = list[Any]
Arguments = dict[str, Any]

PRESSURE: Range = (1.8e4, 8.64e5)  # 0.3 of 60 kPa to 8 times 108 kPa, as `system.moved` keeps the states
EXHAUST: Range = (5.4e4, 1.296e6)
AMBIENT: Range = (6.0e4, 1.08e5)
OUTSIDE: Range = (240.0, 330.0)
WARM: Range = (230.0, 800.0)
HOT: Range = (400.0, 2000.0)
SHAFT: Range = (300.0, 3.0e4)  # to 286 000 1/min, above any wheel's burst speed
ENGINE: Range = (80.0, 1200.0)
SHARE: Range = (0.0, 1.0)
FLOW: Range = (0.0, 1.5)

POINTS = 33  # along each argument


def of(name: str) -> Range:
    """Range of a parameter."""
    row = layout.parameter(name)
    return row.low, row.high


@dataclass(frozen=True)
class Law:
    """A component and what must hold for it. Outputs are numbered after nested tuples are laid flat.

    Attributes
    ----------
    function : called by keyword
    ranges : of its arguments
    values : outputs that must have no jumps (slopes may have them, at kinks)
    rising, falling : pairs of output and argument; level stretches are allowed
    slopes : output (number, or made of the outputs), argument, and the derivative made of outputs and arguments
    within : where the slopes are checked, of the outputs; beyond the ends of the map a slope is held on purpose
    exact : relative error of a slope that is let pass (that of power laws is of the exact power)
    step : of the differences, of the range
    """

    function: Callable[..., Any]
    ranges: dict[str, Range]
    values: tuple[int, ...] = (0,)
    rising: tuple[tuple[int, str], ...] = ()
    falling: tuple[tuple[int, str], ...] = ()
    slopes: tuple[tuple[Any, str, Callable[[Outputs, Arguments], Any]], ...] = ()
    within: Callable[[Outputs], Any] = lambda outputs: True
    exact: float = 2e-4
    step: float = 1e-7


def over_parameters(function: Callable[..., Any], ranges: dict[str, Range], **fixed: float) -> tuple[Any, dict[str, Range]]:
    """A component that takes ``par`` as one that takes by name, in capitals, the parameters that it reads."""
    read: set[int] = set()

    class Recorder(list[float]):
        def __getitem__(self, row: Any) -> float:
            read.add(row)
            return list.__getitem__(self, row)

    function(**{name: 0.5 * (low + high) for name, (low, high) in ranges.items()},
             par=Recorder(p.neutral for p in layout.PARAMETERS))  # fmt: skip
    names = [layout.NAMES[row].upper() for row in sorted(read) if layout.NAMES[row].upper() not in fixed]

    def by_name(**arguments: Any) -> Any:
        par = [p.neutral for p in layout.PARAMETERS]
        for name in names:
            par[getattr(rows, name)] = arguments.pop(name)
        for name, value in fixed.items():
            par[getattr(rows, name)] = value
        return function(**arguments, par=par)

    return by_name, ranges | {name: of(name.lower()) for name in names}


def flat(result: Any) -> Iterator[Any]:
    if isinstance(result, tuple):
        for part in result:
            yield from flat(part)
    else:
        yield result


def call(law: Law, arguments: Arguments) -> Outputs:
    return list(flat(law.function(**arguments)))


def placed(bounds: Range, share: Any) -> Any:
    """Share 0..1 of a range; of one over more than a decade and a half by ratio."""
    low, high = bounds
    if low > 0.0 and high > 30.0 * low:
        return np.clip(low * (high / low) ** np.asarray(share), low, high)
    return low + (high - low) * np.asarray(share)


def sweeps(law: Law, shares: list[float]) -> tuple[Arguments, np.ndarray]:
    """Arguments along each argument in turn, one after the other, and which argument moves: (args * POINTS,)."""
    names = list(law.ranges)
    moving = np.repeat(np.arange(len(names)), POINTS)
    out = {}
    for i, name in enumerate(names):
        share = np.full(len(moving), shares[i])
        share[moving == i] = np.linspace(0.0, 1.0, POINTS)
        out[name] = placed(law.ranges[name], share)
    return out, moving


def shifted(arguments: Arguments, moving: np.ndarray, by: dict[str, float]) -> Arguments:
    return {
        name: np.where(moving == i, value + by[name], value) for i, (name, value) in enumerate(arguments.items())
    }


_scales: dict[int, list[float]] = {}


def scales(law: Law) -> list[float]:
    """Usual largest size of each output."""
    if id(law) not in _scales:
        rng = np.random.default_rng(3)
        sample = {name: placed(bounds, rng.random(2000)) for name, bounds in law.ranges.items()}
        _scales[id(law)] = [float(np.quantile(np.abs(o), 0.99)) + 1e-30 for o in call(law, sample)]
    return _scales[id(law)]
