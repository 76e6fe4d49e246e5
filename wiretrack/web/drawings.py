# SPDX-License-Identifier: MIT
"""Drawings as part of a page."""

from __future__ import annotations

from markupsafe import Markup

from wiretrack.plain import safe


def part_of_page(svg: str) -> Markup:
    """Return an SVG document that our own tasks drew, ready to stand within a page.

    The tasks escape its texts; what could mislead in them is written out, as in every other text.
    """
    return Markup("\n".join(safe(line) for line in svg.splitlines()))
