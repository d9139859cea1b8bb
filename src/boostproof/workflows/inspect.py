"""Look at one recording: its columns, its pulls, and what they show."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.findings import Finding

if TYPE_CHECKING:
    from boostproof.recording.model import Pull, Recording
    from boostproof.recording.setup import RecordingSetup


@dataclass(frozen=True)
class Inspection:
    """What was found in one recording.

    Attributes
    ----------
    recording : channels and what was noticed about them
    pulls : full-load pulls with their metrics, in order of time
    findings : of the recording and of its pulls
    """

    recording: Recording
    pulls: tuple[Pull, ...]
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof inspect --json`` (formats.md, Answers)."""
        recording = self.recording
        return {
            "format": 1,
            "file": {"kind": recording.kind, "rows": recording.rows, "rate_hz": recording.rate_hz},
            "channels": [channel.as_json() for channel in recording.channels.values()],
            "pulls": [pull.as_json() for pull in self.pulls],
            "findings": [finding.as_dict() for finding in self.findings],
        }


def inspect(file: str | Path, *, case: str | Path | None = None) -> Inspection:
    """Read one recording and measure its pulls.

    Parameters
    ----------
    file : the log
    case : a case folder that says more: columns and excluded stretches (pulls.toml), barometer, redline

    Raises
    ------
    InputError
        If the file is no log or holds no engine speed, or the case cannot be read.
    """
    from boostproof.recording import find_pulls, read_recording
    from boostproof.recording.told import told_columns, told_excluded

    path = Path(file)
    setup: RecordingSetup | None = None
    barometer = redline = None
    if case is not None:
        setup, barometer, redline = _told(Path(case), path)
    recording = read_recording(path, columns=told_columns(setup), barometer=barometer)
    every = find_pulls(recording, part_load=True, redline=redline, excluded=told_excluded(setup))
    pulls = tuple(pull for pull in every if pull.full_load)
    return Inspection(recording, pulls, recording.findings + _about_pulls(recording, every))


def _told(case: Path, file: Path) -> tuple[RecordingSetup | None, float | None, float | None]:
    """(set-up, barometer [Pa abs], redline [rpm]) that a case folder gives for a recording."""
    import math

    from boostproof.casefolder import read_case

    folder = read_case(case, with_readings=False)
    try:
        name = file.resolve().relative_to(folder.path.resolve()).as_posix()
    except ValueError:
        name = f"recordings/{file.name}"
    setup = folder.pulls.of(name)
    weathers = [setup.weather if setup is not None else None, folder.car.weather]
    told = [w.barometer.value for w in weathers if w is not None and w.barometer is not None]
    return setup, told[0] if told else None, folder.car.engine.redline.value * 30.0 / math.pi


def _about_pulls(recording: Recording, every: tuple[Pull, ...]) -> tuple[Finding, ...]:
    findings = []
    part = [pull for pull in every if not pull.full_load]
    if part:
        spans = ", ".join(f"{pull.from_s:.1f} to {pull.to_s:.1f} s" for pull in part)
        findings.append(
            Finding(
                "part-load",
                recording.file,
                f"Engine speed also rose at part throttle ({spans}); that is no "
                "full-load pull and was not measured as one.",
            )
        )
    if len(part) == len(every):
        findings.append(
            Finding(
                "no-pull",
                recording.file,
                "No full-load pull was found: engine speed rising at full throttle for a second or more.",
                "Log a pull in one gear from low engine speed; log the throttle too.",
            )
        )
    elif not {"throttle", "pedal"} & set(recording.channels):
        findings.append(
            Finding(
                "no-throttle",
                recording.file,
                "There is no throttle channel: full load was judged by boost alone.",
                "Log the throttle, so that lifts and part load can be told from faults.",
            )
        )
    return tuple(findings)
