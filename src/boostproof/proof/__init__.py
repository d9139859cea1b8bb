"""Did the repair cure the car? Pulls and readings before and after it, with weather, scatter and doubt in the sum.

Pure computation: it knows no file. `prove` is the whole of it for pulls, `compare_readings` for the bench.
"""

from __future__ import annotations

from boostproof.proof.band import BandCheck, against_band
from boostproof.proof.bench import ReadingChange, compare_readings
from boostproof.proof.model import Measured, Proof, RangeResult, Target
from boostproof.proof.power import power_change
from boostproof.proof.prove import prove

__all__ = [
    "BandCheck",
    "Measured",
    "Proof",
    "RangeResult",
    "ReadingChange",
    "Target",
    "against_band",
    "compare_readings",
    "power_change",
    "prove",
]
