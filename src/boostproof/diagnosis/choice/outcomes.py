"""Outcomes of a test as a table of chances: one feature on a grid, words by their chances, several drawn.

The states of a table are the candidates and, last, "none of these": there the tested part answers as a
sound one with chance `HEALTHY_PART`, else anywhere in its range.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array
from boostproof.diagnosis.evidence.blocks import said_chance
from boostproof.diagnosis.inference.none_of_these import HEALTHY_PART
from boostproof.observation import Observation

CELLS = 96  # of the grid of a single feature
DRAWN = 448  # outcomes of several features together
_NOTHING = -300.0  # log of a chance that is none; smaller ones only slow the machine down
_MOST_WORDS = 64  # combinations of words that are listed in full
_LEVELS = np.array([-2.2, -1.5, -1.0, -0.6, -0.3, 0.0, 0.3, 0.6, 1.0, 1.5, 2.2])  # sd, where a reading may fall


@dataclass(frozen=True)
class Seen:
    """The states for which a test is valued.

    Attributes
    ----------
    weight : (n + 1,) probabilities, the last of "none of these"
    hypothesis : (n,) which hypothesis a candidate belongs to
    sound : (n,) of bool, candidates with nothing wrong
    """

    weight: Array = field(repr=False)
    hypothesis: NDArray[np.intp] = field(repr=False)
    sound: NDArray[np.bool_] = field(repr=False)

    @property
    def sound_weight(self) -> Array:
        """Weights of the sound candidates among themselves; of all where there is none. [(n,)]"""
        w = np.where(self.sound, self.weight[:-1], 0.0)
        w = w if w.sum() > 0.0 else self.weight[:-1]
        return np.asarray(w / w.sum())

    @property
    def drawing(self) -> Array:
        """Chances with which candidates give outcomes: half by probability, half the same for every hypothesis.

        So that what a rare cause would show is among the outcomes. [(n,)]
        """
        w = self.weight[:-1] / self.weight[:-1].sum()
        mass = np.bincount(self.hypothesis, w)[self.hypothesis]
        count = len(np.unique(self.hypothesis))
        even = np.where(mass > 0.0, w / np.maximum(mass, 1e-300) / count, 0.0)
        return np.asarray(0.5 * w + 0.5 * even / even.sum())


@dataclass(frozen=True)
class Outcomes:
    """Table of a test.

    Attributes
    ----------
    table : (n + 1, outcomes) chances, rows sum to 1
    source : (outcomes,) candidate from which each was drawn; -1 where it was not drawn from one
    """

    table: Array = field(repr=False)
    source: NDArray[np.intp] = field(repr=False)


def outcomes_of(
    observations: Sequence[Observation],
    features: Mapping[str, Array],
    seen: Seen,
    flat: Mapping[str, float],
    rng: np.random.Generator,
) -> Outcomes:
    """Every outcome that a test may have, with its chance under every candidate.

    Parameters
    ----------
    observations : what would be read. Readings stand for any number; observations of another kind on one
        feature stand for the words that would be said of it, of which one is chosen ("none up to" and a single
        word: said or not said)
    features : (n,) predictions by name
    seen : candidates and their weights
    flat : widths over which a part that nobody thought of might answer
    rng : for what is drawn
    """
    readings = [o for o in observations if o.kind == "equal"]
    spoken = _spoken(observations, features)
    words = _combined(spoken)
    if not readings and words is not None:
        return Outcomes(_with_other(words, seen, np.full(words.shape[1], 1.0 / words.shape[1])), _nowhere(words))
    if len(readings) == 1 and words is None:
        o = readings[0]
        table = _on_grid(np.asarray(features[o.feature], float), float(np.hypot(o.sd, o.shared)), seen, flat.get(o.feature))
        return Outcomes(table, _nowhere(table))
    return _drawn(readings, features, spoken, seen, flat, rng)


def _nowhere(table: Array) -> NDArray[np.intp]:
    return np.full(table.shape[1], -1, np.intp)


def _with_other(table: Array, seen: Seen, flat: Array) -> Array:
    """A table of candidates with the row of "none of these" added."""
    other = HEALTHY_PART * (seen.sound_weight @ table) + (1.0 - HEALTHY_PART) * flat
    return np.concatenate([table, other[None, :]])


# -- words -------------------------------------------------------------------------------------------


def _spoken(observations: Sequence[Observation], features: Mapping[str, Array]) -> list[Array]:
    """Chances of the words on every judged feature. [(n, words) each]"""
    by_feature: dict[str, list[Observation]] = {}
    for o in observations:
        if o.kind != "equal":
            by_feature.setdefault(o.feature, []).append(o)
    return [_chances(np.asarray(features[name], float), said) for name, said in by_feature.items()]


def _chances(value: Array, said: Sequence[Observation]) -> Array:
    """Chances of words on one feature, as the likelihood takes them, made to sum to 1."""
    p = np.stack([said_chance(value, o) for o in said], axis=1)
    if len(said) == 1:
        return np.concatenate([p, 1.0 - p], axis=1)
    return np.asarray(p / p.sum(axis=1, keepdims=True))


def _combined(spoken: Sequence[Array]) -> Array | None:
    """All combinations of words; None where there are no words or too many combinations."""
    if not spoken or np.prod([p.shape[1] for p in spoken]) > _MOST_WORDS:
        return None
    out = spoken[0]
    for p in spoken[1:]:
        out = (out[:, :, None] * p[:, None, :]).reshape(len(p), -1)
    return out


# -- one reading -------------------------------------------------------------------------------------


def _on_grid(value: Array, sd: float, seen: Seen, width: float | None) -> Array:
    """Chances of the cells of a grid that is fine where readings fall."""
    from scipy.special import ndtr

    places = (value[:, None] + sd * _LEVELS).ravel()
    order = np.argsort(places)
    mass = np.cumsum(np.repeat(seen.drawing, len(_LEVELS))[order])
    wanted = np.arange(1, CELLS) / CELLS * mass[-1]
    edges = np.unique(places[order][np.searchsorted(mass, wanted).clip(0, len(places) - 1)])
    below = ndtr((edges[:, None] - value) / sd)
    zero, one = np.zeros((1, len(value))), np.ones((1, len(value)))
    table = np.diff(np.concatenate([zero, below, one]), axis=0).T
    low, high = value.min() - 2.0 * sd, value.max() + 2.0 * sd
    if width is not None and width > high - low:
        low, high = 0.5 * (low + high - width), 0.5 * (low + high + width)
    flat = np.diff(np.concatenate([[low], edges.clip(low, high), [high]])) / (high - low)
    return _with_other(table, seen, flat)


# -- several at once ---------------------------------------------------------------------------------


def _drawn(
    readings: Sequence[Observation],
    features: Mapping[str, Array],
    spoken: Sequence[Array],
    seen: Seen,
    flat: Mapping[str, float],
    rng: np.random.Generator,
) -> Outcomes:
    """Outcomes drawn from the candidates, each with the chance that it stands for under every one.

    The integral over outcomes is a mean over draws y from q(y): the chance of "an outcome like y" in state i is
    p(y | i) / q(y) over the sum of the same. Readings of one gauge share its zero.
    """
    n = len(seen.weight) - 1
    source, stray = _sources(seen, rng)
    if readings:
        sd = np.array([o.sd for o in readings])
        shared = np.array([o.shared for o in readings])
        factor = np.linalg.cholesky(np.diag(sd**2) + np.outer(shared, shared))
        raw = np.stack([np.asarray(features[o.feature], float) for o in readings])
        value = np.linalg.solve(factor, raw - np.median(raw, axis=1, keepdims=True))
        outcome = value[:, source] + rng.standard_normal((len(sd), DRAWN))
        wide = np.ptp(raw, axis=1) + 4.0 * sd
        spans = np.maximum(wide, np.array([flat.get(o.feature, 0.0) for o in readings]))
        middle = 0.5 * (raw.min(axis=1) + raw.max(axis=1)) - np.median(raw, axis=1)
        anywhere = np.linalg.solve(factor, middle[:, None] + spans[:, None] * (rng.random((len(sd), DRAWN)) - 0.5))
        outcome = np.where(stray, anywhere, outcome)
        log_chance = _minus_half_square(outcome, value)
        log_flat = float(np.log(np.diag(factor)).sum() + 0.5 * len(sd) * np.log(2.0 * np.pi) - np.log(spans).sum())
    else:
        log_chance, log_flat = np.zeros((DRAWN, n)), 0.0
    for p in spoken:
        at = rng.random(DRAWN)
        said = np.minimum((np.cumsum(p[source], axis=1) < at[:, None]).sum(axis=1), p.shape[1] - 1)
        said = np.where(stray, (at * p.shape[1]).astype(int), said)
        log_chance += np.log(np.maximum(p[:, said].T, 1e-12))
        log_flat -= float(np.log(p.shape[1]))
    return Outcomes(_normalised(log_chance, log_flat, seen), np.where(stray, -1, source))


def _minus_half_square(outcome: Array, value: Array) -> Array:
    """-|outcome - value|^2 / 2 of all against all, as one product of matrices. [(outcomes, n)]"""
    left = np.concatenate([outcome, -0.5 * (outcome**2).sum(axis=0, keepdims=True), np.ones((1, outcome.shape[1]))])
    right = np.concatenate([value, np.ones((1, value.shape[1])), -0.5 * (value**2).sum(axis=0, keepdims=True)])
    return np.asarray(left.T @ right)


def _sources(seen: Seen, rng: np.random.Generator) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """The candidate that gives each outcome, and which outcomes come from a part that nobody thought of."""
    strays = round(DRAWN * _stray_share(seen))
    places = (rng.random() + np.arange(DRAWN)) / DRAWN
    total = np.cumsum(seen.drawing)
    source = np.searchsorted(total / total[-1], places).clip(0, len(total) - 1)
    stray = np.zeros(DRAWN, bool)
    stray[rng.permutation(DRAWN)[:strays]] = True
    return source, stray


def _stray_share(seen: Seen) -> float:
    return float(np.clip((1.0 - HEALTHY_PART) * seen.weight[-1], 0.02, 0.15))


def _normalised(log_chance: Array, log_flat: float, seen: Seen) -> Array:
    """Densities of drawn outcomes, (outcomes, n), as a table of chances."""
    share = _stray_share(seen)
    table = np.empty((len(log_chance), len(seen.weight)))
    chance = np.exp(np.maximum(log_chance, _NOTHING), out=table[:, :-1])
    table[:, -1] = HEALTHY_PART * (chance @ seen.sound_weight) + (1.0 - HEALTHY_PART) * np.exp(log_flat)
    table /= ((1.0 - share) * (chance @ seen.drawing) + share * np.exp(log_flat))[:, None]
    total = table.sum(axis=0)
    far = np.flatnonzero(total <= 1e-12)
    table /= np.maximum(total, 1e-300)
    # no outcome was drawn near such a candidate: the nearest one stands for it
    table[:, far] = 0.0
    table[log_chance[:, far].argmax(axis=0), far] = 1.0
    return table.T
