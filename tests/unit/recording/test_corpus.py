"""Some hundred generated logs of ugly kinds: columns, pulls, levels and findings against what was drawn.

The generator in ``tests/fixtures/ugly`` knows nothing of the package: curves drawn by hand, simulated
loggers and writers, and for each log the truth.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from boostproof.recording import Pull, Recording, find_pulls, read_recording
from boostproof.workflows.inspect import inspect

UGLY = Path(__file__).resolve().parents[2] / "fixtures" / "ugly"
_OURS = {path.stem for path in UGLY.glob("*.py")}
RPM = 30.0 / np.pi


def _load() -> tuple[dict[str, Any], Any, frozenset[str]]:
    """The corpus, without leaving its modules' common names behind for other tests."""
    before = {name: sys.modules.pop(name) for name in _OURS if name in sys.modules}
    sys.path.insert(0, str(UGLY))
    try:
        corpus, truth = importlib.import_module("corpus"), importlib.import_module("truth")
        return corpus.CORPUS, corpus, truth.SERIOUS
    finally:
        sys.path.remove(str(UGLY))
        for name in _OURS:
            sys.modules.pop(name, None)
        sys.modules.update(before)


CORPUS, _MODULE, SERIOUS = _load()
SINGLE = sorted(name for name, log in CORPUS.items() if not log.joins)
JOINED = sorted(name for name, log in CORPUS.items() if log.joins)

# How far a measured level may be from the drawn one, beside three of its own standard deviations: what
# smoothing and the start of a sample inside a step may cost (kPa, rpm).
TOLERANCE = {
    "peak_kpa_gauge": 2.0,
    "end_kpa_gauge": 2.5,
    "plateau_kpa_gauge": 1.2,
    "creep_kpa_per_1000rpm": 1.2,
    "taper_kpa": 2.5,
    "spike_kpa": 5.0,
    "oscillation_kpa": 2.0,
    "oscillation_hz": 0.2,
    "boost_threshold_rpm": 60.0,
    "rpm_at_80": 60.0,
}

# What may be told where nothing of the kind was driven: the curves are drawn half a kPa higher at the knee
# than a second later, and a wave of noise is one.
NOTHING = {"spike_kpa": 1.5, "oscillation_kpa": 0.5}


@dataclass(frozen=True)
class Seen:
    """What the package says of one log."""

    recording: Recording
    pulls: tuple[Pull, ...]
    kinds: frozenset[str]


@pytest.fixture(scope="module", autouse=True)
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    _FOLDER.append(tmp_path_factory.mktemp("ugly"))
    yield
    _FOLDER.clear()
    _made.cache_clear()
    _seen.cache_clear()


_FOLDER: list[Path] = []


@cache
def _made(name: str) -> Any:
    """The log written, once."""
    made = CORPUS[name].make(_FOLDER[0])
    assert all(path.stat().st_size < 1_000_000 for path in made.paths)
    return made


@cache
def _seen(name: str) -> Seen:
    made = _made(name)
    if CORPUS[name].joins:
        from boostproof.recording.joining import join

        whole = join([read_recording(path) for path in made.paths])
        return Seen(whole, find_pulls(whole), frozenset(f.kind for f in whole.findings))
    answer = inspect(made.paths[0])
    full = tuple(pull for pull in answer.pulls if pull.full_load)
    return Seen(answer.recording, full, frozenset(finding.kind for finding in answer.findings))


def _columns(recording: Recording, headers: list[str]) -> dict[str, tuple[str, str, str | None]]:
    """Header to what it was taken for; a header may carry its message or group before a dot."""
    found = {c.column: (c.name, c.unit, c.reference) for c in recording.channels.values()}
    return {next((h for h in headers if column.endswith(h)), column): told for column, told in found.items()}


@pytest.mark.parametrize("name", SINGLE)
def test_every_column_is_what_it_is(name: str) -> None:
    truth = _made(name).columns[0]
    found = _columns(_seen(name).recording, sorted(truth, key=len, reverse=True))
    claimed = {header: what for header, what in truth.items() if what is None or what[0] != "any"}
    assert {header: found.get(header) for header in claimed} == claimed
    others = {h: what for h, what in found.items() if h not in truth and what[0] != "time"}
    assert not others


@pytest.mark.parametrize("name", SINGLE)
def test_the_kind_of_file_is_told(name: str) -> None:
    assert _seen(name).recording.kind.startswith(CORPUS[name].kind)


@pytest.mark.parametrize("name", SINGLE)
def test_values_are_those_that_were_logged(name: str) -> None:
    """Engine speed in SI, row by row of the clean stretches: its highest and its usual value."""
    log = CORPUS[name]
    if not log.pulls() or 0 in log.right_counts():
        return  # nothing driven at full load, or nobody can tell where the engine speed stands
    seen = _seen(name).recording
    speed = seen.channels["engine_speed"].values[np.isfinite(seen.channels["engine_speed"].values)] * RPM
    tops = [pull.rpm_to for pull in log.pulls()]
    near = [np.sum(np.abs(speed - top) < 150.0 + log.rpm_slack + 400.0 / log.rate) for top in tops]
    assert min(near) > 0


@pytest.mark.parametrize("name", [*SINGLE, *JOINED])
def test_the_pulls_are_where_they_were_driven(name: str) -> None:
    log, seen = CORPUS[name], _seen(name)
    full = seen.pulls
    assert len(full) in log.right_counts()
    if len(full) != len(log.pulls()):
        return
    recording, start = seen.recording, _made(name).starts[0]
    for drawn, found in zip(log.pulls(), full, strict=True):
        ramp = (drawn.rpm_to - drawn.rpm_from) / (drawn.to_s - drawn.from_s)
        slack = 90.0 + 1.5 * ramp / log.rate + log.rpm_slack
        assert found.rpm_from == pytest.approx(drawn.rpm_from, abs=slack + drawn.rpm_slack[0])
        assert found.rpm_to == pytest.approx(drawn.rpm_to, abs=slack + drawn.rpm_slack[1])
        if log.timed:
            late = 0.3 + 1.5 / log.rate + log.time_slack
            begins = found.from_s - float(recording.time[0]) + start
            lasts = found.to_s - found.from_s
            early = late + drawn.rpm_slack[0] / ramp
            if not log.joins:
                assert begins == pytest.approx(drawn.from_s, abs=early)
            assert lasts == pytest.approx(drawn.to_s - drawn.from_s, abs=late + early)


@pytest.mark.parametrize("name", [*SINGLE, *JOINED])
def test_boost_is_what_was_drawn(name: str) -> None:
    log, seen = CORPUS[name], _seen(name)
    full = seen.pulls
    assert full or 0 in log.right_counts()
    if log.measured == "none" or len(full) != len(log.pulls()):
        return
    wrong = []
    for number, (drawn, found) in enumerate(zip(log.pulls(), full, strict=True)):
        if number in log.skipped:
            continue
        ramp = (drawn.rpm_to - drawn.rpm_from) / (drawn.to_s - drawn.from_s)
        for metric, true in drawn.levels.items():
            if log.measured == "peak" and metric != "peak_kpa_gauge":
                continue
            got = found.metrics[metric]
            if true is None and got is not None and abs(got.value) < NOTHING.get(metric, 0.0):
                continue
            if true is None or got is None:
                if true is not None or got is not None:
                    wrong.append((number, metric, true, got))
                continue
            tolerance = TOLERANCE[metric] + 3.0 * got.sd
            tolerance += 0.5 * ramp / log.rate if metric.endswith(("_rpm", "_80")) else log.kpa_slack
            if metric == "peak_kpa_gauge":
                tolerance += drawn.slack
            if abs(got.value - true) > tolerance:
                wrong.append((number, metric, true, got))
    assert not wrong


@pytest.mark.parametrize("name", SINGLE)
def test_the_faults_that_were_put_in_are_told(name: str) -> None:
    assert CORPUS[name].must - _seen(name).kinds == set()


@pytest.mark.parametrize("name", SINGLE)
def test_no_other_fault_is_told(name: str) -> None:
    log = CORPUS[name]
    assert _seen(name).kinds & (SERIOUS - log.must - log.may) == set()


@pytest.mark.parametrize("name", ["sound_plain", "drive_ladder", "drive_part_load", "table_by_hand"])
def test_reading_alone_says_the_same_as_inspecting(name: str) -> None:
    recording = read_recording(_made(name).paths[0])
    answers = [pull.as_json() for pull in find_pulls(recording)]
    assert answers == [pull.as_json() for pull in _seen(name).pulls]


@pytest.mark.parametrize("name", JOINED)
def test_each_file_of_a_pull_is_read(name: str) -> None:
    made = _made(name)
    for path, truth in zip(made.paths, made.columns, strict=True):
        assert _columns(read_recording(path), sorted(truth, key=len, reverse=True)) == truth


@pytest.mark.parametrize("name", JOINED)
def test_joined_files_hold_the_channels_of_all(name: str) -> None:
    wanted = {what[0] for truth in _made(name).columns for what in truth.values() if what is not None}
    assert wanted <= set(_seen(name).recording.channels)


def test_the_corpus_is_large_and_mixed() -> None:
    assert len(CORPUS) >= 100
    assert sum(log.held_out for log in CORPUS.values()) == 12
    told = frozenset().union(*(log.must for log in CORPUS.values()))
    assert told == SERIOUS, SERIOUS - told


def test_logs_are_the_same_every_time(tmp_path: Path) -> None:
    for name in ("sound_plain", "polled_even_rows", "can_intel", "xlsx_plain"):
        again = tmp_path / name
        again.mkdir()
        for path in CORPUS[name].make(again).paths:
            twin = next(p for p in _made(name).paths if p.name == path.name)
            assert path.read_bytes() == twin.read_bytes()
