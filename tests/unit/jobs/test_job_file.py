"""What a job holds beside its files goes out with them as job.json and comes in again; nothing of it is believed blindly."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from boostproof.case_names import JOB
from boostproof.casefolder import read_case
from boostproof.errors import InputError
from boostproof.jobs import job_file
from boostproof.jobs.plain import content_of
from boostproof.jobs.store import Store


def _worked_on(store: Store, car_toml: str) -> int:
    """A job with everything that a job may hold."""
    other = store.new_job(car_toml)
    store.answers.keep(other.id, "bench", {"says": "of another car"}, {}, store.content(other.id))
    id = store.new_job(car_toml, {"pulls.toml": b"format = 1\n", "recordings/log.csv": b"1,2\n"}).id
    early = store.answers.keep(id, "forecast", {"holds": 0.5, "seed": 7}, {"repairs": ["port 30 mm"]}, store.content(id))
    store.write(id, "car.toml", car_toml + "# again\n")
    store.write(id, "recordings/large.csv", b"x" * (job_file.LONGEST_TEXT + 1))
    store.remove(id, "recordings/large.csv")
    store.write(id, "photo.bin", b"\xff\xfe")
    store.write(id, "photo.bin", b"\xff\xfd")
    plan = store.answers.keep(id, "plan", {"card": []}, {"forecast": {"answer": early.id}}, store.content(id))
    store.settings.of_job(id).set("card", {"plan": {"answer": plan.id}, "ticked": ["oil"]})
    store.settings.of_job(id).set("money", {"approved": 450.0, "spent": [{"at": "x", "what": "Öl", "amount": 12.5}]})
    store.settings.of_job(id).set("repair", {"repairs": ["port 30 mm"], "title": "Larger port", "done": True})
    store.settings.of_job(id).change("signed", lambda before: [*(before or []), {"name": "A", "verdict": "cured"}])
    store.settings.set("job.33.money", {"of": "another job"})
    store.log(id, "Signed off by A")
    store.set_state(id, "proved")
    return id


def test_a_job_loses_nothing_on_its_way(store: Store, car_toml: str, tmp_path: Path) -> None:
    id = _worked_on(store, car_toml)
    store.export_case(id, tmp_path / "out")
    with Store.open(tmp_path / "elsewhere") as there:
        for _ in range(3):
            there.new_job(car_toml)
        came = there.import_case(tmp_path / "out")
        assert came.id != id and came.state == "proved" and came.created == store.job(id).created
        assert there.history(came.id)[:-1] == store.history(id)
        assert there.history(came.id)[-1].says == "Brought in with what was known of it"
        assert there.content(came.id) == store.content(id)
        assert [vars(f) for f in there.files(came.id)] == [vars(f) for f in store.files(id)]  # and when they came in
        for name in ("money", "repair", "signed"):
            assert there.settings.of_job(came.id).get(name) == store.settings.of_job(id).get(name)
        assert there.settings.get("job.33.money") is None

        before, now = store.answers.of_job(id), there.answers.of_job(came.id)
        assert [(k.kind, k.answer, k.content, k.seed, k.versions, k.made) for k in now] == [
            (k.kind, k.answer, k.content, k.seed, k.versions, k.made) for k in before
        ]
        plan, early = now
        assert plan.choices == {"forecast": {"answer": early.id}} and early.choices == {"repairs": ["port 30 mm"]}
        assert there.settings.of_job(came.id).get("card") == {"plan": {"answer": plan.id}, "ticked": ["oil"]}
        assert there.answers.latest(came.id, "forecast") is None
        assert there.answers.latest(came.id, "forecast", current=False) == early
        old = there.folder(came.id, early.content)  # the files that it rests on can be laid out again
        assert (old / "car.toml").read_text() == car_toml

        there.export_case(came.id, tmp_path / "again")
        first, second = (json.loads((tmp_path / name / JOB).read_bytes()) for name in ("out", "again"))
        assert {**second, "history": second["history"][:-1], "answers": len(second["answers"]), "settings": 0} == {
            **first, "versions": second["versions"], "answers": len(first["answers"]), "settings": 0,
        }  # fmt: skip


def test_the_same_job_is_the_same_file(store: Store, car_toml: str, tmp_path: Path) -> None:
    id = _worked_on(store, car_toml)
    for name in ("one", "two"):
        store.export_case(id, tmp_path / name)
    assert (tmp_path / "one" / JOB).read_bytes() == (tmp_path / "two" / JOB).read_bytes()


def test_a_file_changed_on_the_way_is_a_new_version(store: Store, car_toml: str, tmp_path: Path) -> None:
    id = _worked_on(store, car_toml)
    store.export_case(id, tmp_path / "out")
    (tmp_path / "out" / "pulls.toml").write_text("format = 1\n# by hand\n")
    came = store.import_case(tmp_path / "out")
    assert store.text(came.id, "pulls.toml") == "format = 1\n# by hand\n"
    assert store.answers.of_job(came.id) and store.answers.latest(came.id, "plan") is None  # it rests on other files


def test_a_case_without_it_is_a_case(store: Store, car_toml: str, tmp_path: Path) -> None:
    store.export_case(store.new_job(car_toml).id, tmp_path / "out")
    (tmp_path / "out" / JOB).unlink()
    came = store.import_case(tmp_path / "out")
    assert came.state == "new" and [noted.says for noted in store.history(came.id)] == ["Job opened"]


def test_the_library_does_not_read_it(tmp_path: Path) -> None:
    from boostproof.demo import write_demo_case

    write_demo_case(tmp_path / "case")
    before = read_case(tmp_path / "case")
    (tmp_path / "case" / JOB).write_text("not even JSON")
    after = read_case(tmp_path / "case")
    assert (after.content_hash, after.findings) == (before.content_hash, before.findings)


def test_its_name_is_taken(store: Store, car_toml: str) -> None:
    with pytest.raises(InputError, match=r"job\.json in a case is what its job holds"):
        store.new_job(car_toml, {JOB: b"{}"})
    id = store.new_job(car_toml).id
    for path in (JOB, f"{JOB}/x"):
        with pytest.raises(InputError, match=r"job\.json in a case is what its job holds"):
            store.write(id, path, b"{}")


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The job.json of a job."""
    place = tmp_path_factory.mktemp("exported")
    with Store.open(place / "shop") as store:
        store.export_case(_worked_on(store, "format = 1\n"), place / "out")
    return (place / "out" / JOB).read_bytes()


def _set(*keys: str | int, to: Any) -> Callable[[dict[str, Any]], None]:
    def change(told: Any) -> None:
        for key in keys[:-1]:
            told = told[key]
        told[keys[-1]] = to

    return change


DRAWING = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">{}</svg>'


@pytest.mark.parametrize(
    "change",
    [
        _set("state", to="sold"),
        _set("created", to="<b>now</b>"),
        _set("history", 0, "at", to=None),
        _set("history", 0, "says", to=7),
        _set("history", 0, "says", to="\ud800"),
        _set("settings", to=[]),
        _set("contents", "0" * 64, to=[]),
        _set("versions", 0, "path", to="../car.toml"),
        _set("versions", 0, "text", to="another text"),
        _set("answers", 0, "content", to="0" * 64),
        _set("answers", 0, "seed", to=10**30),
        _set("answers", 0, "id", to=True),
        _set("answers", 0, "answer", to="a text"),
        _set("answers", 0, "made", to="x" * 40),
        _set("answers", 0, "answer", "figures", to=[{"svg": DRAWING.format("<script>x()</script>")}]),
        _set("answers", 0, "answer", "svg", to=DRAWING.format('<path onload="x()"/>')),
        _set("answers", 0, "answer", "svg", to=DRAWING.format('<a xlink:href="javascript:x()"/>')),
        _set("answers", 0, "answer", "svg", to=DRAWING.format('<use href="https://elsewhere.example/x#y"/>')),
        _set("answers", 0, "answer", "svg", to=DRAWING.format('<rect fill="url(https://elsewhere.example/x)"/>')),
        _set("answers", 0, "answer", "svg", to=DRAWING.format('<b xmlns="http://www.w3.org/1999/xhtml"/>')),
        _set("answers", 0, "answer", "svg", to="</svg><form action=/jobs/1/state method=post>"),
        _set("answers", 0, "answer", "svg", to={"a": "<b>"}),
    ],
)
def test_what_cannot_be_is_refused(exported: bytes, change: Callable[[dict[str, Any]], None]) -> None:
    told = json.loads(exported)
    job_file.read(json.dumps(told).encode())
    change(told)
    with pytest.raises(InputError, match=r"job\.json is damaged, or not the one that boostproof writes"):
        job_file.read(json.dumps(told).encode())


def test_then_no_job_is_started(store: Store, tmp_path: Path) -> None:
    (tmp_path / "case").mkdir()
    (tmp_path / "case" / JOB).write_text("{}")
    with pytest.raises(InputError, match=r"job\.json is damaged"):
        store.import_case(tmp_path / "case")
    assert store.jobs() == []


@pytest.mark.parametrize(
    "data", [b"", b"[]", b"{}", b"\xff", b'{"format": 1}', b'{"format": NaN}', b'{"a":' * 9000 + b"1" + b"}" * 9000]
)
def test_what_is_no_job_file_is_refused(data: bytes) -> None:
    with pytest.raises(InputError, match=r"job\.json is damaged, or not the one that boostproof writes"):
        job_file.read(data)


def test_one_of_a_newer_version_says_so() -> None:
    with pytest.raises(InputError, match="written by a newer boostproof"):
        job_file.read(b'{"format": 2}')


def test_a_content_stands_for_the_files_that_it_names(store: Store, car_toml: str) -> None:
    id = _worked_on(store, car_toml)
    with store.database.reading() as connection:
        from boostproof.jobs import rows

        told = rows.job_file(connection, id)
    assert told.contents and all(content_of(files) == content for content, files in told.contents.items())


def test_our_own_drawings_come_in() -> None:
    from boostproof.report.document.drawn import WIDE, figure
    from boostproof.report.document.only_draws import only_draws

    def draw(sheet: Any) -> None:
        ax = sheet.subplots()
        ax.fill_between([0, 1], [0, 1], [1, 2], hatch="//", label="band")
        ax.plot([0, 1], [1, 0], marker="o", label="a & b <c>")
        ax.legend()
        ax.set_title("A title")

    assert only_draws(figure(draw, "A title", "what it shows", WIDE, name="one")["svg"])
