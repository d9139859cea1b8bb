"""Look at one recording: its columns, its pulls, and what they show."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.findings import Finding
from boostproof.workflows.pull_figures import Figures, figures_of

if TYPE_CHECKING:
    from boostproof.recording.model import ColumnChoice, Pull, Recording
    from boostproof.workflows.column_memory import ColumnMemory
    from boostproof.workflows.told import Told


@dataclass(frozen=True)
class Inspection:
    """What was found in one recording.

    Attributes
    ----------
    recording : channels and what was noticed about them
    pulls : full-load pulls with their metrics, and sweeps at part throttle without, in order of time
    findings : of the recording and of its pulls
    figures : what makes the pulls comparable: the day, the repeats, the air, the inertia
    headers : of every column of the file, those that are no channel too
    """

    recording: Recording
    pulls: tuple[Pull, ...]
    findings: tuple[Finding, ...]
    figures: Figures = field(default_factory=Figures)
    headers: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof inspect --json`` (formats.md, Answers)."""
        recording = self.recording
        return {
            "format": 1,
            "file": {"kind": recording.kind, "rows": recording.rows, "rate_hz": recording.rate_hz},
            "channels": [channel.as_json() for channel in recording.channels.values()],
            "pulls": [pull.as_json() for pull in self.pulls],
            "findings": [finding.as_dict() for finding in self.findings],
            "questions": [question.as_json() for question in self.recording.questions],
            **self.figures.as_json(),
            "written": [],
        }


def inspect(
    file: str | Path,
    *,
    case: str | Path | None = None,
    told: Told | None = None,
    columns: Mapping[str, ColumnChoice] | None = None,
    remember: bool = False,
    forget: bool = False,
    read: Callable[[Recording], object] = lambda recording: None,
    progress: Callable[[str, float], None] = lambda says, share: None,
) -> Inspection:
    """Read one recording and measure its pulls.

    Parameters
    ----------
    file : the log
    case : a case folder that says more: columns and excluded stretches (pulls.toml), barometer, redline
    told : what is known of the recording, where there is no case to be read
    columns : columns named by a person, by our channel names; they go before those of the case
    remember : keep ``columns`` for every log with the same headers
    forget : take back what was kept for logs with the same headers, before reading
    read : given the recording as soon as it is read, before its pulls are looked for
    progress : called with what begins now and how much is done, 0 to 1

    Raises
    ------
    InputError
        If the file is no log or holds no engine speed, a named column does not exist, the case cannot be
        read, or an answer cannot be kept or taken back.
    """
    from boostproof.recording import find_pulls
    from boostproof.recording.checks.about_pulls import about_pulls
    from boostproof.recording.told import told_columns, told_excluded
    from boostproof.workflows.column_memory import ColumnMemory, overruled
    from boostproof.workflows.reading import read_whole
    from boostproof.workflows.target_told import about_target
    from boostproof.workflows.told import Told, told_about

    path = Path(file)
    told, folder = told or Told(), None
    if case is not None:
        from boostproof.casefolder import read_case

        folder = read_case(case, with_readings=False)
        told = told_about(folder, path)
    memory, named = ColumnMemory(), dict(columns or {})
    progress("reading the file", 0.05)
    recording = read_whole(
        path,
        told,
        folder,
        remembered=memory.forgotten if forget else memory.of,
        columns=overruled(told_columns(told.setup), named),
    )
    read(recording)
    excluded = told_excluded(told.setup)
    progress("looking for pulls", 0.5)
    pulls = find_pulls(recording, part_load=True, redline=told.redline, excluded=excluded)
    progress("comparing the pulls with each other", 0.8)
    figures = figures_of(pulls, folder, told.setup)
    kept = _remembered(memory, named) if remember and named else ()
    findings = recording.findings + tuple(memory.findings) + kept
    findings += about_pulls(recording, pulls, excluded=excluded) + figures.findings
    if folder is not None:
        findings += about_target(folder.car, pulls)
    headers = () if memory.table is None else tuple(column.header for column in memory.table.columns)
    return Inspection(recording, pulls, findings, figures, headers)


def _remembered(memory: ColumnMemory, named: Mapping[str, ColumnChoice]) -> tuple[Finding, ...]:
    """Keep answers, under the headers as they stand in the file."""
    from boostproof.recording.columns.chosen import choose_columns
    from boostproof.recording.columns.remembered import describe

    table = memory.table
    if table is None:
        return ()
    chosen = choose_columns(table, named)
    answers = {name: replace(c, column=table.columns[i].header) for name, (i, c) in chosen.items()}
    path = memory.remember(table, answers)
    said = ", ".join(f"{name} = {describe(choice)}" for name, choice in answers.items())
    return (
        Finding(
            "columns-remembered",
            table.file,
            f"Kept for every log with these columns: {said}.",
            f"It stands in {path}; 'boostproof inspect FILE --forget' takes it back.",
        ),
    )
