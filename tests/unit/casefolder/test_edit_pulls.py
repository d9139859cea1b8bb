"""pulls.toml with one thing changed: remarks, order and keys that nobody touched stay."""

from __future__ import annotations

import tomllib

import pytest

from boostproof.casefolder.edit_pulls import (
    with_columns,
    with_excluded,
    with_set_up,
    without_column,
    without_excluded,
    without_recording,
)
from boostproof.errors import InputError
from boostproof.recording.model import ColumnChoice

WRITTEN = """\
# driven on a wet day
format = 1

[[recording]]
file = "recordings/first.csv"   # the long one
gear = 4  # as always

[recording.set_up]
controller = "in"
# the gate was left alone
gate = "controlled"

[[recording]]
# cold engine
file = "recordings/second.csv"
channels = {boost = {column = "P2", unit = "psi"}, throttle = {column = "TP"}}
"""


def _lines_lost(before: str, after: str) -> set[str]:
    return set(before.splitlines()) - set(after.splitlines())


def _entry(text: str, number: int) -> dict[str, object]:
    entry: dict[str, object] = tomllib.loads(text)["recording"][number]
    return entry


def test_a_column_is_named_and_every_line_that_stood_there_stays() -> None:
    after = with_columns(WRITTEN, "recordings/first.csv", {"boost": ColumnChoice("Pressure 2", "kPa", "gauge")})
    assert not _lines_lost(WRITTEN, after)
    assert _entry(after, 0)["channels"] == {"boost": {"column": "Pressure 2", "unit": "kPa", "reference": "gauge"}}


def test_a_later_word_about_a_column_or_the_manifold_takes_the_place_of_the_earlier_one() -> None:
    absolute = with_columns(
        WRITTEN, "recordings/second.csv", {"manifold_pressure": ColumnChoice("P1", "kPa", "abs")}
    )
    assert set(_entry(absolute, 1)["channels"]) == {"throttle", "manifold_pressure"}  # type: ignore[call-overload]
    pedal = with_columns(WRITTEN, "recordings/second.csv", {"pedal": ColumnChoice("TP")})
    assert set(_entry(pedal, 1)["channels"]) == {"boost", "pedal"}  # type: ignore[call-overload]
    assert _lines_lost(WRITTEN, pedal) <= {WRITTEN.splitlines()[-1]}


def test_what_was_said_of_a_column_is_taken_back() -> None:
    named = with_columns(WRITTEN, "recordings/first.csv", {"boost": ColumnChoice("Pressure 2")})
    assert "channels" not in _entry(without_column(named, "recordings/first.csv", "boost"), 0)


def test_the_set_up_is_written_in_words_and_numbers_and_taken_away_where_empty() -> None:
    after = with_set_up(
        WRITTEN,
        "recordings/first.csv",
        {"controller": "bypassed", "gate": "", "turns_in": "2.5", "duty": "40 %", "gear": "3", "note": "windy"},
    )
    entry = _entry(after, 0)
    assert entry["set_up"] == {"controller": "bypassed", "turns_in": 2.5, "duty": "40 %"}
    assert (entry["gear"], entry["note"]) == (3, "windy")
    assert {"# driven on a wet day", "# the gate was left alone", "# cold engine"} <= set(after.splitlines())
    assert "gear = 3  # as always" in after


def test_a_first_word_about_a_recording_makes_the_file() -> None:
    after = with_set_up("", "recordings/new.csv", {"gate": "held open"})
    assert tomllib.loads(after) == {
        "format": 1, "recording": [{"file": "recordings/new.csv", "set_up": {"gate": "held open"}}]
    }  # fmt: skip


def test_stretches_are_left_out_and_taken_in_again() -> None:
    after = with_excluded(WRITTEN, "recordings/first.csv", 3.0, 12.34567, "traffic")
    after = with_excluded(after, "recordings/first.csv", 20.0, 21.0)
    assert _entry(after, 0)["excluded"] == [{"from": 3.0, "to": 12.346, "why": "traffic"}, {"from": 20.0, "to": 21.0}]
    once = without_excluded(after, "recordings/first.csv", 0)
    assert _entry(once, 0)["excluded"] == [{"from": 20.0, "to": 21.0}]
    assert "excluded" not in _entry(without_excluded(once, "recordings/first.csv", 0), 0)


def test_with_its_file_goes_what_was_said_of_a_recording() -> None:
    joined = WRITTEN + 'joined_with = ["recordings/first.csv", "recordings/third.csv"]\n'
    after = without_recording(joined, "recordings/first.csv")
    (entry,) = tomllib.loads(after)["recording"]
    assert (entry["file"], entry["joined_with"]) == ("recordings/second.csv", ["recordings/third.csv"])
    assert "# driven on a wet day" in after and "# cold engine" in after


@pytest.mark.parametrize(
    ("said", "names"),
    [({"duty": "forty"}, "duty"), ({"controller": "sideways"}, "controller"), ({"gear": "25"}, "gear")],
)
def test_a_value_that_is_none_is_answered_and_nothing_is_written(said: dict[str, str], names: str) -> None:
    with pytest.raises(InputError) as error:
        with_set_up(WRITTEN, "recordings/first.csv", said)
    assert names in error.value.says and error.value.do


def test_a_damaged_file_is_not_written_over() -> None:
    with pytest.raises(InputError, match=r"pulls\.toml"):
        with_set_up('[[recording]\nfile = "x"', "recordings/first.csv", {"gate": "controlled"})
