"""What car.toml says was made after a part was tried is of another car, unless nothing changed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import drawn_pull, drive_around
from tests.unit.small_car import small_car

from boostproof.casefolder.left_out import told_of
from boostproof.errors import InputError
from boostproof.recording.pull_numbers import pull_numbers
from boostproof.workflows.driven import read_driven
from boostproof.workflows.open_case import read_as_found
from boostproof.workflows.plan_driven import only_after


@pytest.mark.parametrize(
    ("result", "left"),
    [("cured", ["old.csv"]), ("worse", ["old.csv"]), ("no change", ["new.csv", "old.csv"]), (None, ["new.csv", "old.csv"])],
)
def test_a_part_that_was_tried(tmp_path: Path, result: str | None, left: list[str]) -> None:
    said = "" if result is None else f'result = "{result}"\n'
    tried = f'[[history.tried]]\nwhat = "spring"\n{said}before = "recordings/old.csv"\nafter = ["recordings/new.csv"]\n'
    (tmp_path / "recordings").mkdir()
    (tmp_path / "car.toml").write_text(small_car(tried), encoding="utf-8")
    for name in ("old", "new"):
        (tmp_path / "recordings" / f"{name}.csv").write_text("time,rpm\n0,1\n", encoding="utf-8")
    found = read_as_found(tmp_path)
    assert [path.name for path in found.recordings] == left
    told = told_of(found.left_out)
    assert [(f.kind, f.where) for f in told] == ([] if len(left) == 2 else [("left-out-tried", "new.csv")])
    assert all("car.toml says" in f.says and 'result = "no change"' in f.do for f in told)
    assert found.car.history is not None and len(found.car.history.tried) == 1  # the trial itself is evidence
    alone = read_as_found(tmp_path, without=["old.csv"])
    assert [path.name for path in alone.recordings] == ["new.csv"]
    named = told_of(read_as_found(tmp_path, without=["new.csv"]).left_out)
    assert [f.says for f in named] == ["1 recording made after the repair is left out of the ranking."]


LEVELS = (20.0, 20.0, 5.0, 5.0)  # kPa above the target, pull by pull; the repair lies before the third


@pytest.fixture(scope="module")
def both_sides(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One recording with pulls of before and after a repair, each at a level of its own."""
    folder = tmp_path_factory.mktemp("both")
    (folder / "recordings").mkdir()
    (folder / "car.toml").write_text(small_car(), encoding="utf-8")
    rows, now = ["time (s),engine speed (rpm),throttle (%),boost gauge (kPa)"], 0.0
    for seed, over in enumerate(LEVELS):
        rng = np.random.default_rng(seed)
        for rpm, opening, boost, _ in drive_around(rng, drawn_pull(rng, scatter=0.2, shift=over), 300.0):
            rows.append(f"{now:.2f},{rpm:.0f},{opening},{boost:.2f}")
            now += 0.05
    (folder / "recordings" / "both.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def test_pulls_from_after_the_repair_do_not_count_and_the_earlier_ones_do(both_sides: Path) -> None:
    every, _ = read_driven(read_as_found(both_sides))
    assert [len(item.pulls) for item in every] == [4]
    for name in ("both.csv#3-4", "recordings/both.csv#3-"):
        found = read_as_found(both_sides, without=[name])
        driven, told = read_driven(found)
        assert [p.as_json() for p in driven[0].pulls] == [p.as_json() for p in every[0].pulls[:2]]
        assert [f.says for f in told if f.kind == "left-out"] == [
            "2 of its 4 pulls, made after the repair, are left out of the ranking."
        ]
        since, _ = read_driven(only_after(read_as_found(both_sides), found.left_out))
        assert [p.as_json() for p in since[0].pulls] == [p.as_json() for p in every[0].pulls[2:]]
        third = (("recordings/both.csv", pull_numbers("3")),)  # nobody knows which side it is of
        since, _ = read_driven(only_after(read_as_found(both_sides), replace(found.left_out, between=third)))
        assert [p.as_json() for p in since[0].pulls] == [p.as_json() for p in every[0].pulls[3:]]
    with pytest.raises(InputError, match="has no pull 5; it holds 4 pulls"):
        read_driven(read_as_found(both_sides, without=["both.csv#2", "both.csv#5"]))
    with pytest.raises(InputError, match="holds no recording"):
        read_driven(read_as_found(both_sides, without=["both.csv#1-"]))


def test_pulls_toml_says_where_the_repair_lies(both_sides: Path) -> None:
    (both_sides / "pulls.toml").write_text(
        'format = 1\n[[recording]]\nfile = "recordings/both.csv"\nafter_repair = "3-"\n', encoding="utf-8"
    )
    try:
        told = read_as_found(both_sides)
        assert told.left_out.names == ("recordings/both.csv#3-",)
        assert [len(item.pulls) for item in read_driven(told)[0]] == [2]
        more = read_as_found(both_sides, without=["both.csv#2"])
        assert more.left_out.pulls == (("recordings/both.csv", pull_numbers("2-")),)
    finally:
        (both_sides / "pulls.toml").unlink()
    assert told.content_hash == read_as_found(both_sides, without=["both.csv#3-"]).content_hash
    assert len({told.content_hash, more.content_hash, read_as_found(both_sides).content_hash}) == 3


def test_pulls_of_a_file_that_is_read_with_another_are_named_by_that(both_sides: Path, tmp_path: Path) -> None:
    (tmp_path / "recordings").mkdir()
    (tmp_path / "car.toml").write_text(small_car(), encoding="utf-8")
    for name in ("both", "dyno"):
        (tmp_path / "recordings" / f"{name}.csv").write_text("time,rpm\n0,1\n", encoding="utf-8")
    (tmp_path / "pulls.toml").write_text(
        'format = 1\n[[recording]]\nfile = "recordings/both.csv"\njoined_with = "recordings/dyno.csv"\n', encoding="utf-8"
    )
    with pytest.raises(InputError, match="no pulls of its own") as wrong:
        read_as_found(tmp_path, without=["dyno.csv#2"])
    assert wrong.value.do == "Name them as recordings/both.csv#2."


def test_holes_in_pulls_that_are_left_out_are_not_told(both_sides: Path, tmp_path: Path) -> None:
    whole = (both_sides / "recordings" / "both.csv").read_text(encoding="utf-8").splitlines()
    times = [(p.from_s, p.to_s) for p in read_driven(read_as_found(both_sides))[0][0].pulls]
    start = 0.5 * sum(times[3]) - 1.0  # in the last pull

    def kept(row: str) -> bool:
        return not start < float(row.split(",")[0]) < start + 2.0

    (tmp_path / "recordings").mkdir()
    (tmp_path / "car.toml").write_text(small_car(), encoding="utf-8")
    rows = [whole[0], *filter(kept, whole[1:])]
    (tmp_path / "recordings" / "both.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    for without, told in (((), 1), (("both.csv#4-",), 0)):
        _, findings = read_driven(read_as_found(tmp_path, without=without))
        assert sum(f.kind == "gap-in-log" for f in findings) == told
