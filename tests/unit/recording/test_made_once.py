"""What is worked out of a recording once: made once, of that very recording, written to by nobody, gone with it."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from boostproof.recording import find_pulls, read_recording
from boostproof.recording import made_once as module
from boostproof.recording.checks.about_pulls import about_pulls
from boostproof.recording.driving import ready
from boostproof.recording.driving.ready import boost_of, calm_boost, driving_of, speed_of
from boostproof.recording.made_once import made_once
from boostproof.recording.model import Recording
from boostproof.recording.pulls.curve import curve_of
from boostproof.recording.signals.glitches import calm_pressure, pressure_window


@pytest.fixture
def recording(tmp_path: Path) -> Recording:
    rows = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa)"]
    for step in range(1_000):
        since = step / 50 - 2.0
        rising = 0.0 <= since < 8.0
        rpm, boost = (2000 + 500 * since, min(80.0, 30 * since)) if rising else (2000.0, -50.0)
        rows.append(f"{step / 50:.2f},{rpm:.1f},{98 if rising else 10},{boost:.1f}")
    file = tmp_path / "log.csv"
    file.write_text("\n".join(rows))
    read = read_recording(file)
    boost = read.channels["boost"]
    values = boost.values.copy()
    values[300] = 250e3  # a spike that reading has not mended
    return replace(read, channels={**read.channels, "boost": replace(boost, values=values)})


def test_it_is_made_once_and_of_a_changed_copy_anew(recording: Recording) -> None:
    made: list[int] = []

    def make() -> int:
        made.append(0)
        return len(made)

    assert [made_once(recording, "a", make) for _ in range(3)] == [1, 1, 1]
    assert made_once(recording, "b", make) == 2
    assert made_once(replace(recording), "a", make) == 3
    assert made_once(recording, "a", make) == 1


def test_nothing_keeps_a_recording_that_nobody_needs(recording: Recording) -> None:
    pulls = find_pulls(recording, part_load=True)
    about_pulls(recording, pulls)
    curve_of(pulls[0])
    place = id(recording)
    assert any(key[0] == place for key in module._held)
    copy = replace(recording)
    driving_of(copy)
    gone, place = weakref.ref(copy), id(copy)
    del copy
    gc.collect()
    assert gone() is None
    assert not any(key[0] == place for key in module._held)


def test_a_recording_is_made_ready_once_for_its_pulls_and_what_is_said_of_them(
    recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[Recording] = []
    make = ready._made_ready
    monkeypatch.setattr(ready, "_made_ready", lambda of: made.append(of) or make(of))
    about_pulls(recording, find_pulls(recording, part_load=True))
    assert len(made) == 1 and made[0] is recording


def test_nobody_writes_to_what_is_shared(recording: Recording) -> None:
    driving = driving_of(recording)
    assert driving is not None and driving.recording is recording
    boost = boost_of(recording)
    assert boost is not None
    for shared in (*speed_of(recording), boost, driving.calm, driving.full, driving.held):
        with pytest.raises(ValueError, match="read-only"):
            shared[0] = 0
    assert recording.channels["boost"].values[300] == 250e3  # and the log's own numbers stay as they came


def test_steps_of_one_window_share_their_boost_and_it_is_that_of_each(recording: Recording) -> None:
    raw = recording.boost_gauge() / 1e3
    for step in (0.0199, 0.02, 0.0201, 0.05, 0.2):
        np.testing.assert_array_equal(calm_boost(recording, step), calm_pressure(raw, step))
    assert pressure_window(0.0199) == pressure_window(0.0201) != pressure_window(0.01)
    assert calm_boost(recording, 0.0199) is calm_boost(recording, 0.0201)
    assert pressure_window(0.2) == 0 and calm_boost(recording, 0.2)[300] == 250.0
