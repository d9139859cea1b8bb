"""A case without what was made after a repair: names, and texts that stay as they were before."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from tests.unit.small_car import small_car

from boostproof.casefolder import read_case
from boostproof.casefolder.edit_pulls import with_columns
from boostproof.casefolder.left_out import LeftOut, left_out_of, made_after, names_in
from boostproof.casefolder.left_out_texts import (
    car_without,
    empty,
    pulls_without,
    readings_without,
)
from boostproof.casefolder.readings_edit import add_reading, readings_in
from boostproof.casefolder.toml_file import toml_rows
from boostproof.errors import InputError
from boostproof.recording.model import ColumnChoice

FILES = ("recordings/new.csv", "recordings/old.csv")
TRAVEL = {"test": "free-travel", "arm": "swings freely"}
BOOST = {"boost": ColumnChoice("Pressure", "psi", "gauge")}


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
@pytest.mark.parametrize("before", [
    "", "format = 1\n", '# Ours\nformat = 1\n\n[gauge]\nclass = "1.6 %"\n\n[[reading]]\ntest = "seat-leak"\nlight = false\n',
    'format = 1\n\n[[reading]]\ntest = "seat-leak"\n\n',
])  # fmt: skip
def test_a_reading_that_was_added_and_is_left_out_gives_the_text_from_before(before: str, ends: str) -> None:
    text = before.replace("\n", ends)
    with_it = add_reading(text, {**TRAVEL, "vent": {"held": "12 mm"}})
    assert with_it != text
    got = readings_without(with_it, LeftOut(readings=("free-travel#1",)))
    assert got == (text or "format = 1\n")
    twice = add_reading(add_reading(with_it, TRAVEL), {"test": "cold-look"})
    assert readings_without(twice, LeftOut(readings=("free-travel#1", "free-travel#2", "cold-look#1"))) == got
    assert empty(got) is (before in ("", "format = 1\n"))


def test_a_reading_in_the_middle_goes_with_its_tables_and_no_other() -> None:
    text = 'format = 1\n'
    for row in (TRAVEL, {"test": "actuator-sweep", "leak": {"start": "10 psi"}}, {"test": "free-travel", "arm": "binds"}):
        text = add_reading(text, row)
    got = readings_without(text, LeftOut(readings=("actuator-sweep#1",)))
    assert [r["arm"] for r in readings_in(got)] == ["swings freely", "binds"]
    assert "leak" not in got
    assert readings_in(readings_without(text, LeftOut(readings=("free-travel#2",)))) == readings_in(text)[:2]


def test_a_pull_among_the_readings_goes_with_its_recording() -> None:
    text = add_reading(add_reading("", TRAVEL), {"test": "spring-only-pull", "recording": FILES[0]})
    assert [r["test"] for r in readings_in(readings_without(text, LeftOut(recordings=FILES[:1])))] == ["free-travel"]


def test_what_is_said_of_a_recording_goes_and_leaves_the_text_from_before() -> None:
    before = with_columns("", FILES[1], BOOST)
    assert pulls_without(with_columns(before, FILES[0], BOOST), LeftOut(recordings=FILES[:1])).strip() == before.strip()
    inline = 'recording = [{ file = "recordings/new.csv" }, { file = "recordings/old.csv" }]\nformat = 1\n'
    assert tomllib.loads(pulls_without(inline, LeftOut(recordings=FILES[:1])))["recording"] == [{"file": FILES[1]}]


def test_what_was_tried_loses_only_the_recording() -> None:
    text = small_car('[[history.tried]]\nwhat = "spring"\nbefore = "recordings/old.csv"\nafter = "recordings/new.csv"\n')
    got = tomllib.loads(car_without(text, LeftOut(recordings=FILES[:1])))
    assert got["history"]["tried"] == [{"what": "spring", "before": "recordings/old.csv"}]
    assert car_without(text, LeftOut(recordings=("recordings/other.csv",))) == text


def test_names_mean_recordings_and_readings() -> None:
    names = names_in([TRAVEL, TRAVEL])
    assert left_out_of(["new", "recordings/old.csv", "free-travel#2", "new.csv"], FILES, names) == LeftOut(
        FILES, ("free-travel#2",)
    )
    some = left_out_of(["old.csv#2", "recordings/old.csv#4-5", "old#7-"], FILES, names)
    assert some.names == ("recordings/old.csv#2, 4-5, 7-",) and left_out_of(some.names, FILES, names) == some
    assert left_out_of(["old.csv#2", "old.csv"], FILES, names) == LeftOut(FILES[1:])
    assert left_out_of(["odd#2.csv"], ["recordings/odd#2.csv"], ()).recordings == ("recordings/odd#2.csv",)
    for wrong, says in (
        ("third.csv", "no recording"), ("free-travel#3", "no reading"), ("new.csv#0", "no recording"),
        ("new.csv#5-3", "no recording"), ("third.csv#2", "no recording"),
    ):  # fmt: skip
        with pytest.raises(InputError, match=says):
            left_out_of([wrong], FILES, names)


def test_a_case_read_without_them_is_the_case_from_before(tmp_path: Path) -> None:
    for name in ("before", "now"):
        (tmp_path / name / "recordings").mkdir(parents=True)
        (tmp_path / name / "car.toml").write_text(small_car(), encoding="utf-8")
        (tmp_path / name / "recordings" / "old.csv").write_text("time,rpm\n0,1\n", encoding="utf-8")
        (tmp_path / name / "readings.toml").write_text(add_reading("", TRAVEL), encoding="utf-8")
    now = tmp_path / "now"
    (now / "recordings" / "new.csv").write_text("time,rpm\n0,2\n", encoding="utf-8")
    (now / "recordings" / "dyno.csv").write_text("time,rpm\n0,3\n", encoding="utf-8")
    (now / "readings.toml").write_text(add_reading(add_reading("", TRAVEL), TRAVEL), encoding="utf-8")
    (now / "pulls.toml").write_text(
        'format = 1\n[[recording]]\nfile = "recordings/new.csv"\njoined_with = ["recordings/dyno.csv"]\n', encoding="utf-8"
    )
    got, before = read_case(now, without=["new.csv", "free-travel#2"]), read_case(tmp_path / "before")
    assert got.content_hash == before.content_hash != read_case(now).content_hash
    assert [r.name for r in got.recordings] == ["old.csv"]
    assert got.readings.reading == before.readings.reading and not got.pulls.recording
    assert got.left_out == LeftOut(("recordings/new.csv", "recordings/dyno.csv"), ("free-travel#2",))
    assert not [f for f in got.findings if f.kind == "left-aside"]
    with pytest.raises(InputError, match="no recording"):
        read_case(now, without=["none.csv"])


@pytest.mark.parametrize(("before", "after", "left"), [
    (["both.csv#1"], ["both.csv#2"], ["both.csv#2-"]),
    (["both.csv#1-2"], ["both.csv#4"], ["both.csv#3-"]),  # of the third nobody said anything
    (["both.csv#1", "both.csv#6"], ["both.csv#4"], ["both.csv#2-5, 7-"]),
    (["both.csv#1", "both.csv#4"], ["both.csv#3"], ["both.csv#2-3, 5-"]),
    (["both.csv"], ["both.csv#3"], ["both.csv#3-"]),
    (["both.csv#1"], ["both.csv"], ["both.csv#2-"]),
    (["both.csv"], ["both.csv"], []),
    (["both.csv#3"], ["both.csv#1"], ["both.csv#1-2, 4-"]),
    (["old.csv"], ["new.csv#2"], ["new.csv"]),
])  # fmt: skip
def test_the_repair_lies_before_the_first_pull_from_after_it(before: list[str], after: list[str], left: list[str]) -> None:
    assert list(made_after(before, after).names) == left


def test_a_pull_between_the_two_sides_is_of_neither() -> None:
    found = made_after(["both.csv#1-2", "old.csv#1"], ["both.csv#5", "new.csv#2"])
    assert found.names == ("new.csv", "both.csv#3-") and found.since.names == ("new.csv", "both.csv#5-")
    assert [n for n in range(1, 8) if n in found.between_of("both.csv")] == [3, 4]
    assert not found.between_of("old.csv") and not found.since.between
    assert not made_after(["both.csv#3"], ["both.csv#1"]).between  # none was named before the first from after


@pytest.mark.parametrize("text", [
    "", "format = 1\n",
    '# Ours\nformat = 1\n\n[[recording]]\nfile = "recordings/old.csv"  # windy\ngear = 4\n[recording.channels]\n'
    'boost = "P2"\n'
    '\n[[recording]]\nfile = "recordings/new.csv"\n',
    'recording = [{ file = "recordings/old.csv" }]\nformat = 1\n',
])  # fmt: skip
def test_pulls_that_are_left_out_stand_in_what_is_said_of_their_recording(text: str) -> None:
    got = pulls_without(text, left_out_of(["old.csv#3-5"], FILES, ()))
    rows = {row["file"]: row for row in toml_rows(got, "recording")}
    assert rows[FILES[1]]["after_repair"] == "3-5"
    before = {row["file"]: row for row in toml_rows(text, "recording")}
    assert {file: {k: v for k, v in row.items() if k != "after_repair"} for file, row in rows.items()} == (
        before or {FILES[1]: {"file": FILES[1]}}
    )
    for line in text.splitlines():
        assert line in got or "{" in line


def test_rows_of_a_text_that_is_no_toml_are_left_to_whoever_reads_it() -> None:
    assert toml_rows("[[recording\n", "recording") == [] == toml_rows("recording = 3\n", "recording")
    assert toml_rows('recording = [1, { file = "a" }]\n', "recording") == [{}, {"file": "a"}]
    broken = LeftOut(FILES[:1], ("free-travel#1",))
    assert not empty("[[reading\n")
    assert [f("[[x\n", broken) for f in (car_without, pulls_without, readings_without)] == ["[[x\n"] * 3
