# SPDX-License-Identifier: MIT
from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from types import ModuleType

cv2 = pytest.importorskip("cv2", reason="needs OpenCV (opencv-python-headless)")


@pytest.fixture(scope="module")
def simulation() -> ModuleType:
    path = Path(__file__).with_name("arc_simulation.py")
    spec = importlib.util.spec_from_file_location("arc_simulation", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_two_decoders_read_a_symbol_that_is_hardly_bent(simulation: ModuleType) -> None:
    shares = simulation.success(1, "H", arc_deg=10, trials=12, seed=5)
    assert shares["zxing-cpp"] == 1
    assert shares["opencv"] >= 0.75


def test_no_decoder_reads_a_symbol_bent_almost_half_way_round(simulation: ModuleType) -> None:
    assert set(simulation.success(1, "H", arc_deg=170, trials=8, seed=5).values()) == {0.0}


def test_the_camera_sees_a_chord_of_the_arc(simulation: ModuleType) -> None:
    """A symbol over 90 degrees looks 2 r sin(45°) high to a camera straight before it."""
    import numpy as np

    symbol = simulation.make_symbol("WT:7KQ2MBH", 1, "H", 0)
    view = simulation.View(blur_dots=0.3, noise_levels=0.0)
    picture = simulation.photograph(symbol, 90, view, np.random.default_rng(0))
    dark = np.argwhere(picture < 60)
    height, width = dark.max(axis=0) - dark.min(axis=0) + 1
    radius = 21 / math.radians(90)
    # Farther off than the foremost line: z is distance + r (1 - cos 45°).
    distance = simulation.DISTANCE_MM / simulation.MODULE_MM
    shrink = distance / (distance + radius * (1 - math.cos(math.pi / 4)))
    assert height / 6 == pytest.approx(2 * radius * math.sin(math.pi / 4) * shrink, abs=0.6)
    assert width / 6 == pytest.approx(21, abs=0.5)
