"""What was noticed of a recording, as far as it concerns some stretches of it: of the rest nothing is to be said."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.columns.clock_faults import HOLE_KIND, LEAST_HOLE_S, holes
from boostproof.recording.model import Recording

_SPAN = re.compile(r"(\d+(?:\.\d+)?) to (\d+(?:\.\d+)?) s$")
_BESIDE_S = 0.5  # a hole this near to a stretch may be what cut it short


def findings_of_stretches(recording: Recording, stretches: Sequence[tuple[float, float]]) -> tuple[Finding, ...]:
    """Findings of a recording that concern some stretches of it, and those of the file as a whole.

    Parameters
    ----------
    recording : as read
    stretches : (from, to) in seconds that are used

    Returns
    -------
    tuple of Finding
        In their order. Those that name a stretch of time are left out where it meets none of these; of holes in time
        only those inside a stretch or right beside it are told.
    """
    kept: list[Finding] = []
    for finding in recording.findings:
        if finding.kind == HOLE_KIND:
            kept += _holes(recording, stretches, finding.where)
        elif (span := _SPAN.search(finding.where)) is None or _meets(float(span[1]), float(span[2]), stretches):
            kept.append(finding)
    return tuple(kept)


def _holes(recording: Recording, stretches: Sequence[tuple[float, float]], where: str) -> list[Finding]:
    time = recording.time
    apart = [
        row for row in np.flatnonzero(np.diff(time) > LEAST_HOLE_S)
        if not _meets(time[row] - _BESIDE_S, time[row + 1] + _BESIDE_S, stretches)
    ]  # fmt: skip
    return holes(time, np.asarray(apart, dtype=np.intp), where)


def _meets(first: float, last: float, stretches: Sequence[tuple[float, float]]) -> bool:
    return any(first <= to_s and last >= from_s for from_s, to_s in stretches)
