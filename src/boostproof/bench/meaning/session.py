"""One reading of a bench: the gauges in hand, the figures found so far, what was questioned."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.meaning.chance import Chance, weighted_mean
from boostproof.bench.meaning.emptying import HOLE_FLOW, HOLE_FLOW_SD
from boostproof.bench.meaning.facts import CarFacts
from boostproof.bench.meaning.model import Group, Healthy, Limit, Meaning, band_of, verdict_of
from boostproof.bench.tests.model import gauge_of, number
from boostproof.findings import Finding
from boostproof.physics import rigs
from boostproof.quantity import Quantity

Array = NDArray[np.float64]

GAIN_SD = 0.006  # scale error of a shop gauge that nobody described (judgement)
DIFFER = 3.0  # standard deviations from which on two readings of one thing are questioned


@dataclass(frozen=True)
class Item:
    """One reading in its place.

    Attributes
    ----------
    label : "reading 2 (actuator-sweep)"
    test : its test, or the test that a hot repeat repeats
    hot : taken on hot parts
    reading : as written
    gauge : key of the gauge it was read on
    """

    label: str
    test: str
    hot: bool
    reading: Any
    gauge: str


@dataclass(frozen=True)
class Instrument:
    """A gauge: how much one of its readings is worth, and what all its readings share. [Pa], gain [1]"""

    mark: float
    zero: float
    gain: float
    shows: float  # with no pressure on it

    @classmethod
    def of(cls, spec: Any) -> Instrument:
        """From its description in readings.toml, None for a usual shop gauge."""
        plain = gauge_of(spec)
        if spec is None:
            return cls(plain.mark, plain.zero, GAIN_SD, 0.0)
        gain = GAIN_SD if spec.class_ is None else spec.class_.value / np.sqrt(3.0)
        zero, shows = plain.zero, 0.0
        if spec.reads_at_zero is not None:  # what is known of the zero is taken off; its class is left for the scale
            zero, shows = spec.reads_at_zero.sd, spec.reads_at_zero.value
        return cls(plain.mark, float(zero), float(gain), float(shows))

    def noise(self, person: float) -> float:
        """Standard deviation of one reading by itself: marks and the person. [Pa]"""
        return float(np.hypot(0.4 * self.mark, person))


@dataclass(frozen=True)
class Estimate:
    """A figure on its way: draws, and the readings behind it.

    Attributes
    ----------
    draws : (1 + trials,), the first without error [SI]
    readings : labels
    limit : side on which it is open
    """

    draws: Array = field(repr=False)
    readings: tuple[str, ...]
    limit: Limit = ""

    @property
    def value(self) -> float:
        """Without error. [SI]"""
        return float(self.draws[0])

    @property
    def sd(self) -> float:
        """Standard deviation. [SI]"""
        return float(self.draws[1:].std())


@dataclass
class Session:
    """All readings of a car, and what has been made of them.

    Attributes
    ----------
    facts : the car
    chance : draws of all errors
    items : readings that were done, in order
    gauges : by key
    meanings, findings : so far
    estimates : figures that others build on, by name
    """

    facts: CarFacts
    chance: Chance
    items: tuple[Item, ...]
    gauges: Mapping[str, Instrument]
    meanings: list[Meaning] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    estimates: dict[str, Estimate] = field(default_factory=dict)

    @classmethod
    def of(cls, readings: Sequence[Any], gauge: Any, facts: CarFacts, seed: int = 1) -> Session:
        """From the readings of a file and its gauge (None where it is not described)."""
        gauges = {"gauge": Instrument.of(gauge)}
        items = []
        for i, reading in enumerate(readings):
            if reading.not_done is not None:
                continue
            key = "gauge"
            if reading.gauge is not None and reading.gauge != gauge:
                key = f"gauge {reading.gauge!r}"
                gauges[key] = Instrument.of(reading.gauge)
            repeated = reading.test == "hot-repeat"
            test = reading.of if repeated else reading.test
            if test is not None:
                label = f"reading {i + 1} ({reading.test})"
                items.append(Item(label, test, repeated or reading.state == "hot", reading, key))
        return cls(facts, Chance(seed), tuple(items), gauges)

    def of_test(self, *tests: str, hot: bool | None = None) -> Iterator[Item]:
        """Readings of some tests; of cold or hot parts alone where that is asked."""
        return (i for i in self.items if i.test in tests and hot in (None, i.hot))

    def through(self, *, hot: bool | None = None) -> Iterator[Item]:
        """Sweeps through the controller, its solenoid at rest: powered it may shut the way by design."""
        return (i for i in self.of_test("controller-sweep", hot=hot) if not powered(i))

    def pressure(self, item: Item, key: str, value: Any, person: float) -> Estimate | None:
        """A pressure read on the reading's gauge; None where it is unknown or a word.

        ``person`` is the standard deviation of a person's judgement at that moment [Pa]; a doubt that was
        written beside the figure takes the place of it and of the marks.
        """
        if not isinstance(value, Quantity):
            return None
        gauge = self.gauges[item.gauge]
        own = f"{item.label} {key}"
        if value.form == "exact":
            read = value.value - gauge.noise(person) * self.chance.normal(own)
        else:
            read = self.chance.of(value, own)
        zero = gauge.shows + gauge.zero * self.chance.normal(f"{item.gauge} zero")
        return Estimate((read - zero) / (1.0 + gauge.gain * self.chance.normal(f"{item.gauge} scale")), (item.label,))

    def quantity(self, item: Item, key: str, value: Any) -> Array | None:
        """Any other figure with its own doubt; None where it is unknown or a word."""
        return self.chance.of(value, f"{item.label} {key}") if isinstance(value, Quantity) else None

    def known(self, name: str) -> Array | None:
        """A size of the car, by its name in `CarFacts`; None where it is not known."""
        return self.chance.of(q, f"car {name}") if (q := getattr(self.facts, name)) is not None else None

    def sound(self, name: str) -> Array:
        """A parameter over drawn sound cars, the first their median. [(1 + trials,)]"""
        return self.chance.among(rigs.row(self.facts.sound, name))

    def hole_flow(self) -> Array:
        """Discharge coefficient of a small hole. [(1 + trials,)]"""
        return HOLE_FLOW + HOLE_FLOW_SD * self.chance.normal("hole flow")

    def combined(self, several: Sequence[Estimate], what: str) -> Estimate | None:
        """One estimate of one thing; those that contradict each other are questioned.

        Where one side only is known of some, the two-sided ones decide; of limits alone the tighter one.
        """
        whole = [e for e in several if not e.limit]
        if not whole:
            for side, pick in (("at least", max), ("at most", min)):
                limits = [e for e in several if e.limit == side]
                if limits:
                    return pick(limits, key=lambda e: e.value)
            return None
        for i, first in enumerate(whole):
            for second in whole[i + 1 :]:
                self._question(first, second, what)
        draws = weighted_mean([e.draws for e in whole])
        return Estimate(draws, tuple(dict.fromkeys(r for e in whole for r in e.readings)))

    def _question(self, first: Estimate, second: Estimate, what: str) -> None:
        difference = second.draws - first.draws
        sd = float(difference[1:].std())
        if sd > 0.0 and abs(float(difference[0])) > DIFFER * sd:
            self.findings.append(
                Finding(
                    "readings-differ",
                    ", ".join(dict.fromkeys(first.readings + second.readings)),
                    f"These readings give {what} further apart than the gauge and the eye explain; their mean was taken.",
                    "Read both again, one right after the other on the same gauge.",
                )
            )

    def refuse(self, item: Item, says: str, do: str = "Read it again, or correct the figure.") -> None:
        """Question a reading that cannot have been so; what it would mean is not computed."""
        self.findings.append(Finding("impossible-reading", item.label, says, do))

    def add(
        self,
        id: str,
        group: Group,
        name: str,
        kind: str,
        estimate: Estimate,
        healthy: Healthy | None,
        says: Mapping[str, str] | str,
        correlated: tuple[tuple[str, float], ...] = (),
        floor: float | None = None,
    ) -> Meaning:
        """Enter one figure. ``says`` may hold a sentence per verdict; ``floor`` is what it cannot be below.

        A second figure of one id gets ``--2`` behind it.
        """
        again = 1 + sum(m.id == id or m.id.rpartition("--")[0] == id for m in self.meanings)
        if again > 1:  # the same test once more, as with another setting of the adjuster
            id, name = f"{id}--{again}", f"{name} ({again})"
        draws = estimate.draws if floor is None else np.maximum(estimate.draws, floor)
        verdict = verdict_of(draws, estimate.limit, healthy)
        low, high = band_of(draws)
        if estimate.limit:
            value = float(draws[0])
            low, high = (value, None) if estimate.limit == "at least" else (None, value)  # type: ignore[assignment]
        meaning = Meaning(
            id, group, name, kind, float(draws[0]), 0.0 if estimate.limit else float(draws[1:].std()), low, high,
            estimate.limit, healthy, verdict, estimate.readings,
            says if isinstance(says, str) else says.get(verdict, says.get("", "")), correlated, draws,
        )  # fmt: skip
        self.meanings.append(meaning)
        return meaning


def powered(item: Item) -> bool:
    """Whether the solenoid was under power during a sweep."""
    return getattr(item.reading, "solenoid", None) == "powered"


def at_most(draws: Array, readings: tuple[str, ...]) -> Estimate:
    """Nothing was seen of a value that cannot be below zero: at most what 95 % of its possible draws allow."""
    able = draws[1:][draws[1:] > 0.0]
    # where hardly a draw is possible the readings slipped the other way, and their scatter is what is left
    size = able if able.size >= 0.01 * draws.size else np.abs(draws[1:] - draws[0])
    return Estimate(np.full_like(draws, np.percentile(size, 95.0)), readings, "at most")


def at_least(draws: Array, readings: tuple[str, ...]) -> Estimate:
    """Off the scale: the value is at least what 95 % of the draws allow."""
    return Estimate(np.full_like(draws, np.percentile(draws[1:], 5.0)), readings, "at least")


__all__ = ["Estimate", "Instrument", "Item", "Session", "at_least", "at_most", "number", "powered"]
