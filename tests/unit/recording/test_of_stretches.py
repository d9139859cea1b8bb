"""Of a recording only what concerns the parts that are used is told."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
from tests.unit.recording.drawn_pulls import drawn_pull, drive_around

from boostproof.findings import Finding
from boostproof.recording import Recording, find_pulls
from boostproof.recording.checks.of_stretches import findings_of_stretches
from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise

BREAK, LOST = 20.0, 2.0  # s without rows between two drives, and inside the second pull


def with_holes() -> tuple[Recording, float, float]:
    """Two drives with a break between them and a hole inside the second pull; when the two begin."""
    rows, now, breaks = [], 0.0, [0.0, 0.0]
    for number in range(2):
        rng = np.random.default_rng(number)
        for step, (rpm, opening, boost, _) in enumerate(drive_around(rng, drawn_pull(rng), 300.0)):
            rows.append((now, rpm, opening, boost))
            if number == 1 and step == 140:
                breaks[1], now = now, now + LOST
            now += 0.05
        if number == 0:
            breaks[0], now = now - 0.05, now + BREAK
    heads = ("Time (s)", "RPM", "TPS (%)", "Boost (kPa)")
    columns = [Column(head, "", np.round(values, 2), 0) for head, values in zip(heads, np.array(rows).T, strict=True)]
    return recognise(Table("log.csv", "csv", len(rows), tuple(columns))), *breaks


def holes_of(recording: Recording, *stretches: tuple[float, float]) -> list[tuple[float, float]]:
    told = [f.says for f in findings_of_stretches(recording, stretches) if f.kind == "gap-in-log"]
    places = [place for says in told for place in re.findall(r"([\d.]+) s from ([\d.]+) s", says)]
    return [(float(start), float(length)) for length, start in places]


def test_only_holes_in_what_is_used_are_told() -> None:
    recording, between, inside = with_holes()
    pulls = find_pulls(recording)
    first = (pulls[0].from_s, pulls[0].to_s)
    assert "holes in time" in next(f.says for f in recording.findings if f.kind == "gap-in-log")
    assert first[1] < between - 1.0 and holes_of(recording, first) == []
    cut = [(p.from_s, p.to_s) for p in pulls if p.from_s > between]
    assert cut and cut[0][1] <= inside + 0.01  # a pull ends at a hole
    [(start, length)] = holes_of(recording, first, cut[0])
    assert abs(start - inside) < 0.06 and abs(length - LOST - 0.05) < 0.06
    assert len(holes_of(recording, (0.0, recording.time[-1]))) == 2


def test_what_names_a_stretch_that_is_not_used_is_left_out_and_what_is_of_the_file_stays() -> None:
    recording, _, _ = with_holes()
    frozen = Finding("frozen-channel", "log.csv: Boost (kPa), 2.0 to 4.5 s", "Boost does not change.")
    of_file = Finding("clock-wrapped", "log.csv: column Time (s)", "The time falls back.")
    recording = replace(recording, findings=(frozen, of_file))
    assert findings_of_stretches(recording, [(5.0, 9.0)]) == (of_file,)
    assert findings_of_stretches(recording, [(20.0, 30.0), (4.0, 9.0)]) == (frozen, of_file)
