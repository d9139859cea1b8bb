"""The Pulls page: bring in logs, see how they were read, correct a column with one tap, look at the pulls."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request, UploadFile
from starlette.responses import FileResponse, Response

from boostproof.case_names import ASIDE, RECORDINGS, is_set_aside
from boostproof.casefolder import edit_pulls
from boostproof.errors import BoostproofError, InputError
from boostproof.jobs.recordings import Looked, Recordings, answerable
from boostproof.recording.model import ColumnChoice
from boostproof.web.errors import status_of
from boostproof.web.page import Notice, answer, see_other, shows, store_of, work_of
from boostproof.web.pages import pulls_plots
from boostproof.web.pulls_page import PullsPage, pulls_page
from boostproof.web.reading_form import sent_values
from boostproof.web.words import t

router = APIRouter()
router.include_router(pulls_plots.router)


@router.get("/jobs/{job_id}/pulls", **shows(PullsPage))
def show(request: Request, job_id: int) -> Response:
    """Recordings of a job, their columns and pulls.

    ``show`` (repeated) ticks pulls as FILE#NUMBER, ``channels`` (repeated) unfolds channels, ``recording`` chooses the
    one that is shown whole, ``before`` and ``after`` hold one pull against another.
    """
    page = pulls_page(store_of(request), work_of(request), job_id, request.query_params)
    return answer(request, page, "pulls.html")


@router.post("/jobs/{job_id}/pulls/files", status_code=303)
def bring_in(request: Request, job_id: int, files: list[UploadFile]) -> Response:
    """Bring in logs. Each is kept as it came before it is read; one that is no log is set aside and told of."""
    recordings = _recordings(request)
    store_of(request).job(job_id)
    given = [file for file in files if file.filename]
    if not given:
        return _again(request, job_id, [Notice("no-files", t("pulls.drop.none"))])
    # What comes is on the disk already where it is large, and never stands in memory.
    paths = [recordings.add(job_id, file.filename or "log", file.file) for file in given]
    recordings.look_or_start(job_id, paths)
    wrong = recordings.set_aside_unread(job_id, paths)
    if not wrong:
        return see_other(_home(job_id))
    return _again(request, job_id, _wrong(wrong))


@router.post("/jobs/{job_id}/pulls/column", status_code=303)
def column(
    request: Request,
    job_id: int,
    path: Annotated[str, Form()],
    channel: Annotated[str, Form()],
    column: Annotated[str, Form()] = "",
    unit: Annotated[str, Form()] = "",
    reference: Annotated[str, Form()] = "",
) -> Response:
    """Name the column of a channel in pulls.toml; without a column, take back what was named for it."""
    recordings = _recordings(request)

    def change(text: str) -> str:
        if not column:
            return edit_pulls.without_column(text, path, channel)
        counts = reference if reference in ("gauge", "abs") else None
        choice = ColumnChoice(column, unit.strip() or None, counts)  # type: ignore[arg-type]
        return edit_pulls.with_columns(text, path, {channel: choice})

    return _changed(request, job_id, path, lambda: recordings.edit(job_id, change))


@router.post("/jobs/{job_id}/pulls/set-up", status_code=303)
def set_up(
    request: Request,
    job_id: int,
    path: Annotated[str, Form()],
    sent: Annotated[dict[str, list[str]], Depends(sent_values)],
    controller: Annotated[str | None, Form()] = None,
    gate: Annotated[str | None, Form()] = None,
    gear: Annotated[str | None, Form()] = None,
    duty: Annotated[str | None, Form()] = None,
    turns_in: Annotated[str | None, Form()] = None,
    source: Annotated[str | None, Form()] = None,
    note: Annotated[str | None, Form()] = None,
    after_repair: Annotated[str | None, Form()] = None,
    seen: Annotated[str | None, Form()] = None,
) -> Response:
    """How the car stood during a recording, and which of its pulls were made after a repair (``3-``: from the third on); a
    field left out stays, an empty one is taken away.

    ``seen`` is the sha256 of the pulls.toml that was looked at, so that nobody's change is written over.
    """
    given = {
        "controller": controller, "gate": gate, "gear": gear, "duty": duty, "turns_in": turns_in, "source": source,
        "note": note, "after_repair": after_repair,
    }  # fmt: skip
    said = {name: value or "" for name, value in given.items() if name in sent}  # an empty field arrives as None
    expect = (seen or "") if "seen" in sent else None
    recordings = _recordings(request)

    def change() -> None:
        recordings.edit(job_id, lambda text: edit_pulls.with_set_up(text, path, said), expect=expect)

    return _changed(request, job_id, path, change, {"path": path, **said})


@router.post("/jobs/{job_id}/pulls/excluded", status_code=303)
def excluded(
    request: Request,
    job_id: int,
    path: Annotated[str, Form()],
    from_s: Annotated[float, Form()] = 0.0,
    to_s: Annotated[float, Form()] = 0.0,
    why: Annotated[str, Form()] = "",
    number: Annotated[int, Form()] = -1,
) -> Response:
    """Leave a stretch of a recording out, or take stretch ``number`` (from 0) in again."""
    recordings = _recordings(request)

    def change(text: str) -> str:
        if number >= 0:
            return edit_pulls.without_excluded(text, path, number)
        return edit_pulls.with_excluded(text, path, from_s, to_s, why)

    return _changed(request, job_id, path, lambda: recordings.edit(job_id, change))


@router.post("/jobs/{job_id}/pulls/remove", status_code=303)
def remove(request: Request, job_id: int, path: Annotated[str, Form()]) -> Response:
    """Take a recording out of the job; its versions stay."""
    _within(request, job_id, path)
    _recordings(request).remove(job_id, path)
    return see_other(_home(job_id))


@router.post("/jobs/{job_id}/pulls/aside", status_code=303)
def aside(request: Request, job_id: int, path: Annotated[str, Form()]) -> Response:
    """Set a recording aside, where nothing reads it."""
    _within(request, job_id, path)
    _recordings(request).set_aside(job_id, path)
    return see_other(_home(job_id))


@router.post("/jobs/{job_id}/pulls/again", status_code=303)
def again(
    request: Request,
    job_id: int,
    path: Annotated[str, Form()],
    channel: Annotated[str, Form()] = "",
    column: Annotated[str, Form()] = "",
) -> Response:
    """Read a recording again; one that was set aside goes back first, with a column named for it where one is given."""
    recordings = _recordings(request)
    _within(request, job_id, path)
    if is_set_aside(path):
        path = recordings.take_back(job_id, path)
    if channel and column:
        named = {channel: ColumnChoice(column)}
        recordings.edit(job_id, lambda text: edit_pulls.with_columns(text, path, named))
    recordings.look_or_start(job_id, [path])
    wrong = recordings.set_aside_unread(job_id, [path])
    return _again(request, job_id, _wrong(wrong)) if wrong else see_other(_home(job_id))


@router.get("/jobs/{job_id}/pulls/file", response_class=FileResponse)
def file(request: Request, job_id: int, path: str) -> Response:
    """A recording as it came, byte for byte."""
    _within(request, job_id, path)
    store = store_of(request)
    place = store.kept.path(next(one.sha256 for one in store.files(job_id) if one.path == path))
    return FileResponse(place, media_type="application/octet-stream", filename=Path(path).name)


def _wrong(files: Sequence[Looked]) -> list[Notice]:
    """What was wrong with files that were set aside, and what to do."""
    return [
        Notice(
            "wrong-file",
            t("pulls.drop.wrong", name=one.name, says=one.error["says"]),
            " ".join(
                (t("pulls.file.say_which") if answerable(one.error) else one.error["do"], t("pulls.drop.wrong_kept"))
            ),
        )
        for one in files
        if one.error
    ]


def _recordings(request: Request) -> Recordings:
    return Recordings(store_of(request), work_of(request))


def _home(job_id: int) -> str:
    return f"/jobs/{job_id}/pulls"


def _within(request: Request, job_id: int, path: str) -> None:
    """Only recordings that are there are touched from here, never the car's own files."""
    there = any(one.path == path for one in store_of(request).files(job_id))
    if not there or not path.startswith((f"{RECORDINGS}/", f"{ASIDE}/")):
        raise InputError(t("frame.errors.missing"), kind="no-file", where=path, do=t("frame.errors.missing_do"))


def _changed(
    request: Request, job_id: int, path: str, change: Callable[[], None], typed: Mapping[str, str] | None = None
) -> Response:
    """Do a change of pulls.toml and read what rests on it; what is wrong with it is said on the page."""
    _within(request, job_id, path)
    try:
        change()
    except BoostproofError as error:
        notice = Notice(error.kind, error.says, error.do)
        return _again(request, job_id, [notice], status_of(error), typed)
    _recordings(request).look_or_start(job_id, [path])
    return see_other(_home(job_id))


def _again(
    request: Request, job_id: int, notices: list[Notice], status: int = 422, typed: Mapping[str, str] | None = None
) -> Response:
    page = pulls_page(store_of(request), work_of(request), job_id, request.query_params, tuple(notices), typed)
    return answer(request, page, "pulls.html", status=status)
