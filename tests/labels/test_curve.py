# SPDX-License-Identifier: MIT
from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wiretrack.labels.draw import draw_label
from wiretrack.labels.fit import fit
from wiretrack.labels.stocks import shipped_stocks

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

    from wiretrack.labels.subject import LabelSubject

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


@pytest.mark.parametrize("base", [None, "http://192.168.1.20:8080"])
@pytest.mark.parametrize("diameter", [7.0, 9.5, 12.34, 16.0, 20.0])
@pytest.mark.parametrize("name", ["wrap-38x90-300", "wrap-45x67-a4", "wrap-30x80-300"])
def test_every_code_of_a_drawn_wrap_label_is_read_from_its_side_once_it_is_wound_round(
    simulation: ModuleType,
    make_subject: Callable[..., LabelSubject],
    name: str,
    diameter: float,
    base: str | None,
) -> None:
    import numpy as np

    stock, subject = shipped_stocks()[name], make_subject(base=base, outer_diameter_mm=diameter)
    found = fit(subject, stock)
    if found.form != "wrap":
        assert found.arc_deg is None or found.arc_deg > 60 or found.plan is None
        return
    assert found.plan is not None
    assert found.module_mm is not None
    label = np.array(draw_label(subject, found, stock).convert("L"), np.uint8)
    rng = np.random.default_rng(7)
    for x0, y0, x1, y1 in found.plan.code_boxes():
        facing, radius = ((x0 + x1) / 2, (y0 + y1) / 2), diameter / 2 / found.module_mm
        read = 0
        for _ in range(8):
            view = simulation.a_view(rng)
            seen = simulation.see(label, found.module_dots, facing, radius, view, rng)
            read += simulation.read_by_zxing(seen) == subject.payload
        assert read >= 7
