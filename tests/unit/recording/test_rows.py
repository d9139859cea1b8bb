"""Which rows a table of several rates gets."""

from __future__ import annotations

import numpy as np
import pytest

from boostproof.recording.model import Samples
from boostproof.recording.rows import on_rows, shared_rows

TEN, HUNDRED, ONE = (np.arange(0.0, 20.0, step) for step in (0.1, 0.01, 1.0))


def test_the_fastest_time_base_gives_the_rows() -> None:
    np.testing.assert_array_equal(shared_rows([TEN, HUNDRED, ONE]), HUNDRED)


def test_a_thousand_samples_a_second_beside_slow_ones_give_even_rows() -> None:
    rows = shared_rows([np.arange(0.0, 20.0, 0.001), ONE])
    assert np.diff(rows) == pytest.approx(np.full(len(rows) - 1, 0.004))
    assert (rows[0], rows[-1]) == pytest.approx((0.0, 20.0), abs=0.004)


def test_a_knock_signal_does_not_make_the_rows() -> None:
    np.testing.assert_array_equal(shared_rows([np.arange(0.0, 20.0, 1e-4), TEN]), TEN)


def test_messages_in_bursts_do_not_make_the_rows() -> None:
    bursts = np.concatenate([start + np.arange(5) * 0.005 for start in range(20)])
    np.testing.assert_array_equal(shared_rows([bursts, TEN]), TEN)


def test_rows_are_lengthened_where_others_begin_earlier_or_end_later() -> None:
    rows = shared_rows([HUNDRED, np.arange(-1.0, 22.0, 0.1)])
    assert (rows[0], rows[-1]) == pytest.approx((-1.0, 21.9), abs=0.011)
    assert np.diff(rows) == pytest.approx(np.full(len(rows) - 1, 0.01))


def test_nothing_is_told_across_a_hole_and_beyond_the_ends() -> None:
    time = np.concatenate([np.arange(5.0, 8.0, 0.1), np.arange(12.0, 15.0, 0.1)])
    values = on_rows(Samples(time, 0.5 + 2.0 * time), np.array([4.0, 6.05, 10.0, 13.0, 16.0]))
    np.testing.assert_allclose(values, [np.nan, 12.6, np.nan, 26.5, np.nan])
