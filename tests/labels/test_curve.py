# SPDX-License-Identifier: MIT
from __future__ import annotations

import importlib.util
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wiretrack.labels.draw import draw_label
from wiretrack.labels.forms import fit
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
    shares = simulation.success((1, "H"), 0.339, arc_deg=10, trials=12, seed=5)
    assert shares["zxing-cpp"] == 1
    assert shares["opencv"] >= 0.75


def test_no_decoder_reads_a_symbol_bent_almost_half_way_round(simulation: ModuleType) -> None:
    shares = simulation.success((1, "H"), 0.339, arc_deg=170, trials=8, seed=5)
    assert set(shares.values()) == {0.0}


@pytest.mark.parametrize(
    ("tilt_deg", "turn_deg"), [(0.0, 0.0), (20.0, 0.0), (-20.0, 0.0), (0.0, 15.0)]
)
def test_the_camera_sees_a_chord_of_the_arc(
    simulation: ModuleType, tilt_deg: float, turn_deg: float
) -> None:
    """The corners of a symbol over 90 degrees are seen where a pinhole shows points of space."""
    import numpy as np

    module, side, distance = 0.4, 21 * 0.4, simulation.NEAREST_MM
    symbol = simulation.make_symbol("WT:7KQ2MBH", 1, "H", 0)
    view = simulation.View(blur_dots=0.3, noise_levels=0.0, tilt_deg=tilt_deg, turn_deg=turn_deg)
    picture = simulation.photograph(symbol, 90, module, view, np.random.default_rng(0))
    dark = np.argwhere(picture < 60)
    radius = side / math.radians(90)
    tilt, turn = math.radians(tilt_deg), math.radians(turn_deg)
    seen = []
    off = module / 2  # a side is odd, so that its middle lies half a module off what is faced
    for along in (-side / 2 - off, side / 2 - off):
        for around in (a - off / radius for a in (-math.pi / 4, 0, math.pi / 4)):
            # Turned by the opposite of the camera's angles; the foremost line's middle stays.
            y, z = radius * math.sin(around - turn), radius * math.cos(around - turn)
            y, z = y + radius * math.sin(turn), z - radius * math.cos(turn)
            x, z = (
                along * math.cos(tilt) - z * math.sin(tilt),
                along * math.sin(tilt) + z * math.cos(tilt),
            )
            scale = simulation.FOCAL_DOTS / (distance - z)
            seen.append((y * scale, x * scale))
    middle = (picture.shape[0] - 1) / 2
    for axis in (0, 1):
        places = [place[axis] + middle for place in seen]
        assert dark[:, axis].min() == pytest.approx(min(places), abs=2)
        assert dark[:, axis].max() == pytest.approx(max(places), abs=2)


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
        assert found.arc_deg is None or found.arc_deg > 30 or found.plan is None
        return
    assert found.plan is not None
    assert found.module_mm is not None
    label = np.array(draw_label(subject, found, stock).convert("L"), np.uint8)
    rng = np.random.default_rng(7)
    for x0, y0, x1, y1 in found.plan.code_boxes():
        facing = ((x0 + x1) / 2, (y0 + y1) / 2)
        side_mm = stock.mm(x1 - x0)
        read = 0
        for _ in range(8):
            view = simulation.a_view(rng)
            dots_a_mm = stock.dpi / 25.4
            seen = simulation.see(label, dots_a_mm, facing, diameter / 2, side_mm, view, rng)
            read += simulation.read_by_zxing(seen) == subject.payload
        assert read >= 7
