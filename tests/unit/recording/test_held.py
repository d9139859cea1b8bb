"""Openings of the throttle at a held speed, on drawn logs whose openings are known."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.recording.model import Channel, Recording
from boostproof.recording.pulls.find import find_pulls
from boostproof.recording.pulls.held import find_held

Stretch = tuple[float, float, float, float]  # seconds, rpm at its start and end, throttle


def log(stretches: list[Stretch], rate: float = 50.0, throttle: bool = True) -> Recording:
    """A log of stretches one after the other; boost follows the throttle with a lag of 0.3 s."""
    rpm, opening = [], []
    for seconds, start, end, open_ in stretches:
        rows = round(seconds * rate)
        rpm.append(np.linspace(start, end, rows, endpoint=False))
        opening.append(np.full(rows, open_))
    speed, plate = np.concatenate(rpm), np.concatenate(opening)
    boost = np.zeros(len(speed))
    for k in range(1, len(boost)):
        boost[k] = boost[k - 1] + ((90e3 if plate[k] > 0.9 else -40e3) - boost[k - 1]) / (0.3 * rate)
    values = {"engine_speed": speed * np.pi / 30.0, "boost": boost} | ({"throttle": plate} if throttle else {})
    channels = {
        name: Channel(name, name, "", "gauge" if name == "boost" else None, 1.0, "", 0, array)
        for name, array in values.items()
    }
    return Recording("drawn.csv", "csv", len(speed), rate, np.arange(len(speed)) / rate, channels)


CRUISE, HELD, LIFT = (3.0, 3400.0, 3400.0, 0.15), (2.5, 3400.0, 3440.0, 1.0), (1.0, 3440.0, 3400.0, 0.0)


def spans(recording: Recording, **more: object) -> list[tuple[float, float]]:
    pulls = find_pulls(recording)
    return [(h.from_s, h.to_s) for h in find_held(recording, pulls=pulls, **more)]


@pytest.mark.parametrize("rate", [20.0, 100.0])
def test_each_opening_is_found_from_its_first_row_on(rate: float) -> None:
    found = spans(log([CRUISE, HELD, LIFT, HELD, CRUISE], rate))
    assert found == [pytest.approx((3.0, 5.5), abs=1.5 / rate), pytest.approx((6.5, 9.0), abs=1.5 / rate)]


def test_what_is_no_opening_at_a_held_speed() -> None:
    pull = (8.0, 2000.0, 6500.0, 1.0)
    assert spans(log([CRUISE, (1.0, 3400.0, 2000.0, 0.0), pull, LIFT])) == []  # a pull with rising speed
    assert spans(log([HELD, CRUISE])) == []  # the log begins with it: nothing says when it opened
    assert spans(log([CRUISE, (0.6, 3400.0, 3400.0, 1.0), CRUISE])) == []  # too short to come up
    assert spans(log([CRUISE, HELD, CRUISE], throttle=False)) == []  # nothing tells the driver's foot
    assert spans(log([CRUISE, (2.5, 1200.0, 1200.0, 1.0), CRUISE])) == []  # no boost to be had there


def test_part_throttle_is_no_opening_beside_a_full_one() -> None:
    half = (2.5, 3400.0, 3400.0, 0.5)
    assert spans(log([CRUISE, half, CRUISE, HELD, CRUISE])) == [pytest.approx((8.5, 11.0), abs=0.03)]


def test_excluded_stretches_are_left_out() -> None:
    recording = log([CRUISE, HELD, LIFT, HELD, CRUISE])
    assert len(spans(recording, excluded=[(None, 4.0)])) == 1
    assert spans(recording, excluded=[(4.0, None)]) == []
    assert len(spans(recording, excluded=[(5.6, 6.4)])) == 2
