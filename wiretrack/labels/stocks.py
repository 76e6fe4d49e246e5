# SPDX-License-Identifier: MIT
"""The label stocks that are known, and a page to hold a ruler to.

The offset that was measured on it is put into a user's stock file. On the page stand a cross at a
stated place, a bar of a stated length and the labels' outlines.
"""

from __future__ import annotations

import json
from dataclasses import asdict, fields, replace
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import meaning, position
from wiretrack.errors import Fault, OutOfRangeError, StockFileError, TableEntryError
from wiretrack.files import file_in_place, shipped
from wiretrack.labels.fonts import face
from wiretrack.labels.forms import FORMS
from wiretrack.labels.output import packed, page_mm
from wiretrack.labels.plan import Sheet, Stock, Zone
from wiretrack.late import dataclass
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from PIL.ImageDraw import ImageDraw

MAX_FILE_BYTES = 2_000_000
_ROUNDING_MM = 1e-6
_DEFAULTS = {field.name: field.default for field in fields(Stock)}


@lru_cache(maxsize=1)
def shipped_stocks() -> Mapping[str, Stock]:
    """Return the label stocks that travel with wiretrack, by name."""
    text = (files("wiretrack.labels") / "data" / "stocks.json").read_text(encoding="utf-8")
    return {stock.name: stock for stock in _parse(text, "stocks.json")}


def load_stocks(*user_files: Path) -> dict[str, Stock]:
    """Return all stocks by name; one in a user's file takes the place of one with its name.

    Raises `StockFileError` if a file can't be read or describes labels that can't be; every fault
    is listed.
    """
    stocks = dict(shipped_stocks())
    for path in user_files:
        stocks.update({stock.name: stock for stock in _parse(_read(path), str(path))})
    return stocks


def get_stock(name: str, stocks: Mapping[str, Stock]) -> Stock:
    """Return the stock of that name.

    Raises `TableEntryError` if there is none; it names the nearest.
    """
    if name not in stocks:
        raise TableEntryError("The list of label stocks", name, near(name, stocks), job="stocks")
    return stocks[name]


def save_stock(stock: Stock, path: Path) -> None:
    """Put a stock into a user's stock file, in the place of one with its name.

    Raises `StockFileError` if what is in the file now can't be read; `BadInputError` if it can't be
    written.
    """
    kept = []
    if path.exists():
        load_stocks(path)  # tells every fault
        rows = json.loads(path.read_text(encoding="utf-8-sig"))["stocks"]
        kept = [row for row in rows if row["name"] != stock.name]
    document = {"format": "wiretrack-stocks/1", "stocks": [*kept, stock_row(stock)]}
    with file_in_place(path) as stream:
        stream.write(json.dumps(document, indent=2).encode() + b"\n")


def stock_row(stock: Stock) -> dict[str, object]:
    """Return a stock as it stands in a stock file."""
    row: dict[str, object] = {
        **{name: getattr(stock, name) for name in ("name", "form", "width_mm", "height_mm", "dpi")},
        "print_zone": asdict(stock.zone),
        "colours": {"paper_colour": stock.paper_colour, "print_colour": stock.print_colour},
        "offset": {"offset_x_mm": stock.offset_x_mm, "offset_y_mm": stock.offset_y_mm},
    }
    own = {field for form in FORMS if form.stock_form == stock.form for field in form.stock_fields}
    row |= {field: getattr(stock, field) for field in sorted(own) if getattr(stock, field)}
    return row | (
        {"sheet": asdict(stock.sheet)} if stock.sheet else {"roll": {"gap_mm": stock.gap_mm}}
    )


def _read(path: Path) -> str:
    try:
        if path.stat().st_size > MAX_FILE_BYTES:
            raise StockFileError(str(path), [Fault("", f"it is over {MAX_FILE_BYTES} bytes")])
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise StockFileError(str(path), [Fault("", "it is not UTF-8 text")]) from None
    except OSError as error:
        why = error.strerror or "it can't be read"
        raise StockFileError(str(path), [Fault("", why)]) from error


def _parse(text: str, file: str) -> list[Stock]:
    try:
        document = json.loads(text, parse_constant=_refuse_constant)
    except json.JSONDecodeError as error:
        fault = Fault(position(error), meaning(error))
        raise StockFileError(file, [fault]) from None
    except RecursionError:
        raise StockFileError(file, [Fault("", "It nests lists or objects too deeply.")]) from None
    except ValueError as error:  # a number that JSON doesn't know, or one of too many digits
        raise StockFileError(file, [Fault("", f"It is not JSON: {_told(error)}.")]) from None
    faults = list(_schema_faults(document))
    if faults:
        raise StockFileError(file, faults)
    stocks = [_build(row) for row in document["stocks"]]
    faults = [fault for number, stock in enumerate(stocks) for fault in _faults(stock, number)]
    names = [stock.name for stock in stocks]
    faults += [
        Fault(f"stocks[{number}].name", f"'{name}' is there twice")
        for number, name in enumerate(names)
        if name in names[:number]
    ]
    if faults:
        raise StockFileError(file, faults)
    return stocks


class _NoNumberError(ValueError):
    """A constant that is no number of JSON: NaN or Infinity."""


def _refuse_constant(text: str) -> float:
    raise _NoNumberError(f"{text} is not a number")


def _told(error: ValueError) -> str:
    return str(error) if isinstance(error, _NoNumberError) else "a number in it is too long"


@lru_cache(maxsize=1)
def _schema() -> Any:
    path = shipped("schemas") / "stocks.schema.json"
    return json.loads(path.read_text(encoding="utf-8"))


def _schema_faults(document: object) -> Iterator[Fault]:
    import jsonschema

    validator = jsonschema.Draft202012Validator(_schema())
    errors = sorted(validator.iter_errors(document), key=lambda error: list(map(str, error.path)))
    for error in errors:
        place = "".join(
            f"[{part}]" if isinstance(part, int) else f".{part}" for part in error.absolute_path
        )
        yield Fault(place.removeprefix("."), _say(error))


def _say(error: Any) -> str:
    if error.validator == "oneOf":
        return "it must have either 'roll' or 'sheet'"
    message = str(error.message)
    return message if len(message) <= 200 else message[:197] + "..."


def _build(row: Mapping[str, Any]) -> Stock:
    zone = row.get("print_zone") or {
        "left_mm": 0.0,
        "top_mm": 0.0,
        "width_mm": row["width_mm"],
        "height_mm": row["height_mm"] - row.get("clear_tail_mm", 0.0),
    }
    made = {name: value for name, value in row.items() if name in _DEFAULTS}
    made |= {"zone": Zone(**zone), "sheet": Sheet(**row["sheet"]) if "sheet" in row else None}
    return Stock(
        **made,
        gap_mm=row["roll"]["gap_mm"] if "roll" in row else 0.0,
        **row.get("colours", {}),
        **row.get("offset", {}),
    )


def _faults(stock: Stock, number: int) -> Iterator[Fault]:
    place = f"stocks[{number}]"
    zone, label = stock.zone, f"the label of {stock.width_mm:g} x {stock.height_mm:g} mm"
    right, bottom = zone.left_mm + zone.width_mm, zone.top_mm + zone.height_mm
    if right > stock.width_mm + _ROUNDING_MM or bottom > stock.height_mm + _ROUNDING_MM:
        yield Fault(
            f"{place}.print_zone", f"it reaches to {right:g} x {bottom:g} mm, beyond {label}"
        )
    elif bottom + stock.clear_tail_mm > stock.height_mm + _ROUNDING_MM:
        yield Fault(
            f"{place}.clear_tail_mm",
            f"print zone and tail take {bottom + stock.clear_tail_mm:g} mm of {label}",
        )
    if zone.height_mm <= 0:
        yield Fault(f"{place}.clear_tail_mm", "it leaves no height to print on")
    yield from _field_faults(stock, place)
    if stock.sheet:
        yield from _sheet_faults(stock, stock.sheet, f"{place}.sheet")


def _field_faults(stock: Stock, place: str) -> Iterator[Fault]:
    """Yield what the stock's form finds wrong, and the fields that only other forms have."""
    own = [form for form in FORMS if form.stock_form == stock.form]
    theirs = {field: what for form in FORMS for field, what in form.stock_fields.items()}
    for field, what in theirs.items():
        if getattr(stock, field) != _DEFAULTS[field] and not any(
            field in form.stock_fields for form in own
        ):
            yield Fault(f"{place}.{field}", f"a {stock.form} label has no {what}")
    for form in own:
        for field, why in form.stock_faults(stock):
            yield Fault(f"{place}.{field}" if field else place, why)


def _sheet_faults(stock: Stock, sheet: Sheet, place: str) -> Iterator[Fault]:
    page_width, page_height = sheet.page_mm
    axes = (
        ("x", sheet.columns, sheet.left_mm, sheet.pitch_x_mm, stock.width_mm, page_width),
        ("y", sheet.rows, sheet.top_mm, sheet.pitch_y_mm, stock.height_mm, page_height),
    )
    for axis, count, margin, pitch, size, page in axes:
        if count > 1 and pitch < size - _ROUNDING_MM:
            yield Fault(
                f"{place}.pitch_{axis}_mm",
                f"labels of {size:g} mm overlap at a pitch of {pitch:g} mm",
            )
        end = margin + (count - 1) * pitch + size
        if end > page + _ROUNDING_MM:
            yield Fault(
                place,
                f"the labels reach to {end:g} mm; the {sheet.page} page ends at {page:g} mm",
            )


LARGEST_OFFSET_MM = 20.0
LINE_MM, LARGEST_ARM_MM, LETTER_MM = 0.25, 4.0, 2.5


@dataclass(frozen=True)
class CalibrationPage:
    """What should be measured: the cross from the left and upper edge, the bar under it."""

    file: Path
    cross_x_mm: float
    cross_y_mm: float
    bar_mm: float
    bar_y_mm: float


def calibration_page(stock: Stock, out_path: Path) -> CalibrationPage:
    """Return what should be measured on the calibration page of a stock."""
    width_mm, height_mm = page_mm(stock)
    cross_y_mm = _tidy(height_mm / 2)
    return CalibrationPage(
        file=out_path,
        cross_x_mm=_tidy(width_mm / 2),
        cross_y_mm=cross_y_mm,
        bar_mm=_tidy(0.8 * width_mm),
        bar_y_mm=cross_y_mm + 1.4 * _arm_mm(height_mm),
    )


def print_calibration(stock: Stock, out_path: Path) -> CalibrationPage:
    """Write the calibration page of a stock as a PDF, and return what should be measured on it.

    Raises `BadInputError` if the file can't be written.
    """
    from PIL import Image, ImageDraw

    from wiretrack.pdf import Pdf

    stated = calibration_page(stock, out_path)
    width_mm, height_mm = page_mm(stock)
    picture = Image.new("1", (stock.dots(width_mm), stock.dots(height_mm)), 1)
    canvas = ImageDraw.Draw(picture)
    _draw_outlines(canvas, stock)
    _draw_cross(canvas, stock, stated)
    _draw_bar(canvas, stock, stated)
    pdf = Pdf()
    size_mm = stock.mm(picture.width), stock.mm(picture.height)
    pdf.picture_page(packed(picture), (width_mm, height_mm), size_mm)
    with file_in_place(out_path) as stream:
        stream.write(pdf.data())
    return stated


def with_measured_cross(
    stock: Stock, page: CalibrationPage, measured_x_mm: float, measured_y_mm: float
) -> Stock:
    """Return the stock with the offset that follows from where the cross was measured.

    Raises `OutOfRangeError` if the cross would be more than 20 mm away from its place.
    """
    offsets = (measured_x_mm - page.cross_x_mm, measured_y_mm - page.cross_y_mm)
    for name, offset in zip(("Offset to the right", "Offset downwards"), offsets, strict=True):
        if not abs(offset) <= LARGEST_OFFSET_MM:
            allowed = f"within {LARGEST_OFFSET_MM:g} mm; measure from the page's edge to the cross"
            raise OutOfRangeError(name, offset, "mm", allowed)
    return replace(stock, offset_x_mm=round(offsets[0], 2), offset_y_mm=round(offsets[1], 2))


def _tidy(length_mm: float) -> float:
    """Return the length in whole millimetres, as a ruler shows them best."""
    return max(1.0, float(int(length_mm)))


def _draw_outlines(canvas: ImageDraw, stock: Stock) -> None:
    width, height = stock.size_dots
    for place in range(stock.labels_a_page):
        left, top = stock.corner_dots(place, offset=False)
        canvas.rectangle((left, top, left + width - 1, top + height - 1), outline=0)


def _arm_mm(height_mm: float) -> float:
    """Return the length of the cross's arms, shorter on a low label."""
    return min(LARGEST_ARM_MM, 0.22 * height_mm)


def _draw_cross(canvas: ImageDraw, stock: Stock, page: CalibrationPage) -> None:
    """Draw the cross, and over it what should be measured."""
    width_mm, height_mm = page_mm(stock)
    x, y = stock.dots(page.cross_x_mm), stock.dots(page.cross_y_mm)
    arm, thick = stock.dots(_arm_mm(height_mm)), stock.dots(LINE_MM)
    canvas.line((x - arm, y, x + arm, y), fill=0, width=thick)
    canvas.line((x, y - arm, x, y + arm), fill=0, width=thick)
    text = (
        f"cross {page.cross_x_mm:g} mm from the left, {page.cross_y_mm:g} mm from the top; "
        f"bar {page.bar_mm:g} mm"
    )
    width, dots = stock.dots(0.95 * width_mm), stock.dots(min(LETTER_MM, 0.15 * height_mm))
    while dots > 4 and face(dots).length(text) > width:
        dots -= 1
    left = (stock.dots(width_mm) - face(dots).length(text)) / 2
    face(dots).draw(canvas, left, y - arm - thick, text)


def _draw_bar(canvas: ImageDraw, stock: Stock, page: CalibrationPage) -> None:
    """Draw the bar, in the middle of the page's width."""
    length, thick = stock.dots(page.bar_mm), stock.dots(LINE_MM)
    left, y = (stock.dots(page_mm(stock)[0]) - length) // 2, stock.dots(page.bar_y_mm)
    canvas.rectangle((left, y, left + length - 1, y + thick), fill=0)
