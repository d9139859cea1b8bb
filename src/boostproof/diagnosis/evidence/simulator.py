"""Candidate cars through the pulls that were driven: prior numbers in, evidence residuals out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import DTypeLike, NDArray

from boostproof import physics
from boostproof.bench.response import Array, Candidates, Schedule
from boostproof.car.prior import Prior
from boostproof.diagnosis.evidence.blocks import EvidenceSet
from boostproof.diagnosis.evidence.drive import Drive
from boostproof.diagnosis.evidence.hypotheses import Hypothesis
from boostproof.physics import layout, system
from boostproof.physics.change import Change, apply_all
from boostproof.physics.lanes import Kernel, make_kernel
from boostproof.physics.system import OUTPUT_INDEX

SEVERITY_ROWS = (-1, -2)  # of z, for the first and the second fault


@lru_cache(maxsize=1)
def car_kernel() -> Kernel:
    """The compiled transient model, one per process."""
    return make_kernel(
        system.step,
        system.initial,
        system.N_STATE,
        layout.SIZE,
        system.N_INPUT,
        system.N_OUTPUT,
        sources=[physics],
        name="car",
    )


@dataclass(frozen=True)
class Evaluation:
    """Residuals of candidates, and their log likelihood block by block."""

    residuals: Array = field(repr=False)
    by_block: Array = field(repr=False)

    @property
    def log_likelihood(self) -> Array:
        """Sum over blocks, (n,)."""
        return np.asarray(self.by_block.sum(axis=0))


@dataclass(frozen=True)
class Simulator:
    """Everything that turns numbers z into evidence for one case.

    Attributes
    ----------
    prior : sound cars
    drive : the pulls
    sound_drive : ramp on which a sound car must hold its target
    evidence : blocks
    ambient : pressure around during the pulls [Pa abs]
    scout : the same case with its highest pull alone, for a first look; None where there is none
    """

    prior: Prior
    drive: Drive
    sound_drive: Drive
    evidence: EvidenceSet
    ambient: float
    scout: Simulator | None = None

    @property
    def dimensions(self) -> int:
        """Numbers per candidate: nuisances, the severity of a second fault, and of the first."""
        return self.prior.size + 2

    def parameters(
        self, z: Array, hypotheses: Sequence[Hypothesis], index: NDArray[np.intp]
    ) -> tuple[Array, Array]:
        """Sound and actual parameter arrays of candidates, (parameters, n) each."""
        sound = self.prior.sound(z[: self.prior.size])
        actual = sound.copy()
        for h in np.unique(index):
            chosen = np.flatnonzero(index == h)
            for part, row in zip(hypotheses[h].parts, SEVERITY_ROWS, strict=False):
                actual[:, chosen] = apply_all(part.changes, actual[:, chosen], _severity(z[row, chosen]))
        return sound, actual

    def with_one_fault(
        self, z: Array, sound: Array, hypotheses: Sequence[Hypothesis], index: NDArray[np.intp]
    ) -> tuple[NDArray[np.intp], Array]:
        """Candidates of pairs with one of their faults alone: which candidate each is of, and their parameters."""
        paired = np.flatnonzero(np.array([h.paired for h in hypotheses], bool)[index])
        of, par = [paired[:0]], [sound[:, :0]]
        for h in np.unique(index[paired]):
            chosen = paired[index[paired] == h]
            for part, row in zip(hypotheses[h].parts, SEVERITY_ROWS, strict=True):
                of.append(chosen)
                par.append(np.asarray(apply_all(part.changes, sound[:, chosen], _severity(z[row, chosen])), float))
        return np.concatenate(of), np.concatenate(par, axis=1)

    def candidates(
        self, sound: Array, actual: Array, one_fault: tuple[NDArray[np.intp], Array] | None = None
    ) -> Candidates:
        """Simulate parameter arrays; ``one_fault`` as :meth:`with_one_fault` gives it, for pairs."""
        kernel = car_kernel()
        out = run_drive(actual, self.drive)
        different, of = distinct(sound)
        n = different.shape[1]
        apart, single = one_fault if one_fault is not None else (np.zeros(0, np.intp), actual[:, :0])
        ramp = kernel.run(
            np.concatenate([different, actual, single], axis=1),
            self.sound_drive.inputs,
            self.sound_drive.steps,
            self.sound_drive.record,
            self.sound_drive.slots,
        )
        shown = ramp[:, [OUTPUT_INDEX["boost"], OUTPUT_INDEX["boost_measured"]]]
        as_sound = shown[:, :, of]
        with_fault = shown[:, :, n : n + len(of)]
        noticed = np.abs(with_fault - as_sound).max(axis=(0, 1))
        # of two faults each must make a difference beside the other, else it is one fault and a blemish
        np.minimum.at(noticed, apart, np.abs(with_fault[:, :, apart] - shown[:, :, n + len(of) :]).max(axis=(0, 1)))
        everything = np.asarray(out, float)
        slots, bins, shown_by = highest_pull(self.drive), self.drive.bins, everything
        if not slots:  # never driven as found: the slow ramp stands in for what the car does as it stands
            bins, shown_by = self.sound_drive.bins, np.asarray(ramp[:, :, n : n + len(of)], float)
            slots = list(range(len(bins)))
        return Candidates(
            par=actual,
            pull_speeds=np.array([bins[s].engine_speed for s in slots]),
            pull_outputs=shown_by if slots == list(range(len(shown_by))) else shown_by[slots],
            ambient=self.ambient,
            sound_boost=np.asarray(as_sound[:, 0], float),
            noticed=np.asarray(noticed, float),
            all_outputs=everything,
            sound=sound,
            simulated=run_pull,
        )

    def evaluate(self, z: Array, hypotheses: Sequence[Hypothesis], index: NDArray[np.intp]) -> Evaluation:
        """Residuals and likelihoods of candidates.

        Parameters
        ----------
        z : (dimensions, n); the last row is the severity's normal number, the one before that of a second fault
        hypotheses, index : which hypothesis each candidate is drawn under, (n,)
        """
        sound, actual = self.parameters(z, hypotheses, index)
        one_fault = self.with_one_fault(z, sound, hypotheses, index)
        residuals = self.evidence.residuals(self.candidates(sound, actual, one_fault))
        residuals = np.clip(residuals, -1e4, 1e4)
        return Evaluation(residuals, self.evidence.by_block(residuals))


def _severity(z: Array) -> Array:
    from scipy.special import ndtr

    return np.asarray(ndtr(z))


def run_drive(par: Array, drive: Drive, *, dtype: DTypeLike = np.float32) -> Array:
    """Cars through all that was driven, each set-up made on them for its own recordings.

    Parameters
    ----------
    par : (parameters, n), SI, as found
    drive : inputs, steps and set-ups
    dtype : in which is computed

    Returns
    -------
    (slots, outputs, n), as `system.OUTPUTS`; NaN in a slot that no step names
    """
    kernel = car_kernel()
    out = None
    for number, (configuration, part) in enumerate(zip(drive.configurations, drive.stretches, strict=True)):
        made = apply_all(configuration.changes, par, np.zeros(par.shape[1]))
        new = kernel.run(made, drive.inputs[part], drive.steps[part], drive.record[part], drive.slots, dtype=dtype)
        if out is None:
            out = new
        else:
            own = [b.slot for b in drive.bins if b.configuration == number]
            out[own] = new[own]
    assert out is not None  # a drive has at least one set-up
    return np.asarray(out)


def run_pull(par: Array, changes: tuple[Change, ...], schedule: Schedule) -> Array:
    """Cars through a pull that was not driven, with changes of the set-up.

    Parameters
    ----------
    par : (parameters, n), SI
    changes : edits of the set-up, made in full
    schedule : how the pull is driven

    Returns
    -------
    (slots, outputs, n), as `system.OUTPUTS`
    """
    made = apply_all(changes, par, np.zeros(par.shape[1]))
    out = car_kernel().run(made, schedule.inputs, schedule.steps, schedule.record, schedule.slots)
    return np.asarray(out, float)


def distinct(par: Array) -> tuple[Array, NDArray[np.intp]]:
    """The different columns of an array, and which of them each column is: a sound car is driven once.

    >>> columns, of = distinct(np.array([[1.0, 2.0, 1.0]]))
    >>> columns[:, of].tolist(), columns.shape
    ([[1.0, 2.0, 1.0]], (1, 2))
    """
    rows = np.ascontiguousarray(par.T)
    keys = rows.view(np.dtype((np.void, rows.itemsize * rows.shape[1]))).ravel()
    _, first, of = np.unique(keys, return_index=True, return_inverse=True)
    return par[:, first], of.ravel()


def highest_pull(drive: Drive) -> list[int]:
    """Slots of the pull as found that reached the highest engine speed, in order of speed; none without one."""
    rising = [b for b in drive.bins if b.after is None and drive.configurations[b.configuration].as_found]
    if not rising:
        return []
    best = max(rising, key=lambda b: b.engine_speed).pull
    return [b.slot for b in sorted(rising, key=lambda b: b.engine_speed) if b.pull == best]
