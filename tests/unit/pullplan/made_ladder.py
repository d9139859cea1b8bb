"""Candidates drawn by hand: level cars, and cars whose gate does nothing."""

from __future__ import annotations

import numpy as np

from boostproof.pullplan.ensemble import Ensemble
from boostproof.pullplan.terms import FOUND, LEAST, Terms

RPM = np.pi / 30.0
TERMS = Terms(hard=135e3, told=True, target=95e3, redline=7000.0 * RPM, ramp=400.0 * RPM)
SPEED = np.arange(1920.0, 7000.0, 60.0) * RPM
SPOOL = 60.0 / RPM  # Pa per rad/s: boost comes from 2200 rpm on


def curve(level: float, slope: float = 0.0, spool: float = SPOOL, knee: float = 0.0) -> np.ndarray:
    """Boost that spools, is held at a level, and climbs from a knee on (no knee: from the level on)."""
    rising = np.maximum(SPEED - 2200.0 * RPM, 0.0) * spool
    return np.minimum(rising, level + slope * np.maximum(SPEED - knee, 0.0))


def ensemble(count: int = 200, seed: int = 3) -> Ensemble:
    """Sound cars, gates stuck shut (both set-ups run away), lines off (only as found runs away), small ports."""
    rng = np.random.default_rng(seed)
    least, found, which = [], [], []
    for n in range(count):
        kind = n % 4
        spool = SPOOL * rng.uniform(0.85, 1.15)
        low, high = curve(rng.uniform(45e3, 60e3), spool=spool), curve(rng.uniform(88e3, 100e3), spool=spool)
        away = curve(400e3, spool=spool)
        creep = rng.uniform(10.0, 50.0) / RPM
        climbs = curve(low.max(), creep, spool, rng.uniform(3500.0, 5000.0) * RPM)
        least.append((low, away, low, climbs)[kind])
        found.append((high, away, away, np.maximum(high, climbs))[kind])
        which.append(kind)
    weight = np.array([0.6, 0.08, 0.16, 0.16])[np.array(which)]
    boost = {LEAST: np.stack(least, axis=1), FOUND: np.stack(found, axis=1)}
    causes = ({}, {"gate-seized-shut": 1.0}, {"signal-line-open": 1.0}, {"port-too-small": 1.0})
    return Ensemble(SPEED, boost, boost, weight / weight.sum(), np.array(which), causes)
