# SPDX-License-Identifier: MIT
"""One site: its records, each loaded once and on demand, whatever they are loaded from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import NotFoundError
from wiretrack.late import cached_property
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.entity import SITE, Noted
from wiretrack.model.source import KEYS, NAMED_BY, TABLES, DocumentSource

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

    from wiretrack.model.entity import Attachment, Key, Knowledge, Note, R
    from wiretrack.model.labels import EndLabel
    from wiretrack.model.parts import SiteFacts
    from wiretrack.model.source import Source


class Site:
    """The records of a site. What is asked for is read then, in batches, and kept.

    It shows the record as it is when each part is first asked for: make a new one after a change.
    `knows` makes what answers the questions that rest on rules above the model; `logs` is what the
    logs of labels and the notes are read from, where that isn't the source of the records.
    """

    def __init__(
        self,
        source: Source,
        knows: Callable[[Site], Knowledge] | None = None,
        logs: Source | None = None,
    ) -> None:
        self._source, self._knows, self._logs = source, knows, logs or source
        self._labels: dict[str, dict[str, EndLabel]] = {}  # by tag and side
        self._noted: dict[str, Noted] = {}  # by the id of the record
        self._facts: SiteFacts | None = None
        self._records: dict[type, dict[Key | int, Any]] = {of: {} for of in TABLES}
        self._numbers: dict[int, int] = {}  # in the order of the record, by `id`
        self._found: dict[tuple[type, str], dict[Key, tuple[Any, ...]]] = {by: {} for by in KEYS}

    @property
    def facts(self) -> SiteFacts:
        """The record of the site itself."""
        if self._facts is None:
            self._facts = self._source.facts()
        return self._facts

    @cached_property
    def knowledge(self) -> Knowledge:
        """What follows from the record.

        Raises `LookupError` if the site was made without.
        """
        if self._knows is None:
            raise LookupError("This site was made without any knowledge of what follows.")
        return self._knows(self)

    @cached_property
    def undecided(self) -> Mapping[str, Sequence[str]]:
        """What copies said apart of a tag, circuit or device, until it is decided, in words."""
        return self._logs.undecided()

    def load_everything(self) -> DocumentSource:
        """Read all records in one go; every look-up after that is one in memory."""
        if not isinstance(self._source, DocumentSource):
            self._source = DocumentSource(self._source.everything())
            for of in TABLES:  # their numbers are other ones now
                self.every(of)
        return self._source

    def at(self, of: type[R], by: str, key: Key) -> tuple[R, ...]:
        """Return the records that stand in a relation of `KEYS` to `key`, in their order."""
        found = self._found[of, by]
        if key not in found:
            self.load(of, by, [key])
        return found[key]

    def find(self, of: type[R], by: str, keys: Collection[Key]) -> list[R]:
        """Return the records that stand in a relation to one of the keys, once each, in order."""
        self.load(of, by, keys)
        found = self._found[of, by]
        return self.in_order({id(r): r for key in keys for r in found[key]}.values())

    def load(self, of: type[Any], by: str, keys: Collection[Key]) -> None:
        """Read what `find` with these keys returns, as far as it isn't known yet."""
        found = self._found[of, by]
        lacking = [key for key in dict.fromkeys(keys) if key not in found]
        if not lacking:
            return
        groups: dict[Key, list[Any]] = {key: [] for key in lacking}
        for own in self.adopt(of, self._source.find(of, by, lacking)):
            for key in dict.fromkeys(KEYS[of, by](own)):
                if key in groups:
                    groups[key].append(own)
        found.update((key, tuple(group)) for key, group in groups.items())

    def load_labels(self, tags: Iterable[str]) -> None:
        """Read what the logs hold of the labels of these conductors, in one go."""
        lacking = [tag for tag in tags if tag not in self._labels]
        if not lacking:
            return
        self._labels.update((tag, {}) for tag in lacking)
        for (tag, side), label in self._logs.labels(lacking).items():
            self._labels[tag][side] = label
        logged = self.find(Conductor, "tag", [tag for tag in lacking if self._labels[tag]])
        self.load(Circuit, "code", [code for c in logged for code in c.circuits])

    def labels_logged(self, tag: str) -> Mapping[str, EndLabel]:
        """Return what the logs hold of the labels of a conductor's ends, by side."""
        self.load_labels([tag])
        return self._labels[tag]

    def load_notes(self, records: Iterable[str]) -> None:
        """Read what is noted of these records, by their ids, and attached to them, in one go."""
        lacking = [record for record in records if record not in self._noted]
        if lacking:
            self._noted.update((record, Noted()) for record in lacking)
            self._noted.update(self._logs.noted(lacking))

    def noted(self, record: str) -> Noted:
        """Return what is noted of a record, by its id, and attached to it."""
        self.load_notes([record])
        return self._noted[record]

    @property
    def notes(self) -> tuple[Note, ...]:
        """The remarks on the site itself that stand, oldest first."""
        return self.noted(SITE).notes

    @property
    def attachments(self) -> tuple[Attachment, ...]:
        """The pictures and documents with the site itself that stand, oldest first."""
        return self.noted(SITE).attachments

    def one(self, of: type[R], key: Key) -> R:
        """Return the record that a tag, a code or a place names.

        Raises `NotFoundError` if there is none.
        """
        found = self.at(of, NAMED_BY[of], key)
        if not found:
            raise NotFoundError(of.__name__.lower(), str(key))
        return found[0]

    def every(self, of: type[R]) -> list[R]:
        """Return all entities of a kind; everything is read in one go."""
        return list(self.adopt(of, self.load_everything().every(of)))

    def all(self, of: type[R]) -> list[R]:
        """Return all entities of a kind, and read nothing else."""
        return [*self.adopt(of, self._source.every(of))]

    def in_order(self, records: Iterable[R]) -> list[R]:
        """Return records of this site in the order of the record."""
        return sorted(records, key=lambda record: self._numbers[id(record)])

    def adopt(self, of: type[R], read: Iterable[tuple[int, R]]) -> Iterator[R]:
        """Yield the one entity of this site that each record read, with its number, is."""
        known, key_of = self._records[of], KEYS[of, NAMED_BY[of]]
        named = self._found[of, NAMED_BY[of]]
        for number, record in read:
            key: Key | int = next(iter(key_of(record))) or number
            if key not in known:
                known[key] = record.of_site(self)
            self._numbers[id(known[key])] = number
            if not isinstance(key, int):
                named[key] = (known[key],)
            yield known[key]
