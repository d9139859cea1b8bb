"""Findings about the pulls of a recording: what kept some from counting, and what is no boost fault."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.checks.short_pull import about_short_pulls
from boostproof.recording.driving.anti_lag import about_anti_lag
from boostproof.recording.driving.aspirated import about_no_boost, no_boost_at_all
from boostproof.recording.driving.drive_line import about_drive_line
from boostproof.recording.driving.events import Event, events_of
from boostproof.recording.driving.limiter import about_limiter
from boostproof.recording.driving.lost_boost import boost_lost
from boostproof.recording.driving.plate import about_full_level, about_plate
from boostproof.recording.driving.ready import RPM, Driving, driving_of, speed_of
from boostproof.recording.model import Pull, Recording

_RUNNING = 400.0  # rpm
_PULL = "Log a pull in one gear from low engine speed."


def about_pulls(
    recording: Recording,
    pulls: Sequence[Pull],
    *,
    excluded: Sequence[tuple[float | None, float | None]] = (),
) -> tuple[Finding, ...]:
    """What a person should know about the pulls, and about what looks like a boost fault and is none.

    Parameters
    ----------
    recording : as read
    pulls : what `find_pulls` gave for it, with the sweeps at part throttle
    excluded : (from, to) in seconds that are not used; nothing is said about them

    Returns
    -------
    tuple of Finding
        Of the kinds part-load, no-pull, boost-missing,
        no-throttle, throttle-never-full, plate-held-back, short-pull, anti-lag,
        limiter, gear-change, kickdown, converter-flare, clutch-slip, wheel-slip, naturally-aspirated and
        engine-speed-glitches.
    """
    driving = driving_of(recording)
    findings = [*_about_load(recording, pulls, driving), *_about_lost_boost(recording, pulls)]
    if driving is not None:
        findings += _about_driving(driving, pulls, excluded)
    return (*findings, *_about_glitches(recording))


def _about_lost_boost(recording: Recording, pulls: Sequence[Pull]) -> list[Finding]:
    findings = []
    for pull in pulls:
        hole = boost_lost(recording, pull.start, pull.stop) if pull.full_load else None
        if hole is not None:
            findings.append(
                Finding(
                    "boost-missing",
                    f"{recording.file}, {pull.from_s:.1f} to {pull.to_s:.1f} s",
                    f"Boost is missing from {hole[0]:.1f} to {hole[1]:.1f} s within this pull; no boost figure was "
                    "taken from it.",
                    "Look for a loose plug, or log fewer channels, and drive the pull again.",
                )
            )
    return findings


def _why_no_pull(recording: Recording, driving: Driving | None) -> tuple[str, str]:
    """What kept the log from holding a pull, and what to do."""
    do = f"{_PULL[:-1]}; log the throttle too."
    speed = recording.channels["engine_speed"].values * RPM
    top = float(np.nanmax(speed)) if np.isfinite(speed).any() else 0.0
    if top < _RUNNING and recording.time_known:
        return f"No pull was found: the engine speed never goes above {top:.0f} rpm.", "Log a pull with the engine running."
    if driving is not None and driving.lever is not None and not driving.told and not driving.lever.own_scale:
        word = "pedal" if driving.lever.name == "pedal" else "throttle"
        return f"No full-load pull was found: the {word} never opens beyond {100 * driving.lever.level:.0f} %.", _PULL
    if driving is not None and driving.lever is None and driving.boost is None:
        return "No pull was found: without throttle and boost nothing tells full load.", do
    says = (
        "No full-load pull was found: engine speed rising by a fifth at full throttle for a second and a half or more."
    )
    return says, do if driving is None or driving.lever is None else _PULL


def _about_load(recording: Recording, pulls: Sequence[Pull], driving: Driving | None) -> list[Finding]:
    findings = []
    part = [pull for pull in pulls if not pull.full_load]
    if part:
        spans = ", ".join(f"{pull.from_s:.1f} to {pull.to_s:.1f} s" for pull in part)
        findings.append(
            Finding(
                "part-load",
                recording.file,
                f"Engine speed also rose at part throttle ({spans}); that is no "
                "full-load pull, and no boost figure was taken from it.",
            )
        )
    if len(part) == len(pulls):
        findings.append(
            Finding(
                "no-pull",
                recording.file,
                *_why_no_pull(recording, driving),
            )
        )
    elif not {"throttle", "pedal"} & set(recording.channels):
        findings.append(
            Finding(
                "no-throttle",
                recording.file,
                "There is no throttle channel: full load was judged by boost, and by mixture where logged.",
                "Log the throttle, so that lifts and part load can be told from faults.",
            )
        )
    return findings


def _about_driving(
    driving: Driving, pulls: Sequence[Pull], excluded: Sequence[tuple[float | None, float | None]]
) -> list[Finding]:
    recording, time = driving.recording, driving.time
    events: dict[str, list[Event]] = {}
    for event in events_of(driving):
        if not _inside(float(time[event.start]), float(time[event.stop - 1]), excluded):
            events.setdefault(event.kind, []).append(event)
    findings = [*about_full_level(driving, driven=bool(pulls))]
    findings += about_plate(driving, events.pop("plate-held-back", []))
    findings += about_anti_lag(recording.file, time, events.pop("anti-lag", []))
    findings += about_limiter(recording.file, time, events.pop("limiter", []))
    findings += about_drive_line(recording.file, time, [e for kind in events.values() for e in kind])
    parted = [(e.start, e.stop) for kind in events.values() for e in kind if not e.level]
    findings += about_short_pulls(recording, pulls, driving.boost, parted)
    full = [(pull.start, pull.stop) for pull in pulls if pull.full_load]
    if no_boost_at_all(recording, full, driving.rpm, driving.boost):
        findings.append(about_no_boost(recording, by_lever=driving.lever is not None))
    return findings


def _inside(first: float, last: float, excluded: Sequence[tuple[float | None, float | None]]) -> bool:
    return any(
        (start is None or first >= start) and (stop is None or last <= stop) for start, stop in excluded
    )


def _about_glitches(recording: Recording) -> tuple[Finding, ...]:
    """Engine speeds that cannot be: they were left out, and say something about the wiring."""
    channel = recording.channels["engine_speed"]
    if not recording.time_known or recording.rows < 5 or not np.isfinite(channel.values).any():
        return ()
    lost = speed_of(recording)[1]
    found = int(np.count_nonzero(lost & np.isfinite(channel.values)))
    if not found:
        return ()
    return (
        Finding(
            "engine-speed-glitches",
            f"{recording.file}, column {channel.column}",
            f"Engine speed jumps to a value it cannot have and back in {found:,} sample"
            f"{'' if found == 1 else 's'}; they were left out.",
            "If that comes back in the next log, look at the speed sensor's wiring and the logger's connection.",
        ),
    )
