# SPDX-License-Identifier: MIT
"""Label stocks, which form fits, and the address that labels lead to."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.labels.fit import fit
from wiretrack.labels.forms import BY_NAME
from wiretrack.labels.forms.flag import FLAG
from wiretrack.labels.payload import check_base_address
from wiretrack.labels.stocks import get_stock, load_stocks, stock_rows
from wiretrack.store import changing
from wiretrack.tasks.label.kinds import Wanted, wanted_subjects

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Subject
    from wiretrack.store.store import Registry


def stocks(user_files: Sequence[Path] = ()) -> list[dict[str, object]]:
    """Return the label stocks known here, the user's own among them."""
    return stock_rows(load_stocks(*user_files))


def fit_labels(
    registry: Registry, wanted: Wanted, stock: str, user_files: Sequence[Path] = (), **wishes: Any
) -> list[dict[str, object]]:
    """Return, for each label that is wanted, the form, the symbol and the reason.

    Where the stock can't carry the form that fits, ``instead`` names the smallest flag stock that
    can, and the symbol is the one on that.
    """
    known = load_stocks(*user_files)
    chosen = get_stock(stock, known)
    return [
        _fit_row(subject, chosen, known, wishes)
        for subject in wanted_subjects(registry, wanted, chosen)
    ]


def _fit_row(
    subject: Subject, chosen: Stock, known: Mapping[str, Stock], wishes: dict[str, Any]
) -> dict[str, object]:
    row = fit(subject, chosen, **wishes).as_row()
    if row["printable"]:
        return {**row, "instead": None}
    if not BY_NAME[str(row["form"])].flat_alike:
        return {**row, "instead": None}
    flags = sorted(
        (stock for stock in known.values() if stock.form == FLAG.stock_form),
        key=lambda stock: stock.width_mm * stock.height_mm,
    )
    for stock in flags:
        other = fit(subject, stock, **wishes)
        if other.printable:
            symbol = ("qr_version", "error_correction", "module_mm", "letter_mm")
            found = {key: value for key, value in other.as_row().items() if key in symbol}
            return {**row, **found, "instead": stock.name}
    return {**row, "instead": None}


def set_base_address(registry: Registry, address: str, *, who: str | None = None) -> str:
    """Set the address that labels lead to; return it as labels write it."""
    checked = check_base_address(address)
    changing.set_base_address(registry, checked, who=who)
    return checked
