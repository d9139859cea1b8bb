"""Bins of engine speed: a pull that was cut short is still compared, and what is too short is said to be."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from evaluation.families import families
from evaluation.truths import recording_of

from boostproof.diagnosis.evidence.bins import BIN, SETTLE, bins_of
from boostproof.diagnosis.evidence.drive import Driven, drive_from
from boostproof.diagnosis.evidence.pulls import pulls_block
from boostproof.errors import InputError
from boostproof.physics.system import N_INPUT

RPM = np.pi / 30.0


def bins(seconds: float, rise: float, rows_per_second: float = 25.0) -> list[tuple[float, int]]:
    """Mean engine speed [rpm] and rows of every bin of a pull that rises by ``rise`` rpm."""
    time = np.arange(0.0, seconds, 1.0 / rows_per_second)
    speed = (2000.0 + rise * time / seconds) * RPM
    middle = np.arange(0.0, seconds, 0.02)
    inputs = np.zeros((len(middle), N_INPUT))
    inputs[:, 0] = np.interp(middle, time, speed)
    pull: Any = SimpleNamespace(start=0, stop=len(time))
    found = bins_of(time, speed, [pull], middle, inputs)[1]
    return [(b.engine_speed / RPM, b.stop - b.start) for b in found]


@pytest.mark.parametrize("rise", [120.0, 300.0, 450.0])
def test_a_pull_cut_short_has_two_bins(rise: float) -> None:
    """Boost that ran away makes a driver lift after a few hundred revolutions: it rose, which one bin cannot show."""
    found = bins(1.5, rise)
    assert len(found) == 2
    assert found[1][0] - found[0][0] == pytest.approx(0.5 * rise * (1.0 - SETTLE / 1.5), rel=0.2)
    assert min(rows for _, rows in found) >= 10


def test_a_long_pull_has_bins_of_the_usual_width() -> None:
    found = bins(6.0, 4000.0)
    assert np.diff([speed for speed, _ in found]) == pytest.approx(BIN / RPM, rel=0.1)


def test_a_pull_too_short_to_compare_is_refused_in_words() -> None:
    recording, pull = recording_of(families()[0])
    short = SimpleNamespace(start=pull.start, stop=pull.start + 3)
    drive = drive_from(Driven(recording, (short,)), 1.0e5, 295.0)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="too short") as problem:
        pulls_block([recording], drive)
    assert problem.value.kind == "pulls-too-short"
    assert problem.value.do
