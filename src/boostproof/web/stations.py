"""The six stations of a job, each with one line of what it holds, and what would help most next.

Read from the files and the newest kept answers only: cheap enough for every page. What a kept answer says
is only repeated here; nothing is computed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from boostproof.bench.procedures import procedure
from boostproof.case_names import is_recording
from boostproof.casefolder.toml_file import toml_table
from boostproof.jobs.after_repair import after_repair, mended_at
from boostproof.jobs.records import UNDER_WAY
from boostproof.report.words import UNCONFIRMED_CAP, percent
from boostproof.web import shown
from boostproof.web.said import BOTH, cause_title
from boostproof.web.words import t
from boostproof.workflows.first_look import FirstRanking
from boostproof.workflows.verdict_view import NONE, REST

if TYPE_CHECKING:
    from boostproof.casefolder.left_out import LeftOut
    from boostproof.jobs import Job, KeptAnswer, Task
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

STATIONS = ("car", "pulls", "bench", "verdict", "repair", "proof")
# work that somebody waits for -> the page that it fills, what matters most first; the rest is done by the way
_WAITED_FOR = {
    "diagnose": "verdict", "inspect": "pulls", "repair_options": "repair", "forecast": "repair", "prove": "proof",
    "plan": "repair/ladder", "report": "report",
}  # fmt: skip
_MOST_PARSED = 256
_parsed: dict[str, dict[str, Any]] = {}  # files of cases as tables, by sha256: every page of a job asks for them


@dataclass(frozen=True)
class Station:
    """One page of a job.

    Attributes
    ----------
    name : "car", "pulls" ...
    address : where it is
    says : one line of what it holds
    done : whether it holds something
    here : whether it is the page in view
    """

    name: str
    address: str
    says: str
    done: bool
    here: bool


@dataclass(frozen=True)
class NextStep:
    """What would help most next: what, why, and the page for it."""

    says: str
    why: str
    address: str


def address_of(job_id: int, name: str) -> str:
    """The address of a page of a job."""
    return f"/jobs/{job_id}/{name}"


def stations(held: Held, work: Work, here: str) -> tuple[Station, ...]:
    """The stations strip of a job."""
    lines = {
        "car": held.car(), "pulls": held.pulls(), "bench": held.bench(),
        "verdict": held.verdict(), "repair": held.repair(), "proof": held.proof(),
    }  # fmt: skip
    says = {name: line or t(f"frame.empty.{name}") for name, line in lines.items()}
    ranking = next((task for task in _under_way(held, work) if task.kind == "diagnose"), None)
    if ranking is not None:
        says["verdict"] = held.being_ranked(ranking)
    return tuple(
        Station(name, address_of(held.job.id, name), says[name], bool(lines[name]), name == here) for name in STATIONS
    )


def _under_way(held: Held, work: Work) -> list[Task]:
    """Work of a job that has not ended, newest first."""
    return [task for task in work.tasks(held.job.id) if task.state in UNDER_WAY]


def next_step(held: Held, work: Work) -> NextStep:
    """The one thing that would help a job most now."""

    def step(name: str, station: str, **values: Any) -> NextStep:
        words = f"frame.next.{name}"
        return NextStep(t(f"{words}.says", **values), t(f"{words}.why"), address_of(held.job.id, station))

    running = {task.kind for task in _under_way(held, work)} & set(_WAITED_FOR)
    if running:
        return step("wait", next(page for kind, page in _WAITED_FOR.items() if kind in running))
    if not held.car():
        return step("car", "car")
    if not held.recordings:
        return step("pulls", "pulls")
    verdict = held.answer("diagnose")
    if verdict is None:
        return step("diagnose", "verdict")
    proved = held.answer("prove") is not None
    if held.cured and not held.more_after:
        return step("sign", "proof#sign") if held.job.state == "mended" else step("report", "report")
    if held.mended and not proved:
        return step("compare", "proof") if held.driven_after else step("drive", "pulls")
    if held.stale("diagnose"):
        return step("again", "verdict")
    if proved and held.job.state == "mended" and not held.more_after and not held.cured:
        return step("go_on", "proof")
    if proved:
        return step("compare", "proof") if held.more_after else step("report", "report")
    tests = verdict.answer.get("next_tests") or []
    if tests and not _settled(verdict.answer):
        return step("test", "verdict#do-next", test=test_name(tests[0]["id"]), minutes=shown.minutes(tests[0]["minutes"]))
    if held.answer("forecast") is None:
        return step("repair", "repair")
    return step("prove", "proof")


def test_name(test: str) -> str:
    """A test as read in a line of text."""
    return in_line(procedure(test).title)


def in_line(title: str) -> str:
    """A title as read in a line of text."""
    return title[:1].lower() + title[1:]


def _settled(verdict: dict[str, Any]) -> bool:
    """Whether no test would save more time than it takes."""
    return not any((one.get("minutes_saved") or 0.0) > 0.0 for one in verdict.get("next_tests") or [])


class Held:
    """What a job holds, each thing read once."""

    def __init__(self, store: Store, job: Job) -> None:
        self.job = job
        self._store = store
        self._files = {file.path: file for file in store.files(job.id)}
        self.recordings = [path for path in self._files if is_recording(path)]
        self._answers: dict[str, KeptAnswer | None] = {}

    def answer(self, kind: str) -> KeptAnswer | None:
        """The newest answer of a kind, of the present files or of earlier ones."""
        if kind not in self._answers:
            self._answers[kind] = self._store.answers.latest(self.job.id, kind, current=False)
        return self._answers[kind]

    @cached_property
    def after(self) -> LeftOut:
        """Recordings and readings that were made after the repair."""
        return after_repair(self._store, self.job.id)

    @cached_property
    def mended(self) -> bool:
        """Whether a repair was done."""
        return bool(mended_at(self._store, self.job.id))

    @property
    def cured(self) -> bool:
        """Whether the comparison says so."""
        found = self.answer("prove")
        return found is not None and found.answer.get("verdict") == "cured"

    @cached_property
    def more_after(self) -> bool:
        """Whether a recording came since pulls were compared that holds some from after the repair."""
        found = self.answer("prove")
        named = [] if found is None else found.choices.get("after", [])
        return any(not any(str(name).startswith(f"{path}#") for name in named) for path in self.driven_after)

    @property
    def driven_after(self) -> tuple[str, ...]:
        """Recordings that hold pulls from after the repair."""
        return (*self.after.recordings, *(path for path, _ in self.after.pulls))

    def stale(self, kind: str) -> bool:
        """Whether the newest answer of a kind is of earlier files."""
        found = self.answer(kind)
        return found is not None and found.content != self._store.content(self.job.id, kind)

    def _told(self, kind: str, text: str) -> str:
        """A line that repeats an answer; one of earlier files says so."""
        return t("frame.holds.before_change", says=text) if self.stale(kind) else text

    def car(self) -> str:
        told = _values(self._table("car.toml"))
        return t("frame.holds.car", n=told, told=told) if told else ""

    def pulls(self) -> str:
        if not self.recordings:
            return ""
        pulls, later = self._known_pulls()
        if not pulls:
            return t("frame.holds.recordings", n=len(self.recordings))
        top = max((pull.get("rpm_to") or 0.0) for pull in pulls)
        return self._with_later(t("frame.holds.pulls", n=len(pulls), rpm=shown.rpm(top)), later)

    def bench(self) -> str:
        rows = self._table("readings.toml").get("reading", [])
        readings = len(rows) if isinstance(rows, list) else 0
        return self._with_later(t("frame.holds.readings", n=readings), len(self.after.readings)) if readings else ""

    def _with_later(self, says: str, later: int) -> str:
        """A line that also says how many are of after the repair."""
        return t("frame.holds.later", says=says, later=later) if later else says

    def verdict(self) -> str:
        leads = self._leader()
        return self._told("diagnose", leads) if leads else ""

    def being_ranked(self, task: Task) -> str:
        """What stands for the verdict while the causes are ranked: that, and what is known of it already."""
        first = () if task.so_far is None else FirstRanking.from_json(task.so_far).ranking
        leader = next((one for one in first if one.id != REST), None)
        if leader is not None:
            title = t("verdict.none.title") if leader.id == NONE else cause_title(leader.id)
            return t("frame.holds.first_look", leader=in_line(title))
        before = self._leader()
        return t("frame.holds.ranking_again", says=before) if before else t("frame.holds.ranking")

    def _leader(self) -> str:
        """What leads in the newest verdict, and its share; empty where there is none."""
        found = self.answer("diagnose")
        causes = [] if found is None else found.answer.get("causes") or []
        if found is None or not causes:
            return ""
        first = max(causes, key=lambda cause: cause["probability"])
        name = in_line(cause_title(BOTH.join(first["parts"])))
        # as it may be said: what no own test has shown is never said to be nearly sure, and rough numbers are rounded
        sure = first["probability"] if first.get("confirmed") else min(first["probability"], UNCONFIRMED_CAP)
        others = {in_line(t("verdict.sound.title")): found.answer.get("healthy", 0.0),
                  in_line(t("verdict.none.title")): found.answer.get("none_of_these", 0.0)}  # fmt: skip
        other = max(others, key=lambda title: others[title])
        if others[other] >= first["probability"]:
            name, sure = other, others[other]
        share = percent(sure, found.answer.get("fit", {}).get("trust", "ok"))
        return t("frame.holds.verdict", cause=name, share=share) if share else name

    def repair(self) -> str:
        found = self.answer("forecast")
        if found is None:
            return ""
        return self._told("forecast", t("frame.holds.repair", n=len(found.answer.get("repairs") or [1])))

    def proof(self) -> str:
        found = self.answer("prove")
        return "" if found is None else self._told("prove", found.answer.get("verdict") or t("frame.holds.proof"))

    def _known_pulls(self) -> tuple[list[dict[str, Any]], int]:
        """Every pull that is known, and how many of them are of after the repair."""
        verdict = self.answer("diagnose")
        judged = verdict is not None and not self.stale("diagnose")
        found = list(verdict.answer.get("pulls") or []) if verdict is not None and judged else []
        later = 0
        for path in self.recordings:
            numbers = self.after.since.pulls_of(path)
            if judged and not numbers:
                continue
            kept = self._store.answers.latest(self.job.id, "inspect", {"path": path}, current=False)
            pulls = [] if kept is None else kept.answer.get("pulls") or []
            since = [pull for n, pull in enumerate(pulls, 1) if n in numbers]
            found += since if judged else pulls
            later += len(since)
        return found, later

    def _table(self, path: str) -> dict[str, Any]:
        """A file of the case as it stands, also one that is not quite right yet; empty where it cannot be read."""
        if path not in self._files:
            return {}
        sha256 = self._files[path].sha256
        if sha256 not in _parsed:
            if len(_parsed) >= _MOST_PARSED:
                _parsed.clear()
            _parsed[sha256] = toml_table(self._store.text(self.job.id, path)) or {}
        return _parsed[sha256]


def _values(table: dict[str, Any]) -> int:
    """How many things are told of the car itself, beside its name and complaint."""
    return sum(len(section) for name, section in table.items() if name != "car" and isinstance(section, dict))


def line_of(held: Held) -> str:
    """One line of the furthest thing that a job holds, empty where it holds nothing."""
    if proof := held.proof():
        return t("frame.holds.line", station=t("frame.titles.proof"), says=proof)
    return held.repair() or held.verdict() or ", ".join(line for line in (held.pulls(), held.bench()) if line)
