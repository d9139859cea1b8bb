"""Long work of a job: start it, see how far it is, stop it."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import Response

from boostproof.errors import InputError
from boostproof.web.page import json_answer, see_other, store_of, wants_json, work_of
from boostproof.web.pages.job import within
from boostproof.web.words import t

router = APIRouter()


@router.get("/jobs/{job_id}/tasks")
def tasks(request: Request, job_id: int) -> Response:
    """The long work of a job, newest first, as JSON."""
    job = store_of(request).job(job_id)
    return json_answer({"format": 1, "tasks": [asdict(task) for task in work_of(request).tasks(job.id)]})


@router.get("/jobs/{job_id}/tasks/{task_id}")
def task(request: Request, job_id: int, task_id: int) -> Response:
    """How far one piece of long work is, as JSON: state, what it does now, share done, error, answer; ``so_far`` is what is
    known already, of ``diagnose`` the first look."""
    found = work_of(request).task(task_id)
    if found.job != job_id:
        raise InputError(t("frame.errors.missing"), kind="no-task", do=t("frame.errors.missing_do"))
    return json_answer({"format": 1, **asdict(found)})


@router.post("/jobs/{job_id}/tasks", status_code=303)
def start(
    request: Request,
    job_id: int,
    kind: Annotated[str, Form()],
    choices: Annotated[str, Form()] = "{}",
    back: Annotated[str, Form()] = "",
) -> Response:
    """Start long work: kind (inspect, diagnose, bench, plan, forecast, prove, report, scene) and choices as JSON.

    The same work on the same files is done once: the task that runs or is done is given again.
    """
    try:
        chosen = json.loads(choices)
        json.dumps(chosen, allow_nan=False)
    except (ValueError, RecursionError):
        chosen = None
    if not isinstance(chosen, dict):
        raise InputError(t("frame.errors.choices"), kind="not-understood", do=t("frame.errors.not_understood_do"))
    started = work_of(request).start(store_of(request).job(job_id).id, kind, chosen)
    if wants_json(request) or not back:
        return see_other(f"/jobs/{job_id}/tasks/{started.id}")
    return see_other(within(job_id, back))


@router.post("/jobs/{job_id}/tasks/{task_id}/stop", status_code=303)
def stop(request: Request, job_id: int, task_id: int, back: Annotated[str, Form()] = "") -> Response:
    """Stop long work; what it had done so far is dropped."""
    work = work_of(request)
    if work.task(task_id).job == job_id:
        work.stop(task_id)
    return see_other(within(job_id, back) if back else f"/jobs/{job_id}/tasks/{task_id}")
