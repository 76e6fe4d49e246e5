# SPDX-License-Identifier: MIT
"""A reading that was typed without its unit is shown with it on every face, and kept as typed."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest

from tests.pump import L1
from tests.web.conftest import settings_of, signed_in
from wiretrack.electrical.quantity_text import shown
from wiretrack.model.tags import format_tag
from wiretrack.web.app import create_app

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Wiretrack

WIRE = format_tag(L1)
# Number, space, prefix and symbol of the unit: SI brochure (BIPM, 9th edition), 5.4.3.
WRITTEN = [
    ("0.42", "ohm", "0.42 Ω"),
    ("0,42", "ohm", "0,42 Ω"),
    ("420m", "ohm", "420 mΩ"),
    (">2000 M", "ohm", ">2000 MΩ"),
    ("4k7", "ohm", "4k7 Ω"),
    ("2e6", "ohm", "2e6 Ω"),
    ("-412", "V", "-412 V"),
    ("+230.5", "V", "+230.5 V"),
    ("0.42 ohm", "ohm", "0.42 Ω"),
    ("1320 Mohm", "ohm", "1320 MΩ"),
    ("230 V", "V", "230 V"),
    ("230V", "V", "230V"),
    ("OL", "ohm", "OL"),
]


def text_of(page: str) -> str:
    return html.unescape(re.sub(r"<[^>]*>", " ", page))


def test_the_unit_is_put_to_a_bare_figure_alone() -> None:
    assert [shown(typed, unit) for typed, unit, _ in WRITTEN] == [told for *_, told in WRITTEN]


@pytest.mark.parametrize(
    ("kind", "typed", "told"),
    [("continuity", "0.42", "0.42 Ω"), ("insulation", ">200M", ">200 MΩ")],
)
def test_every_face_shows_the_unit_and_the_record_keeps_what_was_typed(
    wiretrack: Wiretrack, db: Path, tmp_path: Path, kind: str, typed: str, told: str
) -> None:
    assert wiretrack("test", "log", WIRE, "--kind", kind, typed).status in (0, 1)
    app = create_app(settings_of(db))
    page = signed_in(app).get(f"/{WIRE}").text
    report = tmp_path / "report.html"
    assert wiretrack("report", "--out", report).status in (0, 1)
    faces = {
        "show": wiretrack("show", WIRE).words,
        "history": wiretrack("history", WIRE).words,
        "phone": text_of(page),
        "report": text_of(report.read_text("utf-8")),
    }
    figure = re.escape(typed) + r"(?!\w)"
    for face, words in faces.items():
        assert told in words, face
        assert all(words[m.start() :].startswith(told) for m in re.finditer(figure, words)), face
    stored = wiretrack("dump").json["readings"]
    assert [reading["value"] for reading in stored] == [typed]
