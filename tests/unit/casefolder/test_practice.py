"""The practice cases read as they are; they lie beside the repository or where BOOSTPROOF_PRACTICE says."""

from __future__ import annotations

import pytest
from practice.cases import practice_folder

from boostproof.casefolder import read_case

FOLDER = practice_folder()
CASES = sorted(path.parent for path in FOLDER.glob("*/car.toml"))

# One reading of the practice set does contradict itself (full travel one psi below first movement).
QUESTIONED = {"practice-16": ["readings.toml, line 21"]}


@pytest.mark.skipif(not CASES, reason=f"no practice cases in {FOLDER.name}")
def test_practice_cases_read_without_findings_of_our_making() -> None:
    found = {}
    for folder in CASES:
        case = read_case(folder)
        assert case.readings.reading, folder.name
        assert case.recordings, folder.name
        if case.findings:
            found[folder.name] = [finding.where for finding in case.findings]
    assert found == {name: where for name, where in QUESTIONED.items() if (FOLDER / name).is_dir()}
