"""The demo: an invented shop's car, from recordings and readings to a verdict with its picture."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from boostproof.errors import InputError
from boostproof.workflows.diagnose import diagnose

if TYPE_CHECKING:
    from boostproof.workflows.verdict import Verdict

ABOUT = "about.txt"
_ABOUT_TEXT = """\
This folder was made by 'boostproof demo' and may be deleted. The shop, the car and the job are invented;
the recordings come from a simulator that shares nothing with the model that makes the diagnosis.

case/           the case as a technician would write it: car.toml, readings.toml, recordings
verdict.txt     the verdict, as it stands on the screen
verdict.json    the same for programs (boostproof diagnose case --json)
verdict.svg     measured boost over the bands of the leading causes; verdict.png is the same picture
"""


@dataclass(frozen=True)
class DemoResult:
    """What the demo did.

    Attributes
    ----------
    directory : folder that holds everything
    case : the case folder in it
    verdict : the verdict on that case
    words : the verdict as text
    written : files written beside the case
    """

    directory: Path
    case: Path
    verdict: Verdict
    words: str
    written: tuple[Path, ...]

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof demo --json``: where things are, and the verdict's own answer."""
        return {
            "format": 1,
            "directory": str(self.directory),
            "case": str(self.case),
            "written": [str(path) for path in self.written],
            "verdict": self.verdict.as_json(),
        }

    def text(self) -> str:
        """The verdict and where its pages are."""
        kept = "\n".join(f"  {path}" for path in (self.case, *self.written))
        return f"{self.words.rstrip()}\n\nWritten:\n{kept}\n"


def run_demo(
    directory: str | Path,
    *,
    seed: int = 1,
    units: str = "psi",
    width: int = 100,
    progress: Callable[[str, float], None] | None = None,
) -> DemoResult:
    """Write the invented case into ``directory``, diagnose it, and keep verdict, text and picture there.

    Parameters
    ----------
    directory : a new or empty folder, or one of an earlier demo, which is written over
    seed : of the draws; the case is the same for every seed
    units, width : of the text
    progress : called with what is being done and the share done (0 to 1)

    Raises
    ------
    InputError
        If the folder holds something that no demo wrote.
    """
    from boostproof.demo import write_demo_case
    from boostproof.report.text import verdict_text

    folder = Path(directory)
    claim(folder)
    case = folder / "case"
    if progress:
        progress("the invented car is driven", 0.0)
    write_demo_case(case)
    verdict = diagnose(case, seed=seed, progress=progress)
    words = verdict_text(verdict, width=width, units=units)
    (folder / "verdict.txt").write_text(words.rstrip() + "\n", encoding="utf-8")
    (folder / "verdict.json").write_text(
        json.dumps(verdict.as_json(), ensure_ascii=False, allow_nan=False, indent=1) + "\n", encoding="utf-8"
    )
    written = [folder / "verdict.txt", folder / "verdict.json", *_draw(verdict, folder)]
    return DemoResult(folder, case, verdict, words, tuple(written))


def claim(folder: Path) -> None:
    """Make the folder ours, or refuse: a demo must not write into somebody's work.

    Raises
    ------
    InputError
        If the folder holds something that no demo wrote.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError(
            "This is a file, and the demo needs a folder.",
            kind="folder-taken", where=str(folder), do="Name another with --directory.",
        )  # fmt: skip
    if folder.is_dir() and any(folder.iterdir()) and not (folder / ABOUT).is_file():
        raise InputError(
            "This folder holds files that no demo wrote.",
            kind="folder-taken", where=str(folder), do="Name a new one with --directory.",
        )  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    (folder / ABOUT).write_text(_ABOUT_TEXT, encoding="utf-8")


def _draw(verdict: Verdict, folder: Path) -> list[Path]:
    """The verdict's picture as SVG and PNG; the same verdict gives the same bytes."""
    import matplotlib

    with matplotlib.rc_context({"svg.hashsalt": "boostproof", "svg.fonttype": "path"}):
        figure = verdict.plot().get_figure(root=True)
        assert figure is not None  # a fresh plot always has one
        paths = [folder / "verdict.svg", folder / "verdict.png"]
        figure.savefig(paths[0], metadata={"Date": None})
        figure.savefig(paths[1], dpi=150)
    return paths
