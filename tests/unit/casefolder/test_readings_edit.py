"""readings.toml added to, changed and cut: what a person wrote stays byte for byte."""

from __future__ import annotations

import tomllib

import pytest

from boostproof.casefolder.readings_edit import (
    add_reading,
    change_reading,
    readings_in,
    remove_reading,
    set_gauge,
)
from boostproof.errors import InputError

WRITTEN = """format = 1   # first version

# the dial by the door
[gauge]
smallest_mark = '2 kPa'

[[reading]]
test = "cold-look"      # nothing to see
hoses = "no damage seen"

[[reading]]
test = "actuator-sweep"
first_movement = "7,5 psi"  # twitch
travel   =   "12 mm"

[reading.leak]
start = "10 psi"
after_10_s = "9 psi"

# one more came later
[[reading]]
test = "sensor-check"
rows = [
  { applied = "0 psi", reads = "99.5 kPa abs" },  # key on
]
"""


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_reading_is_added_behind_all_others(end: str) -> None:
    before = WRITTEN.replace("\n", end)
    row = {
        "test": "controller-vent", "supply": "83 kPa", "heard_at": ["vent", "hose"], "note": 'says "ah" \\ é',
        "rows": [{"turns_in": 0, "loudness": "clear"}, {"turns_in": 2.5}], "vent": {"returned_hose_off": True},
    }  # fmt: skip
    after = add_reading(before, row)
    assert after.startswith(before)
    assert after.replace("\r\n", "").count("\n") == (0 if end == "\r\n" else after.count("\n"))
    assert readings_in(after) == [*readings_in(before), row]


def test_the_first_reading_makes_the_file() -> None:
    assert tomllib.loads(add_reading("", {"test": "seat-leak", "light": False})) == {
        "format": 1, "reading": [{"test": "seat-leak", "light": False}],
    }  # fmt: skip


def test_a_file_without_a_last_line_end_can_be_added_to() -> None:
    assert len(readings_in(add_reading(WRITTEN.rstrip("\n"), {"test": "seat-leak", "light": True}))) == 4


def test_one_value_is_changed_and_nothing_else() -> None:
    row = readings_in(WRITTEN)[1] | {"travel": "11 mm"}
    assert change_reading(WRITTEN, 1, row) == WRITTEN.replace('travel   =   "12 mm"', 'travel   =   "11 mm"')


def test_what_is_no_longer_said_goes_and_what_is_new_stands_above_the_tables() -> None:
    row = {
        "test": "actuator-sweep",
        "travel": "12 mm",
        "state": "cold",
        "leak": {"start": "10 psi", "after_60_s": "8 psi"},
    }
    after = change_reading(WRITTEN, 1, row)
    assert readings_in(after)[1] == row
    assert (
        readings_in(after)[0] == readings_in(WRITTEN)[0] and readings_in(after)[2] == readings_in(WRITTEN)[2]
    )
    for remark in ("# first version", "# the dial by the door", "# nothing to see", "# one more came later"):
        assert remark in after


def test_a_reading_keeps_its_own_gauge_when_it_is_changed() -> None:
    before = 'format = 1\n[[reading]]\ntest = "seat-leak"\nlight = true\n[reading.gauge]\nsmallest_mark = "1 kPa"\n'
    after = readings_in(change_reading(before, 0, {"test": "seat-leak", "light": False, "gap": "0.1 mm"}))[0]
    assert after == {
        "test": "seat-leak",
        "light": False,
        "gap": "0.1 mm",
        "gauge": {"smallest_mark": "1 kPa"},
    }


def test_a_reading_is_taken_out() -> None:
    before = readings_in(WRITTEN)
    after = remove_reading(WRITTEN, 1)
    assert readings_in(after) == [before[0], before[2]]
    assert "# the dial by the door" in after and "# nothing to see" in after
    assert readings_in(remove_reading('format = 1\n[[reading]]\ntest = "seat-leak"\n', 0)) == []


def test_the_gauge_is_written_where_people_look_for_it() -> None:
    after = set_gauge(
        'format = 1\n\n# first\n[[reading]]\ntest = "seat-leak"\n', {"smallest_mark": "0.5 psi"}
    )
    assert (
        after
        == 'format = 1\n\n[gauge]\nsmallest_mark = "0.5 psi"\n\n# first\n[[reading]]\ntest = "seat-leak"\n'
    )
    changed = set_gauge(WRITTEN, {"smallest_mark": "1 kPa", "class": "1.6 %"})
    assert tomllib.loads(changed)["gauge"] == {"smallest_mark": "1 kPa", "class": "1.6 %"}
    assert "# the dial by the door" in changed
    assert "gauge" not in tomllib.loads(set_gauge(WRITTEN, {}))


@pytest.mark.parametrize(
    "text", ['format = 1\nreading = [{test = "seat-leak"}]\n', 'format = 1\n[reading]\ntest = "seat-leak"\n']
)
def test_a_list_in_another_form_is_left_alone(text: str) -> None:
    with pytest.raises(InputError, match="does not list its readings"):
        add_reading(text, {"test": "cold-look"})


def test_a_reading_that_is_not_there_is_said() -> None:
    with pytest.raises(InputError, match="no reading 4"):
        change_reading(WRITTEN, 3, {"test": "cold-look"})
    with pytest.raises(InputError, match="cannot be read"):
        readings_in("format = = 1")
