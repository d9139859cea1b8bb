"""The recordings of a case with what of them counts, and how the car stood for each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.errors import InputError
from boostproof.findings import LEFT_OUT, Finding
from boostproof.recording.pull_numbers import NONE, PullNumbers

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.diagnosis.evidence.configurations import Configuration
    from boostproof.diagnosis.evidence.drive import Driven
    from boostproof.recording.model import Pull, Recording
    from boostproof.recording.setup import SetUp
    from boostproof.workflows.column_memory import ColumnMemory
    from boostproof.workflows.told import Told

# A test that is a pull, and what its set-up is where nothing is written (docs/formats.md).
_IMPLIED = {"floor-pull": {"gate": "held open"}, "spring-only-pull": {"controller": "bypassed"}}
_AT_HELD_SPEED = ("tip-in", "re-apply")


def read_driven(folder: Case) -> tuple[list[Driven], list[Finding]]:
    """Recordings of a case with what of them counts, and what was noticed.

    car.toml always describes a turbo. A log in which the manifold never rises above the air around is
    therefore not refused: a charge pipe that is off altogether shows just that. Its finding says so.

    Raises
    ------
    InputError
        If there is no recording, or none with a full-load pull.
    """
    from boostproof.workflows.column_memory import ColumnMemory
    from boostproof.workflows.reading import companions_of
    from boostproof.workflows.told import told_about

    findings = list(folder.findings)
    memory = ColumnMemory()
    if not folder.recordings:
        raise InputError(
            "The case holds no recording.",
            kind="no-recording",
            where=str(folder.path / "recordings"),
            do="Put a log with a full-load pull into this folder.",
        )
    driven: list[Driven] = []
    beside, tests = companions_of(folder), _tests_of(folder)
    for path in folder.recordings:
        if path in beside:
            continue
        told, test = told_about(folder, path), tests.get(path.relative_to(folder.path).as_posix(), "")
        try:
            configuration = _configuration(folder, told, test)
        except InputError as left_out:
            findings.append(Finding(left_out.kind, path.name, left_out.says, left_out.do))
            continue
        item, noticed = _read(folder, path, told, configuration, test, memory)
        findings += noticed
        if item.pulls or item.held:
            driven.append(item)
    if not driven:
        raise InputError(
            "No recording holds a full-load pull: rpm rising at full throttle for at least some seconds.",
            kind="no-pull",
            where=str(folder.path / "recordings"),
            do="Log a pull in one gear from low rpm, or look at the file with 'boostproof inspect'.",
        )
    return driven, findings + memory.findings


def _read(
    folder: Case, path: Path, told: Told, configuration: Configuration, test: str, memory: ColumnMemory
) -> tuple[Driven, list[Finding]]:
    """One recording with its pulls, or with its openings at a held speed where there is no other pull."""
    from boostproof.diagnosis.evidence.drive import Driven
    from boostproof.recording import find_pulls
    from boostproof.recording.checks.about_pulls import about_pulls
    from boostproof.recording.checks.of_stretches import findings_of_stretches
    from boostproof.recording.pulls.held import find_held
    from boostproof.recording.told import told_excluded
    from boostproof.workflows.compare import check_numbers
    from boostproof.workflows.reading import read_whole
    from boostproof.workflows.target_told import about_target

    recording = read_whole(path, told, folder, remembered=memory.of)
    excluded = told_excluded(told.setup)
    every = find_pulls(recording, part_load=True, redline=told.redline, excluded=excluded)
    after = NONE if told.setup is None else told.setup.after_repair or NONE
    check_numbers(after, len(every), path)
    excluded = (*excluded, *_stretches(every, after))
    found, every = every, tuple(pull for n, pull in enumerate(every, 1) if n not in after)
    pulls = tuple(pull for pull in every if pull.full_load)
    held = find_held(recording, pulls=pulls, excluded=excluded) if test in _AT_HELD_SPEED or not pulls else ()
    used = [*((p.from_s, p.to_s) for p in pulls), *((h.from_s, h.to_s) for h in held)]
    noticed = [*(findings_of_stretches(recording, used) if used else recording.findings)]
    noticed += [*_left_out(path, len(found), len(every)), *_unsure(recording)]
    if every or not found:
        noticed += about_pulls(recording, every, excluded=excluded)
    noticed += about_target(folder.car, every)
    if held and not pulls:
        noticed = [f for f in noticed if f.kind not in ("no-pull", "short-pull")]
    weather = told.setup.weather if told.setup is not None else None
    around = weather.temperature.value if weather is not None and weather.temperature is not None else None
    return Driven(recording, pulls, configuration, held, around), noticed


def _unsure(recording: Recording) -> list[Finding]:
    """Pressures that are left out of the ranking because what their columns hold is not sure enough."""
    from boostproof.diagnosis.evidence.pulls import too_unsure

    out = []
    for name in too_unsure(recording):
        channel = recording.channels[name]
        says = (
            f'"{channel.column}" may be the {name.replace("_", " ")} in {channel.unit}. That is not sure enough to '
            "count, and the ranking does without it."
        )
        do = "Say what it is and in which unit, on the Pulls page or as columns in pulls.toml."
        out.append(Finding("column-not-counted", f"{recording.file}: column {channel.column}", says, do))
    return out


def _stretches(pulls: Sequence[Pull], after: PullNumbers) -> list[tuple[float | None, float | None]]:
    """From each pull that is left out to the next that is not, in seconds; None for the end of the file."""
    out: list[tuple[float | None, float | None]] = []
    for n, pull in enumerate(pulls, 1):
        if n in after:
            then = next((p.from_s for m, p in enumerate(pulls, 1) if m > n and m not in after), None)
            out.append((pull.from_s, None if then is None else math.nextafter(then, 0.0)))
    return out


def _left_out(path: Path, found: int, kept: int) -> list[Finding]:
    """How many pulls from after the repair are left out."""
    if found == kept:
        return []
    one = found - kept == 1
    of = f"{found - kept} of its {found} pulls" if kept else "Its pull" if one else f"All of its {found} pulls"
    says = f"{of}, made after the repair, {'is' if one else 'are'} left out of the ranking."
    return [Finding(LEFT_OUT, path.name, says, "")]


def _configuration(folder: Case, told: Told, test: str) -> Configuration:
    """How the car stood: as pulls.toml says, and where that says nothing as the test that the recording is."""
    from boostproof.car.prior import build_prior
    from boostproof.diagnosis.evidence.configurations import configuration_of
    from boostproof.recording.setup import SetUp

    set_up: SetUp | None = told.setup.set_up if told.setup is not None else None
    if test in _IMPLIED:
        set_up = set_up or SetUp()
        implied: dict[str, Any] = {k: v for k, v in _IMPLIED[test].items() if getattr(set_up, k) is None}
        set_up = replace(set_up, **implied)
    if set_up is None:
        return configuration_of(None, folder.car, 0.0)
    loss = next(n.centre for n in build_prior(folder.car).nuisances if n.name == "exhaust_loss")
    return configuration_of(set_up, folder.car, loss)


def _tests_of(folder: Case) -> dict[str, str]:
    """Which test each recording is, by its path in the case.

    How a car stood is a fact of the recording: it is looked up even where the readings are left aside, as long
    as they can be read.
    """
    from boostproof.bench.reading_keys import RecordedPull
    from boostproof.casefolder import read_case

    readings = folder.readings
    if not readings.reading and (folder.path / "readings.toml").exists():
        try:
            readings = read_case(folder.path).readings
        except InputError:
            return {}
    found = {}
    for item in readings.reading:
        if isinstance(item, RecordedPull) and item.recording is not None and item.not_done is None:
            found[item.recording] = getattr(item, "of", None) or item.test
    return found
