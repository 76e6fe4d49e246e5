# SPDX-License-Identifier: MIT
"""What the registry that a site file is added to holds already, under the codes of the file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

from wiretrack.exchange.write import row_of
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.entity import Point, Subject, subject_text
from wiretrack.model.fields import flat_facts
from wiretrack.model.parts import Device, SiteFacts, Terminal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entity import Key

Row = dict[str, Any]
INSIDE = (Terminal, Device)  # their codes are unique in their enclosure


def key_of(record: Any) -> Any:
    """Return what names a record among those of its kind, as the registry writes it."""
    if isinstance(record, INSIDE):
        return Point(record.enclosure, record.code)
    if isinstance(record, Conductor):
        return record.tag
    return getattr(record, "code", None)


def name_of(record: Any) -> str:
    """Return how people name a record: a tag, a code, or ``BOX/CODE``."""
    if isinstance(record, SiteFacts):
        return "site"
    if isinstance(record, Reading):
        return str(record.id)
    key = key_of(record)
    return "/".join(key) if isinstance(key, Point) else str(key)


class Renames:
    """The new names of records, by table and old name; those in an enclosure are named by both."""

    def __init__(self) -> None:
        self._new: dict[tuple[str, Key], Key] = {}
        self._old: dict[tuple[str, Key], Key] = {}

    def add(self, table: str, old: Key, new: Key) -> None:
        """Note that a record is called otherwise in the file."""
        if old != new:
            self._new[table, old] = new
            self._old[table, new] = old

    def now(self, table: str, name: str) -> str:
        """Return how the file calls a record."""
        return str(self._new.get((table, name), name))

    def was(self, table: str, name: str) -> str:
        """Return how the registry calls a record of the file."""
        return str(self._old.get((table, name), name))

    def place_now(self, table: str, place: Point) -> Point:
        """Return where the file has a terminal or a device."""
        moved = self._new.get((table, place))
        if isinstance(moved, Point):
            return moved
        return Point(self.now("enclosures", place.enclosure), place.terminal)

    def row(self, record: Any) -> Row:
        """Return a record there as a row, with the names that the file gives to others."""
        row = row_of(record)
        if not self._new:
            return row
        of: type = type(record)
        for each in flat_facts(of):
            holder = row.get(each.outer, {}) if each.outer else row
            value = holder.get(each.inner)
            if value is None or not each.refers:
                continue
            if each.refers == "terminals":
                end = record.from_end if each.outer == "from" else record.to_end
                place = Point(end.enclosure, value)
                holder[each.inner] = self.place_now("terminals", place).terminal
            elif isinstance(value, list):
                holder[each.inner] = [self.now(each.refers, code) for code in value]
            else:
                holder[each.inner] = self.now(each.refers, value)
        for end in row.get("far_ends", ()):
            end["enclosure"] = self.now("enclosures", end["enclosure"])
        if isinstance(record, Reading):
            row["subject"] = subject_text(self._subject_now(record.subject))
        return row

    def _subject_now(self, subject: str) -> str:
        if not isinstance(subject, Subject):
            return subject
        if subject.device is None:
            return Subject(self.now("circuits", str(subject)))
        return Subject.of_device(*self.place_now("devices", subject.device))


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


class AllButThese(Known):
    """What a registry has besides the records of a file (`here`), as they are `renamed` there."""

    def __init__(self, known: Known, here: set[tuple[str, object]], renamed: Renames) -> None:
        self._known, self._here, self._renamed = known, here, renamed

    def has(self, what: str, key: str | tuple[str, str]) -> bool:  # noqa: D102
        if isinstance(key, tuple):
            key = Point(self._renamed.was("enclosures", key[0]), key[1])
        return (what, key) not in self._here and self._known.has(what, key)

    def raceway_ends(self, code: str) -> tuple[str, str] | None:  # noqa: D102
        found = self._known.raceway_ends(self._renamed.was("raceways", code))
        if found is None:
            return None
        return self._renamed.now("enclosures", found[0]), self._renamed.now("enclosures", found[1])

    def pull_path(self, code: str) -> tuple[str, ...] | None:  # noqa: D102
        found = self._known.pull_path(self._renamed.was("pulls", code))
        return found and tuple(self._renamed.now("raceways", each) for each in found)

    def cores(self, cable: str) -> Iterable[tuple[str, str | None, str | None]]:  # noqa: D102
        for tag, core, pull in self._known.cores(cable):
            if ("conductor", tag) not in self._here:
                yield tag, core, pull and self._renamed.now("pulls", pull)

    def is_retired(self, what: str, code: str) -> bool:  # noqa: D102
        return self._known.is_retired(what, self._renamed.was(f"{what}s", code))

    def codes(self, what: str) -> Iterable[str]:  # noqa: D102
        return (code for code in self._known.codes(what) if (what, code) not in self._here)
