"""Quantities in the shop's units. Expected texts were worked out by hand from the definitions of the units."""

from __future__ import annotations

import pytest

from boostproof.web import shown
from boostproof.web.shown import IMPERIAL, METRIC


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


# 1 psi = 6.894757 kPa; 1 lb = 453.59237 g; 1 lb-ft = 1.355818 N m; 1 hp = 745.7 W
@pytest.mark.parametrize(
    ("function", "value", "imperial", "metric"),
    [
        (shown.kpa, 103.4213594, "15.0 psi", "103 kPa"),
        (shown.kpa_abs, 101.325, "14.7 psi abs", "101 kPa abs"),
        (shown.kpa_difference, 6.894757, "1.0 psi", "7 kPa"),
        (shown.celsius, 37.0, "99 °F", "37 °C"),
        (shown.g_per_s, 7.559873 * 20, "20.0 lb/min", "151 g/s"),
        (shown.mm, 27.25, "27.2 mm", "27.2 mm"),
        (shown.nm, 135.5818, "100 lb-ft", "136 N m"),
        (shown.kw, 74.57, "100 hp", "75 kW"),
        (shown.kpa, None, "–", "–"),
        (shown.kpa, -0.0001, "0.0 psi", "0 kPa"),
        (shown.kpa, -68.94757, "−10.0 psi", "−69 kPa"),
    ],
)
def test_a_quantity_in_both_systems(function, value, imperial, metric) -> None:  # type: ignore[no-untyped-def]
    assert plain(function(value, IMPERIAL)) == imperial
    assert plain(function(value, METRIC)) == metric


def test_a_doubt_is_two_standard_deviations() -> None:
    assert plain(shown.kpa(100.0, METRIC, sd=3.0)) == "100 ± 6 kPa"
    assert plain(shown.celsius(20.0, IMPERIAL, sd=5.0)) == "68 ± 18 °F"  # a doubt knows no zero point


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0 %"), (0.004, "under 1 %"), (0.71, "71 %"), (0.995, "over 99 %"), (1.0, "100 %")]
)
def test_a_share_is_never_quite_nothing_or_everything(value: float, text: str) -> None:
    assert plain(shown.share(value)) == text


@pytest.mark.parametrize(("value", "text"), [(9.6, "10 min"), (90.0, "90 min"), (130.0, "2 h 10 min"), (180.0, "3 h")])
def test_minutes(value: float, text: str) -> None:
    assert plain(shown.minutes(value)) == text


def test_sizes_and_speeds() -> None:
    assert plain(shown.rpm(4210.4)) == "4,210 rpm"
    assert plain(shown.file_size(20_400_000)) == "20 MB"
    assert plain(shown.file_size(1_540)) == "1.5 kB"
