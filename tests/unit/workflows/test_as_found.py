"""What car.toml says was made after a part was tried is of another car, unless nothing changed."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.small_car import small_car

from boostproof.casefolder.left_out import told_of
from boostproof.workflows.open_case import read_as_found


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
    assert [f.says for f in told_of(found.left_out)] == (
        [] if len(left) == 2 else ["1 recording made after the repair is left out of the ranking."]
    )
    assert found.car.history is not None and len(found.car.history.tried) == 1  # the trial itself is evidence
    alone = read_as_found(tmp_path, without=["old.csv"])
    assert [path.name for path in alone.recordings] == ["new.csv"]
