# SPDX-License-Identifier: MIT
"""What forms share that are laid out for one kind of subject and go on flat stock alone."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import replace
from typing import TYPE_CHECKING, Generic, TypeVar, cast

from wiretrack.labels.forms.base import Case, Form
from wiretrack.labels.refusal import why_unread

if TYPE_CHECKING:
    from wiretrack.labels.plan import Fit
    from wiretrack.labels.stock import Stock
    from wiretrack.labels.subject import Subject

S = TypeVar("S", bound="Subject")


class FlatForm(Form, Generic[S]):
    """A form of one kind of subject, on flat stock."""

    stock_form = "flat"

    @abstractmethod
    def lay_out(self, subject: S, stock: Stock) -> Fit:
        """Return the plan of one label, or why there is none."""

    def split(self, subject: S, stock: Stock) -> list[S]:
        """Return the subject in as many labels as this stock needs."""
        return [subject]

    def parts(self, subject: Subject, stock: Stock) -> list[Subject]:
        """Return the subject in as many labels as this stock needs."""
        return cast("list[Subject]", self.split(cast("S", subject), stock))

    def fit(self, case: Case) -> Fit:
        """Return the plan of one label; another stock than a flat one carries none."""
        stock = case.stock
        found = self.lay_out(cast("S", case.subject), stock)
        if stock.form != self.stock_form:
            why = f"a {found.form} needs a flat stock, and '{stock.name}' is a {stock.form}"
            return replace(found, plan=None, why_not=why, hint="Take a stock of form flat.")
        unread = why_unread(stock) if found.plan and found.plan.codes else None
        return replace(found, plan=None, why_not=unread[0], hint=unread[1]) if unread else found
