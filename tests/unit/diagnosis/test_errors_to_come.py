"""Errors of a log and of a pull to come: the log is read once, whatever is asked of it afterwards."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.diagnosis.evidence.bins import Bin
from boostproof.diagnosis.evidence.drive import Drive
from boostproof.diagnosis.evidence.pulls import CHANNELS, errors_to_come
from boostproof.recording.model import Barometer, Channel, Recording

ROWS = 25  # of each bin
SPEEDS = np.array([200.0, 300.0, 400.0, 500.0])
BOOST = np.array([4.0e4, 8.0e4, 9.0e4, 9.5e4])


def log() -> tuple[Recording, Drive]:
    """Boost that rises by 100 Pa a row through each bin, with 500 Pa up and down from row to row."""
    along = np.arange(ROWS) - (ROWS - 1) / 2
    wobble = 500.0 * (-1.0) ** np.arange(ROWS)
    values = (BOOST[:, None] + 100.0 * along + wobble - wobble.mean()).ravel()
    boost = Channel("boost", "Boost", "Pa", "gauge", 1.0, "", 0, values)
    recording = Recording(
        "log.csv", "csv", values.size, 100.0, np.arange(values.size) / 100.0, {"boost": boost},
        barometer=Barometer(1e5, 50.0, "given"),
    )  # fmt: skip
    bins = tuple(Bin(0, k, float(s), k * ROWS, (k + 1) * ROWS) for k, s in enumerate(SPEEDS))
    return recording, Drive(np.zeros((1, 1)), np.ones(1), np.zeros(1, np.int32), bins, 1)


def test_the_noise_of_a_bin_is_what_is_left_beside_its_line() -> None:
    """By hand: +-500 Pa from row to row, of which every third row counts, beside the sensor's own."""
    recording, drive = log()
    to_come = np.array([250.0, 350.0, 600.0])
    found = errors_to_come("boost", [recording], drive, to_come)(np.full(3, 9e4), False)
    assert found.observed == pytest.approx(BOOST)
    assert found.slots == [0, 1, 2, 3]
    assert found.covariance.shape == (7, 7)
    # the same bins as if every row lay on the line: what differs is the noise alone, and stands on the diagonal
    smooth = Recording(**{**vars(recording), "channels": {"boost": _on_a_line(recording)}})
    less = errors_to_come("boost", [smooth], drive, to_come)(np.full(3, 9e4), False)
    differs = found.covariance - less.covariance
    assert np.diag(differs)[:4] == pytest.approx(500.0**2 / (ROWS / 3), rel=0.01)
    assert np.abs(differs - np.diag(np.diag(differs))).max() < 1e-6 * CHANNELS["boost"].noise ** 2
    assert np.abs(np.diag(differs)[4:]).max() < 1e-6


def _on_a_line(recording: Recording) -> Channel:
    along = np.tile(100.0 * (np.arange(ROWS) - (ROWS - 1) / 2), len(BOOST))
    return Channel(**{**vars(recording.channels["boost"]), "values": np.repeat(BOOST, ROWS) + along})


def test_another_set_up_has_errors_of_its_own() -> None:
    recording, drive = log()
    at = errors_to_come("boost", [recording], drive, SPEEDS + 10.0)
    same, changed = (at(BOOST, c).covariance for c in (False, True))
    assert np.all(changed[:4, 4:].diagonal() < same[:4, 4:].diagonal())
    assert np.array_equal(at(BOOST, False).covariance, same)  # nothing of the last question stays


def test_the_log_is_read_once_for_all_questions(monkeypatch: pytest.MonkeyPatch) -> None:
    recording, drive = log()
    at = errors_to_come("boost", [recording], drive, SPEEDS)
    before = at(BOOST, True).covariance

    def gone(self: Recording) -> None:
        raise AssertionError("read again")

    monkeypatch.setattr(Recording, "boost_gauge", gone)
    assert np.array_equal(at(BOOST, True).covariance, before)


def test_without_a_log_there_are_only_the_errors_to_come() -> None:
    recording, drive = log()
    found = errors_to_come("shaft_speed", [recording], drive, SPEEDS)(np.full(4, 9e3), True)
    assert len(found.observed) == 0 and found.slots == [] and found.covariance.shape == (4, 4)
