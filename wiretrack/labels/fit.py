# SPDX-License-Identifier: MIT
"""What goes on this conductor or box: which form, which symbol, how large, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.labels.forms import BY_NAME, FORMS, Case
from wiretrack.labels.forms.flag import FLAG

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.labels.forms import Form
    from wiretrack.labels.plan import Fit
    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Contents, Subject


def fit(
    subject: Subject, stock: Stock, *, contents: Contents = "full", text_only: bool = False
) -> Fit:
    """Return the form, the symbol and the plan for one label on one stock.

    With `text_only` no symbol is wanted, and a wrap stock is wound round whatever the diameter.

    Raises `OutOfRangeError` if the conductor's diameter can't be; `GlyphError` if a name can't be
    printed.
    """
    return form_of(subject, stock).fit(Case(subject, stock, contents, text_only))


def parts_of(subject: Subject, stock: Stock) -> list[Subject]:
    """Return a subject in as many labels as this stock needs for it."""
    return form_of(subject, stock).parts(subject, stock)


def smallest_alike(form: str, stocks: Mapping[str, Stock]) -> list[Stock]:
    """Return the stocks that could carry, flat, what a form can't: the smallest first."""
    if not BY_NAME[form].flat_alike:
        return []
    flags = (stock for stock in stocks.values() if stock.form == FLAG.stock_form)
    return sorted(flags, key=lambda stock: stock.width_mm * stock.height_mm)


def form_of(subject: Subject, stock: Stock) -> Form:
    """Return the form for a subject: that of the stock, or the only one that carries it."""
    carry = [form for form in FORMS if isinstance(subject, form.carries)]
    return next((form for form in carry if form.stock_form == stock.form), carry[0])
