"""What the store hands out: plain values."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Literal

STATES = ("new", "measuring", "needs approval", "found", "mended", "proved", "left as is")

TaskState = Literal["waiting", "running", "done", "failed", "stopped"]
UNDER_WAY: tuple[TaskState, ...] = ("waiting", "running")  # states of work that has not ended


@dataclass(frozen=True)
class Job:
    """One car in the shop.

    Attributes
    ----------
    name : what the job is called: the car's name, or its number while car.toml gives none
    car : the car's name as car.toml gives it, empty where it does not
    complaint : in the customer's words, one line
    state : one of `STATES`
    created, changed : ISO 8601, UTC
    """

    id: int
    name: str
    car: str
    complaint: str
    state: str
    created: str
    changed: str


@dataclass(frozen=True)
class StoredFile:
    """One version of one file of a job; ``changed`` is when it came in (ISO 8601, UTC)."""

    path: str
    sha256: str
    size: int
    changed: str


@dataclass(frozen=True)
class KeptAnswer:
    """An answer with all that it rests on, so that it can be made again.

    Attributes
    ----------
    kind, choices : what was asked
    content : hash of the job's files that it was made from (`Store.content`)
    answer : as the library gave it
    seed, versions : of the computation
    made : ISO 8601, UTC
    """

    id: int
    job: int
    kind: str
    choices: dict[str, Any]
    content: str
    answer: dict[str, Any] = field(repr=False)
    seed: int
    versions: dict[str, str]
    made: str


@dataclass(frozen=True)
class Noted:
    """What was done to a job, and when (ISO 8601, UTC)."""

    at: str
    says: str


@dataclass(frozen=True)
class Task:
    """Work on one job.

    Attributes
    ----------
    kind, choices : what is asked (`boostproof.jobs.kinds.KINDS`)
    state : "stopped" was stopped by a person, or no longer wanted because the files changed before its turn
    says, share : what is being done, and how much of it is done, 0 to 1
    error : kind, where, says, do of what went wrong; None otherwise
    answer : id of the kept answer, None before it is done
    created, ended : ISO 8601, UTC; ended is empty before the end
    content : hash of the job's files that it works on
    so_far : what is known already while it runs, None where nothing is
    """

    id: int
    job: int
    kind: str
    choices: dict[str, Any]
    state: TaskState
    says: str
    share: float
    error: dict[str, str] | None
    answer: int | None
    created: str
    ended: str
    content: str
    so_far: dict[str, Any] | None = None

    @property
    def over(self) -> bool:
        """Nothing more will come of it."""
        return self.state in ("done", "failed", "stopped")


def now() -> str:
    """This moment, ISO 8601, UTC, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
