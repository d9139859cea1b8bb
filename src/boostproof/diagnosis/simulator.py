"""Candidate cars through the pulls that were driven: prior numbers in, evidence residuals out."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from boostproof import physics
from boostproof.bench.response import Array, Candidates, Schedule
from boostproof.car.prior import Prior
from boostproof.diagnosis.causes.model import Cause
from boostproof.diagnosis.drive import Drive
from boostproof.diagnosis.evidence import EvidenceSet
from boostproof.physics import layout, system
from boostproof.physics.change import Change, apply_all
from boostproof.physics.lanes import Kernel, make_kernel
from boostproof.physics.system import OUTPUT_INDEX


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
class Hypothesis:
    """One way in which the car may be wrong, as it is simulated.

    Attributes
    ----------
    key : mechanism and number of the variant; names its random numbers
    causes : causes that share it
    changes : edits of the sound car, from mild to severe
    share : share of the mechanism's mass
    """

    key: str
    causes: tuple[Cause, ...]
    changes: tuple[Change, ...]
    share: float = 1.0

    @property
    def healthy(self) -> bool:
        """No fault at all."""
        return not self.causes

    @property
    def mechanism(self) -> str:
        """The mechanism alone, shared by its variants."""
        return self.key.split("/")[0]


HEALTHY = Hypothesis("healthy", (), ())


def hypotheses_for(causes: tuple[Cause, ...], controller: str) -> tuple[Hypothesis, ...]:
    """Healthy, and every mechanism of the causes with its variants."""
    mechanisms: dict[str, list[Cause]] = {}
    for cause in causes:
        mechanisms.setdefault(cause.mechanism, []).append(cause)
    out = [HEALTHY]
    for mechanism, members in mechanisms.items():
        for number, (share, changes) in enumerate(members[0].variants_for(controller)):
            out.append(Hypothesis(f"{mechanism}/{number}", tuple(members), changes, share))
    return tuple(out)


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
        """Numbers per candidate: nuisances and one severity."""
        return self.prior.size + 1

    def parameters(
        self, z: Array, hypotheses: list[Hypothesis], index: NDArray[np.intp]
    ) -> tuple[Array, Array]:
        """Sound and actual parameter arrays of candidates, (parameters, n) each."""
        from scipy.special import ndtr

        sound = self.prior.sound(z[:-1])
        actual = sound.copy()
        severity = ndtr(z[-1])
        for h in np.unique(index):
            chosen = np.flatnonzero(index == h)
            changes = hypotheses[h].changes
            if changes:
                actual[:, chosen] = apply_all(changes, sound[:, chosen], severity[chosen])
        return sound, actual

    def candidates(self, sound: Array, actual: Array) -> Candidates:
        """Simulate parameter arrays."""
        kernel = car_kernel()
        out = kernel.run(actual, self.drive.inputs, self.drive.steps, self.drive.record, self.drive.slots)
        different, of = distinct(sound)
        n = different.shape[1]
        ramp = kernel.run(
            np.concatenate([different, actual], axis=1),
            self.sound_drive.inputs,
            self.sound_drive.steps,
            self.sound_drive.record,
            self.sound_drive.slots,
        )
        shown = ramp[:, [OUTPUT_INDEX["boost"], OUTPUT_INDEX["boost_measured"]]]
        as_sound = shown[:, :, of]
        noticed = np.abs(shown[:, :, n:] - as_sound).max(axis=(0, 1))
        slots = highest_pull(self.drive)
        return Candidates(
            par=actual,
            pull_speeds=np.array([self.drive.bins[s].engine_speed for s in slots]),
            pull_outputs=np.asarray(out[slots], float),
            ambient=self.ambient,
            sound_boost=np.asarray(as_sound[:, 0], float),
            noticed=np.asarray(noticed, float),
            all_outputs=np.asarray(out, float),
            sound=sound,
            simulated=run_pull,
        )

    def evaluate(self, z: Array, hypotheses: list[Hypothesis], index: NDArray[np.intp]) -> Evaluation:
        """Residuals and likelihoods of candidates.

        Parameters
        ----------
        z : (dimensions, n); the last row is the severity's normal number
        hypotheses, index : which hypothesis each candidate is drawn under, (n,)
        """
        sound, actual = self.parameters(z, hypotheses, index)
        residuals = self.evidence.residuals(self.candidates(sound, actual))
        residuals = np.clip(residuals, -1e4, 1e4)
        return Evaluation(residuals, self.evidence.by_block(residuals))


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
    """Slots of the pull that reached the highest engine speed, in order of speed."""
    best = max(drive.bins, key=lambda b: b.engine_speed).pull
    return [b.slot for b in sorted(drive.bins, key=lambda b: b.engine_speed) if b.pull == best]
