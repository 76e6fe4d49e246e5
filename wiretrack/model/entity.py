# SPDX-License-Identifier: MIT
"""What all entities have in common: each knows the site that it was loaded by."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol, Self, TypeVar

from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from wiretrack.model.knowledge import Knowledge
    from wiretrack.model.labels import EndLabel
    from wiretrack.model.parts import Attachment, Note, Noted

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


class Subject(str):
    """What a reading is of, where it is no conductor: a device (``BOX/DEVICE``) or a circuit.

    `device` is the place of a device; a circuit has none, its code is the text.
    """

    device: Point | None = None

    @classmethod
    def of_device(cls, enclosure: str, code: str) -> Self:
        """Return the subject of readings of a device."""
        found = cls(f"{enclosure}/{code}")
        found.device = Point(enclosure, code)
        return found


def subject_text(subject: str) -> str:
    """Return what a reading is of, as people write it."""
    return str(subject) if isinstance(subject, Subject) else format_tag(subject)


def devices_in(text: str) -> Iterator[tuple[str, str]]:
    """Yield each box and device that ``BOX/DEVICE`` may mean, as codes may have strokes in them.

    >>> list(devices_in("MDB/Q4"))
    [('MDB', 'Q4')]
    """
    for place, character in enumerate(text):
        if character == "/" and 0 < place < len(text) - 1:
            yield text[:place].strip(), text[place + 1 :].strip()


class Records(Protocol):
    """What an entity asks its site."""

    @property
    def facts(self) -> Any:
        """The record of the site itself."""

    @property
    def knowledge(self) -> Knowledge:
        """What follows from the record."""

    def load_labels(self, tags: Iterable[str]) -> None:
        """Read what the logs hold of the labels of these conductors, in one go."""

    def labels_logged(self, tag: str) -> Mapping[str, EndLabel]:
        """Return what the logs of labels hold of a conductor's ends, by side."""

    def load_notes(self, records: Iterable[str]) -> None:
        """Read what is noted of records, by their ids, and attached to them, in one go."""

    def noted(self, record: str) -> Noted:
        """Return what is noted of a record, by its id, and attached to it."""

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

    @property
    def notes(self) -> tuple[Note, ...]:
        """The remarks on it that stand, oldest first."""
        return self.site.noted(str(getattr(self, "id", ""))).notes

    @property
    def attachments(self) -> tuple[Attachment, ...]:
        """The pictures and documents with it that stand, oldest first."""
        return self.site.noted(str(getattr(self, "id", ""))).attachments

    def of_site(self, site: Records) -> Self:
        """Return it as an entity of this site: itself, or a copy where it belongs to another."""
        own = self if "_site" not in self.__dict__ else replace(self)  # type: ignore[type-var]
        own.__dict__["_site"] = site
        return own
