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

    def has(self, what: str, code: str) -> bool:
        """Return whether an enclosure, raceway, circuit, pull or instrument has this code."""
        return False

    def has_terminal(self, enclosure: str, code: str) -> bool:
        """Return whether the enclosure has a terminal of this code."""
        return False

    def has_device(self, enclosure: str, code: str) -> bool:
        """Return whether the enclosure has a device of this code."""
        return False

    def raceway_ends(self, code: str) -> tuple[str, str] | None:
        """Return the codes of the two enclosures that a raceway joins."""
        return None

    def pull_path(self, code: str) -> tuple[str, ...] | None:
        """Return the codes of the raceways of a pull, in order."""
        return None

    def has_tag(self, tag: str) -> bool:
        """Return whether a conductor carries this tag (seven characters)."""
        return False

    def cores(self, cable: str) -> Iterable[tuple[str, str | None, str | None]]:
        """Return tag, core and pull of each conductor in use that is a core of this cable."""
        return ()

    def is_retired(self, what: str, code: str) -> bool:
        """Return whether the circuit of this code, or the conductor of this tag, is retired."""
        return False

    def has_id(self, what: str, record_id: str) -> bool:
        """Return whether a record of this kind has this identifier (lower case)."""
        return False

    def has_file(self, sha256: str) -> bool:
        """Return whether the content of this SHA-256 is kept."""
        return False

    def codes(self, what: str) -> Iterable[str]:
        """Return all codes of one kind, to find those close to a misspelt one."""
        return ()


class EmptyKnown(Known):
    """A registry that holds nothing yet."""


EMPTY = EmptyKnown()
