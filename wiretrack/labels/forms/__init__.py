# SPDX-License-Identifier: MIT
"""The forms that a label can have, a file a form: which of them a label gets, and how it lies."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from wiretrack.labels.forms.base import Case, Form
from wiretrack.labels.forms.flag import FLAG
from wiretrack.labels.subject import CONDUCTOR, PULL_NUMBERS, LabelKind

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.labels.plan import Fit, Stock
    from wiretrack.labels.subject import Contents, Subject

_FOUND = (
    found
    for file in iter_modules(__path__)
    for found in vars(import_module(f"{__name__}.{file.name}")).values()
    if isinstance(found, Form)
)
FORMS: tuple[Form, ...] = tuple(sorted(dict.fromkeys(_FOUND), key=lambda form: form.order))
BY_NAME = {form.name: form for form in FORMS}
_KINDS: tuple[LabelKind, ...] = (
    CONDUCTOR,
    PULL_NUMBERS,
    *(form for form in FORMS if isinstance(form, LabelKind)),
)
KINDS = {kind.kind: kind for kind in _KINDS}

__all__ = ["BY_NAME", "FORMS", "KINDS", "Case", "Form"]


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
