"""Practice cases on disk: where they lie, what is true of them, and what a diagnosis of one answers."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from boostproof.workflows.verdict import Verdict

ROOT = Path(__file__).resolve().parent.parent


def practice_folder() -> Path:
    """Where the practice cases lie: BOOSTPROOF_PRACTICE, else beside the checkout."""
    return Path(os.environ.get("BOOSTPROOF_PRACTICE") or ROOT.parent / "shared" / "cases")


def cases_in(folder: Path) -> list[Path]:
    """Cases whose truth is known, by name."""
    return sorted(p.parent for p in folder.glob("*/truth.toml"))


def truth_of(case: Path) -> dict[str, Any]:
    """truth.toml."""
    return tomllib.loads((case / "truth.toml").read_text(encoding="utf-8"))


def answer_of(verdict: Verdict) -> dict[str, float]:
    """Probability by id of every cause, of "healthy" and of "none-of-these"."""
    answer = {c.id: c.probability for c in verdict.causes}
    return answer | {"healthy": verdict.healthy, "none-of-these": verdict.none_of_these}
