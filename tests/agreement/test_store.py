"""Kept draws: the same answer, faster; never a stale one; safe to delete."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

import numpy as np
import pytest

from boostproof.demo import write_demo_case
from boostproof.workflows import store
from boostproof.workflows.diagnose import diagnose
from boostproof.workflows.first_look import FirstRanking


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "draws"
    folder.mkdir()
    monkeypatch.setattr(store, "_folder", lambda: folder)
    monkeypatch.setattr(store, "_memory", store.OrderedDict())
    return folder


def test_second_time_from_disk_gives_the_same(tmp_path: Path, own_cache: Path) -> None:
    case = write_demo_case(tmp_path / "case")
    looks: list[FirstRanking] = []
    first = diagnose(case, first_look=looks.append).as_json()
    assert [look.all_pulls for look in looks] == [False, True]
    assert len(list(own_cache.glob("*.npz"))) == 1
    kept = store.about(next(own_cache.glob("*.npz")).stem)
    assert {key: kept[key] for key in first["inputs"]} == first["inputs"]
    assert kept["seed"] == first["seed"] and kept["versions"] == first["versions"]
    store._memory.clear()  # as a new process would start
    second = diagnose(case, first_look=looks.append).as_json()
    assert len(looks) == 2  # what is kept is there at once
    first.pop("seconds"), second.pop("seconds")
    assert second == first
    diagnose(case, seed=2)
    assert len(list(own_cache.glob("*.npz"))) == 2


def test_key_follows_everything_that_decides() -> None:
    keys = {
        store.key_of("a", False, 1),
        store.key_of("b", False, 1),
        store.key_of("a", True, 1),
        store.key_of("a", False, 2),
    }
    assert len(keys) == 4


def test_what_was_made_from_what_is_kept_beside_it() -> None:
    store.keep("k", {"x": np.arange(3.0)}, {"case": "f00d", "seed": 4})
    assert store.about("k") == {"case": "f00d", "seed": 4}
    assert store.about("none") == {}
    store._memory.clear()
    kept = store.recall("k")
    assert kept is not None and list(kept) == ["x"]


def test_key_covers_every_module_that_decides() -> None:
    """Of all modules that a diagnosis loads, those left out of the key only show, keep or time."""
    for name in (
        "casefolder", "diagnosis.inference.posterior", "diagnosis.evidence.setup", "recording.readers", "workflows.driven",
    ):
        importlib.import_module(f"boostproof.{name}")
    loaded = {name for name in sys.modules if name.startswith("boostproof.")}
    covered = tuple(f"boostproof.{name}" for name in store._COMPUTING)
    left_out = {name for name in loaded if not name.startswith(covered)}
    harmless = ("boostproof.demo", "boostproof.report", "boostproof.cli", "boostproof.workflows",
                "boostproof.jobs", "boostproof.web",
                # what is made of a ranking, after it
                "boostproof.repair", "boostproof.pullplan", "boostproof.proof",
                "boostproof.errors", "boostproof.findings", "boostproof.version",
                "boostproof.case_names")  # fmt: skip
    assert {name for name in left_out if not name.startswith(harmless)} == set()


def test_damaged_file_is_computed_again(own_cache: Path) -> None:
    (own_cache / "k.npz").write_bytes(b"not an archive")
    assert store.recall("k") is None
    store.keep("k", {"x": np.arange(3.0)})
    store._memory.clear()
    kept = store.recall("k")
    assert kept is not None and np.array_equal(kept["x"], np.arange(3.0))


def test_oldest_go_first(own_cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "LARGEST", 20_000)
    for i in range(5):
        store.keep(f"k{i}", {"x": np.zeros(1000)})
    assert len(list(own_cache.glob("*.npz"))) == 2
