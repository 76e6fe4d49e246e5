# SPDX-License-Identifier: MIT
"""Saving what can be saved of a damaged registry."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.errors import Hint, RegistryError
from wiretrack.store import rescue as store_rescue

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.store.rescue import Rescued


def rescue(
    damaged: Path,
    new: Path,
    *,
    who: str | None = None,
    face: str = "python",
    unproved: bool = False,
) -> Rescued:
    """Save into the file `new` all that proves itself in `damaged`, which is only read.

    With `unproved`, records that no entry of the log proves any more are taken too.

    Raises
    ------
    RegistryError
        If there is nothing to be saved, or `new` can't be written.
    BadInputError
        If `new` exists.
    """
    if not damaged.is_file():
        raise RegistryError(str(damaged), "is not a file", Hint("Name the damaged registry."))
    return store_rescue.rescue(damaged, new, who=who, face=face, unproved=unproved)
