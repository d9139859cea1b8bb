"""Names of what lies in a case folder: every floor that reads, writes or shows one knows them from here."""

from __future__ import annotations

CAR, READINGS, PULLS, RECORDINGS = "car.toml", "readings.toml", "pulls.toml", "recordings"
JOB = "job.json"  # what a job of the worksheet held beside its files; nothing of it belongs to the case
