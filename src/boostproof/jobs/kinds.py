"""What can be worked out for a job: each kind by the place of its function.

A function takes the case folder (read only), the choices, and `Progress` to say how far it is, and returns
the answer as JSON holds it. It runs in the worker's process, which imports it when it is first asked for.
A choice that is ``{"answer": 17}`` arrives as the kept answer 17.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from boostproof.errors import InputError

if TYPE_CHECKING:
    from boostproof.workflows.first_look import FirstRanking


class Progress(Protocol):
    """Called with what is being done, the share done (0 to 1), and what is known already, where something new is."""

    def __call__(self, says: str, share: float, so_far: Mapping[str, Any] | None = None, /) -> None: ...



_HERE = "boostproof.jobs.kinds"

# kind -> "module:function". One line for each.
KINDS: dict[str, str] = {
    "inspect": f"{_HERE}:inspect",
    "compare": f"{_HERE}:compare",
    "diagnose": f"{_HERE}:diagnose",
    "bench": f"{_HERE}:bench",
    "plan": f"{_HERE}:plan",
    "forecast": f"{_HERE}:forecast",
    "prove": f"{_HERE}:prove",
    "repair_options": f"{_HERE}:repair_options",
    "size_bands": f"{_HERE}:size_bands",
    "scene": f"{_HERE}:scene",
    "report": f"{_HERE}:report",
}

# Of the car as found: what was made after a repair is not among the files that these rest on.
AS_FOUND = frozenset({"diagnose", "bench", "forecast", "repair_options", "size_bands", "scene"})

# Done in seconds: these go before what waits longer.
QUICK = frozenset({"inspect", "compare", "bench", "report", "scene"})


def inspect(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``path`` of a recording: its columns, pulls, questions. A case that is not ready yet is left aside and told of."""
    from boostproof.jobs.tables import keep_table_beside
    from boostproof.workflows.recording_look import look

    path = _in_case(folder, choices["path"])
    return look(folder, path, keep=lambda read: keep_table_beside(folder, path, read), progress=progress)


def compare(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``before`` and ``after``, each a list of pulls as FILE#NUMBER."""
    from boostproof.workflows.compare import compare as run

    progress("holding the pulls against each other", 0.1)
    return run(folder, choices["before"], choices["after"]).as_json()


def diagnose(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """The verdict as ``boostproof diagnose --json`` says it, with measured curves and the bands of the leaders.

    What is known already are its first looks, from the highest pull and then from all.
    """
    from boostproof.workflows.diagnose import diagnose as run
    from boostproof.workflows.verdict_kept import to_kept

    def first_look(found: FirstRanking) -> None:
        if found.all_pulls:
            progress("a second look is there; weighing candidates", 0.75, found.as_json())
        else:
            progress("a first look is there; fitting every cause to all pulls", 0.3, found.as_json())

    return to_kept(run(folder, progress=progress, first_look=first_look, **choices))


def bench(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """What the bench readings mean."""
    from boostproof.workflows.bench import bench as run

    progress("reading the bench readings", 0.1)
    return run(folder, **choices).as_json()


def plan(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``closed_road`` and ``mixture``; ``repaired``, with ``repairs`` and what was made ``after`` them: how far the next
    pull may go."""
    from boostproof.workflows.plan import plan as run

    return run(folder, progress=progress, **choices).as_json()


def forecast(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``repairs`` and the other arguments of `boostproof.workflows.forecast.forecast`."""
    from boostproof.workflows.forecast import forecast as run

    return run(folder, progress=progress, **_with_parts(choices)).as_json()


def repair_options(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """The repairs that fit side by side, or ``options`` in words; rates as of the forecast."""
    from boostproof.workflows.repair_view import repair_options as run

    return run(folder, progress=progress, **_with_parts(choices))


def size_bands(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``repairs``, of which one has sizes: the band for every size of the trade."""
    from boostproof.workflows.size_bands import size_bands as run

    return run(folder, progress=progress, **_with_parts(choices))


def prove(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``before`` and ``after``, readings by their paths in the case or those ``repeated`` after the repair by name, the
    forecast by its path or as the answer."""
    from boostproof.workflows.prove import prove as run

    progress("holding the pulls against each other", 0.1)
    given = _with_readings(folder, choices)
    told = given.pop("forecast", None)
    with tempfile.TemporaryDirectory() as place:
        if isinstance(told, Mapping):
            file = Path(place) / "forecast.json"
            file.write_text(json.dumps(told), encoding="utf-8")
            given["forecast"] = file
        elif told:
            given["forecast"] = folder / _in_case(folder, told)
        found = run(folder, **given)
        # the customer's sentence carries figures: each shop reads it in its own unit
        return {**found.as_json(), "sentences": {unit: found.sentences(unit) for unit in ("kPa", "psi")}}


def _in_case(folder: Path, path: object) -> str:
    """A path that somebody sent, once it is that of a file of the case: nothing else on this machine is read.

    Raises
    ------
    InputError
        If the case holds no such file.
    """
    if path not in [file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file()]:
        raise InputError("This job holds no such file.", kind="no-file", where=str(path), do="Choose one that is listed.")
    return str(path)


def _with_readings(folder: Path, choices: Mapping[str, Any]) -> dict[str, Any]:
    """The choices with readings as files that the library can open."""
    given = dict(choices)
    for name in ("readings_before", "readings_after"):
        if given.get(name):
            given[name] = folder / _in_case(folder, given[name])
    return given


def _with_parts(choices: Mapping[str, Any]) -> dict[str, Any]:
    """The choices with ranges of prices as the library takes them."""
    given = dict(choices)
    if "parts" in given:
        given["parts"] = {name: (low, high) for name, (low, high) in given["parts"].items()}
    return given


def scene(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """``cause`` (the leading answer where none), ``driven`` "pull" or "ramp": the moving picture's data."""
    from boostproof.workflows.scene import scene as run

    return dict(run(folder, progress=progress, **choices).as_json())


def report(folder: Path, choices: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """The arguments of `boostproof.workflows.report.report`: the document that PDF and page are made from."""
    from boostproof.workflows.report import report as run

    return run(folder, progress=progress, **_with_parts(_with_readings(folder, choices))).as_json()
