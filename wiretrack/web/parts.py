# SPDX-License-Identifier: MIT
"""Which part of a long list an address asks for."""

from __future__ import annotations

from flask import request

HIGHEST = 2**62


def counted(name: str) -> int:
    """Return a number of the address; 0 for what is none."""
    typed = request.args.get(name, "")
    is_number = typed.isascii() and typed.isdecimal() and len(typed) < 19
    return min(int(typed), HIGHEST) if is_number else 0
