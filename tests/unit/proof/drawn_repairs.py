"""Pulls before and after repairs whose truth is known: drawn by hand, no model of a car."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from tests.unit.recording.drawn_pulls import Array, drawn_pull

from boostproof.proof import Target, prove
from boostproof.recording import Barometer, Pull

WANTED = 90.0  # kPa gauge, the plateau of a drawn pull that has no fault
STANDARD = 101.325


Sides = tuple[list[Pull], list[Pull]]


def target(level: float = WANTED, tolerance: float = 7.0, from_rpm: float | None = None) -> Target:
    """One boost at all engine speeds."""
    rpm, boost = np.array([1000.0, 8000.0]), np.full(2, level)
    return Target(rpm, boost, boost, tolerance, from_rpm)


def with_boost(pull: Pull, more: Callable[[Array], Array]) -> Pull:
    """The pull with ``more(rpm)`` kPa on top."""
    name = "boost" if "boost" in pull.recording.channels else "manifold_pressure"
    channels = dict(pull.recording.channels)
    rpm = channels["engine_speed"].values * 30.0 / np.pi
    channels[name] = replace(channels[name], values=channels[name].values + 1e3 * more(rpm))
    return replace(pull, recording=replace(pull.recording, channels=channels))


def faulty(rng: np.random.Generator, count: int, over: float = 0.0, **how: Any) -> list[Pull]:
    """Pulls that come up as a sound car's do, and then lie ``over`` kPa above it."""
    return [
        with_boost(drawn_pull(rng, **how), lambda rpm: over * np.clip((rpm - 3300.0) / 200.0, 0.0, 1.0))
        for _ in range(count)
    ]


def on_a_day(rng: np.random.Generator, count: int, barometer: float, *, over: float = 0.0, **how: Any) -> list[Pull]:
    """Pulls of a car that holds an absolute pressure, on a day of that barometer [kPa], which is read to 0.3 kPa."""
    read = Barometer(1e3 * (barometer + rng.normal(0.0, 0.3)), 300.0, "logged")
    # The sensor tells the absolute pressure, always the same; what the barometer reads is taken from it.
    off = STANDARD - 1e-3 * read.value
    pulls = faulty(rng, count, over, reference="abs", barometer=read, **how)
    return [with_boost(pull, lambda rpm: np.full(len(rpm), off)) for pull in pulls]


def verdicts(count: int, draw: Callable[[np.random.Generator], Sides], *, stream: int, controlled: str) -> Counter[str]:
    """What a number of proofs say.

    Parameters
    ----------
    count : proofs
    draw : pulls before and after
    stream : of random numbers
    controlled : as of `prove`
    """
    found: Counter[str] = Counter()
    for seed in range(count):
        before, after = draw(np.random.default_rng([stream, seed]))
        found[prove(before, after, target=target(), controlled=controlled).verdict] += 1  # type: ignore[arg-type]
    return found
