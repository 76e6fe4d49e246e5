# SPDX-License-Identifier: MIT
"""Subjects for label tests: an invented pump circuit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from wiretrack.labels.subject import LabelSubject
from wiretrack.model.tags import check_character, make_payload

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.fixture
def make_subject() -> Callable[..., LabelSubject]:
    """Return a maker of subjects; what isn't said is an invented pump's first line conductor."""

    def make(body: str = "7KQ2MB", base: str | None = None, **said: Any) -> LabelSubject:
        tag = body + check_character(body)
        fields: dict[str, Any] = {
            "tag": tag,
            "payload": make_payload(tag, base),
            "circuit": "PUMP",
            "function": "L1",
            "this_place": "MDB Q4:1",
            "other_place": "PH1 X1:2",
            "size": "4 mm2",
            "colour": "BN",
            "title": "bore pump",
        }
        return LabelSubject(**{**fields, **said})

    return make
