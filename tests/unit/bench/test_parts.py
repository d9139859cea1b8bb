"""Every change that a fault makes belongs to a part that can be swapped or mended."""

from __future__ import annotations

import pytest

from boostproof.bench.parts import PARTS
from boostproof.diagnosis.causes import CATALOGUE, Cause
from boostproof.diagnosis.causes.model import CONTROLLER_KINDS
from boostproof.physics import layout

OWNED = {name for rows in PARTS.values() for name in rows}


def test_parts_own_what_there_is() -> None:
    assert set(layout.NAMES) >= OWNED


@pytest.mark.parametrize("entry", CATALOGUE, ids=lambda c: c.id)
def test_what_a_fault_changes_is_owned_by_a_part(entry: Cause) -> None:
    every = [changes for kind in CONTROLLER_KINDS for _, changes in entry.variants_for(kind)]
    assert {change.parameter for changes in every for change in changes} <= OWNED
