"""A recognised channel keeps its own samples, in the same unit and reference as its rows."""

from __future__ import annotations

import numpy as np

from boostproof.recording.model import Column
from boostproof.recording.recognise import recognise
from boostproof.recording.rows import table_of

FAST = np.arange(0.0, 20.0, 0.01)
SLOW = np.arange(0.0, 20.0, 0.5)
PULL = np.clip((FAST - 5.0) / 10.0, 0.0, 1.0)
THROTTLE = np.where((FAST > 5.0) & (FAST < 15.0), 80.0, 4.0)  # degrees, so read from 0 to its own end


def _slow(fast: np.ndarray) -> np.ndarray:
    return np.interp(SLOW, FAST, fast)


def test_samples_are_in_si_like_the_rows() -> None:
    speed = Column("Engine Speed", "rpm", 1500.0 + 4500.0 * PULL)
    boost = Column("Boost gauge", "psi", _slow(-9.0 + 22.0 * PULL))
    coolant = Column("Coolant Temperature", "F", _slow(185.0 + 10.0 * PULL))
    angle = Column("Throttle Angle", "deg", _slow(THROTTLE))
    recording = recognise(table_of("log", "mdf", [(FAST, [speed]), (SLOW, [boost, coolant, angle])]))

    channels = recording.channels
    assert channels["engine_speed"].samples is None  # sampled once a row
    expected = {
        "boost": boost.values * 6894.757293168,  # NIST SP 811, pound-force per square inch
        "coolant_temperature": (coolant.values - 32.0) / 1.8 + 273.15,
        "throttle": angle.values / 80.0,
    }
    for name, si in expected.items():
        samples = channels[name].samples
        assert samples is not None, name
        np.testing.assert_array_equal(samples.time, SLOW)
        np.testing.assert_allclose(samples.values, si, rtol=1e-9)
        at_rows = np.interp(SLOW, recording.time, channels[name].values)
        np.testing.assert_allclose(samples.values, at_rows, rtol=1e-9)
