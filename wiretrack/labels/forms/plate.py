# SPDX-License-Identifier: MIT
"""The plate form: a legend and a code side by side on one flat face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.labels.faces import face_candidates, flat_face
from wiretrack.labels.forms.base import Case, EndCase, Form, best_of
from wiretrack.labels.refusal import why_no_face

if TYPE_CHECKING:
    from collections.abc import Iterator

    from wiretrack.labels.plan import Candidate, Fit


class PlateForm(Form):
    """On flat stock: whatever has a legend, and a code or none."""

    name = "plate"
    stock_form = "flat"

    def fit(self, case: Case) -> Fit:
        """Return the plan of one flat face."""
        end = EndCase.of(case)
        stock, reason = end.stock, "A flat label carries code and legend side by side."
        if end.text_only:
            reason = "A flat label carries the legend alone."
        elif unread := end.unread():
            return end.refused(self, reason, *unread)

        def with_version(version: int | None) -> Iterator[Candidate]:
            return face_candidates(end.legend, stock, flat_face(stock), end.limits, version)

        for symbol in end.tries:
            best = best_of(with_version(symbol[0] if symbol else None), stock)
            if best is not None:
                return end.found(self, reason, best, symbol)
        payload = "" if end.text_only else end.subject.payload
        why = why_no_face(end.legend, stock, payload, end.limits)
        return end.refused(self, reason, *end.or_shorter(why, with_version))


PLATE = PlateForm()
