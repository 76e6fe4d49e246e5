# SPDX-License-Identifier: MIT
"""Routes and trends drawn: what is in the record is in the drawing, in the page and in the PDF."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import pytest

from tests.pdf import fonts, page_texts
from tests.pump import L1
from tests.record_of import report_page
from wiretrack.model.routes import Leg, Route
from wiretrack.model.tags import format_tag
from wiretrack.render.report.blocks import Drawing, Printed
from wiretrack.render.report.html import html_pieces
from wiretrack.render.report.pdf import pdf_bytes
from wiretrack.render.route import route_drawn
from wiretrack.render.trend import plot_svg
from wiretrack.tasks.report.report import report
from wiretrack.tasks.test.plan import trend
from wiretrack.tasks.test.testing import ReadingText, log_reading

if TYPE_CHECKING:
    from tests.reports.conftest import Written
    from wiretrack.store.store import Registry

HOSTILE = '<b>"&amp;\n\x07'


def words(drawing: str) -> list[str]:
    """Return the words of a drawing, read as XML."""
    return [
        "".join(e.itertext()) for e in ElementTree.fromstring(drawing).iter() if "text" in e.tag
    ]


def boxes(drawing: str) -> list[float]:
    """Return how far across the boxes of a route are."""
    return [float(x) + 9 for x in re.findall(r'<rect x="(\S+)" y="69"', drawing)]


def drawn(*lengths_m: float | None) -> str:
    """Return a route of raceways of these lengths."""
    legs = (Leg(f"W{n}", f"B{n}", f"B{n + 1}", length) for n, length in enumerate(lengths_m))
    return route_drawn(Route(tuple(legs)), "Route")


def insulation(registry: Registry, value: str, year: int) -> None:
    log_reading(
        registry,
        ReadingText(subject=L1, kind="insulation", value=value, against="PE", volts="500",
                    temp="20 C", at=f"{year}-05-02T10:15:00+02:00"),
    )  # fmt: skip


def test_a_route_of_long_raceways_is_to_scale() -> None:
    found = drawn(20.0, 10.0, 30.0)
    first, second, third, last = boxes(found)
    assert (second - first) / (last - first) == pytest.approx(20 / 60, abs=0.001)
    assert (third - first) / (last - first) == pytest.approx(30 / 60, abs=0.001)
    assert words(found)[0] == "Route"
    assert {"W0", "20 m", "B0", "W1", "10 m", "B1", "W2", "30 m", "B2", "B3"} <= {*words(found)}
    assert "Not to scale" not in found


@pytest.mark.parametrize(
    ("lengths", "told"), [((60.0, 0.5, 3.0), "short raceways"), ((60.0, None), "isn't recorded")]
)
def test_what_is_not_to_scale_says_so_and_keeps_room_for_words(
    lengths: tuple[float | None, ...], told: str
) -> None:
    found = drawn(*lengths)
    places = boxes(found)
    assert len(places) == len(lengths) + 1
    assert min(b - a for a, b in pairwise(places)) >= 60
    assert any(told in word for word in words(found))
    assert ("unknown" in words(found)) == (None in lengths)


def test_a_route_of_many_raceways_is_as_wide_as_they_need() -> None:
    places = boxes(drawn(*[2.0] * 30))
    assert min(b - a for a, b in pairwise(places)) >= 59.9
    assert route_drawn(Route(()), "Route") == ""


def test_a_trend_has_its_limit_and_says_what_its_marks_mean(registry: Registry) -> None:
    for value, year in ((">2000M", 2019), ("40M", 2021), ("10M", 2023), ("2.6M", 2025)):
        insulation(registry, value, year)
    found = plot_svg(trend(registry, L1))
    assert found.count("<circle") == 3
    said = words(found)
    assert "limit 1 MΩ" in said  # IEC 60364-6:2016 table 6.1
    assert {"1 MΩ", "10 MΩ", "100 MΩ", "1 GΩ"} <= {*said}
    assert any(
        word == "● reading, ▲ over range: at least this, ─ line through the readings, - - limit"
        for word in (re.sub(r" +", " ", word) for word in said)
    )


def test_the_report_draws_what_was_read_twice_and_nothing_else(registry: Registry) -> None:
    insulation(registry, "40M", 2021)
    once = report_page(registry, "PUMP")
    assert "over the years" not in once
    assert once.count('class="drawing"') == 1  # the route
    insulation(registry, "10M", 2023)
    twice = report_page(registry, "PUMP")
    assert twice.count('class="drawing"') == 2
    assert "halves every 1 years" in twice
    assert f"{format_tag(L1)}  PUMP L1: insulation to PE" in twice
    (found,) = report(registry, "PUMP").circuits
    assert [len(one.series) for one in found.trends] == [1, 0, 0]


def test_no_text_of_a_drawing_becomes_an_element() -> None:
    found = route_drawn(Route((Leg(HOSTILE, HOSTILE, HOSTILE, 3.0),)), HOSTILE)
    printed = Printed("t", "f", (Drawing(found, HOSTILE),))
    page = "".join(html_pieces(printed))
    assert "<b>" not in page
    assert "\x07" not in page
    assert pdf_bytes(printed, "A4").pages == 1


def test_every_route_and_limit_is_in_the_pdf_as_text(site_report: Written) -> None:
    pages = page_texts(site_report.pdf)
    text = "\n".join(pages)
    page = site_report.html.read_text("utf-8")
    for drawing in re.findall(r'<div class="drawing".*?(<svg.*?</svg>)', page, re.S):
        for word in words(drawing):
            assert word.split()[0] in text
    assert text.count("- - limit") == page.count("- - limit") > 5
    assert all(embedded for embedded in fonts(site_report.pdf).values())
