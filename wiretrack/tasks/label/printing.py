# SPDX-License-Identifier: MIT
"""Labels fitted, looked at, and printed into a file or by the system's spooler, and noted."""

from __future__ import annotations

from dataclasses import field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import INLINE
from wiretrack.errors import BadInputError, Hint
from wiretrack.files import file_in_place
from wiretrack.labels import stocks as stock_files
from wiretrack.labels.draw import draw_label, preview, preview_picture, save_png
from wiretrack.labels.forms import fit, parts_of, smallest_alike
from wiretrack.labels.output import Wishes, on_plain_paper, page_mm, print_labels
from wiretrack.labels.stocks import get_stock, load_stocks, save_stock
from wiretrack.labels.subject import LabelSubject
from wiretrack.late import dataclass
from wiretrack.model.tags import check_base_address
from wiretrack.processes import processors
from wiretrack.progress import steps
from wiretrack.store import changing, label_log
from wiretrack.store.source import site_of
from wiretrack.tasks.label.ends import Wanted, asked, due_subjects, label_due
from wiretrack.tasks.label.spooling import print_pdf, printer_checked

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.labels.output import Printed
    from wiretrack.labels.plan import Fit, Stock
    from wiretrack.labels.subject import Subject
    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.spooling import Job


MANY_LABELS = 200  # from here on a second process pays for its start
_WHERE_THERE_IS_ONE = {"json": INLINE, "blank": None}


def stocks(user_files: Sequence[Path] = ()) -> list[Stock]:
    """Return the label stocks known here by name, the user's own among them."""
    return sorted(load_stocks(*user_files).values(), key=lambda stock: stock.name)


def set_base_address(registry: Registry, address: str, *, who: str | None = None) -> str:
    """Set the address that labels lead to; return it as labels write it."""
    checked = check_base_address(address)
    changing.set_base_address(registry, checked, who=who)
    return checked


def wanted_subjects(registry: Registry, wanted: Wanted, stock: Stock) -> Sequence[Subject]:
    """Return what the labels that are wanted are about, cut to what the stock has room for."""
    if not wanted.due:
        found = wanted.plug.subjects(asked(registry, wanted))
        return [part for subject in found for part in parts_of(subject, stock)]
    if not wanted.plug.kept:
        raise BadInputError(
            "Only conductors' labels can be due.", Hint("Leave out {due}, or {kind}.")
        )
    return due_subjects(registry, wanted.what)


@dataclass(frozen=True)
class Fitted:
    """How one label fits a stock; where it doesn't, the smallest stock `instead`, and how there."""

    fit: Fit
    instead: str | None = None
    there: Fit | None = None

    def as_json(self) -> dict[str, object]:
        """Return the fit; its symbol is the one on the stock that carries it."""
        row = self.fit.as_json()
        if self.there is not None:
            symbol = ("qr_version", "error_correction", "module_mm", "letter_mm")
            other = self.there.as_json()
            row |= {key: other[key] for key in symbol}
        return {**row, "instead": self.instead}


def fit_labels(
    registry: Registry,
    wanted: Wanted,
    stock: str,
    user_files: Sequence[Path] = (),
    wishes: Wishes | None = None,
) -> list[Fitted]:
    """Return, for each label that is wanted, the form, the symbol and the reason.

    Where the stock can't carry it, the smallest one that carries the same is named.
    """
    known, wishes = load_stocks(*user_files), wishes or Wishes()
    chosen = get_stock(stock, known)
    more: dict[str, Any] = {"contents": wishes.contents, "text_only": wishes.text_only}
    rows = []
    for subject in wanted_subjects(registry, wanted, chosen):
        found = fit(subject, chosen, **more)
        others = () if found.printable else smallest_alike(found.form, known)
        fits = ((other.name, fit(subject, other, **more)) for other in others)
        instead = next((pair for pair in fits if pair[1].printable), (None, None))
        rows.append(Fitted(found, *instead))
    return rows


@dataclass(frozen=True, kw_only=True)
class Sight(Wishes):
    """How labels are looked at: on which stock, how many, how wide, and in which picture."""

    stock: str
    columns: int = 80
    most: int = 3
    out: Path | None = None
    user_files: tuple[Path, ...] = ()


@dataclass(frozen=True)
class Shown:
    """One label as text."""

    tag: str
    end: str | None
    form: str
    letter_mm: float | None
    preview: str


@dataclass(frozen=True)
class Preview:
    """The first labels as text; how many more there are, and the picture that was made."""

    labels: tuple[Shown, ...]
    left_out: int
    file: str | None


def preview_wanted(registry: Registry, wanted: Wanted, sight: Sight) -> Preview:
    """Return the first labels as text; with `sight.out` make a PNG of them too.

    Nothing is noted as printed. `WiretrackError` if something isn't known, a label can't be made,
    or the picture can't be written.
    """
    if sight.out is not None and sight.out.suffix.lower() != ".png":
        raise BadInputError(f"'{sight.out.name}' isn't a .png. End the picture's name in it.")
    stock = get_stock(sight.stock, load_stocks(*sight.user_files))
    found = wanted_subjects(registry, wanted, stock)
    shown = found[: sight.most]
    fits = [fit(s, stock, contents=sight.contents, text_only=sight.text_only) for s in shown]
    drawn = [draw_label(s, one, stock) for s, one in zip(shown, fits, strict=True)]
    if not drawn:
        raise BadInputError("There are no labels to show. Name something that has conductors.")
    if sight.out is not None:
        inks = [one.plan.ink if one.plan else "black" for one in fits]
        with file_in_place(sight.out) as stream:
            save_png(preview_picture(drawn, inks, stock), stream)
    labels = (
        Shown(one.tag, one.end, one.form, one.letter_mm and round(one.letter_mm, 2), picture)
        for one, picture in zip(fits, (preview(one, sight.columns) for one in drawn), strict=True)
    )
    return Preview(tuple(labels), len(found) - len(shown), str(sight.out) if sight.out else None)


@dataclass(frozen=True, kw_only=True)
class PrintOrder(Wishes):
    """How labels are printed: on which stock, into which file or by which printer."""

    stock: str
    out: Path | None = None
    printer: str | None = None
    user_files: tuple[Path, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LabelsPrinted:
    """What was printed; `noted` counts conductors' labels, `waiting` those printed before."""

    file: str | None = None
    labels: int = 0
    pages: int = 0
    proofread: int = 0
    smallest_letter_mm: float | None = None
    noted: int = 0
    job: Job | None = field(default=None, metadata=_WHERE_THERE_IS_ONE)
    waiting: int | None = field(default=None, metadata={"blank": None})


def print_wanted(
    registry: Registry,
    wanted: Wanted,
    order: PrintOrder,
    *,
    no_address: Callable[[], None] | None = None,
    who: str | None = None,
) -> LabelsPrinted:
    """Print the labels and note those of conductors' ends as printed; return what was done.

    `no_address` is called once they are drawn, before the first sheet of a site whose codes lead
    to no address.

    Nothing is written, and nothing noted, unless every code reads back from the drawn pages and,
    where there is a printer, its spooler has taken the job and the printer can begin it.
    `WiretrackError` if something isn't known, a label can't be made, or the printer refuses it.
    """
    if order.out is None and order.printer is None:
        raise BadInputError("Say where the labels go.", Hint("Give {out} or {printer}."))
    printer = order.printer and printer_checked(order.printer)
    stock = get_stock(order.stock, load_stocks(*order.user_files))
    found = wanted_subjects(registry, wanted, stock)
    if wanted.due and not found:
        waits = sum(not row.to_print for row in label_due(registry, wanted.what))
        return LabelsPrinted(waiting=waits)
    job = None
    with TemporaryDirectory() as folder:
        out = order.out or Path(folder) / "labels.pdf"
        printed = _draw(found, stock, out, order)
        if no_address and printed.proofread and not label_log.any_printed(registry):
            if site_of(registry).facts.base_address is None:
                no_address()
        if printer:
            sheet = out if out.suffix.lower() == ".pdf" else Path(folder) / "labels.pdf"
            if sheet != out:
                _draw(found, stock, sheet, order)
            on = on_plain_paper(stock, order.page) if order.page else stock
            job = print_pdf(sheet, printer, page_mm(on))
    return LabelsPrinted(
        file=str(order.out) if order.out else None,
        labels=printed.labels,
        pages=printed.pages,
        proofread=printed.proofread,
        smallest_letter_mm=round(printed.smallest_letter_mm, 2),
        noted=_note(registry, found, printed, order, who),
        job=job,
    )


def _draw(found: Sequence[Subject], stock: Stock, out: Path, order: PrintOrder) -> Printed:
    workers = processors() if len(found) >= MANY_LABELS else 1
    return print_labels(steps(found, "labels"), stock, out, order, workers)


def _note(
    registry: Registry, found: Sequence[Subject], printed: Printed, order: PrintOrder,
    who: str | None,
) -> int:  # fmt: skip
    """Note conductors' labels and return their number.

    Numbers, cards, strips, plates and markings belong to no end.
    """
    rows = [
        {
            "tag": subject.tag,
            "end": subject.end,
            "form": form,
            "stock": order.stock,
            "legend": subject.said(order.contents, text_only=order.text_only),
            "file": order.out.name if order.out else f"printer {order.printer}",
        }
        for subject, form in zip(found, printed.forms, strict=True)
        if isinstance(subject, LabelSubject)
    ]
    if rows:
        label_log.add_prints(registry, rows, who=who)
    return len(rows)


@dataclass(frozen=True)
class PageMade:
    """The calibration page that was written or printed, and what should be measured on it."""

    file: str | None
    cross_x_mm: float
    cross_y_mm: float
    bar_mm: float
    job: Job | None = field(default=None, metadata=_WHERE_THERE_IS_ONE)


@dataclass(frozen=True)
class SavedOffset:
    """What a printer is off by on a stock, and the stock file that keeps it."""

    name: str
    offset_x_mm: float
    offset_y_mm: float
    file: str


def calibration_page(
    stock: str,
    user_files: Sequence[Path] = (),
    out: Path | None = None,
    printer: str | None = None,
) -> PageMade:
    """Write or print the calibration page of a stock, and return what should be measured on it."""
    if out is None and printer is None:
        raise BadInputError("Say where the page goes.", Hint("Give {out} or {printer}."))
    if out is not None and out.suffix.lower() != ".pdf":
        raise BadInputError(f"'{out.name}' isn't a .pdf, which keeps the page's true size.")
    chosen = get_stock(stock, load_stocks(*user_files))
    name = printer and printer_checked(printer)
    with TemporaryDirectory() as folder:
        page = stock_files.print_calibration(chosen, out or Path(folder) / "calibration.pdf")
        job = print_pdf(page.file, name, page_mm(chosen)) if name else None
    file = str(out) if out else None
    return PageMade(file, page.cross_x_mm, page.cross_y_mm, page.bar_mm, job)


def save_measured(
    stock: str, user_files: Sequence[Path], measured_x_mm: float, measured_y_mm: float, save: Path
) -> SavedOffset:
    """Keep, in a user's stock file, what the printer is off by; return the offset."""
    chosen = get_stock(stock, load_stocks(*user_files))
    page = stock_files.calibration_page(chosen, save)
    moved = stock_files.with_measured_cross(chosen, page, measured_x_mm, measured_y_mm)
    save_stock(moved, save)
    return SavedOffset(moved.name, moved.offset_x_mm, moved.offset_y_mm, str(save))
