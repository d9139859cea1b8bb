"""What bench readings mean: physical figures of this car with their doubt, beside those of a sound one.

One file per part of the car; `read_meanings` asks them all. Pure computation: it knows no file.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from boostproof.bench.meaning.controllers import read_controllers
from boostproof.bench.meaning.engine import read_engine
from boostproof.bench.meaning.facts import CarFacts
from boostproof.bench.meaning.gate import read_gate
from boostproof.bench.meaning.leaks import read_leaks
from boostproof.bench.meaning.line import read_line
from boostproof.bench.meaning.model import GROUPS, KINDS, Healthy, Meaning
from boostproof.bench.meaning.sensors import read_sensors
from boostproof.bench.meaning.session import Session
from boostproof.bench.meaning.springs import read_springs
from boostproof.findings import Finding

__all__ = ["KINDS", "CarFacts", "Healthy", "Meaning", "read_meanings"]


def read_meanings(
    readings: Sequence[Any], gauge: Any, facts: CarFacts, *, seed: int = 1
) -> tuple[tuple[Meaning, ...], tuple[Finding, ...]]:
    """Figures of the car from its bench readings.

    Parameters
    ----------
    readings : of readings.toml, in the order done
    gauge : the file's ``[gauge]``, None where it is not described
    facts : what is known of the car
    seed : of the draws of errors

    Returns
    -------
    meanings, by part of the car; findings for readings that contradict each other or cannot have been so

    Notes
    -----
    Uncertainty by JCGM 101: every error has a source (a gauge's zero and scale, a reading's marks and person, a
    size of the car), and 8000 draws of all sources go through the equations together.
    """
    session = Session.of(readings, gauge, facts, seed)
    for read in (read_springs, read_leaks, read_controllers, read_line, read_gate, read_sensors, read_engine):
        read(session)
    order = sorted(session.meanings, key=lambda m: GROUPS.index(m.group))  # a stable sort: as found in each group
    return tuple(order), tuple(dict.fromkeys(session.findings))
