# SPDX-License-Identifier: MIT
"""How far a symbol may bend: labels projected on cylinders, seen by a camera, read by two decoders.

Run by hand, for about a quarter of an hour: ``python tests/labels/arc_simulation.py``. It writes
``arc_success.csv``, from which `wiretrack.labels.geometry.arc_limit_deg` takes its limits, and the
manual's picture ``arc.png``.

The photograph is a still of 12 million dots from a phone held close: 120 to 160 mm away, by hand.
The camera stands up to 15 degrees beside the symbol, round the conductor, and up to 20 degrees
before or behind it, along the conductor; it is rolled at random. Light comes from one side; lens
blur and noise are added. Only the part of the still round the symbol is drawn. Lengths are in mm
unless their name says otherwise.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any, NamedTuple

import cv2
import numpy as np
import zxingcpp
from PIL import Image, ImageDraw

from wiretrack.labels.fonts import face
from wiretrack.labels.symbol import Level, Symbol, capacity, make_symbol, side_modules
from wiretrack.model.tags import ALPHABET, BODY_LENGTH, check_character

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    Grey = NDArray[np.uint8]

PACKAGE = Path(__file__).parents[2] / "wiretrack"
DATA, PICTURES = PACKAGE / "labels" / "data", PACKAGE / "manual" / "pictures"
# common practice: the main camera of a phone sees as 26 mm do on film of 36 x 24 mm, and a still
# of 12 million dots is 4032 dots wide.
FOCAL_DOTS = 4032 * 26 / 36
NEAREST_MM, FARTHEST_MM = 120.0, 160.0  # common practice: nearer, a phone doesn't focus
MOST_TILT_DEG, MOST_TURN_DEG = 20.0, 15.0
_TEXTURE_MODULES = 80
TEXTURE_DOTS = 8  # a module on the flat picture of the label
KINDS: tuple[tuple[int, Level], ...] = (
    (1, "H"), (1, "Q"), (1, "M"), (2, "Q"), (2, "M"), (3, "Q"), (3, "M"), (4, "Q"), (4, "M"),
    (1, "L"), (2, "L"), (3, "L"),
)  # fmt: skip
MODULES_MM = (0.25, 0.33)  # the least there is, and four dots at 300 to the inch
PAYLOADS = 8  # symbols of each kind, as another tag sets other modules


@dataclass(frozen=True)
class View:
    """One photograph: how the symbol stands to the camera, and what the lens and sensor do."""

    turn_deg: float = 0.0  # of the camera, about the conductor's axis
    tilt_deg: float = 0.0  # of the camera, along the conductor
    roll_deg: float = 0.0  # of the camera, about where it looks
    distance_mm: float = NEAREST_MM
    light_deg: float = 0.0
    blur_dots: float = 0.8
    noise_levels: float = 5.0


def photograph(
    symbol: Symbol, arc_deg: float, module_mm: float, view: View, rng: np.random.Generator
) -> Grey:
    """Return what a camera sees of a symbol that bends over `arc_deg` of a cylinder."""
    side_mm = side_modules(symbol.version) * module_mm
    radius_mm = side_mm / math.radians(max(arc_deg, 1.0))  # 0 is a plane; 1 is as flat
    flat = _texture(symbol)
    middle = (flat.shape[1] / 2, flat.shape[0] / 2)
    return see(flat, TEXTURE_DOTS / module_mm, middle, radius_mm, side_mm, view, rng)


def see(
    flat: Grey,
    dots_a_mm: float,
    facing: tuple[float, float],
    radius_mm: float,
    side_mm: float,
    view: View,
    rng: np.random.Generator,
) -> Grey:
    """Return what a camera sees of a flat picture wound round a cylinder, before the dot `facing`.

    The picture's rows lie along the cylinder. As much of the still is drawn as a symbol of
    `side_mm` takes with its corners, and half as much again.
    """
    shown = 2 * round(1.1 * side_mm * FOCAL_DOTS / view.distance_mm)
    around, along_mm, hit = _where_rays_meet(radius_mm, shown, view)
    map_x = (along_mm * dots_a_mm + facing[0]).astype(np.float32)
    map_y = (around * radius_mm * dots_a_mm + facing[1]).astype(np.float32)
    paper = cv2.remap(flat, map_x, map_y, cv2.INTER_LINEAR, None, cv2.BORDER_CONSTANT, 245)
    shade = 0.35 + 0.65 * np.clip(np.cos(around - math.radians(view.light_deg)), 0, 1)
    seen = np.where(hit, paper * shade, 70.0)
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), view.blur_dots)
    seen = seen + view.noise_levels * rng.standard_normal(seen.shape, np.float32)
    return np.clip(seen, 0, 255).astype(np.uint8)


def a_view(rng: np.random.Generator) -> View:
    """Return one of the views that a hand-held phone may have."""
    return View(
        turn_deg=rng.uniform(-MOST_TURN_DEG, MOST_TURN_DEG),
        tilt_deg=rng.uniform(-MOST_TILT_DEG, MOST_TILT_DEG),
        roll_deg=rng.uniform(0, 360),
        distance_mm=rng.uniform(NEAREST_MM, FARTHEST_MM),
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


class Row(NamedTuple):
    """The share that one decoder read of the photographs of one kind of symbol, bent so far."""

    version: int
    level: str
    module_mm: float
    arc_deg: int
    decoder: str
    trials: int
    read_share: float


ARC_STEP_DEG, MOST_ARC_DEG = 10, 120
FEW, MANY = 60, 200  # photographs; many where the share is close to what is wanted
CLOSE = (0.85, 0.99)
GIVEN_UP = 0.7
DRAWN_MODULE_MM = 0.33
PACKAGES = {"zxing-cpp": "zxing-cpp", "opencv": "opencv-python-headless"}
COLOURS = (
    "#003f7f", "#0077bb", "#33bbee", "#9a3b00", "#ee7733", "#117733", "#44bb77", "#882255",
    "#cc6699", "#777777", "#aaaaaa", "#555555",
)  # fmt: skip
READERS = {"zxing-cpp": read_by_zxing, "opencv": read_by_opencv}


def success(
    kind: tuple[int, Level], module_mm: float, arc_deg: float, trials: int, seed: int
) -> dict[str, float]:
    """Return, by decoder, the share of photographs of full symbols of that kind that it reads."""
    rng = np.random.default_rng(seed)
    read = dict.fromkeys(READERS, 0)
    for trial in range(trials):
        payload, symbol = _symbol(*kind, trial % PAYLOADS)
        picture = photograph(symbol, arc_deg, module_mm, a_view(rng), rng)
        for name, reader in READERS.items():
            read[name] += reader(picture) == payload
    return {name: count / trials for name, count in read.items()}


@cache
def _symbol(of_version: int, level: Level, number: int) -> tuple[str, Symbol]:
    """Return a payload as long as such a symbol holds, and the symbol."""
    random = Random(f"{of_version}{level}{number}")
    tag = "".join(random.choices(ALPHABET, k=BODY_LENGTH))
    tag += check_character(tag)
    room = capacity(of_version, level)
    host = "".join(random.choices("ABCDEFGHIJKLMNOPQRSTUVWXYZ", k=room - 15)) if room > 15 else ""
    payload = f"HTTP://{host}/{tag}" if host else f"WT:{tag}"
    return payload, make_symbol(payload, of_version, level)


def _where_rays_meet(radius_mm: float, shown: int, view: View) -> tuple[Any, Any, Any]:
    """Return angle round and place along the cylinder that each camera dot sees, and if it does.

    The cylinder's axis is x; the symbol's middle is its line z = radius.
    """
    turn, tilt, roll = (math.radians(d) for d in (view.turn_deg, view.tilt_deg, view.roll_deg))
    out = np.array(
        (math.sin(tilt), math.cos(tilt) * math.sin(turn), math.cos(tilt) * math.cos(turn))
    )
    eye = np.array((0.0, 0.0, radius_mm)) + view.distance_mm * out
    right = np.cross((0.0, 1.0, 0.0), out)
    right /= np.linalg.norm(right)
    down = np.cross(right, out) * -1
    steps = ((np.arange(shown) - (shown - 1) / 2) / FOCAL_DOTS).astype(np.float32)
    across, lower = np.meshgrid(steps, steps)
    one = across * math.cos(roll) - lower * math.sin(roll)
    other = across * math.sin(roll) + lower * math.cos(roll)
    ray_x, ray_y, ray_z = (
        one * float(right[axis]) + other * float(down[axis]) - float(out[axis]) for axis in range(3)
    )
    a = ray_y**2 + ray_z**2
    b = 2 * (eye[1] * ray_y + eye[2] * ray_z)
    c = eye[1] ** 2 + eye[2] ** 2 - radius_mm**2
    inside = b**2 - 4 * a * c
    hit = inside >= 0
    t = (-b - np.sqrt(np.where(hit, inside, 0))) / (2 * a)
    return np.arctan2(eye[1] + t * ray_y, eye[2] + t * ray_z), eye[0] + t * ray_x, hit


def _texture(symbol: Symbol) -> Grey:
    side = side_modules(symbol.version)
    flat = np.full((_TEXTURE_MODULES, _TEXTURE_MODULES), 245, np.uint8)
    start = (_TEXTURE_MODULES - side) // 2
    rows = np.array([list(row) for row in symbol.rows], np.uint8)
    flat[start : start + side, start : start + side] = np.where(rows == 1, 25, 245)
    return np.kron(flat, np.ones((TEXTURE_DOTS, TEXTURE_DOTS), np.uint8))


def _simulated() -> Iterator[Row]:
    """Yield the shares, arc after arc, until no decoder reads most photographs of a kind."""
    for of_version, level in KINDS:
        for module_mm in MODULES_MM:
            for arc in range(0, MOST_ARC_DEG + 1, ARC_STEP_DEG):
                trials, shares = _shares((of_version, level), module_mm, arc)
                for name, share in shares.items():
                    yield Row(of_version, level, module_mm, arc, name, trials, share)
                if max(shares.values()) < GIVEN_UP:
                    break


def _shares(kind: tuple[int, Level], module_mm: float, arc: int) -> tuple[int, dict[str, float]]:
    """Return how many photographs were taken and read; more where it is close."""
    shares = success(kind, module_mm, arc, FEW, seed=arc)
    if not CLOSE[0] <= max(shares.values()) <= CLOSE[1]:
        return FEW, shares
    more = success(kind, module_mm, arc, MANY - FEW, seed=1000 + arc)
    both = {n: (FEW * shares[n] + (MANY - FEW) * more[n]) / MANY for n in shares}
    return MANY, both


def _write(rows: Iterable[Row], path: Path) -> None:
    decoders = ", ".join(f"{name} {version(package)}" for name, package in PACKAGES.items())
    with path.open("w", newline="", encoding="utf-8") as file:
        file.write(
            "# source:  simulation of tests/labels/arc_simulation.py; no publication\n"
            f"# read as: original; {decoders}\n"
            f"# view:    still of 12 million dots from {NEAREST_MM:g} to {FARTHEST_MM:g} mm, "
            f"turned up to {MOST_TURN_DEG:g}°, tilted up to {MOST_TILT_DEG:g}° along the wire\n"
            f"# doubts:  no glare, no stains, no wear; a share of {MANY} photographs is known "
            "within about 3 %\n"
        )
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(Row._fields)
        writer.writerows((*row[:-1], f"{row.read_share:.3f}") for row in rows)


def _draw(rows: list[Row], path: Path) -> None:
    width, height, left, top = 1000, 560, 90, 60

    def x(arc: float) -> float:
        return left + arc * (width - left - 190) / MOST_ARC_DEG

    def y(share: float) -> float:
        return height - 80 - share * (height - 80 - top)

    picture = Image.new("RGB", (width, height), "white")
    canvas = ImageDraw.Draw(picture)
    text, small = face(14), face(11)
    text.draw(
        canvas, left, 36, "Share of photographs read, against the arc that a symbol bends over"
    )
    for arc in range(0, MOST_ARC_DEG + 1, 20):
        canvas.line((x(arc), y(0), x(arc), y(1)), fill="#dddddd")
        small.draw(canvas, x(arc) - 10, height - 55, f"{arc}°")
    for tenth in range(0, 11, 2):
        canvas.line((x(0), y(tenth / 10), x(MOST_ARC_DEG), y(tenth / 10)), fill="#dddddd")
        small.draw(canvas, 30, round(y(tenth / 10)) + 5, f"{tenth * 10} %")
    for number, (of_version, level) in enumerate(KINDS):
        for name, width_dots in (("zxing-cpp", 3), ("opencv", 1)):
            wanted = (of_version, level, DRAWN_MODULE_MM, name)
            points = [
                (x(row.arc_deg), y(row.read_share))
                for row in rows
                if (*row[:3], row.decoder) == wanted
            ]
            canvas.line(points, fill=COLOURS[number], width=width_dots)
        line = top + 30 * number
        canvas.line((width - 170, line, width - 130, line), fill=COLOURS[number], width=3)
        small.draw(canvas, width - 120, line + 5, f"version {of_version}, {level}")
    note = f"thick: zxing-cpp; thin: OpenCV; modules of {DRAWN_MODULE_MM:g} mm, camera turned "
    note += f"up to {MOST_TURN_DEG:g}° and tilted up to {MOST_TILT_DEG:g}°"
    small.draw(canvas, left, height - 20, note)
    picture.save(path, optimize=True)


def main() -> None:
    """Run the whole simulation and write its table and picture."""
    rows = list(_simulated())
    _write(rows, DATA / "arc_success.csv")
    _draw(rows, PICTURES / "arc.png")


if __name__ == "__main__":
    main()
