# SPDX-License-Identifier: MIT
"""What an open registry is asked: its records by their codes, and what follows from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.parts import Device, Instrument
from wiretrack.model.site import Site
from wiretrack.store.searching import Hit, find, resolve, tag_of
from wiretrack.store.source import StoredSource, judge_of

if TYPE_CHECKING:
    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.path import Path as WirePath
    from wiretrack.store.store import Registry
    from wiretrack.tasks.change.history import Touched
    from wiretrack.tasks.trouble.isolation import OpenedDevice


class KnownSite(Site):
    """The site of an open registry, as far as it is only asked."""

    registry: Registry

    # Records

    @property
    def circuits(self) -> list[Circuit]:
        """All circuits, retired ones too."""
        return self.every(Circuit)

    @property
    def conductors(self) -> list[Conductor]:
        """All conductors, retired ones too."""
        return self.every(Conductor)

    @property
    def devices(self) -> list[Device]:
        """All devices."""
        return self.every(Device)

    @property
    def enclosures(self) -> list[Enclosure]:
        """All enclosures."""
        return self.every(Enclosure)

    @property
    def instruments(self) -> list[Instrument]:
        """All instruments."""
        return self.every(Instrument)

    @property
    def pulls(self) -> list[Pull]:
        """All pulls."""
        return self.every(Pull)

    @property
    def raceways(self) -> list[Raceway]:
        """All raceways."""
        return self.every(Raceway)

    def conductor(self, tag: str) -> Conductor:
        """Return the conductor of a tag in any writing, or of a label's whole text.

        Raises
        ------
        TagError, NotFoundError
            If it is no tag, or no conductor's; a known tag that a single slip explains is named.
        """
        return self.one(Conductor, tag_of(self.registry, tag))

    def circuit(self, code: str) -> Circuit:
        """Return the circuit of a code, in any case; `NotFoundError` if there is none."""
        return self.one(Circuit, self._code(code, "circuit"))

    def enclosure(self, code: str) -> Enclosure:
        """Return the enclosure of a code, in any case; `NotFoundError` if there is none."""
        return self.one(Enclosure, self._code(code, "enclosure"))

    def pull(self, code: str) -> Pull:
        """Return the pull of a code, in any case; `NotFoundError` if there is none."""
        return self.one(Pull, self._code(code, "pull"))

    def raceway(self, code: str) -> Raceway:
        """Return the raceway of a code, in any case; `NotFoundError` if there is none."""
        return self.one(Raceway, self._code(code, "raceway"))

    def instrument(self, code: str) -> Instrument:
        """Return the instrument of a code; `NotFoundError` if there is none."""
        return self.one(Instrument, code)

    def device(self, place: str) -> Device:
        """Return the device at ``BOX/DEVICE``, or of a code that is used once."""
        from wiretrack.tasks.trouble.isolation import device_at

        return self.one(Device, device_at(self.registry, place))

    def _code(self, word: str, kind: str) -> str:
        return resolve(self.registry, word, (kind,)).code

    def as_of(self, day: str) -> KnownSite:
        """Return the site as it stood at the end of a day, by what had been entered by then.

        Its search finds whole tags and codes alone.

        >>> from tempfile import TemporaryDirectory
        >>> import wiretrack
        >>> with TemporaryDirectory() as folder, wiretrack.new(f"{folder}/b.db", "Barn") as site:
        ...     site.as_of("today").facts.name
        'Barn'

        Raises
        ------
        BadInputError
            If it is no day, lies in the future, or the registry had not begun then.
        """
        from wiretrack.tasks.find.showing import as_of

        past = KnownSite(StoredSource(registry := as_of(self.registry, day)), judge_of)
        past.registry = registry
        return past

    # Answers
    def search(self, text: str) -> list[Hit]:
        """Return what carries all the words of `text`, best first: what it is, code and text."""
        return find(self.registry, text)

    def path(self, what: str) -> WirePath:
        """Return the path through a conductor (a tag) or a terminal (``BOX/TERMINAL``)."""
        from wiretrack.model.wiring import Wiring
        from wiretrack.tasks.find.tracing import traced

        return traced(self.registry, Wiring(self), what)

    def check(self, what: str | None = None) -> list[Finding]:
        """Return what the wiring rules say of the site, or of one thing: a tag or a code."""
        from wiretrack.tasks.report import checking

        return checking.check(self.registry, what)

    def markings(self, what: str | None = None) -> list[Marking]:
        """Return every marking to be stuck on raceways and boxes, in order along each run."""
        from wiretrack.tasks.report import checking

        return checking.markings(self.registry, what)

    def isolate(self, device: str, *sources: str) -> OpenedDevice:
        """Return what goes dead and what stays live where a device is opened, and what is unknown.

        `sources` are terminals that are live besides those of the record, as ``BOX/TERMINAL``. It
        follows from the record: prove dead with a proven tester before you touch anything.
        """
        from wiretrack.tasks.trouble.isolation import isolation

        return isolation(self.registry, [device], sources)

    def history(
        self, what: str | None = None, *, since: str | None = None, limit: int | None = None
    ) -> list[Touched]:
        """Return what was changed, newest first: of all, or of a thing and its parts.

        >>> from tempfile import TemporaryDirectory
        >>> import wiretrack
        >>> with TemporaryDirectory() as folder, wiretrack.new(f"{folder}/b.db", "Barn") as site:
        ...     [(row.what, row.action, row.fields["name"]) for row in site.history()]
        [('site', 'added', (None, 'Barn'))]

        Raises
        ------
        NotFoundError, TagError
            If nothing is or was called so.
        BadInputError
            If `since` is no day.
        """
        from wiretrack.tasks.change.history import history

        return history(self.registry, what, since=since, limit=limit)
