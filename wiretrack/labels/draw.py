# SPDX-License-Identifier: MIT
"""One label as a bilevel picture at whole printer dots."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from wiretrack.errors import LabelError
from wiretrack.labels.fonts import face
from wiretrack.labels.symbol import QUIET_ZONE_MODULES, make_symbol, side_modules

if TYPE_CHECKING:
    from PIL.Image import Image

    from wiretrack.labels.plan import Fit
    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Subject
    from wiretrack.labels.symbol import Symbol


def draw_label(subject: Subject, fit: Fit, stock: Stock) -> Image:
    """Return the label, true to size at the stock's dots per inch, 0 for black.

    Raises
    ------
    LabelError
        If the stock can't carry what `fit` found.
    """
    from PIL import Image, ImageChops, ImageDraw

    plan = fit.plan
    if plan is None:
        raise LabelError(fit.tag, fit.end or "", fit.why_not, fit.hint)
    label = Image.new("1", (plan.width, plan.height), 1)
    canvas = ImageDraw.Draw(label)
    canvas.fontmode = "1"
    for line in plan.lines:
        typeface = face(line.capital_dots, bold=line.bold)
        typeface.draw(canvas, line.left, line.baseline, line.text)
    for bar in plan.bars:
        corner = (bar.left + bar.width - 1, bar.top + bar.height - 1)
        canvas.rectangle(((bar.left, bar.top), corner), fill=0)
    if plan.codes and fit.qr_version and fit.error_correction and fit.module_dots:
        symbol = make_symbol(subject.payload, fit.qr_version, fit.error_correction)
        picture = draw_symbol(symbol, fit.module_dots)
        quiet = QUIET_ZONE_MODULES * fit.module_dots
        for spot in plan.codes:
            label.paste(picture, (spot.left + quiet, spot.top + quiet))
    if plan.inverted:
        label = ImageChops.invert(label.convert("L")).convert("1", dither=Image.Dither.NONE)
    return label.transpose(Image.Transpose.ROTATE_90) if plan.quarter_turn else label


def draw_symbol(symbol: Symbol, module_dots: int) -> Image:
    """Return a symbol without its quiet zone, each module a square of `module_dots`."""
    from PIL import Image

    side = side_modules(symbol.version)
    grey = Image.frombytes("L", (side, side), b"".join(symbol.rows).translate(_dark()))
    size = (side * module_dots, side * module_dots)
    return grey.resize(size, Image.Resampling.NEAREST).convert("1", dither=Image.Dither.NONE)


@lru_cache(maxsize=1)
def _dark() -> bytes:
    return bytes((255, 0)) + bytes(range(2, 256))
