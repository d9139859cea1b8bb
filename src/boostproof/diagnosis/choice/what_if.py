"""What would change the answer: the readings of an open test with which something else leads."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.response import Array, Response
from boostproof.diagnosis.choice.expected_words import say_feature
from boostproof.diagnosis.evidence.blocks import said_chance
from boostproof.diagnosis.inference.none_of_these import HEALTHY_PART
from boostproof.observation import Observation

LEAST = 0.01  # chance below which a reading is not worth a sentence
_GRID, _COARSE = 240, 61  # cells
_QUANTITY = re.compile(r"^(.*?) ?(\{.*\}|-?\d[\d.]* ?\w*)$")


@dataclass(frozen=True)
class Turn:
    """A reading that would put something else first.

    Attributes
    ----------
    test : id
    when : the reading in words, with placeholders ("first movement below {62 kPa}")
    leader : id of what then leads: a cause, a pair, "healthy" or "none_of_these"
    chance : that the test reads so
    """

    test: str
    when: str
    leader: str
    chance: float


@dataclass(frozen=True)
class States:
    """What is thought to be the case, as tests are judged against it.

    Attributes
    ----------
    answers : ids; "healthy" among them, "none_of_these" last
    weight : (n + 1,) probabilities of the candidates, the last of "none of these"
    share : (answers, n + 1) how a candidate's mass belongs to the answers; columns sum to 1
    """

    answers: tuple[str, ...]
    weight: Array
    share: Array

    @property
    def leader(self) -> str:
        """What leads now."""
        return self.answers[int(np.argmax(self.share @ self.weight))]

    @property
    def sound(self) -> Array:
        """Weights of the sound candidates among themselves, (n,); of all where there is none."""
        own = self.share[self.answers.index("healthy"), :-1] * self.weight[:-1]
        own = own if own.sum() > 0.0 else self.weight[:-1]
        return np.asarray(own / own.sum())


def turns(response: Response, features: Mapping[str, Array], states: States) -> list[Turn]:
    """Readings of one test with which the leader changes, likeliest first.

    Of a test that reads several things the one is taken that would change the leader most often.

    Parameters
    ----------
    response : what the test reads
    features : (n,) predictions by name
    states : candidates with their weights
    """
    found = []
    for name in dict.fromkeys(o.feature for o in response.observations):
        said = [o for o in response.observations if o.feature == name]
        value = np.asarray(features[name], float)
        width = response.flat.get(name)
        if said[0].kind == "equal":
            found.append(_readings(response.test, name, value, said[0], width, states))
        else:
            found.append(_words(response.test, name, value, said, states))
    best = max(found, key=lambda some: sum(t.chance for t in some), default=[])
    return sorted(best, key=lambda t: -t.chance)


def _other(chance: Array, flat: Array, states: States) -> Array:
    """Chances of outcomes, (outcomes, n), with the column of "none of these" added."""
    other = HEALTHY_PART * (chance @ states.sound) + (1.0 - HEALTHY_PART) * flat
    return np.concatenate([chance, other[:, None]], axis=1)


def _leads(chance: Array, states: States) -> tuple[NDArray[np.intp], Array]:
    """What leads after each outcome, and how likely the outcome is."""
    joint = (chance * states.weight) @ states.share.T
    return np.asarray(joint.argmax(axis=1)), np.asarray(joint.sum(axis=1))


def _readings(
    test: str, feature: str, value: Array, o: Observation, width: float | None, states: States
) -> list[Turn]:
    from scipy.special import ndtr

    sd = float(np.hypot(o.sd, o.shared))
    known = value[states.weight[:-1] > 1e-6]
    low, high = float(known.min()) - 3.0 * sd, float(known.max()) + 3.0 * sd
    edges = np.linspace(low, high, _GRID + 1)
    if width is not None and width > high - low:  # coarse where only a part that nobody thought of answers
        wide = np.linspace(0.5 * (low + high - width), 0.5 * (low + high + width), _COARSE)
        edges = np.concatenate([wide[wide < low], edges, wide[wide > high]])
    cells = len(edges) - 1
    below = ndtr((edges[:, None] - value) / sd)
    below[0], below[-1] = 0.0, 1.0
    flat = np.diff(edges) / (edges[-1] - edges[0])
    leader, chance = _leads(_other(np.diff(below, axis=0), flat, states), states)
    middle = 0.5 * (edges[1:] + edges[:-1])
    said = [_parts(say_feature(feature, x, x, x, test)) for x in middle]
    kind = [text[0] if text[1] else " ".join(text) for text in said]
    breaks = [0, *(k for k in range(1, cells) if leader[k] != leader[k - 1] or kind[k] != kind[k - 1]), cells]
    now = states.answers.index(states.leader)
    out: dict[tuple[str, int], float] = {}
    for start, stop in pairwise(breaks):
        # what no car would read says nothing about who leads
        if leader[start] == now or not any(said[start]):
            continue
        first, last = _open_ends(start, stop, kind)
        when = _between(feature, test, said[start], edges[start], edges[stop], first, last)
        out[when, int(leader[start])] = out.get((when, int(leader[start])), 0.0) + float(chance[start:stop].sum())
    return [Turn(test, when, states.answers[k], p) for (when, k), p in out.items() if p >= LEAST]


def _open_ends(start: int, stop: int, kind: Sequence[str]) -> tuple[bool, bool]:
    """Whether nothing more can be read below and above."""
    first = start == 0 or kind[start - 1] != kind[start]
    last = stop == len(kind) or kind[stop] != kind[stop - 1]
    return first, last


def _between(
    feature: str, test: str, said: tuple[str, str], low: float, high: float, first: bool, last: bool
) -> str:
    name, quantity = said
    if not quantity:
        return name
    from_ = _parts(say_feature(feature, low, low, low, test))[1]
    to = _parts(say_feature(feature, high, high, high, test))[1]
    if (first or not from_) and (last or not to):
        return f"{name} whatever it is"
    if first or not from_:
        return f"{name} below {to}"
    if last or not to:
        return f"{name} above {from_}"
    return f"{name} between {from_} and {to}"


def _parts(said: str) -> tuple[str, str]:
    """A name and its quantity, or a word alone.

    >>> _parts("first movement {48 kPa}"), _parts("holds"), _parts("falls to half in 3.0 s")
    (('first movement', '{48 kPa}'), ('holds', ''), ('falls to half in', '3.0 s'))
    """
    found = _QUANTITY.match(said)
    return (found[1], found[2]) if found else (said, "")


def _words(test: str, feature: str, value: Array, said: Sequence[Observation], states: States) -> list[Turn]:
    chance = np.stack([said_chance(value, o) for o in said])
    inside = [(o.low, o.high) for o in said]
    if len(said) == 1:
        chance = np.concatenate([chance, 1.0 - chance])
        inside += _outside(said[0])
    texts = [_word(feature, low, high, value, test) for low, high in inside] + [""] * (len(chance) - len(inside))
    chance = chance / chance.sum(axis=0)
    flat = np.full(len(chance), 1.0 / len(chance))
    leader, likely = _leads(_other(chance, flat, states), states)
    now = states.answers.index(states.leader)
    return [
        Turn(test, text, states.answers[k], float(p))
        for text, k, p in zip(texts, leader, likely, strict=True)
        if text and texts.count(text) == 1 and k != now and p >= LEAST
    ]


def _word(feature: str, low: float, high: float, value: Array, test: str) -> str:
    """What is said of a feature within an interval, as of the middle one of the candidates there."""
    there = value[(value >= low) & (value <= high)]
    edge = low if np.isfinite(low) else high
    middle = float(np.median(there)) if len(there) else edge
    said = say_feature(feature, middle, middle, middle, test)
    name, quantity = _parts(said)
    if not quantity:
        return said
    return _between(feature, test, (name, quantity), low, high, not np.isfinite(low), not np.isfinite(high))


def _outside(o: Observation) -> list[tuple[float, float]]:
    """The interval beside the one of a word, where it is one."""
    if np.isfinite(o.low) and np.isfinite(o.high):
        return []
    return [(-np.inf, o.low)] if np.isfinite(o.low) else [(o.high, np.inf)]
