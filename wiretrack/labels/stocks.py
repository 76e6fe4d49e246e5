# SPDX-License-Identifier: MIT
"""Label stocks: what a label, its print zone and its page measure, in millimetres and dots."""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import meaning, position
from wiretrack.errors import Fault, StockFileError, TableEntryError
from wiretrack.files import file_in_place, shipped
from wiretrack.labels.forms import FORMS
from wiretrack.labels.stock import Sheet, Stock, Zone
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

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


def get_stock(name: str, stocks: Mapping[str, Stock] | None = None) -> Stock:
    """Return the stock of that name.

    Raises `TableEntryError` if there is none; it names the nearest.
    """
    known = shipped_stocks() if stocks is None else stocks
    if name not in known:
        close = near(name, known)
        raise TableEntryError("The list of label stocks", name, close or sorted(known))
    return known[name]


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
