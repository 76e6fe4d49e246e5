# SPDX-License-Identifier: MIT
"""What all entities have in common: each knows its site, which knows what follows from the record.

The model says what is recorded; what a reading proves, and which readings are due, follow from
rules above it. Whoever makes a `Site` hands it one that knows them.
"""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, Protocol, Self, TypeVar

from wiretrack.late import dataclass
from wiretrack.model import kinds as k
from wiretrack.model.fields import fact, need
from wiretrack.model.tags import format_tag

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from wiretrack.model.labels import EndLabel

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


Outcome = Literal["pass", "fail", "doubt"]


@dataclass(frozen=True)
class Verdict:
    """What a reading proves; `missing` names the facts that would settle a doubt."""

    outcome: Outcome
    limit: float | None
    unit: str
    source: str
    reason: str
    figure: float | None = None
    guard_band: float | None = None
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlannedTest:
    """A reading still owed; `against` is a tag, ``PE`` or ``raceway``, as `test log` takes it."""

    kind: str
    subject: str
    against: str | None
    test_voltage_v: float | None = field(metadata={"json": "test_voltage"})
    source: str
    why: str


class Corrected(Protocol):
    """What a reading would be at a reference temperature, and by what rule."""

    @property
    def ohms(self) -> float: ...  # noqa: D102
    @property
    def source(self) -> str: ...  # noqa: D102


class Knowledge(Protocol):
    """Answers what follows from a site's record; readings and circuits are its entities."""

    def verdict(self, reading: Any) -> Verdict:
        """Return what a reading proves about its conductor."""

    def at_reference(self, reading: Any) -> Corrected | None:
        """Return what a reading would be at 20 °C, where its kind and what is known allow that."""

    def is_stale(self, reading: Any) -> bool:
        """Return whether a reading rests on a landing that was found crossed later."""

    def planned(self, circuit: Any) -> tuple[PlannedTest, ...]:
        """Return every reading that a circuit needs, in working order."""

    def owed(self, circuit: Any) -> tuple[PlannedTest, ...]:
        """Return the readings that a circuit needs and has none that passes."""


SITE = "site"  # what a note of the site as a whole is of: the kind, the code, and the record
_OF = "Its tag or code; BOX/CODE of a device or terminal; site of the site itself."


class _Of:
    what: str
    of: str

    @property
    def called(self) -> str:
        """What people call the record that it is of."""
        return format_tag(self.of) if self.what == "conductor" else self.of


@dataclass(frozen=True, kw_only=True)
class Note(_Of):
    """A remark; never changed or deleted. A later one can take it, or an attachment, back."""

    id: str = need("id", k.ID, "Stays unique when two registries meet.")
    what: str = need("what", k.RECORD_KIND, "What sort of record it is of.")
    of: str = need("of", k.RECORD, _OF)
    at: str = need("at", k.TIME, "When it was written.")
    by: str | None = fact("by", k.NAME, "Who wrote it.")
    text: str | None = fact("text", k.NOTE, "What it says.")
    takes_back: str | None = fact("takes_back", k.ID, "The note or attachment that it takes back.")


@dataclass(frozen=True, kw_only=True)
class Attachment(_Of):
    """A picture or document that was attached."""

    id: str = need("id", k.ID, "Stays unique when two registries meet.")
    what: str = need("what", k.RECORD_KIND, "What sort of record it is of.")
    of: str = need("of", k.RECORD, _OF)
    at: str = need("at", k.TIME, "When it was attached.")
    by: str | None = fact("by", k.NAME, "Who attached it.")
    name: str = need("name", k.NAME, "What it is called.")
    type: str = need("type", k.FILE_TYPE, "What it is.")
    sha256: str = need("sha256", k.DIGEST, "The SHA-256 of its content.")


@dataclass(frozen=True)
class Noted:
    """What is noted of a record, and attached to it, and was not taken back; oldest first."""

    notes: tuple[Note, ...] = ()
    attachments: tuple[Attachment, ...] = ()
