"""Windows of a recording: samples of one moment under one cursor, extremes never lost, blocks that read back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boostproof.workflows.over_speed import STEP, channel_over_speed, on_speeds, speeds
from boostproof.workflows.plot_block import Block, Line, kept_rows, unpack
from boostproof.workflows.recording_window import KeptChannels, window


def _table(path: Path, **channels: np.ndarray) -> Path:
    pl.DataFrame(channels).write_parquet(path)
    return path


def test_rows_are_the_union_of_what_each_channel_keeps() -> None:
    rng = np.random.default_rng(1)
    one, other = rng.normal(size=10_000), rng.normal(size=10_000)
    one[4_321], other[8_765] = 99.0, -99.0
    rows = kept_rows([one, other], 10_000, 200)
    assert {0, 4_321, 8_765, 9_999} <= set(rows.tolist())
    assert set(kept_rows([one], 10_000, 200).tolist()) | set(kept_rows([other], 10_000, 200).tolist()) == set(rows.tolist())
    assert np.all(np.diff(rows) > 0)
    assert len(rows) <= 2 * 200 + 2


@given(st.integers(2, 5_000), st.integers(2, 400), st.integers(0, 2**32 - 1))
def test_the_extremes_of_every_channel_are_always_drawn(count: int, points: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    channels = [np.round(rng.normal(size=count), 2).astype(np.float32) for _ in range(3)]
    channels[0][rng.random(count) < 0.3] = np.nan
    rows = kept_rows(channels, count, points)
    for values in channels:
        if np.isfinite(values).any():
            assert np.nanmax(values[rows]) == np.nanmax(values)
            assert np.nanmin(values[rows]) == np.nanmin(values)


def test_a_block_reads_back_as_it_was_written() -> None:
    x = 40_000.0 + np.arange(5) / 100.0  # far into a recording a float of 32 bits has no hundredths
    boost = np.array([1.0, 2.5, np.nan, -3.25, 12.0])
    block = Block(x, (Line("boost", boost, {"unit": "psi", "name": "é"}), Line("duty", np.zeros(5))), {"whole": [0, 9]})
    head, got_x, (got_boost, got_duty) = unpack(block.pack())
    assert got_x == pytest.approx(x, abs=1e-6)
    np.testing.assert_allclose(got_boost, boost, atol=15.25 / 65_534)  # half a step, and a float's last place
    np.testing.assert_array_equal(got_duty, np.zeros(5))
    assert [(line["key"], line.get("unit"), line.get("name")) for line in head["lines"]] == [
        ("boost", "psi", "é"), ("duty", None, None),
    ]  # fmt: skip
    assert head["whole"] == [0, 9]
    assert block.as_json()["lines"][0]["values"] == [1.0, 2.5, None, -3.25, 12.0]


@pytest.mark.parametrize("seed", range(6))
def test_a_line_is_told_to_a_small_part_of_its_range(seed: int) -> None:
    rng = np.random.default_rng(seed)
    values = rng.normal(rng.uniform(-1e3, 1e5), 10.0 ** rng.uniform(-3, 5), 400)
    values[rng.random(400) < 0.1] = np.nan
    head, _, (got,) = unpack(Block(np.arange(400.0), (Line("a", values),)).pack())
    assert "step" in head["lines"][0]
    tight = np.ptp(values[np.isfinite(values)]) / 60_000 + 1e-6 * np.nanmax(np.abs(values))  # 7 figures of "low"
    np.testing.assert_allclose(got, values, atol=tight, rtol=0.0)


def test_one_failed_sample_takes_no_figures_from_the_others() -> None:
    boost = np.r_[np.linspace(-50.0, 100.0, 500), 1e6, np.inf, np.nan]
    head, _, (got,) = unpack(Block(np.arange(503.0), (Line("a", boost),)).pack())
    assert "step" not in head["lines"][0]
    np.testing.assert_array_equal(got[:501], boost[:501].astype(np.float32))
    assert np.isnan(got[501:]).all()


def test_lines_of_both_kinds_stand_behind_each_other() -> None:
    spiked = np.r_[np.arange(9.0), 1e9]
    lines = (Line("none", np.full(10, np.nan)), Line("spiked", spiked), Line("plain", np.arange(10.0)), Line("s", spiked))
    _, _, got = unpack(Block(np.arange(10.0), lines).pack())
    assert np.isnan(got[0]).all()
    np.testing.assert_array_equal(got[1], spiked.astype(np.float32))
    np.testing.assert_allclose(got[2], np.arange(10.0), atol=1e-4)
    np.testing.assert_array_equal(got[3], spiked.astype(np.float32))


def test_a_window_holds_real_samples_of_all_channels_at_shared_times(tmp_path: Path) -> None:
    time = np.arange(20_000) / 100.0
    boost, speed = np.sin(time) * 1e5, 200.0 + time
    table = _table(tmp_path / "t.parquet", time=time, boost=boost, engine_speed=speed)
    found = window(table, ["boost", "engine_speed", "not there"], from_s=50.0, to_s=60.0, points=100)
    assert [line.key for line in found.lines] == ["boost", "engine_speed"]
    rows = np.rint(found.x * 100.0).astype(int)
    assert (rows[0], rows[-1]) == (4_999, 6_001)  # one sample beyond either end
    np.testing.assert_allclose(found.lines[0].values, boost[rows], rtol=1e-6)
    np.testing.assert_allclose(found.lines[1].values, speed[rows], rtol=1e-6)
    assert found.about == {"from_s": 0.0, "to_s": 199.99}


def test_no_line_is_drawn_where_the_logger_stood_still(tmp_path: Path) -> None:
    time = np.concatenate([np.arange(100) / 20.0, 60.0 + np.arange(100) / 20.0])
    table = _table(tmp_path / "t.parquet", time=time, boost=np.ones(200))
    found = window(table, ["boost"])
    (lost,) = np.flatnonzero(np.isnan(found.lines[0].values))
    assert 4.95 < found.x[lost] < 60.0
    assert len(found.x) == 201


def test_channels_are_read_once_and_the_oldest_let_go(tmp_path: Path) -> None:
    kept = KeptChannels(most=2 * 8_000)
    table = _table(tmp_path / "t.parquet", time=np.arange(1000.0), a=np.ones(1000), b=np.full(1000, 2.0))
    first = kept.of(table, ["a"])["a"]
    assert kept.of(table, ["a"])["a"] is first
    table.unlink()
    assert kept.of(table, ["a"])["a"] is first  # no file is read again
    many = KeptChannels(most=4_000)
    table = _table(tmp_path / "u.parquet", a=np.ones(1000), b=np.ones(1000))
    held = many.of(table, ["a"])["a"]
    many.of(table, ["b"])
    assert many.of(table, ["a"])["a"] is not held


def test_means_around_each_engine_speed_and_a_straight_line_between() -> None:
    grid = speeds([(1990.0, 2210.0)])
    assert grid.tolist() == [2000.0, 2025.0, 2050.0, 2075.0, 2100.0, 2125.0, 2150.0, 2175.0, 2200.0]
    rpm = np.array([2000.0, 2001.0, 2050.0, 2150.0])
    found = on_speeds(rpm, np.array([1.0, 3.0, 4.0, 8.0]), grid)
    assert found[:7] == pytest.approx([2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0])
    assert np.isnan(found[7:]).all()


def test_a_channel_of_each_pull_lies_on_the_shared_engine_speeds(tmp_path: Path) -> None:
    time = np.arange(400) / 20.0
    rpm = np.where(time < 10.0, 2000.0 + 400.0 * time, 6000.0 - 400.0 * (time - 10.0))
    table = _table(tmp_path / "t.parquet", time=time, engine_speed=rpm * np.pi / 30.0, duty=rpm / 1e4)
    grid = speeds([(2000.0, 6000.0)])
    (line,) = channel_over_speed(table, "duty", [(0.0, 9.9)], grid) or []
    inside = (grid > 2100.0) & (grid < 5800.0)
    assert line[inside] == pytest.approx(grid[inside] / 1e4, abs=STEP / 1e4)
    assert channel_over_speed(table, "not there", [(0.0, 9.9)], grid) is None
