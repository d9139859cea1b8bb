"""Comparison of pulls: curves drawn with known scatter, so that rates and sizes have a truth of their own."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import drawn_pull, drawn_set

from boostproof.errors import InputError
from boostproof.recording import Barometer, Pull
from boostproof.recording.model import Samples
from boostproof.recording.pulls.comparison import COVERAGE, compare, hysteresis
from boostproof.recording.pulls.curve import curve_of
from boostproof.recording.pulls.scatter import USUAL_SCATTER, repeats, scatter


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def rate(count: int, pulls: tuple[int, int], shift: float = 0.0, **how: float) -> float:
    """Share of comparisons that say different."""
    found = 0
    for seed in range(count):
        draw = np.random.default_rng([7, seed])
        before = drawn_set(draw, pulls[0], **how)
        found += compare(before, drawn_set(draw, pulls[1], shift=shift, **how)).verdict == "different"
    return found / count


@pytest.mark.parametrize(("pulls", "count"), [((1, 1), 60), ((2, 1), 70), ((3, 3), 70)])
def test_cars_that_nobody_touched_are_seldom_called_different(pulls: tuple[int, int], count: int) -> None:
    # 5 % of 70 are 3.5; more than 8 would come up in one of fifty runs of a rate of 5 %.
    assert rate(count, pulls) <= 8 / count


def test_what_was_changed_is_found_and_its_size_is_right() -> None:
    assert rate(25, (3, 3), shift=12.0) >= 0.9
    before, after = drawn_set(rng(3), 4, scatter=1.0), drawn_set(rng(4), 4, scatter=1.0, shift=-14.0)
    result = compare(before, after)
    assert result.verdict == "different" and result.p_value < 0.01
    assert result.mean_difference.value == pytest.approx(-14.0, abs=2.0)
    assert np.all(result.band_low < -14.0 + 1.5) and np.all(result.band_high > -14.0 - 1.5)
    assert "lower" in result.says and "rpm" in result.says
    assert result.spans[0].rpm_to - result.spans[0].rpm_from > 3500.0


def test_the_band_holds_the_truth_all_along_the_curve() -> None:
    inside = 0
    for seed in range(40):
        draw = np.random.default_rng([9, seed])
        result = compare(drawn_set(draw, 3), drawn_set(draw, 3, shift=6.0))
        inside += bool(np.all((result.band_low <= 6.0) & (result.band_high >= 6.0)))
    assert inside / 40 >= COVERAGE - 0.05


def test_a_difference_in_part_of_the_range_is_placed_there() -> None:
    before, after = drawn_set(rng(5), 4, scatter=0.8), drawn_set(rng(6), 4, scatter=0.8, creep=8.0)
    result = compare(before, after)
    assert result.verdict == "different"
    span = max(result.spans, key=lambda s: s.rpm_to - s.rpm_from)
    # The knee of both lies at 3400 rpm; from there one of them creeps by 8 kPa per 1000 rpm.
    assert 3500.0 < span.rpm_from < 4400.0 and span.rpm_to > 6200.0
    assert f"{span.rpm_from:,.0f} to {span.rpm_to:,.0f} rpm" in result.says


def test_repeats_turn_cannot_tell_into_an_answer() -> None:
    alone = compare(drawn_set(rng(8), 1, scatter=1.0), drawn_set(rng(9), 1, scatter=1.0))
    assert alone.verdict == "cannot tell"
    assert alone.scatter.sd == USUAL_SCATTER and alone.scatter.repeats == 0
    assert [f.kind for f in alone.findings] == ["scatter-not-known"]
    assert "common practice, no source" in alone.findings[0].says
    often = compare(drawn_set(rng(8), 5, scatter=1.0), drawn_set(rng(9), 5, scatter=1.0))
    assert often.verdict == "no different" and often.findings == ()
    assert often.tells_from < 0.5 * alone.tells_from
    assert "no difference of 7 kPa" in often.says


def test_scatter_that_was_seen_goes_before_the_usual_one() -> None:
    calm = compare(drawn_set(rng(1), 6, scatter=0.5), drawn_set(rng(2), 6, scatter=0.5))
    wild = compare(drawn_set(rng(1), 6, scatter=7.0), drawn_set(rng(2), 6, scatter=7.0))
    assert calm.scatter.sd < 0.7 * USUAL_SCATTER and 4.0 < wild.scatter.sd < 8.0
    # Ten repeats and the usual scatter counted as four.
    assert calm.scatter.degrees == 14.0


def test_another_sensor_costs_its_offset() -> None:
    before, after = drawn_set(rng(1), 3), drawn_set(rng(2), 3)
    same, other = compare(before, after), compare(before, after, same_sensor=False)
    middle = len(same.rpm) // 2
    # Two offsets of 2 kPa each, in quadrature with the rest.
    assert other.sd_point[middle] ** 2 - same.sd_point[middle] ** 2 == pytest.approx(8.0, abs=0.1)


def test_the_barometer_counts_only_where_the_reference_needs_it() -> None:
    def sd(reference: str, first: Barometer, second: Barometer) -> float:
        before = drawn_set(rng(1), 3, reference=reference, barometer=first)
        after = drawn_set(rng(2), 3, reference=reference, barometer=second)
        return float(compare(before, after).sd_point[40])

    key_on, logged = Barometer(99e3, 1500.0, "key-on"), Barometer(98e3, 300.0, "logged")
    gauge, absolute = sd("gauge", key_on, logged), sd("abs", key_on, logged)
    # Three recordings of 1.5 kPa and three of 0.3 kPa: (1.5^2 + 0.3^2) / 3.
    assert absolute**2 - gauge**2 == pytest.approx((2.25 + 0.09) / 3.0, abs=0.01)
    given = Barometer(99e3, 300.0, "given")
    assert sd("abs", given, given) ** 2 - gauge**2 == pytest.approx(2.0 * 0.8**2, abs=0.01)


def test_a_delay_that_both_share_cancels() -> None:
    on_time, late = drawn_set(rng(1), 3, scatter=0.3), drawn_set(rng(1), 3, scatter=0.3, delay=0.2)
    both = compare(late, drawn_set(rng(2), 3, scatter=0.3, delay=0.2))
    assert both.verdict != "different"
    # Late by 0.2 s at 500 rpm/s is 100 rpm: where boost rises by 60 kPa per 1000 rpm, that is 6 kPa.
    shifted = compare(on_time, late)
    rising = (shifted.rpm > 2900.0) & (shifted.rpm < 3300.0)
    assert shifted.difference[rising].mean() == pytest.approx(-7.0, abs=2.0)
    slow = compare(on_time, late, same_sensor=False).sd_point
    assert slow[rising].mean() > shifted.sd_point[rising].mean()


def test_two_runs_alone_are_held_against_the_measurement() -> None:
    first, second = drawn_pull(rng(1), scatter=0.0), drawn_pull(rng(2), scatter=0.0)
    assert hysteresis(first, second).verdict == "no different"
    lower = drawn_pull(rng(2), scatter=0.0, shift=-4.0)
    result = hysteresis(first, lower)
    assert result.verdict == "different" and result.scatter.sd == 0.0
    assert "the second run" in result.says and "lower" in result.says


def test_a_falling_sweep_is_turned_round() -> None:
    up = drawn_pull(rng(1), scatter=0.0)
    channels = {
        name: replace(c, values=c.values[::-1].copy()) for name, c in up.recording.channels.items()
    }
    down = replace(
        up, recording=replace(up.recording, channels=channels), rpm_from=up.rpm_to, rpm_to=up.rpm_from
    )
    there, back = curve_of(up), curve_of(down)
    grid = np.arange(2500.0, 6300.0, 50.0)
    assert np.abs(there.at(grid) - back.at(grid)).max() < 0.6
    assert back.ramp == pytest.approx(500.0, rel=0.02)


def test_the_sensors_own_time_base_goes_before_the_rows() -> None:
    pull = drawn_pull(rng(1), rate=5.0, scatter=0.0)
    fast = np.arange(0.0, pull.to_s, 0.01)
    values = 1e3 * np.where(fast < 4.0, 20.0 * fast, 80.0)
    boost = replace(pull.recording.channels["boost"], samples=Samples(fast, values))
    recording = replace(pull.recording, channels={**pull.recording.channels, "boost": boost})
    curve = curve_of(replace(pull, recording=recording))
    assert len(curve.boost) == len(fast)
    assert curve.at(np.array([3000.0, 5000.0])) == pytest.approx([40.0, 80.0], abs=0.5)


def test_a_curve_ends_where_the_sensor_does() -> None:
    pull = drawn_pull(rng(1), creep=10.0)
    boost = pull.recording.channels["boost"]
    clipped = replace(boost, values=np.minimum(boost.values, 100e3))
    recording = replace(pull.recording, channels={**pull.recording.channels, "boost": clipped})
    # 90 kPa at 3400 rpm and 10 kPa more in each 1000 rpm: at its end by 4400 rpm.
    assert 4000.0 < curve_of(replace(pull, recording=recording)).last < 4700.0


def test_what_makes_pulls_unlike_is_said() -> None:
    slow, fast = drawn_set(rng(1), 2), drawn_set(rng(2), 2, ramp=900.0)
    assert [f.kind for f in compare(slow, fast).findings] == ["ramps-differ"]
    cold = drawn_set(rng(1), 2, more={"intake_temperature": np.full(176, 293.0)})
    hot = drawn_set(rng(2), 2, more={"intake_temperature": np.full(176, 320.0)})
    (finding,) = compare(cold, hot).findings
    assert finding.kind == "air-differs" and "27 K hotter" in finding.says


def test_what_cannot_be_compared_is_refused() -> None:
    low, high = drawn_set(rng(1), 1, rpm_to=4000.0), drawn_set(rng(2), 1, rpm_from=3600.0)
    with pytest.raises(InputError, match="less than 500 rpm in common"):
        compare(low, high)
    with pytest.raises(InputError, match="not at full load"):
        compare([replace(low[0], full_load=False)], high)
    with pytest.raises(InputError, match="One pull alone"):
        repeats(low)


def test_scatter_is_what_was_drawn() -> None:
    found = scatter(drawn_set(rng(4), 30, scatter=3.0, noise=0.2))
    above = found.rpm > 3600.0
    assert found.sd[above].mean() == pytest.approx(3.0, abs=0.6)
    assert found.pairs == 30 * 29 // 2


def test_drift_with_heat() -> None:
    def soaked(drift: float, seed: int) -> list[Pull]:
        draw = rng(seed)
        return [drawn_pull(draw, scatter=0.6, shift=drift * i) for i in range(5)]

    still, drifting = repeats(soaked(0.0, 3)), repeats(soaked(-3.0, 3))
    drift, spread = drifting.metrics["repeat_drift_kpa"], drifting.metrics["repeat_scatter_kpa"]
    assert drift is not None and spread is not None
    assert drift.value == pytest.approx(-3.0, abs=0.6) and spread.value < 1.2
    assert f"falls by {-drift.value:.1f} kPa" in drifting.says and "no drift" in still.says
    assert json.loads(json.dumps(drifting.as_json()))["pulls"] == 5


def test_the_answer_is_plain_json_and_always_the_same() -> None:
    before, after = drawn_set(rng(1), 2), drawn_set(rng(2), 1, shift=30.0)
    first, again = (json.dumps(compare(before, after).as_json(), allow_nan=False) for _ in range(2))
    assert first == again
    answer = json.loads(first)
    assert answer["verdict"] == "different" and len(answer["rpm"]) == len(answer["band_low_kpa"])
