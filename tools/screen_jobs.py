"""A shop to be photographed: a store with jobs in every state that a page can show. Nothing here is a real car."""

from __future__ import annotations

import contextlib
import json
import socket
import tempfile
import threading
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import update

from boostproof.jobs import schema
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.demo_job import open_demo_job

if TYPE_CHECKING:
    from boostproof.workflows.first_look import FirstRanking

JUDGED, MENDED, NEW, WORKING, FAILED, LONG = range(1, 7)  # numbers of the jobs
BEFORE = "recordings/log.csv", "recordings/log-2.csv"
AFTER = "recordings/after.csv", "recordings/after-2.csv"
_NAME = "Norvik Vale Estate"
_SAYS = "boost keeps climbing with rpm and never levels off"
_LONG_NAME = "Norvik Vale Estate with the seven seats and the towing pack of the customer from beyond the river " * 2
_LONG_SAYS = "boost keeps climbing with rpm and never levels off, mostly uphill, sometimes with the heating on " * 4
_SIDES = {"before": [f"{path}#4" for path in BEFORE], "after": [f"{path}#4" for path in AFTER]}
# kind -> what it says while it works, and the share done
_SAYS_WORKING = {
    "inspect": ("looking for pulls", 0.5), "prove": ("holding the pulls against each other", 0.1),
    "diagnose": ("a first look is there; fitting every cause to all pulls", 0.3),
    "repair_options": ("repairing the candidates", 0.6), "plan": ("driving candidate cars up the ladder", 0.9),
    "report": ("measuring the pulls", 0.87),
}  # fmt: skip
_ASKED: dict[str, dict[str, Any]] = {
    "inspect": {"path": "recordings/log.csv"}, "prove": {**_SIDES}, "diagnose": {},
    "repair_options": {}, "plan": {},
}  # fmt: skip


def fill(folder: Path, say: Callable[[str], None]) -> None:
    """Make the store: minutes of work, as a shop would have done it over a week."""
    with Store.open(folder) as store, Work(store) as work:
        job = open_demo_job(store).id
        assert job == JUDGED
        _work(store, work, job, say)
        say("a first look at the demo job")
        look = _first_look(store, job)
        _mended(store, work)
        store.new_job('format = 1\n[car]\nname = "Tarn Ridge Coupe"\n')
        store.new_job(store.text(JUDGED, "car.toml").replace(_NAME, "Hollin Tourer"), _files(store, JUDGED))
        _failed(store, work)
        _long(store)
        with serving(store, work) as address:
            for asked in (MENDED, FAILED):
                _ask_report(address, asked)
                for task in work.tasks(asked):
                    work.wait(task.id, 300.0)
        store.set_state(JUDGED, "found")
        for name, state in (("Hollin Six", "needs approval"), ("Fen Runabout", "measuring"), ("Quay Van", "left as is")):
            told = f'format = 1\n[car]\nname = "{name}"\ncomplaint = ["boost falls off at high rpm"]\n'
            store.set_state(store.new_job(told).id, state)
    with Store.open(folder) as store, Work(store, works=False) as work:
        _working(store, work, look)


@contextlib.contextmanager
def serving(store: Store, work: Work) -> Iterator[str]:
    """Serve a store on a free port; the address."""
    import uvicorn

    from boostproof.web.app import create_app

    with socket.create_server(("127.0.0.1", 0)) as door:
        server = uvicorn.Server(uvicorn.Config(create_app(store, work), log_level="warning", lifespan="off"))
        thread = threading.Thread(target=server.run, args=([door],), daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{door.getsockname()[1]}"
        server.should_exit = True
        thread.join(20)


def _work(store: Store, work: Work, job: int, say: Callable[[str], None]) -> None:
    """Work out all of a job."""
    _done(work, job, "inspect", {"path": "recordings/log.csv"})
    for kind in ("bench", "diagnose", "scene", "plan", "repair_options"):
        say(f"{kind} of the demo job")
        _done(work, job, kind, {})
    options = store.answers.latest(job, "repair_options")
    assert options is not None
    best = options.answer["options"][0]["forecast"]["repairs"][0]["written"]
    _done(work, job, "forecast", {"repairs": [best]})


class _Seen(Exception):
    """The first look was told; the full answer is not asked for."""


def _first_look(store: Store, job: int) -> Mapping[str, Any]:
    """What a diagnosis tells first. One that is recalled tells no first look, so it is begun anew, and given up then."""
    from boostproof.workflows.diagnose import diagnose

    told: list[FirstRanking] = []

    def seen(found: FirstRanking) -> None:
        told.append(found)
        raise _Seen

    with contextlib.suppress(_Seen):
        diagnose(store.folder(job), fresh=True, first_look=seen)
    return told[0].as_json()


def _done(work: Work, job: int, kind: str, choices: Mapping[str, Any]) -> None:
    """Work something out."""
    task = work.wait(work.start(job, kind, choices).id, 600.0)
    if task.state != "done":
        raise RuntimeError(f"{kind} of job {job} {task.state}: {task.error}")


def _mended(store: Store, work: Work) -> None:
    """The same car some days later: repaired, driven again, and held against the pulls of the first day."""
    job = _copy(store, JUDGED, "Norvik Vale Estate, gate port enlarged")
    for path, content in _more_logs().items():
        store.write(job, path, content)
        told = _PULLS_TOML.format(path=path)
        store.write(job, "pulls.toml", store.text(job, "pulls.toml") + told)
    for path in (*BEFORE, *AFTER):
        _done(work, job, "inspect", {"path": path})
    forecast = store.answers.latest(job, "forecast", current=False)
    choices: dict[str, Any] = {**_SIDES}
    if forecast is not None:
        choices["forecast"] = {"answer": forecast.id}
    _done(work, job, "prove", choices)
    store.set_state(job, "mended")


_PULLS_TOML = """
[[recording]]
file = "{path}"
source = "dyno"
gear = 4

[recording.set_up]
controller = "in"
gate = "controlled"
"""


def _more_logs() -> dict[str, bytes]:
    """A second pull of the invented car as found, and two of it without its fault."""
    from boostproof.demo.case import do_job, write_job
    from boostproof.demo.shop import CHANNELS, TESTS, demo_job

    found, sound = (job.car for job in demo_job(1))
    drive = demo_job(1)[0].drive
    logs = {}
    with tempfile.TemporaryDirectory(prefix="boostproof-") as place:
        for seed, (path, car) in enumerate(zip((BEFORE[1], *AFTER), (found, sound, sound), strict=True), 2):
            write_job(Path(place), do_job(car, sound, drive, seed, only=TESTS), seed, fixed=CHANNELS)
            logs[path] = (Path(place) / "recordings" / "log.csv").read_bytes()
    return logs


def _copy(store: Store, job: int, name: str, complaint: str = _SAYS) -> int:
    """The same files under another name, with what was worked out of them."""
    told = store.text(job, "car.toml").replace(_NAME, name).replace(_SAYS, complaint)
    made = store.new_job(told, _files(store, job)).id
    for kept in reversed(store.answers.of_job(job)):
        answer = {**kept.answer, "car": name} if "car" in kept.answer else kept.answer
        store.answers.keep(made, kept.kind, answer, kept.choices, store.content(made))
    return made


def _files(store: Store, job: int) -> dict[str, bytes]:
    return {f.path: store.read(job, f.path) for f in store.files(job) if f.path != "car.toml"}


def _working(store: Store, work: Work, look: Mapping[str, Any]) -> None:
    """A job whose work is half done, with a first look at its causes; nobody works on this store while it is photographed."""
    store.set_state(WORKING, "measuring")
    for kind, choices in _ASKED.items():
        work.start(WORKING, kind, choices)
    with serving(store, work) as address:
        _ask_report(address, WORKING)
    with store.database.writing() as connection:
        half = update(schema.task).where(schema.task.c.job == WORKING)
        for kind, (says, share) in _SAYS_WORKING.items():
            connection.execute(half.where(schema.task.c.kind == kind).values(state="running", says=says, share=share))
        connection.execute(half.where(schema.task.c.kind == "diagnose").values(so_far=json.dumps(look)))


def _failed(store: Store, work: Work) -> None:
    """A log that holds nothing and a car that says nothing: what is asked of it cannot be had."""
    told = 'format = 1\n[car]\nname = "Brook Saloon"\ncomplaint = ["no boost"]\n'
    job = store.new_job(told, {"recordings/log.csv": b"x\n"}).id
    for kind, choices in _ASKED.items():
        work.wait(work.start(job, kind, choices).id, 120.0)


def _long(store: Store) -> None:
    """Every text that somebody can write is long."""
    _copy(store, JUDGED, _LONG_NAME.strip(), _LONG_SAYS.strip())


def _ask_report(address: str, job: int) -> None:
    """As the page of the report asks."""
    form = {"by": "Ada", "dated": "3 May", "done": "gate port opened to 30 mm\nseat cut anew"}
    urllib.request.urlopen(f"{address}/jobs/{job}/report", urllib.parse.urlencode(form).encode(), timeout=60).close()
