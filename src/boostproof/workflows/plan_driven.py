"""What was driven before a plan of pulls: the recordings of the car as found, and what came since its repair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import LEFT_OUT, LEFT_OUT_TRIED, Finding

if TYPE_CHECKING:
    from boostproof.casefolder import Case
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.diagnosis.evidence.drive import Driven as Recorded
    from boostproof.pullplan.outlook import Driven
    from boostproof.repair.model import Chosen
    from boostproof.workflows.open_case import OpenCase, Progress

_RPM = np.pi / 30.0
_BIN = 200.0 * _RPM
_UNDRIVEN = ("no-recording", "no-pull")


def what_was_driven(
    folder: Case, without: Sequence[str], seed: int, fresh: bool, say: Progress
) -> tuple[Sequence[Recorded], OpenCase | None, list[Finding]]:
    """Recordings with the diagnosis of the case; nothing where no pull was driven yet.

    Parameters
    ----------
    folder : the case as found
    without : names of what is left out of it
    seed, fresh : as of `boostproof.workflows.plan.plan`
    say : called with what is being done and the share done
    """
    from boostproof.workflows.open_case import open_case

    if not folder.recordings:
        return (), None, list(folder.findings)
    try:
        opened = open_case(folder.path, without=without, seed=seed, fresh=fresh, progress=say)
    except InputError as error:
        if error.kind not in _UNDRIVEN:
            raise
        return (), None, [*folder.findings, Finding(error.kind, error.where, error.says, error.do)]
    return opened.driven, opened, [f for f in opened.findings if f.kind not in (LEFT_OUT, LEFT_OUT_TRIED)]


@dataclass(frozen=True)
class SinceRepair:
    """What is known of a car since its repair: what was done, recordings and readings."""

    repairs: Sequence[Chosen]
    recorded: Sequence[Recorded]
    readings: Sequence[Any]


def since_repair(
    folder: Case, found: Case, repairs: Sequence[Chosen], neither: Sequence[str]
) -> tuple[SinceRepair, list[Finding]]:
    """What the case holds of the repaired car.

    Parameters
    ----------
    folder, found : the whole case, and without what was made after the repair
    repairs : that were done
    neither : names of pulls that count on neither side
    """
    from boostproof.casefolder.left_out import left_out_of, reading_names
    from boostproof.workflows.driven import read_driven

    says = "The plan is of the car after the repair: it begins low again, and what was measured before counts only through "
    findings = [
        Finding("after-repair", "recordings", f"{says}the forecast of the repair.", "")
        if repairs
        else Finding("after-repair", "recordings", f"{says}a forecast; no repair is named, so that there is none.",
                     "Say which repair was done.")
    ]  # fmt: skip
    names = reading_names([reading.test for reading in folder.readings.reading])
    kept = zip(names, folder.readings.reading, strict=True)
    readings = [reading for name, reading in kept if name in found.left_out.readings]
    there = [path.relative_to(folder.path).as_posix() for path in folder.recordings]
    later = only_after(folder, replace(found.left_out, between=left_out_of(neither, there, ()).pulls))
    recorded: Sequence[Recorded] = ()
    if later.recordings:
        try:
            recorded, noticed = read_driven(later)
            findings += [f for f in noticed if f.kind != LEFT_OUT]
        except InputError as error:
            if error.kind not in _UNDRIVEN:
                raise
            findings.append(Finding(error.kind, error.where, error.says, error.do))
    return SinceRepair(repairs, recorded, readings), findings


def only_after(folder: Case, left_out: LeftOut) -> Case:
    """A case with nothing but the recordings and pulls that were left out of it because they are of after the repair."""
    from boostproof.recording.pull_numbers import ALL
    from boostproof.recording.setup import RecordingSetup

    since = left_out.since
    paths = {path: path.relative_to(folder.path).as_posix() for path in folder.recordings}
    setups = {item.file: item for item in folder.pulls.recording}
    rest = {
        file: replace(setups.get(file) or RecordingSetup(file=file), after_repair=ALL - since.pulls_of(file))
        for file in paths.values()
    }
    return replace(
        folder, recordings=tuple(path for path, file in paths.items() if since.pulls_of(file)), findings=(),
        pulls=replace(folder.pulls, recording=tuple(rest.values())),
    )  # fmt: skip


def driven_pulls(recorded: Sequence[Recorded]) -> list[Driven]:
    """Pulls of the case in a set-up of the ladder, which the diagnosis has counted already."""
    from boostproof.bench.set_ups import CONTROLLER_BYPASSED
    from boostproof.pullplan.outlook import Driven
    from boostproof.pullplan.terms import FOUND, LEAST

    out = []
    for item in recorded:
        as_least = item.configuration.changes[: len(CONTROLLER_BYPASSED)] == CONTROLLER_BYPASSED
        held = len(item.configuration.changes) > len(CONTROLLER_BYPASSED) + 1
        if not item.configuration.as_found and (not as_least or held):
            continue
        values = item.recording.values("engine_speed")
        assert values is not None  # pulls are found by it
        for pull in item.pulls:
            rows = slice(pull.start, pull.stop)
            speed, boost = _bins(np.asarray(values)[rows], np.asarray(item.recording.boost_gauge())[rows])
            if len(speed) > 1:
                set_up = FOUND if item.configuration.as_found else LEAST
                ceiling = float(np.nanmax(np.asarray(values)[rows]))
                out.append(Driven(set_up, speed, boost, ceiling, independent=False, counted=True))
    return out


def _bins(speed: Any, boost: Any) -> tuple[Any, Any]:
    """Means over bins of engine speed."""
    good = np.isfinite(speed) & np.isfinite(boost)
    speed, boost = speed[good], boost[good]
    if len(speed) < 4:
        return np.empty(0), np.empty(0)
    which = np.floor(speed / _BIN).astype(int)
    parts = [which == w for w in np.unique(which)]
    parts = [p for p in parts if np.count_nonzero(p) >= 2]
    return np.array([speed[p].mean() for p in parts]), np.array([boost[p].mean() for p in parts])
