"""One recording of a case read and its pulls measured, as a plain answer that can be kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostproof.errors import InputError

if TYPE_CHECKING:
    from boostproof.recording.model import Channel, Pull, Recording
    from boostproof.workflows.inspect import Inspection

Progress = Callable[[str, float], None]

FORMAT = 2  # of the kept answer; another number makes every recording be looked at again
_FOUND = 0.01  # share from which another way to read a pressure is offered


def look(
    folder: Path,
    path: str,
    *,
    keep: Callable[[Recording], object] = lambda recording: None,
    progress: Progress = lambda says, share: None,
) -> dict[str, Any]:
    """Read one recording of a case and measure its pulls.

    Parameters
    ----------
    folder : of the case
    path : of the recording in it
    keep : given the recording as soon as it is read, so that nobody has to read it again
    progress : called with what begins now and how much is done, 0 to 1

    Returns
    -------
    dict
        The answer of ``boostproof inspect --json``, with ``headers`` (of all columns), ``span_s`` (first and last
        second), ``time_known``, ``readings`` (other ways to read a pressure, by channel) and ``lines`` (for each
        pull None, or its boost over engine speed with its sd, and its gear where that was logged), and
        ``case_trouble`` (why the rest of the case could not be read, and the log was looked at alone; else None).

    Raises
    ------
    InputError
        As `boostproof.workflows.inspect.inspect`.
    """
    from boostproof.casefolder import read_case
    from boostproof.workflows.inspect import inspect
    from boostproof.workflows.told import told_alone

    case: Path | None = folder
    trouble = told = None
    try:
        read_case(folder, with_readings=False)
    except InputError as error:  # a log can be looked at while a line of car.toml is still wrong
        case, trouble = None, error.as_dict()
        told = told_alone(folder, folder / path)
    found = inspect(folder / path, case=case, told=told, read=keep, progress=progress)
    progress("drawing", 0.95)
    recording = found.recording
    ends = (float(recording.time[0]), float(recording.time[-1])) if recording.rows else (0.0, 0.0)
    return {
        **found.as_json(),
        "format": FORMAT,
        "headers": list(found.headers),
        "span_s": list(ends),
        "time_known": recording.time_known,
        "readings": {name: _readings(c) for name, c in recording.channels.items() if c.others or c.said_unit},
        "lines": _lines(found),
        "case_trouble": trouble,
    }


def headers_of(file: Path) -> tuple[str, ...]:
    """Headers of the columns of a file that could not be used; empty where it has none."""
    from boostproof.recording.readers.apart import read_untrusted

    try:
        return tuple(column.header for column in read_untrusted(file).columns)
    except Exception:  # whatever was wrong with it was said already
        return ()


def _readings(channel: Channel) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = [{"unit": o.unit, "reference": o.reference} for o in channel.others if o.share >= _FOUND]
    if channel.said_unit:
        found.insert(0, {"unit": channel.said_unit, "reference": channel.reference})
    return found


def _lines(found: Inspection) -> list[dict[str, Any] | None]:
    from boostproof.workflows.inspect_figure import boost_lines
    from boostproof.workflows.over_speed import speeds

    drawn = {line.number: line for line in boost_lines(found)}
    out: list[dict[str, Any] | None] = []
    for number, pull in enumerate(found.pulls, 1):
        line = drawn.get(number)
        if line is None:
            out.append(None if not pull.full_load else {"gear": _gear(pull)})
            continue
        grid = speeds([(float(line.rpm[0]), float(line.rpm[-1]))])
        boost, sd = (np.interp(grid, line.rpm, v, np.nan, np.nan) for v in (line.boost, line.sd))
        out.append(
            {"gear": _gear(pull), "rpm": grid.tolist(), "boost_kpa_gauge": _rounded(boost), "sd_kpa": _rounded(sd)}
        )
    return out


def _rounded(values: NDArray[np.float64]) -> list[float | None]:
    return [round(float(v), 2) if np.isfinite(v) else None for v in values]


def _gear(pull: Pull) -> int | None:
    values = pull.recording.values("gear")
    rows = None if values is None else values[pull.start : pull.stop]
    if rows is None or not np.isfinite(rows).any():
        return None
    gear = round(float(np.nanmedian(rows)))
    return gear if 1 <= gear <= 10 else None
