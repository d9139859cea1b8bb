"""A case folder comes in and goes out again as the same tree, byte for byte."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boostproof.case_names import JOB
from boostproof.casefolder import new_case
from boostproof.errors import InputError
from boostproof.jobs.store import Store

Tree = dict[str, bytes | None]  # path -> bytes, None for a folder; without job.json, see test_job_file.py


def _tree(folder: Path) -> Tree:
    return {
        p.relative_to(folder).as_posix(): None if p.is_dir() else p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p != folder / JOB
    }


def _make(folder: Path, files: dict[str, bytes], folders: list[str]) -> None:
    folder.mkdir()
    for path, data in files.items():
        target = folder / path
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
        except (FileExistsError, NotADirectoryError, IsADirectoryError):
            continue  # a file stands where this one needs a folder
    for path in folders:
        try:
            (folder / path).mkdir(parents=True, exist_ok=True)
        except (FileExistsError, NotADirectoryError):
            continue


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """One store for all examples."""
    with Store.open(tmp_path_factory.mktemp("shop")) as store:
        yield store


_ODD = st.characters(exclude_categories=["Cs"], exclude_characters="/\0")
if sys.platform in ("win32", "darwin"):
    _ODD = st.sampled_from("abcdefgh 123._-")
_NAME = st.one_of(
    st.sampled_from(["car.toml", "recordings", "log.csv", ".hidden", "~$lock", "Thumbs.db", "a b", "Ölstand", "x.TXT"]),
    st.text(_ODD, min_size=1, max_size=12).filter(lambda name: name.strip(". ") != "" and name not in (".", "..")),
)
_PATH = st.lists(_NAME, min_size=1, max_size=3).map("/".join)


@given(
    files=st.dictionaries(_PATH, st.binary(max_size=200), max_size=6),
    folders=st.lists(_PATH, max_size=2),
    big=st.booleans(),
)
@settings(max_examples=40)
def test_a_tree_comes_back_as_it_was(
    shared: Store, files: dict[str, bytes], folders: list[str], big: bool
) -> None:
    with tempfile.TemporaryDirectory() as place:
        here, there = Path(place) / "in", Path(place) / "out"
        _make(here, files | ({"big.bin": bytes(range(256)) * 600} if big else {}), folders)
        before = _tree(here)
        job = shared.import_case(here)
        shared.export_case(job.id, there)
        assert _tree(there) == before == _tree(here)
        folder = shared.folder(job.id)
        assert {p: d for p, d in _tree(folder).items() if d is not None} == {
            p: d for p, d in before.items() if d is not None
        }
        twice = shared.import_case(there)
        assert shared.content(twice.id) == shared.content(job.id)


def test_a_new_case_comes_back_with_its_empty_folder(store: Store, tmp_path: Path) -> None:
    new_case(tmp_path / "case")
    job = store.import_case(tmp_path / "case")
    (tmp_path / "out").mkdir()  # an empty folder may be there
    store.export_case(job.id, tmp_path / "out")
    assert _tree(tmp_path / "out") == _tree(tmp_path / "case")
    assert _tree(tmp_path / "out")["recordings"] is None

    store.write(job.id, "recordings/log.csv", "1")
    store.export_case(job.id, tmp_path / "later")
    assert (tmp_path / "later" / "recordings" / "log.csv").read_text() == "1"
    (tmp_path / "later" / "car.toml").write_text("edited")  # a copy of one's own
    assert store.text(job.id, "car.toml") == (tmp_path / "case" / "car.toml").read_text()


def test_a_backup_holds_the_same_bytes_while_others_work(store: Store, car_toml: str, tmp_path: Path) -> None:
    job = store.new_job(car_toml, {"log.csv": b"1" * 100_000})
    first = store.write(job.id, "log.csv", b"2")
    store.answers.keep(job.id, "bench", {"says": "x"}, {}, store.content(job.id))
    store.settings.set("units", "metric")
    (store.root / "columns").mkdir()
    (store.root / "columns" / "a.json").write_text("{}")
    with store.database.reading() as connection:  # a page is being read
        connection.exec_driver_sql("SELECT * FROM job").all()
        store.backup(tmp_path / "backup")
    store.write(job.id, "log.csv", b"3")
    with Store.open(tmp_path / "backup") as back:
        assert back.job(job.id).name == job.name and back.settings.get("units") == "metric"
        assert [back.read(job.id, "log.csv", sha256=v.sha256) for v in back.versions(job.id, "log.csv")] == [
            b"2", b"1" * 100_000,
        ]  # fmt: skip
        assert back.files(job.id)[1] == first and back.answers.latest(job.id, "bench") is not None
        back.write(job.id, "log.csv", b"4")
    assert (tmp_path / "backup" / "columns" / "a.json").read_text() == "{}"
    assert store.read(job.id, "log.csv") == b"3"
    with pytest.raises(InputError, match="Something lies there already"):
        store.backup(tmp_path / "backup")
    store.kept.path(first.sha256).unlink()
    with pytest.raises(InputError, match="is gone"):
        store.backup(tmp_path / "second")
    assert not (tmp_path / "second").exists()


def test_nothing_is_written_over(store: Store, car_toml: str, tmp_path: Path) -> None:
    job = store.new_job(car_toml)
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "mine").write_text("mine")
    (tmp_path / "file").write_text("mine")
    for name in ("there", "file"):
        with pytest.raises(InputError, match="Something lies there already"):
            store.export_case(job.id, tmp_path / name)
    with pytest.raises(InputError, match="This cannot be written here"):
        store.export_case(job.id, tmp_path / "file" / "below")
    assert sorted(p.name for p in tmp_path.iterdir() if p.name != "shop") == ["file", "there"]


def test_what_is_no_case_is_refused(store: Store, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match="a case is a folder"):
        store.import_case(tmp_path / "file")
    with pytest.raises(InputError, match="no such folder"):
        store.import_case(tmp_path / "nowhere")
    assert store.jobs() == []


@pytest.mark.skipif(sys.platform == "win32", reason="links and pipes as Unix has them")
def test_links_are_followed_and_what_cannot_be_copied_is_refused(store: Store, tmp_path: Path) -> None:
    case, elsewhere = tmp_path / "case", tmp_path / "elsewhere"
    case.mkdir()
    elsewhere.mkdir()
    (elsewhere / "log.csv").write_text("1")
    (case / "recordings").symlink_to(elsewhere)
    job = store.import_case(case)
    assert [f.path for f in store.files(job.id)] == ["recordings/log.csv"]

    (elsewhere / "round").symlink_to(case)
    with pytest.raises(InputError, match="leads back into its own folder"):
        store.import_case(case)
    (elsewhere / "round").unlink()
    for name, make in (
        ("gone", lambda path: path.symlink_to("nowhere")),
        ("pipe", os.mkfifo),
    ):
        make(case / name)
        with pytest.raises(InputError, match=f"{name} is no file that can be copied"):
            store.import_case(case)
        (case / name).unlink()
    with open(os.fsencode(case) + b"/\xff.csv", "w"):
        pass
    with pytest.raises(InputError, match="name cannot be kept"):
        store.import_case(case)
    assert len(store.jobs()) == 1
