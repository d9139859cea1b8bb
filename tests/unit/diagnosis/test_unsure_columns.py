"""A column that may well be something else, or in another unit, is no evidence until somebody says what it is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from evaluation.families import families
from evaluation.truths import recording_of

from boostproof.diagnosis.evidence.drive import Driven, drive_from
from boostproof.diagnosis.evidence.pulls import SURE, pulls_block, too_unsure
from boostproof.recording.model import Channel, Pull, Recording
from boostproof.workflows.driven import _unsure


def plain() -> tuple[Recording, Pull]:
    """A pull of which boost was logged."""
    rows = recording_of(families()[0])[0].rows
    return recording_of(families()[0], {"boost": np.linspace(0.0, 1.0e5, rows)})


def recording(sure: float) -> Recording:
    """The same with a pressure behind the turbine, whose column is so sure."""
    whole, _ = plain()
    behind = Channel(
        "turbine_outlet_pressure", "Pressure 4", "psi", "gauge", sure, "by its name", 0, np.full(whole.rows, 1.2e4)
    )
    return replace(whole, channels={**whole.channels, "turbine_outlet_pressure": behind})


@pytest.mark.parametrize(("sure", "counts"), [(SURE - 0.01, False), (SURE, True), (1.0, True)])
def test_only_a_column_that_is_sure_enough_counts(sure: float, counts: bool) -> None:
    whole, pull = plain()
    drive = drive_from(Driven(whole, (pull,)), 1.0e5, 295.0)
    mine, without = (pulls_block([r], drive).size for r in (recording(sure), whole))
    assert mine == (without + len(drive.bins) if counts else without)
    assert too_unsure(recording(sure)) == ([] if counts else ["turbine_outlet_pressure"])


def test_what_does_not_count_is_said_with_what_to_do() -> None:
    (finding,) = _unsure(recording(0.5))
    assert finding.kind == "column-not-counted"
    assert "Pressure 4" in finding.where
    assert "turbine outlet pressure in psi" in finding.says
    assert "pulls.toml" in finding.do
    assert _unsure(recording(0.9)) == []
