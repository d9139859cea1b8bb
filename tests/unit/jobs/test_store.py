"""Jobs, files with their versions, answers and settings are kept and had back."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import threading
import time
from operator import attrgetter
from pathlib import Path

import polars as pl
import pytest

from boostproof.errors import InputError
from boostproof.jobs.records import STATES
from boostproof.jobs.store import Store


def _sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def test_a_new_job_is_named_by_its_car(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml, {"recordings/log.csv": b"1,2\n"})
    assert (job.name, job.car, job.complaint) == ("The grey wagon", "The grey wagon", "boost falls off; whistles")
    assert job.state == "new" and job.created.endswith("Z")
    assert store.job(job.id) == job and store.jobs() == [job]
    assert [f.path for f in store.files(job.id)] == ["car.toml", "recordings/log.csv"]
    assert store.read(job.id, "recordings/log.csv") == b"1,2\n"


def test_a_car_file_that_is_half_written_is_kept(store: Store) -> None:
    job = store.new_job('[car]\nname = "The half car"\ncomplaint = [')
    assert job.name == "The half car" and job.complaint == ""
    unnamed = store.new_job("[car")
    assert unnamed.name == f"Job {unnamed.id}" and unnamed.car == ""
    assert store.text(unnamed.id, "car.toml") == "[car"


def test_a_changed_car_file_renames_the_job(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    store.write(job.id, "car.toml", car_toml.replace("grey", "green"))
    assert store.job(job.id).name == "The green wagon"
    assert store.job(job.id).changed > job.changed


def test_jobs_are_found_by_words_and_state(store: Store, car_toml: str) -> None:
    first = store.new_job(car_toml)
    second = store.new_job('[car]\nname = "Großer Kombi"\n')
    store.set_state(second.id, "found")
    assert [j.id for j in store.jobs("WAGON whistles")] == [first.id]
    assert [j.id for j in store.jobs("grosser")] == [second.id]
    assert store.jobs("wagon kombi") == []
    assert [j.id for j in store.jobs(state="found")] == [second.id]
    assert [j.id for j in store.jobs()] == [second.id, first.id]  # changed last, first


def test_states_are_those_of_a_shop_and_are_noted(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    for state in STATES[1:]:
        store.set_state(job.id, state)
        store.set_state(job.id, state)
    assert [n.says for n in store.history(job.id)] == ["Job opened", *(f"State: {s}" for s in STATES[1:])]
    with pytest.raises(InputError, match='There is no state "fixed"'):
        store.set_state(job.id, "fixed")
    store.log(job.id, "Signed off by R.")
    assert store.history(job.id)[-1].says == "Signed off by R."


@pytest.mark.parametrize("ask", ["job", "files", "content", "folder", "answers.of_job", "history"])
def test_a_job_that_is_not_there_is_said(store: Store, ask: str) -> None:
    with pytest.raises(InputError, match="There is no job 4"):
        attrgetter(ask)(store)(4)


def test_every_version_stays(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    first = store.write(job.id, "notes.txt", "one")
    second = store.write(job.id, "notes.txt", "two", expect=first.sha256)
    assert store.write(job.id, "notes.txt", "two", expect="") == second  # sent again: nothing new
    assert [v.sha256 for v in store.versions(job.id, "notes.txt")] == [_sha(b"two"), _sha(b"one")]
    assert store.read(job.id, "notes.txt", sha256=first.sha256) == b"one"
    store.remove(job.id, "notes.txt")
    assert [f.path for f in store.files(job.id)] == ["car.toml"]
    assert store.text(job.id, "notes.txt") == ""
    assert store.read(job.id, "notes.txt", sha256=first.sha256) == b"one"
    with pytest.raises(InputError, match="holds no such file"):
        store.remove(job.id, "notes.txt")


def test_what_was_changed_elsewhere_is_not_written_over(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    seen = store.write(job.id, "readings.toml", "a")
    theirs = store.write(job.id, "readings.toml", "b", expect=seen.sha256)
    for _ in range(2):  # a page without a connection sends again
        with pytest.raises(InputError) as raised:
            store.write(job.id, "readings.toml", "c", expect=seen.sha256)
    assert raised.value.kind == "changed-elsewhere" and "Both versions are kept" in raised.value.says
    assert store.text(job.id, "readings.toml") == "b"
    assert [v.sha256 for v in store.versions(job.id, "readings.toml")] == [_sha(b"c"), theirs.sha256, seen.sha256]
    with pytest.raises(InputError) as raised:
        store.write(job.id, "car.toml", "new", expect="")
    assert raised.value.kind == "changed-elsewhere"


def test_two_who_save_at_once_are_not_both_first(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    seen = store.write(job.id, "a.txt", "0")
    kinds: list[str] = []

    def save(text: str) -> None:
        try:
            store.write(job.id, "a.txt", text, expect=seen.sha256)
            kinds.append("kept")
        except InputError as error:
            kinds.append(error.kind)

    threads = [threading.Thread(target=save, args=(f"from {i}",)) for i in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(kinds) == ["changed-elsewhere"] * 7 + ["kept"]
    assert len(store.versions(job.id, "a.txt")) == 9


@pytest.mark.parametrize(
    "path", ["", "/etc/passwd", "../other", "a/../b", "a//b", "a/./b", "a/", "nul\0byte", "x" * 256, "\udcff"]
)
def test_a_path_that_leads_out_is_refused(store: Store, car_toml: str, path: str) -> None:
    job = store.new_job(car_toml)
    with pytest.raises(InputError, match="name cannot be kept"):
        store.write(job.id, path, b"")
    assert [f.path for f in store.files(job.id)] == ["car.toml"]


def test_a_file_does_not_take_the_place_of_a_folder(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml, {"recordings/log.csv": b""})
    for path in ("recordings", "recordings/log.csv/deeper"):
        with pytest.raises(InputError, match="cannot both be in one case"):
            store.write(job.id, path, b"x")


def test_content_is_of_paths_and_bytes_alone(store: Store, car_toml: str) -> None:
    one = store.new_job(car_toml, {"a": b"1", "b": b"2"})
    two = store.new_job(car_toml, {"b": b"2", "a": b"1"})
    swapped = store.new_job(car_toml, {"a": b"2", "b": b"1"})
    assert store.content(one.id) == store.content(two.id) != store.content(swapped.id)


def test_a_case_folder_holds_the_present_files_and_stays(store: Store, car_toml: str) -> None:
    big = bytes(range(256)) * 1024
    job = store.new_job(car_toml, {"recordings/big.csv": big, "old.txt": b"old"})
    before = store.folder(job.id)
    assert _tree(before) == {"car.toml": car_toml.encode(), "recordings/big.csv": big, "old.txt": b"old"}
    store.remove(job.id, "old.txt")
    after = store.folder(job.id)
    assert _tree(after) == {"car.toml": car_toml.encode(), "recordings/big.csv": big}
    assert (before / "old.txt").read_bytes() == b"old"  # whoever reads it is not disturbed
    assert store.folder(job.id) == after


def test_a_case_folder_that_somebody_changed_is_set_aside(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    folder = store.folder(job.id)
    (folder / "mine.txt").write_text("put here by hand")
    assert _tree(store.folder(job.id)) == {"car.toml": car_toml.encode()}
    (aside,) = folder.parent.glob("*-changed-*")
    assert (aside / "mine.txt").read_text() == "put here by hand"


def test_bytes_that_changed_on_the_disk_are_not_handed_out(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    kept = store.write(job.id, "log.csv", b"0123456789")
    path = store.kept.path(kept.sha256)
    path.chmod(0o644)
    path.write_bytes(b"0123456780")
    with pytest.raises(InputError, match=r"log\.csv is no longer what came in"):
        store.read(job.id, "log.csv")
    path.unlink()
    with pytest.raises(InputError, match=r"log\.csv is gone"):
        store.read(job.id, "log.csv")
    with pytest.raises(InputError, match=r"log\.csv is gone"):
        store.folder(job.id)
    assert store.write(job.id, "again.csv", b"0123456789").sha256 == kept.sha256  # put in again: whole again
    assert store.read(job.id, "log.csv") == b"0123456789"


def test_an_answer_is_kept_with_what_it_rests_on(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    content = store.content(job.id)
    answer = {"format": 1, "seed": 3, "versions": {"prior": "1"}, "says": "Ölleitung → zu"}
    kept = store.answers.keep(job.id, "diagnose", answer, {"without_history": True}, content)
    assert (kept.seed, kept.versions, kept.content, kept.answer) == (3, {"prior": "1"}, content, answer)
    assert store.answers.latest(job.id, "diagnose") == kept == store.answers.numbered(kept.id)
    assert store.answers.latest(job.id, "diagnose", {"without_history": True}) == kept
    assert store.answers.latest(job.id, "diagnose", {}) is None and store.answers.latest(job.id, "bench") is None

    store.write(job.id, "car.toml", "changed")
    assert store.answers.latest(job.id, "diagnose") is None
    assert store.answers.latest(job.id, "diagnose", current=False) == kept
    assert (store.folder(job.id, content) / "car.toml").read_text() == car_toml  # so that it can be made again
    store.write(job.id, "car.toml", car_toml)
    assert store.answers.latest(job.id, "diagnose") == kept

    plain = store.answers.keep(job.id, "inspect", {"format": 1}, {"path": "x", "seed": 5}, content)
    assert plain.seed == 5 and set(plain.versions) == {"boostproof", "python", "numpy", "scipy"}
    assert [a.id for a in store.answers.of_job(job.id)] == [plain.id, kept.id]
    with pytest.raises(ValueError, match="not JSON compliant"):
        store.answers.keep(job.id, "inspect", {"x": float("nan")}, {}, content)


def test_settings_are_kept(tmp_path: Path) -> None:
    with Store.open(tmp_path) as store:
        assert store.settings.get("units", "imperial") == "imperial"
        store.settings.set("units", "metric")
        store.settings.set("rates", {"bench": 90, "dyno": [140.5, None]})
        store.settings.set("units", "imperial")
    with Store.open(tmp_path) as store:
        assert store.settings.get("units") == "imperial"
        assert store.settings.get("rates") == {"bench": 90, "dyno": [140.5, None]}
        assert store.settings.get("shop") is None


def test_two_who_add_to_a_setting_at_once_both_hold(store: Store, car_toml: str) -> None:
    id = store.new_job(car_toml).id

    def sign(name: str) -> None:
        for number in range(10):
            store.settings.of_job(id).change("signed", lambda before, said=f"{name} {number}": [*(before or []), said])

    tablets = [threading.Thread(target=sign, args=(name,)) for name in "AB"]
    for tablet in tablets:
        tablet.start()
    for tablet in tablets:
        tablet.join()
    assert sorted(store.settings.of_job(id).get("signed")) == sorted(f"{name} {n}" for name in "AB" for n in range(10))


def test_the_folder_is_told_by_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BOOSTPROOF_DATA", str(tmp_path / "told"))
    with Store.open() as store:
        assert store.root == tmp_path / "told"


def test_two_programs_share_a_store(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    other = (
        "import sys; from pathlib import Path; from boostproof.jobs.store import Store\n"
        "store = Store.open(Path(sys.argv[1]))\n"
        "for i in range(20): store.write(1, f'b{i}', str(i))\n"
    )
    process = subprocess.Popen([sys.executable, "-c", other, str(store.root)])
    for i in range(20):
        store.write(job.id, f"a{i}", str(i))
    assert process.wait(60) == 0
    assert {f.path for f in store.files(job.id)} == {"car.toml"} | {f"{x}{i}" for x in "ab" for i in range(20)}


def test_a_table_is_made_once_for_what_decides_it(
    store: Store, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("BOOSTPROOF_DATA", str(tmp_path / "answers"))
    rows = [f"{t / 10},{1500 + 40 * t},{30 + t},{20 + 0.5 * t}" for t in range(100)]
    log = "\n".join(["time (s),engine speed (rpm),throttle (%),boost gauge (kPa)", *rows]) + "\n"
    car = (
        'format = 1\n[car]\nname = "x"\n[engine]\ndisplacement = "2 L"\ncylinders = 4\nredline = "6500 rpm"\n'
        '[wastegate]\nkind = "internal flapper"\n[controller]\nkind = "ball and spring"\n'
    )
    job = store.new_job("not written yet", {"recordings/log.csv": log.encode()})
    first = store.table(job.id, "recordings/log.csv")
    store.write(job.id, "car.toml", car)
    table = store.table(job.id, "recordings/log.csv")
    found = pl.read_parquet(table)
    assert found["time"].to_list() == pytest.approx([t / 10 for t in range(100)])
    assert found["boost"].to_list() == pytest.approx([1000 * (20 + 0.5 * t) for t in range(100)])  # Pa
    assert found["throttle"].to_list() == pytest.approx([(30 + t) / 100 for t in range(100)])
    assert table != first and pl.read_parquet(first).equals(found)
    made = table.stat().st_ino
    store.write(job.id, "readings.toml", "format = 1\n")
    assert store.table(job.id, "recordings/log.csv").stat().st_ino == made  # readings say nothing of a log
    store.write(job.id, "pulls.toml", 'format = 1\n[[recording]]\nfile = "recordings/log.csv"\n')
    assert store.table(job.id, "recordings/log.csv") != table
    with pytest.raises(InputError, match="holds no such file"):
        store.table(job.id, "recordings/other.csv")
    store.write(job.id, "recordings/note.csv", "no log\n")
    with pytest.raises(InputError):
        store.table(job.id, "recordings/note.csv")


def test_what_nobody_asks_for_goes_in_time(store: Store, car_toml: str) -> None:
    job = store.new_job(car_toml)
    first = store.folder(job.id)
    store.write(job.id, "a", b"")
    second = store.folder(job.id)
    assert first.is_dir()
    long_ago = time.time() - 40 * 86400
    tables = store.root / "tables"
    tables.mkdir()
    for name in ("old.parquet", "part-1", "new.parquet"):
        (tables / name).touch()
    for path in (first, second, tables / "old.parquet", tables / "part-1"):
        os.utime(path, (long_ago, long_ago))
    store.write(job.id, "a", b"1")
    third = store.folder(job.id)
    assert not first.exists() and not second.exists() and third.is_dir()
    Store.open(store.root).close()
    assert [p.name for p in tables.iterdir()] == ["new.parquet"]


def _tree(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
