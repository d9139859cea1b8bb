"""What pulls.toml says about a recording, in the terms of the reader and of `find_pulls`."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from boostproof.recording.model import ColumnChoice, Reference

if TYPE_CHECKING:
    from boostproof.recording.setup import RecordingSetup


def told_columns(setup: RecordingSetup | None) -> dict[str, ColumnChoice]:
    """Columns named by a person, by our channel names."""
    if setup is None:
        return {}
    return {
        name: ColumnChoice(column.column, column.unit, cast("Reference | None", column.reference))
        for name, column in (setup.channels or {}).items()
    }


def told_excluded(setup: RecordingSetup | None) -> tuple[tuple[float | None, float | None], ...]:
    """Stretches not to be used, (from, to) in seconds."""
    return () if setup is None else tuple((item.from_, item.to) for item in setup.excluded or ())
