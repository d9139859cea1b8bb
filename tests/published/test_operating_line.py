"""Corrected flow of an operating line in the reference airs met in practice; the source stands at the check."""

from __future__ import annotations

import numpy as np
import pytest
from tests.unit.recording.drawn_pulls import drawn_pull

from boostproof.physics.corrected import ISO_2533, OLDER_MAPS, SAE_J1826
from boostproof.recording import Barometer, Metric
from boostproof.recording.pulls.air_flow import operating_line


@pytest.mark.published
def test_one_flow_in_three_reference_airs() -> None:
    # Reference pairs of SAE J922 (298 K, 100 kPa), of older maps (302.8 K, 96.2 kPa) and of ISO 2533 (288.15 K,
    # 101.325 kPa), from memory: a flow of the first reads 0.954 in the second and 1.0304 in the third.
    pull = drawn_pull(
        np.random.default_rng(1), barometer=Barometer(97e3, 0.0, "given"),
        more={"air_flow": np.full(176, 0.2), "ambient_temperature": np.full(176, 301.0)},
    )  # fmt: skip
    flows = {
        reference: operating_line(
            pull, displacement=Metric(2e-3, 0.0), reference=reference, inlet_loss=Metric(0.0, 0.0)
        ).corrected_flow.value[0]
        for reference in (SAE_J1826, OLDER_MAPS, ISO_2533)
    }
    assert flows[OLDER_MAPS] / flows[SAE_J1826] == pytest.approx(0.954, abs=5e-4)
    assert flows[ISO_2533] / flows[SAE_J1826] == pytest.approx(1.0304, abs=5e-5)
    # 0.200 kg/s at 305 K (301 K warmed by 4 K in the engine bay) and 97 kPa is 0.20859 in 298 K and 100 kPa.
    assert flows[SAE_J1826] == pytest.approx(0.20859, abs=2e-5)
