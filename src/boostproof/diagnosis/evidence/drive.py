"""From a recording to what drives the simulation, and back to what was measured on the way.

A `Drive` holds the inputs of every time step (engine speed, throttle, target, logged duty, air
around), and says which steps belong to which bin of engine speed of which pull. Gaps and the time
between pulls are driven too, with longer steps: pressure trapped in the line lasts from pull to pull.
Where the throttle was opened at a held speed the bins are of time since the opening instead. Recordings made
with different set-ups are driven apart, each set-up from a cruise of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from boostproof.diagnosis.evidence.bins import Bin, bins_of
from boostproof.diagnosis.evidence.configurations import AS_FOUND, Configuration
from boostproof.physics import system

if TYPE_CHECKING:
    from boostproof.recording.model import Pull, Recording
    from boostproof.recording.pulls.held import Held

FloatArray = NDArray[np.float64]
RPM = np.pi / 30.0

STEP_PULL = 0.025  # s, at full load; against a fifth of it the boost in the bins moves by some 0.1 kPa (rms)
STEP_LOOP = 0.015  # s, at full load of a car with a boost loop, which swings faster
ROUGH_PULL, ROUGH_LOOP = 0.035, 0.022  # s, for a first look; longer ones make a gate that sticks too noisy to fit
STEP_JUMP = 0.004  # s, right after the throttle opens
JUMP_TIME = 0.12  # s
OPENING_TIME = 0.25  # s before a pull in which the throttle opens
STEP_BETWEEN = 0.0125  # s, between pulls; at 25 ms cruise with a slow shaft turns unsteady
STEP_CALM = 0.025  # s, longest step between pulls
CLOSING_TIME, NEARING_TIME = 0.5, 1.0  # s after a pull and before the next one that are driven in short steps
STEP_GAP = 0.04  # s, longest step where the log has a hole
GAP_GROWTH = 1.04  # of the steps from the beginning of a hole on: what moves fast comes to rest first
GAP_KEPT = 12.0  # s of a hole, or of driving between pulls, that are driven; more changes nothing more
GAP_BEFORE = 4.0  # s of those that lie at the beginning, where driving between pulls is cut short
LEAD_IN = 1.5  # s of cruise before a log that starts with a pull
HEATING_TIME = 20.0  # s of full load in which gate and housing take two thirds of their heat (judgement)
COOLING_TIME = 120.0  # s, likewise without load
FULL_LOAD = 0.6  # throttle opening from which the exhaust heats the gate
STEP_SPOOL, SPOOL_TIME = 0.0125, 0.8  # s, of a throttle opened at a held speed
SAME_TARGET = 8.0e3  # Pa, up to which a target as told and as logged are one, told and rounded by a person
RAMP_SHARES = (0.41, 0.48, 0.55, 0.65, 0.75, 0.85, 0.95)  # of redline


class Driven(NamedTuple):
    """One recording with what of it counts, and how the car stood for it.

    Attributes
    ----------
    recording : as read
    pulls : full-load pulls in order of time
    configuration : the set-up
    held : openings of the throttle at a held speed, in order of time
    temperature : of the air around as written for this recording [K], None where it is not
    """

    recording: Recording
    pulls: tuple[Pull, ...]
    configuration: Configuration = AS_FOUND
    held: tuple[Held, ...] = ()
    temperature: float | None = None


@dataclass(frozen=True)
class Drive:
    """Inputs for the kernel, and the bins that its outputs are collected in.

    Attributes
    ----------
    inputs : (steps, inputs) as `system.INPUTS`
    steps : (steps,) step sizes [s]
    record : (steps,) output slot or -1
    bins : one per slot, in order of slots
    pulls : number of pulls
    configurations : set-ups, in the order in which they are driven
    first_steps : step at which each of them begins
    """

    inputs: FloatArray = field(repr=False)
    steps: FloatArray = field(repr=False)
    record: NDArray[np.int32] = field(repr=False)
    bins: tuple[Bin, ...]
    pulls: int
    configurations: tuple[Configuration, ...] = (AS_FOUND,)
    first_steps: tuple[int, ...] = (0,)

    @property
    def slots(self) -> int:
        """Number of output slots."""
        return len(self.bins)

    @property
    def stretches(self) -> tuple[slice, ...]:
        """Steps of each set-up, in the order of ``configurations``."""
        return tuple(slice(a, b) for a, b in pairwise((*self.first_steps, len(self.steps))))


def drive_from(
    driven: Driven, target: float, temperature: float, *, loop: bool = True, rough: bool = False
) -> Drive:
    """Drive of all full-load pulls of a recording and the time between them.

    Parameters
    ----------
    driven : recording with engine speed, throttle, duty and target used where logged, and what of it counts
    target : boost wanted where the log has no target channel [Pa gauge]
    temperature : air around where it is not logged [K]
    loop : whether the car has a boost loop, which asks for shorter steps
    rough : with long steps, for a first look
    """
    recording = driven.recording
    pulls: list[Pull | Held] = sorted((*driven.pulls, *driven.held), key=lambda p: p.start)
    time = recording.time
    speed = _filled(recording.values("engine_speed"), len(time), 0.0)
    throttle = _throttle(recording, pulls)
    wanted = _target(recording, target)
    by_hand = driven.configuration.duty
    duty = _filled(recording.values("duty") if by_hand is None else None, len(time), by_hand or 0.0)
    ambient = recording.barometer.value

    begin = max(time[pulls[0].start] - LEAD_IN, time[0])
    grid: list[FloatArray] = []
    lead = LEAD_IN - (time[pulls[0].start] - begin)
    if lead > 0.05:
        grid.append(np.arange(begin - lead, begin - 1e-9, STEP_BETWEEN))
    now = begin
    for pull in pulls:
        first, last = time[pull.start], time[pull.stop - 1]
        opening = max(now, first - OPENING_TIME)
        if opening > now:
            grid.append(_between(time, now, opening))
        jump = min(first + JUMP_TIME, last)
        grid.append(np.arange(opening, jump - 1e-9, STEP_JUMP))
        spooled = min(first + SPOOL_TIME, last) if pull in driven.held else jump
        grid.append(np.arange(jump, spooled - 1e-9, STEP_SPOOL))
        grid.append(np.arange(spooled, last - 1e-9, _step(loop, rough)))
        now = last
    edges = np.concatenate([*grid, [now]])
    steps = np.minimum(np.diff(edges), STEP_GAP)
    middle = 0.5 * (edges[:-1] + edges[1:])
    at = np.clip(middle, time[0], time[-1])
    inputs = np.empty((len(steps), system.N_INPUT))
    inputs[:, 0] = np.maximum(np.interp(at, time, speed), 80.0)
    inputs[:, 1] = np.clip(np.interp(at, time, throttle), 0.02, 1.0)
    inputs[:, 2] = np.interp(at, time, wanted)
    inputs[:, 3] = np.clip(np.interp(at, time, duty), 0.0, 1.0)
    inputs[:, 4] = ambient
    inputs[:, 5] = temperature
    before = middle < time[pulls[0].start]
    inputs[before & (middle < begin), 1] = 0.13
    inputs[before & (middle < begin), 0] = max(speed[pulls[0].start], 80.0)
    inputs[:, 6] = gate_heat(inputs[:, 1], np.diff(edges))
    # what a step shows is the state at its start: the bins are of those moments
    shown = inputs.copy()
    shown[:, 0] = np.maximum(np.interp(np.clip(edges[:-1], time[0], time[-1]), time, speed), 80.0)
    record, bins = bins_of(time, speed, pulls, edges[:-1], shown)
    return Drive(inputs, steps, record, bins, len(pulls), (driven.configuration,))


def _step(loop: bool, rough: bool) -> float:
    """Step at full load. [s]"""
    if rough:
        return ROUGH_LOOP if loop else ROUGH_PULL
    return STEP_LOOP if loop else STEP_PULL


def gate_heat(throttle: FloatArray, steps: FloatArray, start: float = 0.0) -> FloatArray:
    """How hot gate and housing are: a first-order lag of full load, quick to heat and slow to cool. [1]

    Parameters
    ----------
    throttle : opening, (steps,) [1]
    steps : step sizes, of holes in a log their whole length, (steps,) [s]
    start : heat at the beginning [1]

    >>> gate_heat(np.array([1.0, 0.1, 0.1]), np.array([20.0, 60.0, 60.0])).round(2).tolist()
    [0.0, 0.63, 0.38]
    """
    load = throttle > FULL_LOAD
    kept = np.exp(-steps / np.where(load, HEATING_TIME, COOLING_TIME))
    out = np.empty(len(steps))
    heat = start
    for i in range(len(steps)):
        out[i] = heat
        heat = load[i] + (heat - load[i]) * kept[i]
    return out


def joined(drives: list[Drive]) -> Drive:
    """Drives of several recordings, one after the other, as one; pulls and slots are numbered on.

    Those of one set-up must stand together.
    """
    bins: list[Bin] = []
    records, pulls, steps = [], 0, 0
    configurations: list[Configuration] = []
    first_steps: list[int] = []
    for number, drive in enumerate(drives):
        first = len(bins)
        if not configurations or configurations[-1] != drive.configurations[0]:
            configurations += drive.configurations
            first_steps.append(steps)
        records.append(np.where(drive.record >= 0, drive.record + first, -1).astype(np.int32))
        bins += [
            replace(
                b,
                pull=b.pull + pulls,
                slot=b.slot + first,
                recording=number,
                configuration=len(configurations) - 1,
            )
            for b in drive.bins
        ]
        pulls += drive.pulls
        steps += len(drive.steps)
    return Drive(
        np.concatenate([d.inputs for d in drives]),
        np.concatenate([d.steps for d in drives]),
        np.concatenate(records),
        tuple(bins),
        pulls,
        tuple(configurations),
        tuple(first_steps),
    )


def by_configuration(driven: Sequence[Driven]) -> list[Driven]:
    """Recordings of one set-up together, those of the car as found first, else in the given order."""
    order: list[Configuration] = [AS_FOUND]
    for item in driven:
        if item.configuration not in order:
            order.append(item.configuration)
    return sorted(driven, key=lambda item: order.index(item.configuration))


def sound_ramp(
    redline: float, target: float, ambient: float, temperature: float, *, loop: bool = True, rough: bool = False
) -> Drive:
    """A slow full-load ramp up to redline, on which a sound car must hold its target.

    Bins at `RAMP_SHARES` of redline; ``loop`` and ``rough`` as for :func:`drive_from`.
    """
    t = np.concatenate(
        [
            np.arange(-0.5, 0.0, STEP_BETWEEN),
            np.arange(0.0, JUMP_TIME, STEP_JUMP),
            np.arange(JUMP_TIME, 7.0, _step(loop, rough)),
        ]
    )
    steps = np.diff(np.append(t, 7.0))
    middle = t + 0.5 * steps
    share = np.clip(0.36 + 0.62 * middle / 7.0, 0.36, 0.98)
    inputs = np.zeros((len(t), system.N_INPUT))
    inputs[:, 0] = share * redline
    inputs[:, 1] = np.where(middle < 0.0, 0.13, 1.0)
    inputs[:, 2], inputs[:, 4], inputs[:, 5] = target, ambient, temperature
    inputs[:, 6] = 0.5  # a car that is driven: what only heat brings on is noticed too
    record = np.full(len(t), -1, np.int32)
    bins = []
    shown = 0.36 + 0.62 * t / 7.0
    for slot, level in enumerate(RAMP_SHARES):
        record[np.abs(shown - level) < 0.012] = slot
        bins.append(Bin(0, slot, level * redline, 0, 0))
    return Drive(inputs, steps, record, tuple(bins), 1)


def _filled(values: FloatArray | None, rows: int, default: float) -> FloatArray:
    """A channel without holes; the default where it is not logged."""
    if values is None or not np.isfinite(values).any():
        return np.full(rows, default)
    good = np.isfinite(values)
    return np.asarray(np.interp(np.arange(rows), np.flatnonzero(good), values[good]))


def _throttle(recording: Recording, pulls: Sequence[Pull | Held]) -> FloatArray:
    """Opening, 1 within the pulls whatever the channel's own full scale, small between them."""
    logged = recording.values("throttle")
    if logged is None:
        logged = recording.values("pedal")
    opening = _filled(logged, len(recording.time), 0.08)
    for pull in pulls:
        opening[pull.start : pull.stop] = 1.0
    return opening


def logged_target(recording: Recording) -> float | None:
    """Highest boost that the control unit asked for, odd moments left out. [Pa gauge]"""
    if "boost_target" not in recording.channels:
        return None
    values = recording.pressure_gauge("boost_target")
    high = values[np.isfinite(values)]
    return float(np.percentile(high, 90)) if len(high) else None


def _target(recording: Recording, target: float) -> FloatArray:
    """What the control unit should have asked for.

    As logged; where that is another boost than the one wanted, moved to it: the difference is then a fault that
    a candidate must have, not something that every candidate is given.
    """
    asked = logged_target(recording)
    if asked is None:
        return np.full(len(recording.time), target)
    moved = target - asked if abs(asked - target) > SAME_TARGET else 0.0
    return _filled(recording.pressure_gauge("boost_target") + moved, len(recording.time), target)


def _between(time: FloatArray, start: float, stop: float) -> FloatArray:
    """Step edges from one pull to the next: of holes in the log and of long driving `GAP_KEPT` at most."""
    inside = time[(time >= start) & (time <= stop)]
    moments = np.unique(np.concatenate([[start], inside, [stop]]))
    out: list[FloatArray] = []
    now = start
    for gap in np.flatnonzero(np.diff(moments) > 1.0):
        hole, end = moments[gap], moments[gap + 1]
        if hole > now:
            out.append(now + _easing(hole - now, CLOSING_TIME, STEP_CALM))
        out.append(hole + _easing(min(end - hole, GAP_KEPT) - STEP_BETWEEN, 0.0, STEP_GAP))
        now = end
    if stop - now > GAP_KEPT:
        out.append(now + _easing(GAP_BEFORE, CLOSING_TIME, STEP_CALM))
        now = stop - (GAP_KEPT - GAP_BEFORE)
    nearing = max(stop - NEARING_TIME, now)
    if nearing > now:
        out.append(now + _easing(nearing - now, CLOSING_TIME, STEP_CALM))
    if stop > nearing:
        out.append(np.arange(nearing, stop - 1e-9, STEP_BETWEEN))
    return np.concatenate(out) if out else np.empty(0)


def _easing(length: float, short: float, longest: float) -> FloatArray:
    """Step edges from 0 that grow after a ``short`` time; the last step ends at ``length``, however long it is. [s]"""
    growth = np.arange(1, np.log(longest / STEP_BETWEEN) / np.log(GAP_GROWTH))
    steps = [np.full(int(short / STEP_BETWEEN) + 1, STEP_BETWEEN), STEP_BETWEEN * GAP_GROWTH**growth]
    steps.append(np.full(max(int(length / longest), 1), longest))
    edges = np.concatenate([[0.0], np.cumsum(np.concatenate(steps))])
    return np.asarray(edges[edges < max(length - 1e-9, 1e-9)])
