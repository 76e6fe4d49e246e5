# SPDX-License-Identifier: MIT
"""Text that people type outside of site files, held to the same rule, so that every dump loads."""

from __future__ import annotations

from wiretrack.errors import BadInputError
from wiretrack.exchange.texts import harmless, why_refused

LONGEST = 500
LONGEST_CODE = 40


def check_text(name: str, text: str | None, longest: int = LONGEST) -> str | None:
    """Return `text` without blanks around it; `None` where it is missing or blank."""
    plain = (text or "").strip()
    if not plain:
        return None
    if len(plain) > longest:
        raise BadInputError(f"{name} has {len(plain)} characters. It may have {longest}.")
    why = why_refused(plain)
    if why:
        raise BadInputError(f"{name} '{harmless(plain)}' is refused: {why}. Type it again.")
    return plain


def check_code(name: str, text: str | None) -> str | None:
    """Return a code, checked like `check_text` but shorter."""
    return check_text(name, text, LONGEST_CODE)
