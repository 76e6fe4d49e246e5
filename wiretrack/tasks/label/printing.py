# SPDX-License-Identifier: MIT
"""Printing labels, into a file or through the operating system's spooler, and noting it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from wiretrack.encoding import document
from wiretrack.errors import BadInputError, Hint
from wiretrack.labels.output import print_labels
from wiretrack.labels.pages import on_plain_paper, page_mm
from wiretrack.labels.stocks import get_stock, load_stocks
from wiretrack.labels.subject import LabelSubject
from wiretrack.store import label_log, records
from wiretrack.tasks.label.ends import legend_of
from wiretrack.tasks.label.kinds import Wanted, wanted_subjects
from wiretrack.tasks.label.spooling import print_pdf, printer_checked
from wiretrack.tasks.label.truth import label_due

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from wiretrack.labels.legend import Contents
    from wiretrack.labels.output import Printed
    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Subject
    from wiretrack.store.store import Registry

MANY_LABELS = 200  # from here on a second process pays for its start


@dataclass(frozen=True, kw_only=True)
class PrintOrder:
    """How labels are printed: on which stock, into which file or by which printer."""

    stock: str
    out: Path | None = None
    printer: str | None = None
    user_files: tuple[Path, ...] = ()
    page: str | None = None
    start_at: int = 1
    contents: Contents = "full"
    text_only: bool = False


def print_wanted(
    registry: Registry,
    wanted: Wanted,
    order: PrintOrder,
    *,
    no_address: Callable[[], None] | None = None,
) -> dict[str, Any]:
    """Print the labels and note those of conductors' ends as printed; return what was done.

    `no_address` is called once they are drawn, before the first sheet of a site whose codes lead
    to no address.

    Nothing is written, and nothing noted, unless every code reads back from the drawn pages and,
    where there is a printer, its spooler has taken the job and the printer can begin it.

    Raises
    ------
    WiretrackError
        If something isn't known, a label can't be made, or the printer refuses it.
    """
    if order.out is None and order.printer is None:
        raise BadInputError("Where the labels go isn't said.", Hint("Give {out} or {printer}."))
    printer = order.printer and printer_checked(order.printer)
    stock = get_stock(order.stock, load_stocks(*order.user_files))
    found = wanted_subjects(registry, wanted, stock)
    if wanted.due and not found:
        waits = sum(not row["to_print"] for row in label_due(registry, wanted.what))
        nothing = {"file": None, "labels": 0, "pages": 0, "proofread": 0}
        return nothing | {"smallest_letter_mm": None, "noted": 0, "waiting": waits}
    with TemporaryDirectory() as folder:
        out = order.out or Path(folder) / "labels.pdf"
        printed = _draw(found, stock, out, order)
        done = _as_row(printed, order)
        if no_address and printed.proofread and _first_without_address(registry):
            no_address()
        if printer:
            sheet = out if out.suffix.lower() == ".pdf" else Path(folder) / "labels.pdf"
            if sheet != out:
                _draw(found, stock, sheet, order)
            on = on_plain_paper(stock, order.page) if order.page else stock
            done |= document(print_pdf(sheet, printer, page_mm(on)))
    return done | {"noted": _note(registry, found, printed, order)}


def _first_without_address(registry: Registry) -> bool:
    return not label_log.any_printed(registry) and records.site(registry).base_address is None


def print_to_file(
    registry: Registry, what: str, stock: str, out: Path, **options: Any
) -> dict[str, Any]:
    """Draw the labels of every end that `what` names into `out`, and note them as printed."""
    return print_wanted(registry, Wanted(what=what), PrintOrder(stock=stock, out=out, **options))


def _draw(found: Sequence[Subject], stock: Stock, out: Path, order: PrintOrder) -> Printed:
    return print_labels(
        found,
        stock,
        out,
        page=order.page,
        start_at=order.start_at,
        contents=order.contents,
        text_only=order.text_only,
        workers=(os.cpu_count() or 1) if len(found) >= MANY_LABELS else 1,
    )


def _as_row(printed: Printed, order: PrintOrder) -> dict[str, Any]:
    return {
        "file": str(order.out) if order.out else None,
        "labels": printed.labels,
        "pages": printed.pages,
        "proofread": printed.proofread,
        "smallest_letter_mm": round(printed.smallest_letter_mm, 2),
    }


def _note(registry: Registry, found: Sequence[Subject], printed: Printed, order: PrintOrder) -> int:
    """Note conductors' labels and return their number.

    Numbers, cards, strips, plates and markings belong to no end.
    """
    rows = [
        {
            "tag": subject.tag,
            "end": subject.end,
            "form": form,
            "stock": order.stock,
            "legend": legend_of(subject, order.contents, text_only=order.text_only),
            "file": order.out.name if order.out else f"printer {order.printer}",
        }
        for subject, form in zip(found, printed.forms, strict=True)
        if isinstance(subject, LabelSubject)
    ]
    if rows:
        label_log.add_prints(registry, rows)
    return len(rows)
