"""Compiled kernels on disk: never stale, never in the way, shared by processes."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from tests.unit.physics import toy_turbo
from tests.unit.physics.kernels import run_python, start_python, toy_candidates, toy_kernel, toy_pull

from boostproof import physics
from boostproof.physics import lanes_cache, lanes_machine, ops
from boostproof.physics.lanes_machine import MachineCode

POSIX = os.name == "posix"

MODEL = """
from boostproof.physics.ops import component
import decay_constants

@component
def slope(y, rate):
    return -decay_constants.FACTOR * rate * y

@component
def step(state, par, inp, h):
    return (state[0] + h * slope(state[0], par[0]),), (state[0],)

@component
def initial(par, inp):
    return (1.0,)
"""

# Says the value after one step of 0.1 s at rate 1, and whether the compiler was needed.
RUN = """
import sys; sys.path.insert(0, sys.argv[1])
import decay
from boostproof.physics.lanes import make_kernel
kernel = make_kernel(decay.step, decay.initial, 1, 1, 1, 1, sources=[sys.argv[1]], name="decay")
out = kernel.run([[1.0]], [[0.0]] * 2, [0.1] * 2, [-1, 0], 1, engine="lanes")
print(round(float(out[0, 0, 0]), 6), int("numba" in sys.modules))
"""


@pytest.fixture
def model(tmp_path):
    """A folder with the text of a small model, constants in a module of their own."""
    folder = tmp_path / "text"
    folder.mkdir()
    (folder / "decay.py").write_text(MODEL)
    (folder / "decay_constants.py").write_text("FACTOR = 1.0\n")
    return folder


def outcome(model: Path, cache: Path, **environment: str | None) -> tuple[float, bool]:
    """Value, and whether it had to be compiled, in a fresh process."""
    # No compiled Python text: within one second an edit of equal length would not be seen by Python itself.
    settings = {"BOOSTPROOF_CACHE": str(cache), "PYTHONDONTWRITEBYTECODE": "1", **environment}
    value, compiled = run_python(RUN, model, **settings).split()
    return float(value), compiled == "1"


def test_an_edited_text_never_answers_from_the_old_kernel(model, tmp_path):
    cache = tmp_path / "cache"
    assert outcome(model, cache) == (0.9, True)
    assert outcome(model, cache) == (0.9, False)  # found on disk

    constants = model / "decay_constants.py"
    constants.write_text("FACTOR = 2.0\n")  # a constant in an imported module
    assert outcome(model, cache) == (0.8, True)

    text = model / "decay.py"
    text.write_text(MODEL.replace("* rate * y", "* rate"))  # a component that step calls
    text.write_text(text.read_text().replace("return (1.0,)", "return (0.5,)"))
    assert outcome(model, cache) == (0.3, True)

    text.write_text(MODEL)
    constants.write_text("FACTOR = 1.0\n")
    assert outcome(model, cache) == (0.9, False)  # the first one is still there


def test_a_damaged_file_is_compiled_again(model, tmp_path):
    cache = tmp_path / "cache"
    assert outcome(model, cache) == (0.9, True)
    (file,) = cache.rglob("*.kernel")
    good = file.read_bytes()
    file.write_bytes(good[:-100])
    assert outcome(model, cache) == (0.9, True)
    assert outcome(model, cache) == (0.9, False)  # and mended


@pytest.mark.parametrize("harm", ["cut short", "emptied", "one bit", "no header", "other text", "not text"])
def test_machine_code_is_only_read_back_unharmed(tmp_path, monkeypatch, harm):
    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path))
    compiled = MachineCode("chunk_x", bytes(range(256)) * 4)
    lanes_machine.store("x", "f" * 64, compiled)
    assert lanes_machine.stored("x", "f" * 64) == compiled
    assert lanes_machine.stored("y", "f" * 64) is lanes_machine.stored("x", "0" * 64) is None
    (file,) = tmp_path.rglob("*.kernel")
    good = file.read_bytes()
    file.write_bytes(
        {
            "cut short": good[:-100],
            "emptied": b"",
            "one bit": good[:-50] + bytes([good[-50] ^ 1]) + good[-49:],
            "no header": good.split(b"\n", 1)[1],
            "other text": good.replace(b'"key": "f', b'"key": "0', 1),
            "not text": b"[1, 2]\n\xff\xfe",
        }[harm]
    )
    assert lanes_machine.stored("x", "f" * 64) is None


def test_machine_code_of_another_machine_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path))
    lanes_machine.store("x", "f" * 64, MachineCode("chunk_x", b"code"))
    monkeypatch.setattr(lanes_machine, "host", lambda: "another processor")
    assert lanes_machine.stored("x", "f" * 64) is None


def test_a_home_that_cannot_be_written_is_no_obstacle(model, tmp_path):
    nowhere = tmp_path / "file"
    nowhere.write_text("a file, so nothing can be made below it, not even by root")
    places: dict[str, str | None] = dict.fromkeys(
        ("HOME", "USERPROFILE", "LOCALAPPDATA", "XDG_CACHE_HOME", "BOOSTPROOF_CACHE"), str(nowhere / "below")
    )
    (tmp_path / "tmp").mkdir()
    places |= dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(tmp_path / "tmp"))
    assert outcome(model, tmp_path, **places) == (0.9, True)
    assert outcome(model, tmp_path, **places) == (0.9, False)
    assert list((tmp_path / "tmp").rglob("*.kernel"))


def test_a_disk_that_fills_up_is_no_obstacle(tmp_path, monkeypatch):
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path))
    monkeypatch.setattr(os, "replace", full)
    kernel = toy_kernel("full_disk")
    assert np.isfinite(kernel.run(toy_candidates(2), *toy_pull(100), engine="lanes")).all()
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []  # nothing half-written stays


def test_processes_may_share_an_empty_cache(model, tmp_path):
    cache = {"BOOSTPROOF_CACHE": str(tmp_path / "cache")}
    both = [start_python(RUN, model, **cache) for _ in range(2)]
    for process in both:
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0, err
        assert float(out.split()[0]) == 0.9
    assert outcome(model, tmp_path / "cache") == (0.9, False)


def test_kernels_of_one_process_do_not_mix_up_what_they_load(model, tmp_path):
    """One is compiled first here, the other comes from disk, where it was compiled first as well."""
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "decay2.py").write_text(MODEL.replace("decay_", "decay2_"))
    (tmp_path / "other" / "decay2_constants.py").write_text("FACTOR = 3.0\n")
    assert outcome(model, tmp_path / "cache") == (0.9, True)
    code = (
        "import sys; sys.path[:0] = sys.argv[1:]\n"
        "import decay, decay2\n"
        "from boostproof.physics.lanes import make_kernel\n"
        "for m in decay2, decay, decay2:\n"
        "    k = make_kernel(m.step, m.initial, 1, 1, 1, 1, sources=[], name='decay')\n"
        "    print(round(float(k.run([[1.0]], [[0.0]] * 2, [0.1] * 2, [-1, 0], 1)[0, 0, 0]), 6))"
    )
    said = run_python(code, model, tmp_path / "other", BOOSTPROOF_CACHE=str(tmp_path / "cache"))
    assert said.split() == ["0.7", "0.9", "0.7"]


# ---------------------------------------------------------------- folder, key, pruning


def test_the_folder_is_the_one_asked_for(tmp_path, monkeypatch):
    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path / "mine"))
    assert lanes_cache.cache_folder() == str(tmp_path / "mine" / "kernels")
    monkeypatch.delenv("BOOSTPROOF_CACHE")
    for name in ("HOME", "USERPROFILE"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    for name in ("XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    folder = Path(lanes_cache.cache_folder())
    assert folder.is_dir() and tmp_path / "home" in folder.parents


@pytest.mark.skipif(not POSIX, reason="file modes of POSIX")
def test_a_folder_that_others_may_write_is_not_used(tmp_path, monkeypatch):
    """What lies in the cache is run, so nobody else may put it there."""
    monkeypatch.setenv("BOOSTPROOF_CACHE", str(tmp_path))
    folder = Path(lanes_cache.cache_folder())
    assert folder.stat().st_mode & 0o077 == 0
    folder.chmod(0o777)
    assert lanes_cache.cache_folder() != str(folder)


def test_sources_may_be_modules_packages_files_and_folders(tmp_path):
    (tmp_path / "deep").mkdir()
    for name in ("a.py", "deep/b.py", "deep/notes.txt"):
        (tmp_path / name).write_text(name)
    machinery = lanes_cache.source_files([], [])
    assert {os.path.basename(p) for p in machinery} >= {"ops.py", "lanes.py", "lanes_compile.py"}

    def added(*sources):
        return [os.path.basename(p) for p in lanes_cache.source_files(sources, []) if p not in machinery]

    assert added(tmp_path) == ["a.py", "b.py"]
    assert added(str(tmp_path / "a.py")) == ["a.py"]
    assert added(toy_turbo) == ["toy_turbo.py"]
    assert "system.py" in added(physics)
    assert added(ops) == []
    files = lanes_cache.source_files([], [toy_turbo.step])
    assert [os.path.basename(p) for p in files if p not in machinery] == ["toy_turbo.py"]
    with pytest.raises(FileNotFoundError, match=r"gone\.py"):
        lanes_cache.source_files([tmp_path / "gone.py"], [])


def test_the_key_depends_on_text_names_and_sizes(tmp_path):
    file = tmp_path / "a.py"
    file.write_text("x = 1")
    (tmp_path / "b.py").write_text("x = 1")
    keys = [lanes_cache.digest([str(file)], (6, 24)), lanes_cache.digest([str(tmp_path / "b.py")], (6, 24))]
    keys += [lanes_cache.digest([str(file)], (6, 25))]
    assert lanes_cache.digest([str(file)], (6, 24)) == keys[0]
    file.write_text("x = 2")
    keys += [lanes_cache.digest([str(file)], (6, 24))]
    assert len(set(keys)) == 4


def test_only_the_newest_files_are_kept(tmp_path):
    for i in range(20):
        path = tmp_path / f"car-{i:016x}.kernel"
        path.write_text("x")
        os.utime(path, (1000 + i, 1000 + i))
    (tmp_path / "toy-0.kernel").write_text("x")
    lanes_cache.prune(str(tmp_path), "car")
    left = sorted(p.stem for p in tmp_path.glob("car-*"))
    assert left == [f"car-{i:016x}" for i in range(8, 20)]
    assert (tmp_path / "toy-0.kernel").exists()
    lanes_cache.prune(str(tmp_path / "missing"), "car")
