# SPDX-License-Identifier: MIT
"""Where the files that travel with wiretrack lie: inside a wheel, or beside an editable package."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def shipped(folder: str) -> Path:
    """Return the shipped folder ``schemas`` or ``demo_db``.

    `FileNotFoundError` if neither the wheel's copy nor the one beside the package exists.
    """
    for place in (_PACKAGE / "_shipped" / folder, _PACKAGE.parent / folder):
        if place.is_dir():
            return place
    raise FileNotFoundError(f"wiretrack was installed without its folder '{folder}'")
