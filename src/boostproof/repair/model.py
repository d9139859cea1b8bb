"""What a repair is: what it undoes, what it fits instead, in which sizes, and what it takes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from boostproof.bench.response import Array
from boostproof.diagnosis.causes.model import Applies, everywhere
from boostproof.physics import layout

Dimension = Literal["length", "pressure", "turns"]
Span = tuple[float, float]
_SETTING: Span = (5.0, 15.0)  # min, to turn an adjuster (judgement)


@dataclass
class Fitting:
    """Cars in which something is being fitted.

    Attributes
    ----------
    par : (parameters, n) as they stand, changed in place [SI]
    sound : (parameters, n) each car without its fault
    size : that was fitted or set [SI; turns], None where the part is as it was meant to be
    absolute : the size is a setting from slack, else a change from the setting as found (turns only)
    error : (n,) standard normal, of the part fitted
    tolerance : standard deviation of a size as made or as set [SI; turns]
    controller : kind of boost controller
    """

    par: Array
    sound: Array
    size: float | None
    absolute: bool
    error: Array
    tolerance: float
    controller: str

    def row(self, name: str) -> Array:
        """A parameter as it stands, (n,)."""
        return np.asarray(self.par[layout.index_of(name)])

    def meant(self, name: str) -> Array:
        """A parameter of the sound cars, (n,)."""
        return np.asarray(self.sound[layout.index_of(name)])

    def put(self, name: str, value: Array | float) -> None:
        """Set a parameter, kept within its range."""
        p = layout.parameter(name)
        self.par[layout.index_of(name)] = np.clip(value, p.low, p.high)

    @property
    def made(self) -> Array:
        """The size with its error, (n,)."""
        assert self.size is not None  # sized edits run only with a size
        return np.asarray(self.size + self.tolerance * self.error)


Edit = Callable[[Fitting], None]


@dataclass(frozen=True)
class Size:
    """How a repair is sized.

    Attributes
    ----------
    of : what is measured, in a few words
    dimension : "length", "pressure" or "turns"
    low, high : what a person may ask for [SI; turns]
    trade : sizes that are to be had or set, rising [SI; turns]
    tolerance : standard deviation as made or as set [SI; turns]
    lowers : a larger size means less boost
    example : as a person would write it
    capacity : it is about what the open gate passes: only where the gate is at its stop is boost its doing
    """

    of: str
    dimension: Dimension
    low: float
    high: float
    trade: tuple[float, ...]
    tolerance: float
    lowers: bool
    example: str
    capacity: bool = False


@dataclass(frozen=True)
class Repair:
    """One way to mend a car.

    Attributes
    ----------
    id : stable name, and the word for ``--repair``
    title : what is done, for a technician
    words : other words for it
    mends : ids of the causes that it undoes: the fault is gone, everything else is kept
    helps : ids of the causes that stay, and that a large enough size makes up for
    fresh : parameters of the part that is new afterwards, with the relative standard deviation of its kind
    edit : what a size changes; None where the repair has no sizes
    size : the sizes
    minutes, parts : usual range of time [min] and of parts [currency units] (judgement)
    fuelling : air or sensor change, so that the mixture must be looked at again
    applies : whether a car with this fitted can have it done
    caution : what else it needs, a sentence; may be empty
    """

    id: str
    title: str
    words: tuple[str, ...]
    mends: tuple[str, ...]
    helps: tuple[str, ...] = ()
    fresh: Mapping[str, float] = field(default_factory=dict)
    edit: Edit | None = None
    size: Size | None = None
    minutes: Span = (30.0, 90.0)
    parts: Span = (0.0, 50.0)
    fuelling: bool = False
    applies: Applies = everywhere
    caution: str = ""

    @property
    def covers(self) -> frozenset[str]:
        """Causes that it is a repair for."""
        return frozenset(self.mends) | frozenset(self.helps)


@dataclass(frozen=True)
class Chosen:
    """A repair as somebody asked for it.

    Attributes
    ----------
    repair : what is done
    size : [SI; turns], None where the part is to be as it was meant
    tolerance : standard deviation of that size
    absolute : a setting from slack, else a change from the setting as found (turns only)
    written : as it was asked for
    """

    repair: Repair
    size: float | None = None
    tolerance: float = 0.0
    absolute: bool = False
    written: str = ""

    @property
    def undoes(self) -> bool:
        """Whether the fault is taken away: turning an adjuster mends nothing by itself, every other repair does."""
        return self.size is None or self.repair.size is None or self.repair.size.dimension != "turns"

    @property
    def title(self) -> str:
        """What is done."""
        return self.repair.title if self.undoes else "Boost controller set"

    @property
    def minutes(self) -> Span:
        """Usual time [min]."""
        return self.repair.minutes if self.undoes else _SETTING

    @property
    def parts(self) -> Span:
        """Usual price of the parts [currency units]."""
        return self.repair.parts if self.undoes else (0.0, 0.0)

    def at(self, size: float) -> Chosen:
        """The same repair in another size."""
        assert self.repair.size is not None
        return Chosen(self.repair, size, self.repair.size.tolerance, self.absolute, self.written)


def covered(chosen: Iterable[Chosen]) -> frozenset[str]:
    """Causes that one of several repairs is for."""
    return frozenset().union(*(c.repair.covers for c in chosen))
