"""Which test next: the one that saves most expected repair time for its minutes.

One-step value of information: expected minutes of repairing in the best order now, minus the test's
minutes, minus the same expectation after each answer that the candidates would give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.bench.response import Array, Response
from boostproof.bench.tests import BenchTest, CarContext
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.particles import Particles
from boostproof.diagnosis.posterior import HEALTHY_PART, Posterior

VERIFY = 20.0  # min, a pull after every repair
SPECIALIST = 600.0  # min, giving up and sending the car on
MONEY = 1.0  # min per currency unit of parts, one currency unit a minute of labour
_OUTCOMES = 160


@dataclass(frozen=True)
class TestValue:
    """What a test is worth now.

    Attributes
    ----------
    test : id
    minutes : it takes
    minutes_saved : expected, its own minutes taken off
    information_bits : expected, about which cause it is
    expected : what leading causes would answer, in words, by cause id
    cautions, title : from the test
    """

    test: str
    title: str
    minutes: float
    minutes_saved: float
    information_bits: float
    expected: dict[str, str]
    cautions: tuple[str, ...]


def value_tests(
    posterior: Posterior,
    particles: Particles,
    tests: tuple[BenchTest, ...],
    context: CarContext,
    *,
    seed: int,
) -> list[TestValue]:
    """Value of every test given, best first."""
    groups = _cause_matrix(posterior, particles)
    now = np.append(groups @ particles.weight, posterior.other)
    out = [_value(posterior, particles, test, context, groups, now, seed) for test in tests]
    return sorted(out, key=lambda v: (-round(v.minutes_saved, 1), -v.information_bits, v.test))


def _value(
    posterior: Posterior,
    particles: Particles,
    test: BenchTest,
    context: CarContext,
    groups: Array,
    now: Array,
    seed: int,
) -> TestValue:
    response = test.probe(context)
    features = response.features(particles.candidates)
    observed = response.observations
    values = np.stack([np.asarray(features[o.feature], float) for o in observed])
    sd = np.array([np.hypot(o.sd, o.shared) for o in observed])
    after = _posteriors(particles, values, sd, groups, posterior, seed)
    ids = [*posterior.priors, "healthy", "other"]
    ecr_now = expected_repair_minutes(now[None, :], ids)[0]
    ecr_after = float(expected_repair_minutes(after, ids).mean())
    information = _entropy(now[None, :])[0] - float(_entropy(after).mean())
    return TestValue(
        test.id,
        test.title,
        test.minutes,
        float(ecr_now - test.minutes - ecr_after),
        max(0.0, float(information)),
        _expectations(posterior, particles, response, values, groups),
        test.cautions,
    )


def _cause_matrix(posterior: Posterior, particles: Particles) -> Array:
    """(causes + healthy, particles): how a particle's mass belongs to causes of its mechanism."""
    ids = list(posterior.priors)
    out = np.zeros((len(ids) + 1, len(particles.weight)))
    for i, h in enumerate(particles.hypotheses):
        columns = particles.hypothesis == i
        if h.healthy:
            out[-1, columns] = 1.0
            continue
        mass = np.array([posterior.priors[c.id] for c in h.causes])
        for c, share in zip(h.causes, mass / mass.sum(), strict=True):
            out[ids.index(c.id), columns] = share
    return out


def _posteriors(
    particles: Particles, values: Array, sd: Array, groups: Array, posterior: Posterior, seed: int
) -> Array:
    """Probabilities after each of a few simulated answers, all of one weight. [(answers, columns)]"""
    rng = np.random.default_rng([seed, 78])
    w = particles.weight
    places = (rng.random() + np.arange(_OUTCOMES)) / _OUTCOMES
    source = np.searchsorted(np.cumsum(w / w.sum()), places).clip(0, len(w) - 1)
    outcome = values[:, source] + sd[:, None] * rng.standard_normal((len(sd), _OUTCOMES))
    distance = (((values[:, None, :] - outcome[:, :, None]) / sd[:, None, None]) ** 2).sum(axis=0)
    density = np.exp(-0.5 * distance)
    joint = (density * w) @ groups.T
    healthy = groups[-1] > 0.5
    sound_density = (density[:, healthy] * w[healthy]).sum(axis=1) / max(w[healthy].sum(), 1e-300)
    width = np.ptp(values, axis=1) + 4.0 * sd
    flat = float(np.prod(np.sqrt(2.0 * np.pi) * sd / width))
    other = posterior.other * (HEALTHY_PART * sound_density + (1.0 - HEALTHY_PART) * flat)
    after = np.concatenate([joint, other[:, None]], axis=1)
    after /= np.maximum(after.sum(axis=1, keepdims=True), 1e-300)
    return np.asarray(after)


def _entropy(p: Array) -> Array:
    return np.asarray(-(p * np.log2(np.maximum(p, 1e-300))).sum(axis=1))


def expected_repair_minutes(p: Array, ids: list[str]) -> Array:
    """Expected minutes of repairing in the order of probability over cost, or giving up earlier.

    Parameters
    ----------
    p : (answers, causes + healthy + other) probabilities
    ids : names of the columns

    Notes
    -----
    With fixed costs and one fault the order by p/c is the best (Kadane & Simon 1977); after each
    prefix the car may be sent to a specialist for `SPECIALIST` minutes instead. Nothing wrong costs a
    verification pull.
    """
    cost = np.array(
        [VERIFY + BY_ID[i].minutes + MONEY * BY_ID[i].parts if i in BY_ID else VERIFY for i in ids[:-1]]
    )
    known = p[:, :-1]
    order = np.argsort(-known / cost, axis=1)
    ranked = np.take_along_axis(known, order, axis=1)
    costs = cost[order]
    left = 1.0 - np.concatenate([np.zeros((len(p), 1)), np.cumsum(ranked, axis=1)], axis=1)
    spent = np.concatenate([np.zeros((len(p), 1)), np.cumsum(costs * left[:, :-1], axis=1)], axis=1)
    return np.asarray((spent + SPECIALIST * np.maximum(left, 0.0)).min(axis=1))


_NAMES = {
    "opening": ("first movement", "kPa", 1e-3),
    "full": ("full travel", "kPa", 1e-3),
    "travel": ("travel", "mm", 1e3),
    "swing": ("swing", "mm", 1e3),
    "port": ("port", "mm", 1e3),
    "pressure 0": ("pressure", "kPa", 1e-3),
    "pressure as found": ("line pressure", "kPa", 1e-3),
    "pressure 0.5": ("half duty", "kPa", 1e-3),
    "pressure 1": ("full duty", "kPa", 1e-3),
    "reads 0": ("key-on", "kPa", 1e-3),
    "reads 1": ("at 100 kPa", "kPa", 1e-3),
    "floor mid": ("floor at mid revs", "kPa", 1e-3),
    "floor high": ("floor near redline", "kPa", 1e-3),
    "spring level mid": ("boost at mid revs", "kPa", 1e-3),
    "spring level high": ("boost near redline", "kPa", 1e-3),
    "line mid": ("line pressure at mid revs", "kPa", 1e-3),
    "line high": ("line pressure near redline", "kPa", 1e-3),
    "behind turbine": ("behind the turbine", "kPa", 1e-3),
    "overshoot 0": ("overshoot at half redline", "kPa", 1e-3),
    "overshoot 1": ("overshoot higher up", "kPa", 1e-3),
    "held level 0": ("settles at half redline at", "kPa", 1e-3),
    "held level 1": ("settles higher up at", "kPa", 1e-3),
    "second spool": ("second run against the first on the way up", "kPa", 1e-3),
    "second level": ("and in its level", "kPa", 1e-3),
    "change mid": ("change at mid revs", "kPa", 1e-3),
    "change high": ("change near redline", "kPa", 1e-3),
    "hot shift": ("first movement hot against cold", "kPa", 1e-3),
    "retard": ("ignition later by", "deg", 180.0 / np.pi),
}
_LOG_TIMES = {"decay": ("falls to half in", 0.12)}  # logarithms of a time and the hand's own: (text, hand [s])
_RATIOS = {
    "exhaust ratio mid": "exhaust over charge pressure at mid revs",
    "exhaust ratio high": "the same near redline",
}
# words for features that are judged, not read: (feature, from, text); the first that holds is said
_WORDS: dict[str, tuple[tuple[float, str], ...]] = {
    "leak": (
        (-5.0, "cannot hold the air"),
        (-8.3, "leaks away at once"),
        (-9.3, "falls slowly"),
        (-99, "holds"),
    ),
    "outlet": ((-7.5, "comes home at once"), (-8.6, "comes home late"), (-99.0, "stays out")),
    "friction": ((5.0, "will not move"), (4.0, "binds"), (-99.0, "moves freely")),
    "seat": ((-4.9, "light at the seat"), (-99.0, "no light")),
    "wear": ((0.2, "drags or shows wear"), (-99.0, "spins freely")),
    "split": ((-6.5, "damage to the line"), (-99.0, "line looks sound")),
    "take-off": ((0.5, "taken at the manifold"), (-99.0, "taken at the compressor")),
    "share of new": ((-0.3, "passes as a new hose"), (-1.3, "passes far less than a new hose"), (-99.0, "passes nothing")),
    "smoke": ((-5.9, "smoke before the turbine"), (-99.0, "no smoke")),
    "held back": ((0.5, "control unit holds the engine back"), (-99.0, "not held back")),
    "misfire": ((0.03, "signs of misfire"), (-99.0, "plugs as they should be")),
    "lean": ((0.015, "fuel pressure sags, lean"), (-99.0, "fuel pressure rises with boost")),
    "breathing lost": ((0.03, "low or uneven"), (-99.0, "even")),
    "swapped controller": ((0.5, "cured with another controller"), (-99.0, "no change with another controller")),
    "swapped hoses": ((0.5, "cured with another line"), (-99.0, "no change with another line")),
    "ports": ((0.5, "hose on the wrong port of the actuator"), (-99.0, "")),
    "in and out": ((0.5, "controller the wrong way round"), (-99.0, "")),
    "rod": ((0.5, "rod off"), (-99.0, "")),
    "flow as found": ((0.9, "strong hiss"), (0.4, "clear hiss"), (-0.3, "faint hiss"), (-99.0, "silent")),
}


def _expectations(
    posterior: Posterior, particles: Particles, response: Response, values: Array, groups: Array
) -> dict[str, str]:
    """What the leading causes would answer, in words."""
    ids = [*posterior.priors, "healthy"]
    mass = groups @ particles.weight
    out = {}
    for i in np.argsort(-mass)[:4]:
        w = groups[i] * particles.weight
        if mass[i] < 0.005:
            continue
        parts = []
        for k, o in enumerate(response.observations):
            mean = float(w @ values[k] / w.sum())
            spread = float(np.sqrt(max(w @ (values[k] - mean) ** 2 / w.sum(), 0.0)))
            text = say_feature(o.feature, mean, float(np.hypot(spread, o.sd)), response.test)
            if text:
                parts.append(text)
        out[ids[i]] = ", ".join(parts)
    return out


def say_feature(feature: str, mean: float, sd: float, test: str) -> str:
    """A feature's value in words; empty where it would not help a person."""
    if feature in _NAMES:
        name, unit, scale = _NAMES[feature]
        return f"{name} {mean * scale:.0f} ± {2 * sd * scale:.0f} {unit}"
    if feature in _LOG_TIMES:
        text, hand = _LOG_TIMES[feature]
        seconds = 10.0**mean - hand
        return f"{text} {max(seconds, 0.0):.1f} s" if seconds < 60.0 else "does not fall within a minute"
    if feature in _RATIOS:
        return f"{_RATIOS[feature]} {mean:.1f} ± {2 * sd:.1f}"
    if feature == "leak" and test == "intake-pressurise":
        return "cannot reach or hold pressure" if mean > -5.0 else "holds or seeps"
    for limit, text in _WORDS.get(feature, ()):
        if mean > limit:
            return text
    return ""
