# SPDX-License-Identifier: MIT
"""What the registry that a site file is added to holds already."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Iterable


class Known(Protocol):
    """What a reader of site files asks of the registry; `what` is the noun in the singular.

    As it stands here, it answers for one that holds nothing yet.
    """

    def has(self, what: str, key: str | tuple[str, str]) -> bool:
        """Return whether there is such a record: by its code or tag, or box and code.

        A ``file`` is asked for by its SHA-256, a record's identifier (lower case) as ``pull id``.
        """
        return False

    def raceway_ends(self, code: str) -> tuple[str, str] | None:
        """Return the codes of the two enclosures that a raceway joins."""
        return None

    def pull_path(self, code: str) -> tuple[str, ...] | None:
        """Return the codes of the raceways of a pull, in order."""
        return None

    def cores(self, cable: str) -> Iterable[tuple[str, str | None, str | None]]:
        """Return tag, core and pull of each conductor in use that is a core of this cable."""
        return ()

    def is_retired(self, what: str, code: str) -> bool:
        """Return whether the circuit of this code, or the conductor of this tag, is retired."""
        return False

    def codes(self, what: str) -> Iterable[str]:
        """Return all codes of one kind, to find those close to a misspelt one."""
        return ()


class EmptyKnown(Known):
    """A registry that holds nothing yet."""


EMPTY = EmptyKnown()
