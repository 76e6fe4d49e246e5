# SPDX-License-Identifier: MIT
"""What all entities have in common: each knows the site that it was loaded by."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple, Protocol, Self, TypeVar

if TYPE_CHECKING:
    from collections.abc import Collection

R = TypeVar("R", bound="Entity")


class Point(NamedTuple):
    """A terminal, or a device, by its code in its enclosure.

    In the wiring an end on no terminal has its tag in place of a terminal. A tuple, as large
    networks hash and compare their points millions of times.
    """

    enclosure: str
    terminal: str

    def __str__(self) -> str:
        return f"{self.enclosure} {self.terminal}"


Key = str | Point


class Records(Protocol):
    """What an entity asks its site."""

    def at(self, of: type[R], by: str, key: Key) -> tuple[R, ...]:
        """Return the entities that stand in a relation to `key`."""

    def find(self, of: type[R], by: str, keys: Collection[Key]) -> list[R]:
        """Return the entities that stand in a relation to one of the keys."""

    def one(self, of: type[R], key: Key) -> R:
        """Return the entity that a tag or code names."""


class Entity:
    """A record of a site. One made by hand, or by `replace`, belongs to none."""

    @property
    def site(self) -> Records:
        """The site that it was loaded by."""
        found: Records | None = self.__dict__.get("_site")
        if found is None:
            raise LookupError(f"{self!r} was made by hand: it belongs to no site.")
        return found

    def of_site(self, site: Records) -> Self:
        """Return it as an entity of this site: itself, or a copy where it belongs to another."""
        own = self if "_site" not in self.__dict__ else replace(self)  # type: ignore[type-var]
        own.__dict__["_site"] = site
        return own
