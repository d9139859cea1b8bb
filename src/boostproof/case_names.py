"""Names of what lies in a case folder: every floor that reads, writes or shows one knows them from here."""

from __future__ import annotations

CAR, READINGS, PULLS, RECORDINGS = "car.toml", "readings.toml", "pulls.toml", "recordings"
JOB = "job.json"  # what a job of the worksheet held beside its files; nothing of it belongs to the case
ASIDE = "set-aside"  # beside them in a job: files that nothing reads
NO_RECORDINGS = (".dbc",)  # kinds of file that stand beside recordings and are none


def is_recording(path: str) -> bool:
    """Whether a path in a case is that of a recording."""
    return path.startswith(f"{RECORDINGS}/") and not path.casefold().endswith(NO_RECORDINGS)


def is_set_aside(path: str) -> bool:
    """Whether a path in a job is that of a file that nothing reads."""
    return path.startswith(f"{ASIDE}/")
