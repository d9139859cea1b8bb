"""What drive line, limiter, plate and driver did at full throttle, and which rows that takes out of a pull.

Pure. `find_spans` leaves the rows of the cuts out; the checks put every event into words.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boostproof.recording.driving.ready import Driving, Rows
from boostproof.recording.model import Ended


@dataclass(frozen=True)
class Event:
    """Something that is no boost fault but shows in boost or engine speed.

    Attributes
    ----------
    kind : kind of its finding
    start, stop : rows, ``stop`` exclusive
    rpm_from, rpm_to : engine speed at its ends
    cuts : its rows are no part of a pull
    ended : how a pull ended that runs into it
    sure : a channel of its own tells (pedal, gear, cut, vehicle speed), not the engine speed alone
    level : what its kind measures, 0 to 1 for a plate; 0 where there is nothing
    """

    kind: str
    start: int
    stop: int
    rpm_from: float
    rpm_to: float
    cuts: bool = True
    ended: Ended = "unknown"
    sure: bool = False
    level: float = 0.0


def events_of(driving: Driving) -> tuple[Event, ...]:
    """Every event of a recording in order of time.

    Parameters
    ----------
    driving : the recording made ready
    """
    from boostproof.recording.driving.anti_lag import find_anti_lag
    from boostproof.recording.driving.drive_line import find_drive_line
    from boostproof.recording.driving.limiter import find_limiter
    from boostproof.recording.driving.plate import find_plate

    limiter = find_limiter(driving)
    anti_lag = find_anti_lag(driving)
    known = rows_of([*limiter, *anti_lag], len(driving.rpm))
    drive_line = find_drive_line(driving, known)
    known |= rows_of(drive_line, len(driving.rpm))
    found = [*limiter, *anti_lag, *drive_line, *find_plate(driving, known)]
    return tuple(sorted(found, key=lambda event: (event.start, event.kind)))


def rows_of(events: list[Event], count: int) -> Rows:
    """Rows of the events, shape (count,)."""
    rows = np.zeros(count, dtype=bool)
    for event in events:
        rows[event.start : event.stop] = True
    return rows
