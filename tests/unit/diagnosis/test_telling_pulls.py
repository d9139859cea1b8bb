"""Pulls that only repeat another are left out; what differs is kept, with all that was driven between."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from boostproof.bench.set_ups import GATE_HELD_OPEN
from boostproof.diagnosis.evidence.configurations import AS_FOUND, Configuration
from boostproof.diagnosis.evidence.drive import Driven
from boostproof.diagnosis.evidence.telling_pulls import telling
from boostproof.recording.model import Barometer, Channel, Pull, Recording
from boostproof.recording.pulls.held import Held

RPM = np.pi / 30.0
RATE, ROWS, REST = 50.0, 300, 100  # samples a second, of a pull, and of the cruise before it
KPA = 1.0e3
Array = np.ndarray
Boost = Callable[[Array], Array]  # share of the way from 2000 to 6600 rpm -> Pa gauge


def usual(level: float = 90.0, late: float = 0.0) -> Boost:
    """Boost that comes up over the first fifth of a pull and stays."""
    return lambda x: level * KPA * np.clip((x - late) / 0.2, 0.0, 1.0)


def with_tail(fall: float) -> Boost:
    """As usual, and falling off above two thirds of the way."""
    return lambda x: usual()(x) - fall * KPA * np.clip((x - 0.66) / 0.34, 0.0, 1.0)


def dip(depth: float, at: float) -> Boost:
    """As usual but for some 250 rpm."""
    return lambda x: usual()(x) - depth * KPA * (np.abs(x - at) < 0.03)


def log_of(boosts: Sequence[Boost], tops: Sequence[float] | None = None) -> Driven:
    """A recording with one pull per curve, each up to 6600 rpm or where ``tops`` ends it."""
    speed, boost, pulls = [], [], []
    for number, curve in enumerate(boosts):
        top = 6600.0 if tops is None else tops[number]
        own = np.linspace(2003.0, top, ROWS)
        speed += [np.full(REST, 2003.0), own]
        boost += [np.zeros(REST), curve((own - 2003.0) / 4597.0)]
        start = number * (REST + ROWS) + REST
        pulls.append((start, start + ROWS, top))
    rpm = np.concatenate(speed)
    channels = {
        "engine_speed": Channel("engine_speed", "rpm", "rad/s", None, 1.0, "made", 0, rpm * RPM),
        "boost": Channel("boost", "boost", "Pa", "gauge", 1.0, "made", 0, np.concatenate(boost)),
    }
    time = np.arange(len(rpm)) / RATE
    recording = Recording("log.csv", "csv", len(rpm), RATE, time, channels, barometer=Barometer(1e5, 50.0, "given"))
    made = tuple(
        Pull(recording, a, b, float(time[a]), float(time[b - 1]), 2003.0, top, True, "end of file", {}) for a, b, top in pulls
    )
    return Driven(recording, made)


def kept(driven: Driven) -> list[int]:
    """Numbers of the pulls that are kept."""
    (out,) = telling([driven])
    assert out.recording is driven.recording
    return [driven.pulls.index(p) for p in out.pulls]


# -- repeats ------------------------------------------------------------------------------------------------------


def test_of_six_pulls_alike_two_are_kept() -> None:
    assert kept(log_of([usual()] * 6)) == [4, 5]


def test_small_differences_are_repeats() -> None:
    """2 kPa in level, and when it came up: what was before the pull decides that."""
    assert kept(log_of([usual(88.0), usual(late=0.1), usual(91.0), usual(), usual()])) == [3, 4]


def test_two_pulls_or_one_are_never_cut() -> None:
    assert kept(log_of([usual(), usual()])) == [0, 1]
    assert kept(log_of([usual(40.0), usual(90.0)])) == [0, 1]
    assert kept(log_of([usual()])) == [0]


def test_the_pull_that_went_highest_is_always_kept() -> None:
    assert kept(log_of([usual()] * 5, tops=[6000, 6600, 6000, 6000, 6000])) == [0, 1]
    assert kept(log_of([usual()] * 5, tops=[6000, 6000, 6000, 6600, 6000])) == [2, 3]
    assert kept(log_of([usual()] * 5, tops=[6600, 6000, 6000, 6000, 6000])) == [0, 1]


# -- differences ----------------------------------------------------------------------------------------------------


def test_a_first_pull_that_differs_is_kept_with_all_between() -> None:
    """What is trapped in one pull shapes the next, so that none between is left out."""
    assert kept(log_of([usual(80.0), usual(), usual(), usual(), usual()])) == [0, 1, 2, 3, 4]


def test_five_kilopascal_all_along_differ() -> None:
    assert kept(log_of([usual(85.0), *[usual()] * 4])) == [0, 1, 2, 3, 4]


def test_pulls_before_the_first_that_differs_are_left_out() -> None:
    assert kept(log_of([usual(), usual(), usual(80.0), usual(), usual()])) == [2, 3, 4]


def test_a_later_pull_that_differs_is_kept() -> None:
    tops = [6000, 6600, 6000, 6000, 6000]
    assert kept(log_of([usual(), usual(), usual(), usual(78.0), usual()], tops)) == [0, 1, 2, 3]


def test_two_kinds_of_pulls_need_one_of_each() -> None:
    """The nearer of two that are alike is enough."""
    assert kept(log_of([usual(80.0), usual(80.0), usual(), usual()])) == [1, 2, 3]


@pytest.mark.parametrize(("fall", "numbers"), [(2.0, [3, 4]), (12.0, [0, 1, 2, 3, 4])])
def test_boost_that_falls_off_once(fall: float, numbers: list[int]) -> None:
    assert kept(log_of([with_tail(fall), *[usual()] * 4])) == numbers


@pytest.mark.parametrize(("depth", "numbers"), [(5.0, [3, 4]), (9.0, [0, 1, 2, 3, 4])])
def test_a_dip_in_one_bin(depth: float, numbers: list[int]) -> None:
    """Over all bins either is under 3 kPa root mean square; in one bin 9 kPa is too much."""
    assert kept(log_of([dip(depth, (5125.0 - 2003.0) / 4597.0), *[usual()] * 4])) == numbers


def test_pulls_that_reached_other_speeds_both_count() -> None:
    """A pull that shows speeds which another did not is no repeat of it."""
    low = log_of([usual()] * 4, tops=[6600, 5000, 5000, 5000])
    assert kept(low) == [0, 1]  # the shorter ones show nothing more
    # with nothing logged of a pull there is nothing in it that differs
    blank = log_of([usual()] * 4)
    values = blank.recording.channels["boost"].values
    values[blank.pulls[0].start : blank.pulls[0].stop] = np.nan
    assert kept(blank) == [2, 3]


# -- what stays whole -----------------------------------------------------------------------------------------------------


def test_other_set_ups_stay_whole() -> None:
    floor = Configuration("gate held open", GATE_HELD_OPEN)
    found, changed = log_of([usual()] * 5), log_of([usual()] * 5)._replace(configuration=floor)
    first, second = telling([found, changed])
    assert len(first.pulls) == 2 and first.configuration is AS_FOUND
    assert second is changed


def test_a_recording_with_openings_at_a_held_speed_stays_whole() -> None:
    driven = log_of([usual()] * 5)._replace(held=(Held(0, 40, 0.0, 0.8),))
    assert telling([driven]) == [driven]


def test_recordings_are_judged_one_by_one_in_their_order() -> None:
    short, other = log_of([usual(60.0)] * 2), log_of([usual(), usual(), usual(70.0), usual()])
    assert [[d.pulls.index(p) for p in o.pulls] for d, o in zip((short, other), telling([short, other]), strict=True)] == [
        [0, 1],
        [2, 3],
    ]
