"""Pulls that are too short, or whose beginning is missing, and what they therefore cannot show."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.driving.ready import holes_of
from boostproof.recording.model import FloatArray, Pull, Recording
from boostproof.recording.rows import step_of

_SHORT_S, _NEAR_S = 3.0, 0.5
_UP, _UP_SHARE = 10.0, 0.3  # kPa; share of the pull's highest boost that it had at its first sample


def about_short_pulls(
    recording: Recording, pulls: Sequence[Pull], boost: FloatArray | None, parted: Sequence[tuple[int, int]]
) -> tuple[Finding, ...]:
    """Findings about full-load pulls.

    Parameters
    ----------
    boost : kPa gauge without holes, shape (rows,), None where it was not logged
    parted : rows of what parts pulls and is told by itself (gear changes, slip)
    """
    if not recording.time_known:
        return ()
    findings = []
    begins = {0, *holes_of(recording.time, step_of(recording.time)).tolist()}
    for pull in pulls:
        if not pull.full_load:
            continue
        where = f"{recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s"
        seconds = pull.to_s - pull.from_s
        if seconds < _SHORT_S and not _is_part(pull, parted, recording.time):
            findings.append(
                Finding(
                    "short-pull",
                    where,
                    f"This pull lasts {seconds:.1f} s: too short for boost to settle, so that it shows little of its "
                    "level and nothing of creep.",
                    "Pull from low to high engine speed in a higher gear.",
                )
            )
        if boost is not None and pull.start in begins and _is_up(boost[pull.start : pull.stop]):
            findings.append(
                Finding(
                    "short-pull",
                    where,
                    f"Logging began within this pull: boost is at {boost[pull.start]:.0f} kPa at its first sample, "
                    "so that its threshold and its time to boost are not shown.",
                    "Start the log before the throttle is opened.",
                )
            )
    return tuple(findings)


def _is_part(pull: Pull, parted: Sequence[tuple[int, int]], time: FloatArray) -> bool:
    return any(
        abs(time[pull.stop - 1] - time[start]) < _NEAR_S
        or abs(time[pull.start] - time[min(stop, len(time) - 1)]) < _NEAR_S
        for start, stop in parted
    )


def _is_up(boost: FloatArray) -> bool:
    return bool(boost[0] > max(_UP, _UP_SHARE * float(np.max(boost))))
