"""What belongs to a whole job: its first page, its state, and its case folder to take away."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, Response

from boostproof.errors import InputError
from boostproof.jobs import STATES
from boostproof.web.page import see_other, store_of, work_of
from boostproof.web.stations import Held, next_step
from boostproof.web.words import t

router = APIRouter()


@router.get("/jobs/{job_id}", status_code=303)
def first(request: Request, job_id: int) -> Response:
    """Leads to the page of the job that would help most now."""
    store = store_of(request)
    return see_other(next_step(Held(store, store.job(job_id)), work_of(request)).address)


@router.post("/jobs/{job_id}/state", status_code=303)
def set_state(request: Request, job_id: int, state: Annotated[str, Form()], back: Annotated[str, Form()] = "") -> Response:
    """Set the state of a job."""
    if state not in STATES:
        raise InputError(t("frame.errors.state"), kind="no-such-state", do=", ".join(STATES) + ".")
    store_of(request).set_state(job_id, state)
    return see_other(within(job_id, back))


@router.get("/jobs/{job_id}/case.zip", responses={200: {"content": {"application/zip": {}}}}, response_class=Response)
def take_away(request: Request, job_id: int) -> Response:
    """The case folder of the job as one zip file; it can be brought in again anywhere."""
    store = store_of(request)
    job = store.job(job_id)
    place = Path(tempfile.mkdtemp(prefix="boostproof-"))
    try:
        store.export_case(job_id, place / "case")
        archive = shutil.make_archive(str(place / "packed"), "zip", place / "case")
    except BaseException:
        shutil.rmtree(place, ignore_errors=True)
        raise
    return FileResponse(
        archive, media_type="application/zip", filename=f"job-{job.id}.zip",
        background=BackgroundTask(shutil.rmtree, place, ignore_errors=True),
    )  # fmt: skip


def within(job_id: int, address: str) -> str:
    """Where to go back to: a page of this job, and nothing else."""
    home = f"/jobs/{job_id}"
    inside = address.startswith(f"{home}/") and "//" not in address and ".." not in address
    return address if inside else home
