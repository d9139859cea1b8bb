"""The shop page: every job with its state at a glance, a new job, a case brought in, the demo job."""

from __future__ import annotations

import logging
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, Request, UploadFile
from starlette.responses import Response

from boostproof.casefolder.new_car import new_car_text
from boostproof.casefolder.unpack import unpack_case
from boostproof.errors import BoostproofError, InputError
from boostproof.jobs import STATES, Job
from boostproof.web.demo_job import open_demo_job
from boostproof.web.errors import status_of
from boostproof.web.once import Once
from boostproof.web.page import (
    Notice,
    Page,
    answer,
    carried_out,
    frame,
    shows,
    store_of,
    work_of,
)
from boostproof.web.stations import Held, address_of, line_of
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

router = APIRouter()
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True)
class JobRow:
    """One job in the list.

    Attributes
    ----------
    job : the job
    address : its worksheet
    holds : one line of the furthest thing that it holds
    step : how many of the six steps from "new" to "proved" are reached; 0 for one that is left as is
    """

    job: Job
    address: str
    holds: str
    step: int


@dataclass(frozen=True)
class StateChoice:
    """A state to show the jobs of: the count is of all jobs that the search finds."""

    state: str
    count: int
    chosen: bool


@dataclass(frozen=True, kw_only=True)
class ShopPage(Page):
    """The jobs, and what was typed into the forms of the page."""

    search: str
    state: str
    states: tuple[StateChoice, ...]
    jobs: tuple[JobRow, ...]
    any_jobs: bool
    typed: Mapping[str, str]
    wrong: Mapping[str, str]


def shop_page(
    store: Store,
    work: Work,
    query: Mapping[str, str],
    *,
    typed: Mapping[str, str] | None = None,
    wrong: Mapping[str, str] | None = None,
    notices: tuple[Notice, ...] = (),
) -> ShopPage:
    """The shop page.

    Parameters
    ----------
    query : ``search`` (part of a car, a name or a complaint) and ``state``
    typed, wrong : values to keep in the forms, and what is wrong with them by field
    """
    search = query.get("search", "").strip()
    state = query.get("state", "") if query.get("state") in STATES else ""
    found = store.jobs(search)
    counts = {one: sum(job.state == one for job in found) for one in STATES}
    return ShopPage(
        **frame(store, work, None, "shop", notices),
        search=search,
        state=state,
        states=tuple(StateChoice(one, n, one == state) for one, n in counts.items() if n),
        jobs=_rows(store, [job for job in found if not state or job.state == state]),
        any_jobs=bool(found) or bool(search and store.jobs()),
        typed=typed or {},
        wrong=wrong or {},
    )


# What a job holds in one line, for as long as neither its files nor its answers change: a long list is asked for often.
_LINES: dict[tuple[object, ...], str] = {}
_MOST_LINES = 5_000


def _rows(store: Store, jobs: list[Job]) -> tuple[JobRow, ...]:
    answers = store.answers.newest()
    return tuple(
        JobRow(job, f"/jobs/{job.id}", _line(store, job, answers.get(job.id, 0)), _step(job)) for job in jobs
    )


def _line(store: Store, job: Job, newest: int) -> str:
    key = (store.root, job.id, job.changed, newest)
    if key not in _LINES:
        if len(_LINES) >= _MOST_LINES:
            _LINES.clear()
        try:
            _LINES[key] = line_of(Held(store, job))
        except (KeyError, TypeError, ValueError, AttributeError):  # an answer that came in from elsewhere, of another make
            _LOG.exception("job %d cannot be told in a line", job.id)
            _LINES[key] = ""
    return _LINES[key]


def _step(job: Job) -> int:
    return (STATES.index(job.state) + 1) % len(STATES)


@router.get("/", **shows(ShopPage))
def show(request: Request, search: str = "", state: str = "") -> Response:
    """The jobs of the shop: search by car, choose a state."""
    page = shop_page(store_of(request), work_of(request), {"search": search, "state": state})
    return answer(request, page, "shop.html")


@router.post("/jobs", status_code=303)
def new_job(
    request: Request, once: Once, car: Annotated[str, Form()] = "", complaint: Annotated[str, Form()] = ""
) -> Response:
    """Open a job for a car; its other particulars are told on its own page."""
    store = store_of(request)
    if not car.strip():
        page = shop_page(
            store, work_of(request), {}, typed={"car": car, "complaint": complaint}, wrong={"car": t("shop.new.car_missing")}
        )
        return answer(request, page, "shop.html", status=422)
    return carried_out(
        request, once, lambda: address_of(store.new_job(new_car_text(car, complaint)).id, "car")
    )


@router.post("/jobs/bring", status_code=303)
def bring(request: Request, once: Once, files: list[UploadFile]) -> Response:
    """Bring in a case folder: one zip file, or its files (car.toml, readings.toml, pulls.toml, recordings)."""
    store = store_of(request)
    given = [(file.filename or "", file.file) for file in files if file.filename]

    def brought() -> str:
        if not given:
            raise InputError(t("shop.bring.none"), kind="no-files")
        with tempfile.TemporaryDirectory(prefix="boostproof-") as place:
            return f"/jobs/{store.import_case(unpack_case(given, Path(place))).id}"

    try:
        return carried_out(request, once, brought)
    except BoostproofError as error:
        said = " ".join(part for part in (error.says, error.do) if part)
        page = shop_page(store, work_of(request), {}, wrong={"files": said})
        return answer(request, page, "shop.html", status=status_of(error))


@router.post("/jobs/demo", status_code=303)
def demo_job(request: Request, once: Once) -> Response:
    """Open a job of the invented demo car, with its log and its bench readings."""
    return carried_out(request, once, lambda: f"/jobs/{open_demo_job(store_of(request)).id}")
