"""Look at one recording: its columns, its pulls, and what they show."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.findings import Finding
from boostproof.workflows.pull_figures import Figures, figures_of

if TYPE_CHECKING:
    from boostproof.recording.model import Pull, Recording


@dataclass(frozen=True)
class Inspection:
    """What was found in one recording.

    Attributes
    ----------
    recording : channels and what was noticed about them
    pulls : full-load pulls with their metrics, and sweeps at part throttle without, in order of time
    findings : of the recording and of its pulls
    figures : what makes the pulls comparable: the day, the repeats, the air, the inertia
    """

    recording: Recording
    pulls: tuple[Pull, ...]
    findings: tuple[Finding, ...]
    figures: Figures = field(default_factory=Figures)

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof inspect --json`` (formats.md, Answers)."""
        recording = self.recording
        return {
            "format": 1,
            "file": {"kind": recording.kind, "rows": recording.rows, "rate_hz": recording.rate_hz},
            "channels": [channel.as_json() for channel in recording.channels.values()],
            "pulls": [pull.as_json() for pull in self.pulls],
            "findings": [finding.as_dict() for finding in self.findings],
            **self.figures.as_json(),
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
    from boostproof.workflows.told import Told, told_about

    path = Path(file)
    told, folder = Told(), None
    if case is not None:
        from boostproof.casefolder import read_case

        folder = read_case(case, with_readings=False)
        told = told_about(folder, path)
    recording = read_recording(
        path, columns=told_columns(told.setup), barometer=told.barometer, apart=True
    )
    pulls = find_pulls(
        recording, part_load=True, redline=told.redline, excluded=told_excluded(told.setup)
    )
    figures = figures_of(pulls, folder, told.setup)
    findings = recording.findings + _about_pulls(recording, pulls) + figures.findings
    return Inspection(recording, pulls, findings, figures)


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
                "full-load pull, and no boost figure was taken from it.",
            )
        )
    if len(part) == len(every):
        findings.append(
            Finding(
                "no-pull",
                recording.file,
                "No full-load pull was found: engine speed rising by a fifth at full throttle "
                "for a second and a half or more.",
                "Log a pull in one gear from low engine speed; log the throttle too.",
            )
        )
    elif not {"throttle", "pedal"} & set(recording.channels):
        findings.append(
            Finding(
                "no-throttle",
                recording.file,
                "There is no throttle channel: full load was judged by boost, and by mixture where logged.",
                "Log the throttle, so that lifts and part load can be told from faults.",
            )
        )
    return (*findings, *_about_glitches(recording))


def _about_glitches(recording: Recording) -> tuple[Finding, ...]:
    """Engine speeds that cannot be: they were left out, and say something about the wiring."""
    import numpy as np

    from boostproof.recording.signals.glitches import engine_speed

    channel = recording.channels["engine_speed"]
    if not recording.time_known or recording.rows < 5 or not np.isfinite(channel.values).any():
        return ()
    step = float(np.median(np.diff(recording.time)))
    lost = engine_speed(channel.values * 30.0 / np.pi, step)[1]
    found = int(np.count_nonzero(lost & np.isfinite(channel.values)))
    if not found:
        return ()
    return (
        Finding(
            "engine-speed-glitches",
            f"{recording.file}, column {channel.column}",
            f"Engine speed jumps to a value it cannot have and back in {found:,} sample"
            f"{'' if found == 1 else 's'}; they were left out.",
            "If that comes back in the next log, look at the speed sensor's wiring and the logger's connection.",
        ),
    )
