# SPDX-License-Identifier: MIT
"""A QR symbol as a drawing inside a page: one path, a run of dark modules each piece."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

QUIET_ZONE_MODULES = 4  # ISO/IEC 18004, quiet zone (reprint; original not seen)


def code_svg(rows: Sequence[bytes], text: str) -> str:
    """Return the drawing of a symbol, its quiet zone around it.

    Parameters
    ----------
    rows : sequence of bytes
        The symbol, a row each, 1 for a dark module.
    text : str
        What the symbol says, for those who can't see it.
    """
    side = len(rows) + 2 * QUIET_ZONE_MODULES
    return (
        f'<svg class="code" viewBox="0 0 {side} {side}" role="img" '
        f'aria-label="QR code: {escape(text)}" shape-rendering="crispEdges">'
        f'<path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path fill="#000" d="{"".join(_runs(rows))}"/></svg>'
    )


def _runs(rows: Sequence[bytes]) -> Iterator[str]:
    for y, row in enumerate(rows, QUIET_ZONE_MODULES):
        end = 0
        while (start := row.find(1, end)) >= 0:
            end = row.find(0, start)
            end = len(row) if end < 0 else end
            yield f"M{start + QUIET_ZONE_MODULES} {y}h{end - start}v1h{start - end}z"
