# SPDX-License-Identifier: MIT
"""How far a symbol may bend: labels projected on cylinders, seen by a camera, read by two decoders.

Run by hand, for some minutes: ``python tests/labels/arc_simulation.py``. It writes
``arc_success.csv``, from which `wiretrack.labels.geometry.arc_limit_deg` takes its limits, and
``arc_success.png``, both in ``wiretrack/labels/data``.

The camera stands 120 mm away and sees a module six dots wide, as a phone held close does at the
least; the symbol faces it within 10 degrees; light comes from one side; lens blur and noise are
added. Distances are in module widths unless their name says otherwise.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
import zxingcpp
from PIL import Image, ImageDraw

from wiretrack.labels.fonts import face
from wiretrack.labels.symbol import Level, Symbol, capacity, make_symbol, side_modules

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    Grey = NDArray[np.uint8]

DATA = Path(__file__).parents[2] / "wiretrack" / "labels" / "data"
MODULE_MM, DISTANCE_MM = 0.33, 120.0
DOTS_A_MODULE, CAMERA_SIDE = 6, 420
TEXTURE_DOTS = 8  # a module on the flat picture of the label
KINDS: tuple[tuple[int, Level], ...] = (
    (1, "H"), (1, "Q"), (1, "M"), (2, "Q"), (2, "M"), (3, "Q"), (3, "M"), (4, "Q"), (4, "M"),
    (1, "L"), (2, "L"), (3, "L"),
)  # fmt: skip


@dataclass(frozen=True)
class View:
    """One photograph: how the symbol stands to the camera, and what the lens and sensor do."""

    turn_deg: float = 0.0  # about the conductor's axis
    roll_deg: float = 0.0  # of the camera
    light_deg: float = 0.0
    blur_dots: float = 0.8
    noise_levels: float = 5.0


def photograph(symbol: Symbol, arc_deg: float, view: View, rng: np.random.Generator) -> Grey:
    """Return what a camera sees of a symbol that bends over `arc_deg` of a cylinder."""
    side = side_modules(symbol.version)
    radius = side / math.radians(max(arc_deg, 1.0))  # 0 is a plane; 1 is as flat
    middle = (_TEXTURE_MODULES * TEXTURE_DOTS) / 2
    return see(_texture(symbol), TEXTURE_DOTS, (middle, middle), radius, view, rng)


def see(
    flat: Grey,
    dots_a_module: int,
    facing: tuple[float, float],
    radius: float,
    view: View,
    rng: np.random.Generator,
) -> Grey:
    """Return what a camera sees of a flat picture wound round a cylinder, before the dot `facing`.

    The picture's rows lie along the cylinder. The radius is in module widths.
    """
    around, along, hit = _where_rays_meet(radius, view)
    map_x = (along * dots_a_module + facing[0]).astype(np.float32)
    map_y = (around * radius * dots_a_module + facing[1]).astype(np.float32)
    paper = cv2.remap(flat, map_x, map_y, cv2.INTER_AREA, None, cv2.BORDER_CONSTANT, 245)
    shade = 0.35 + 0.65 * np.clip(np.cos(around - math.radians(view.light_deg)), 0, 1)
    seen = np.where(hit, paper * shade, 70.0)
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), view.blur_dots)
    seen = seen + rng.normal(0, view.noise_levels, seen.shape)
    return np.clip(seen, 0, 255).astype(np.uint8)


def a_view(rng: np.random.Generator) -> View:
    """Return one of the views that a hand-held phone may have."""
    return View(
        turn_deg=rng.uniform(-10, 10),
        roll_deg=rng.uniform(0, 360),
        light_deg=rng.uniform(-50, 50),
        blur_dots=rng.uniform(0.6, 1.4),
        noise_levels=rng.uniform(3, 9),
    )


def read_by_zxing(picture: Grey) -> str | None:
    """Return the text that zxing-cpp reads."""
    found = zxingcpp.read_barcodes(Image.fromarray(picture))
    return found[0].text if found else None


def read_by_opencv(picture: Grey) -> str | None:
    """Return the text that OpenCV reads."""
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(picture)
    return text or None


Row = tuple[int, str, int, str, float]
COLOURS = (
    "#003f7f", "#0077bb", "#33bbee", "#9a3b00", "#ee7733", "#117733", "#44bb77", "#882255",
    "#cc6699", "#777777", "#aaaaaa", "#555555",
)  # fmt: skip
READERS = {"zxing-cpp": read_by_zxing, "opencv": read_by_opencv}
_TEXTURE_MODULES = 80


def success(version: int, level: Level, arc_deg: float, trials: int, seed: int) -> dict[str, float]:
    """Return, by decoder, the share of photographs of a full symbol of that kind that it reads."""
    payload = f"HTTP://{'W' * (capacity(version, level) - 15)}/7KQ2MBH"
    payload = payload if capacity(version, level) > 15 else "WT:7KQ2MBH"
    symbol = make_symbol(payload, version, level)
    rng = np.random.default_rng(seed)
    read = dict.fromkeys(READERS, 0)
    for _ in range(trials):
        picture = photograph(symbol, arc_deg, a_view(rng), rng)
        for name, reader in READERS.items():
            read[name] += reader(picture) == payload
    return {name: count / trials for name, count in read.items()}


def _where_rays_meet(radius: float, view: View) -> tuple[Any, Any, Any]:
    """Return angle round and place along the cylinder that each camera dot sees, and if it does."""
    distance = DISTANCE_MM / MODULE_MM
    steps = (np.arange(CAMERA_SIDE) - CAMERA_SIDE / 2) / DOTS_A_MODULE
    across, up = np.meshgrid(steps, steps)
    roll = math.radians(view.roll_deg)
    along0 = across * math.cos(roll) - up * math.sin(roll)
    round0 = across * math.sin(roll) + up * math.cos(roll)
    # The camera stands before the symbol's middle, which lies `turn` away from facing it.
    turn = math.radians(view.turn_deg)
    y0, z0 = radius * math.sin(turn), radius * math.cos(turn) + distance
    a = round0**2 + distance**2
    b = 2 * (y0 * round0 - z0 * distance)
    c = y0**2 + z0**2 - radius**2
    inside = b**2 - 4 * a * c
    hit = inside >= 0
    t = (-b - np.sqrt(np.where(hit, inside, 0))) / (2 * a)
    angle = np.arctan2(y0 + t * round0, z0 - t * distance)
    return angle - turn, along0 * t, hit


def _texture(symbol: Symbol) -> Grey:
    side = side_modules(symbol.version)
    flat = np.full((_TEXTURE_MODULES, _TEXTURE_MODULES), 245, np.uint8)
    start = (_TEXTURE_MODULES - side) // 2
    rows = np.array([list(row) for row in symbol.rows], np.uint8)
    flat[start : start + side, start : start + side] = np.where(rows == 1, 25, 245)
    return np.kron(flat, np.ones((TEXTURE_DOTS, TEXTURE_DOTS), np.uint8))


def _write(rows: Iterable[Row], path: Path, trials: int) -> None:
    with path.open("w", newline="") as file:
        file.write("# source:  simulation of tests/labels/arc_simulation.py; no publication\n")
        file.write(f"# trials:  {trials} photographs for each version, level and arc\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("version", "level", "arc_deg", "decoder", "read_share"))
        writer.writerows((*row[:-1], f"{row[-1]:.3f}") for row in rows)


def _draw(rows: list[Row], path: Path) -> None:
    width, height, left, top = 1000, 560, 90, 60

    def x(arc: float) -> float:
        return left + arc * (width - left - 190) / 200

    def y(share: float) -> float:
        return height - 80 - share * (height - 80 - top)

    picture = Image.new("RGB", (width, height), "white")
    canvas = ImageDraw.Draw(picture)
    text, small = face(14), face(11)
    text.draw(
        canvas, left, 36, "Share of photographs read, against the arc that a symbol bends over"
    )
    for arc in range(0, 201, 20):
        canvas.line((x(arc), y(0), x(arc), y(1)), fill="#dddddd")
        small.draw(canvas, x(arc) - 10, height - 55, f"{arc}°")
    for tenth in range(0, 11, 2):
        canvas.line((x(0), y(tenth / 10), x(200), y(tenth / 10)), fill="#dddddd")
        small.draw(canvas, 30, round(y(tenth / 10)) + 5, f"{tenth * 10} %")
    for number, (version, level) in enumerate(KINDS):
        for name, width_dots in (("zxing-cpp", 3), ("opencv", 1)):
            kind = (version, level, name)
            points = [(x(row[2]), y(row[4])) for row in rows if (*row[:2], row[3]) == kind]
            canvas.line(points, fill=COLOURS[number], width=width_dots)
        line = top + 30 * number
        canvas.line((width - 170, line, width - 130, line), fill=COLOURS[number], width=3)
        small.draw(canvas, width - 120, line + 5, f"version {version}, {level}")
    small.draw(canvas, left, height - 20, "thick: zxing-cpp; thin: OpenCV")
    picture.save(path, optimize=True)


def main(trials: int = 60) -> None:
    """Run the whole simulation and write its table and picture."""
    rows: list[Row] = [
        (version, level, arc, name, share)
        for version, level in KINDS
        for arc in range(0, 201, 10)
        for name, share in success(version, level, arc, trials, seed=arc).items()
    ]
    _write(rows, DATA / "arc_success.csv", trials)
    _draw(rows, DATA / "arc_success.png")


if __name__ == "__main__":
    main()
