# SPDX-License-Identifier: MIT
"""Labels for both ends: what fits, drawing them, and noting what was printed."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

from wiretrack.labels.fit import fit
from wiretrack.labels.output import print_labels
from wiretrack.labels.payload import check_base_address, make_payload
from wiretrack.labels.stocks import get_stock, load_stocks, stock_rows
from wiretrack.labels.subject import LabelSubject
from wiretrack.registry import keeping
from wiretrack.registry.dumping import conductors, site
from wiretrack.registry.searching import resolve
from wiretrack.tasks.dimensions import outer_diameter_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from wiretrack.labels.stocks import Stock
    from wiretrack.records import Conductor, End
    from wiretrack.registry.store import Registry

MANY_LABELS = 200  # from here on a second process pays for its start


def stocks(user_files: Sequence[Path] = ()) -> list[dict[str, object]]:
    """Return the label stocks known here, the user's own among them."""
    return stock_rows(load_stocks(*user_files))


def fit_labels(
    registry: Registry, what: str, stock: str, user_files: Sequence[Path] = (), **wishes: Any
) -> list[dict[str, object]]:
    """Return, for each end that `what` names, the form, the symbol and the reason.

    Where the stock can't carry the form that fits, ``instead`` names the smallest flag stock that
    can, and the symbol is the one on that.
    """
    known = load_stocks(*user_files)
    chosen = get_stock(stock, known)
    return [_fit_row(subject, chosen, known, wishes) for subject in subjects(registry, what)]


def _fit_row(
    subject: LabelSubject, chosen: Stock, known: Mapping[str, Stock], wishes: dict[str, Any]
) -> dict[str, object]:
    row = fit(subject, chosen, **wishes).as_row()
    if row["printable"]:
        return {**row, "instead": None}
    flags = sorted(
        (stock for stock in known.values() if stock.form == "flag"),
        key=lambda stock: stock.width_mm * stock.height_mm,
    )
    for stock in flags:
        other = fit(subject, stock, **wishes)
        if other.printable:
            symbol = ("qr_version", "error_correction", "module_mm", "letter_mm")
            found = {key: value for key, value in other.as_row().items() if key in symbol}
            return {**row, **found, "instead": stock.name}
    return {**row, "instead": None}


def print_to_file(
    registry: Registry,
    what: str,
    stock: str,
    out: Path,
    *,
    user_files: Sequence[Path] = (),
    page: Any = None,
    start_at: int = 1,
    **wishes: Any,
) -> dict[str, object]:
    """Draw the labels of every end that `what` names into `out`, and note them as printed.

    Nothing is written, and nothing noted, unless every code reads back from the drawn pages.
    """
    chosen = get_stock(stock, load_stocks(*user_files))
    wanted = subjects(registry, what)
    workers = (os.cpu_count() or 1) if len(wanted) >= MANY_LABELS else 1
    printed = print_labels(
        wanted, chosen, out, page=page, start_at=start_at, workers=workers, **wishes
    )
    keeping.add_label_prints(
        registry, [_print_row(s, chosen.name, chosen.form, out) for s in wanted]
    )
    return {
        "file": str(printed.file),
        "labels": printed.labels,
        "pages": printed.pages,
        "proofread": printed.proofread,
        "smallest_letter_mm": round(printed.smallest_letter_mm, 2),
    }


def set_base_address(registry: Registry, address: str, *, who: str | None = None) -> str:
    """Set the address that labels lead to; return it as labels write it."""
    checked = check_base_address(address)
    keeping.set_base_address(registry, checked, who=who)
    return checked


def subjects(registry: Registry, what: str) -> list[LabelSubject]:
    """Return the ends that `what` names.

    Both ends of a conductor, or of each one in a circuit, pull or raceway; for an enclosure the
    ends that lie in it.
    """
    named = resolve(registry, what)
    condition, parameter = _CONDITIONS[named.what], named.code
    found = conductors(registry, condition, [parameter] * condition.count("?"))
    base_address = site(registry).base_address
    here = named.code if named.what == "enclosure" else None
    return [
        _subject(registry, conductor, side, base_address)
        for conductor in found
        for side, end in (("from", conductor.from_end), ("to", conductor.to_end))
        if here in (None, end.enclosure)
    ]


_CONDITIONS = {
    "conductor": "c.tag = ?",
    "circuit": "k.code = ?",
    "pull": "p.code = ?",
    "enclosure": "? IN (fe.code, te.code)",
    "raceway": "c.pull_id IN (SELECT x.pull_id FROM pull_raceways AS x"
    " JOIN raceways AS r ON r.id = x.raceway_id WHERE r.code = ?)",
}


def _subject(
    registry: Registry, conductor: Conductor, side: Any, base_address: str | None
) -> LabelSubject:
    ends = (conductor.from_end, conductor.to_end)
    here, there = ends if side == "from" else reversed(ends)
    tag = conductor.tag or ""
    return LabelSubject(
        tag=tag,
        payload=make_payload(tag, base_address),
        circuit=conductor.circuit,
        function=conductor.function,
        this_place=place(here),
        other_place=place(there),
        size=conductor.size,
        colour=conductor.colour,
        outer_diameter_mm=outer_diameter_mm(conductor),
        end=side,
    )


def place(end: End) -> str:
    """Return where an end is, as labels and tables write it: enclosure and terminal."""
    return f"{end.enclosure} {end.terminal}" if end.terminal else end.enclosure


def _print_row(subject: LabelSubject, stock: str, form: str, out: Path) -> dict[str, Any]:
    legend = {
        "circuit": subject.circuit,
        "function": subject.function,
        "this_place": subject.this_place,
        "other_place": subject.other_place,
        "payload": subject.payload,
    }
    return {
        "tag": subject.tag,
        "end": subject.end,
        "form": form,
        "stock": stock,
        "legend": legend,
        "file": out.name,
    }
