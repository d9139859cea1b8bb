"""What the plots of the Pulls page draw: pulls over engine speed, and stretches of a recording, as blocks of floats."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from fastapi import APIRouter, Request
from starlette.responses import Response

from boostproof.web.channels import FIRST, GATE, Shown, shown_channel
from boostproof.web.page import json_answer, store_of, units_of, wants_json, work_of
from boostproof.web.pulls_held import files_seen, looked_at, recording_at, wanted_boost
from boostproof.web.pulls_words import nth, pull_name
from boostproof.web.words import t
from boostproof.workflows.over_speed import channel_over_speed
from boostproof.workflows.plot_block import Block, Line
from boostproof.workflows.pull_curves import on_shared, shared_speeds, target_band
from boostproof.workflows.recording_window import window
from boostproof.workflows.recordings_seen import FileSeen, PullSeen

router = APIRouter()
_MOST_CHANNELS = 40


@router.get("/jobs/{job_id}/pulls/curves", response_class=Response)
def curves(request: Request, job_id: int, channels: str = FIRST[0]) -> Response:
    """Channels of every full-load pull over engine speed, as a block of numbers, or as JSON.

    ``channels`` names them, parted by commas; boost comes with the ends between which the true boost lies and with
    the boost that is wanted.
    """
    store, units = store_of(request), units_of(store_of(request))
    looked = looked_at(store, work_of(request), job_id)
    files = files_seen(store, job_id, looked)
    pulls = [pull for file in files for pull in file.pulls if pull.full_load and len(pull.rpm)]
    grid = shared_speeds(pulls)
    lines: list[Line] = []
    panels: dict[str, Any] = {}
    for channel in _named(channels):
        if channel == FIRST[0]:
            shown = shown_channel(channel, "kPa", "gauge", units)
            lines += _boost_lines(pulls, grid, shown, wanted_boost(store, job_id))
            panels[channel] = shown.panel(channel)
            continue
        found = _channel_lines(store, job_id, files, channel, grid, units)
        if found is not None:
            panels[channel], more = found
            lines += more
    about = {
        "x": {"label": t("pulls.plots.speed"), "digits": 0},
        "words": _words(t("pulls.cursor.speed")),
        "panels": panels,
    }
    return _sent(request, Block(grid, tuple(lines), about))


def _boost_lines(
    pulls: Sequence[PullSeen], grid: Any, shown: Shown, target: tuple[Any, float | None]
) -> list[Line]:
    panel = {"panel": FIRST[0]}
    lines = []
    wanted, barometer = target
    band = None if wanted is None or not len(grid) else target_band(wanted, grid, barometer or 101_325.0)
    if band is not None:
        edge = panel | {"role": "edge", "quiet": True}
        lines.append(Line("wanted high", shown.numbers(1e3 * band.high), edge))
        lines.append(Line("wanted low", shown.numbers(1e3 * band.low), edge | {"to": "wanted high", "hatch": True}))
        lines.append(
            Line(
                "wanted", shown.numbers(1e3 * band.wanted),
                panel | {"role": "wanted", "quiet": True, "title": t("pulls.plots.target")},
            )
        )
    for pull in pulls:
        edge = panel | {"role": "edge", "of": pull.key, "first": True, "quiet": True}
        boost, doubt = on_shared(pull, pull.boost, grid), 2.0 * on_shared(pull, pull.sd, grid)
        high, low = f"{pull.key} high", f"{pull.key} low"
        lines.append(Line(high, shown.numbers(1e3 * (boost + doubt)), edge))
        lines.append(Line(low, shown.numbers(1e3 * (boost - doubt)), edge | {"to": high}))
    for pull in pulls:
        lines.append(Line(pull.key, shown.numbers(1e3 * on_shared(pull, pull.boost, grid)), _of(pull, FIRST[0])))
    return lines


def _of(pull: PullSeen, channel: str) -> dict[str, Any]:
    return {"panel": channel, "role": "pull", "of": pull.key, "name": nth(pull.place), "long": pull_name(pull)}


def _channel_lines(
    store: Any, job_id: int, files: Sequence[FileSeen], channel: str, grid: Any, units: str
) -> tuple[dict[str, Any], list[Line]] | None:
    """Lines of one more channel and what its panel is called; None where no recording holds it."""
    panel: dict[str, Any] | None = None
    lines: list[Line] = []
    for file in files:
        match = next((c for c in file.columns if c.channel == channel), None)
        pulls = [pull for pull in file.pulls if pull.full_load and len(pull.rpm)]
        if match is None or not pulls:
            continue
        shown = shown_channel(channel, match.unit, match.reference, units)
        found = channel_over_speed(store.table(job_id, file.path), channel, [(p.from_s, p.to_s) for p in pulls], grid)
        if found is None:
            continue
        panel = panel or shown.panel(channel) | _fixed(channel)
        lines += [Line(p.key, shown.numbers(v), _of(p, channel)) for p, v in zip(pulls, found, strict=True)]
    return None if panel is None else (panel, lines)


def _fixed(channel: str) -> dict[str, Any]:
    """The gate's opening is always drawn from shut to full open."""
    return {"range": [-4.0, 104.0]} if channel == GATE else {}


@router.get("/jobs/{job_id}/pulls/window", response_class=Response)
def recording(request: Request, job_id: int, path: str, channels: str = "") -> Response:
    """A stretch of a recording over time, about 1,500 samples of each channel at shared times; a block, or JSON.

    ``from`` and ``to`` are seconds of the recording; left out, all of it.
    """
    store, units = store_of(request), units_of(store_of(request))
    seen, table = recording_at(store, work_of(request), job_id, path)
    known = {column.channel: column for column in seen.columns if column.channel != "time"}
    named = [name for name in _named(channels) if name in known]
    ends = [_seconds(request.query_params.get(name)) for name in ("from", "to")]
    found = window(table, named, from_s=ends[0], to_s=ends[1])
    panels, lines = {}, []
    for line in found.lines:
        column = known[line.key]
        shown = shown_channel(line.key, column.unit, column.reference, units)
        panels[line.key] = shown.panel(line.key) | _fixed(line.key)
        lines.append(Line(line.key, shown.numbers(line.values), {"panel": line.key, "role": "pull"}))
    clock = "time" if seen.time_known else "row"
    about = {
        "x": {"label": t(f"pulls.plots.{clock}"), "digits": 1 if seen.time_known else 0},
        "words": _words(t(f"pulls.cursor.{clock}")),
        "panels": panels,
        "whole": [found.about["from_s"], found.about["to_s"]],
        "spans": [
            {"from": p.from_s, "to": p.to_s, "name": nth(p.place), "key": p.key} for p in seen.pulls if p.full_load
        ],
    }
    return _sent(request, Block(found.x, tuple(lines), about))


def _named(channels: str) -> list[str]:
    return list(dict.fromkeys(name for name in channels.split(",") if name))[:_MOST_CHANNELS]


def _seconds(text: str | None) -> float | None:
    try:
        value = float(text or "nan")
    except ValueError:
        return None
    return value if np.isfinite(value) else None


def _words(x: str) -> dict[str, str]:
    return {"x": x, "nothing": t("pulls.cursor.nothing"), "plot": t("pulls.plots.what")}


def _sent(request: Request, block: Block) -> Response:
    if wants_json(request):
        return json_answer({"format": 1, **block.as_json()})
    return Response(block.pack(), media_type="application/octet-stream")

