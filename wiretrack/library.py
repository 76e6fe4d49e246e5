# SPDX-License-Identifier: MIT
"""wiretrack from Python: a registry opened as a site that is asked and written to.

Records are the entities of `wiretrack.model`: they know their route, readings, verdicts and what
they owe. What is written is durable when a method returns, or nothing is; after that the site
shows the record as it is then, while entities taken from it before stay as they were.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from wiretrack import days
from wiretrack.model.entities import (
    Circuit,
    Conductor,
    ConductorEnd,
    Enclosure,
    Pull,
    Raceway,
    Reading,
)
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device, End, Instrument
from wiretrack.model.site import Site
from wiretrack.store.searching import Hit, find, resolve, tag_of
from wiretrack.store.source import StoredSource, judge_of
from wiretrack.store.store import Registry, open_registry

if TYPE_CHECKING:
    from types import TracebackType

    from wiretrack.electrical.findings import Finding
    from wiretrack.electrical.rules.marking import Marking
    from wiretrack.model.path import Path as WirePath
    from wiretrack.tasks.describe.sites import Loaded
    from wiretrack.tasks.identify.ringing import Ringing
    from wiretrack.tasks.label.printing import LabelsPrinted
    from wiretrack.tasks.trouble.isolation import OpenedDevice


def open(path: Path | str, *, who: str | None = None) -> OpenSite:
    """Open the registry at `path`; what is written is noted as by `who`.

    Raises
    ------
    RegistryError
        If it is missing, not a registry, damaged, locked, or made by another version.
    """
    return OpenSite(open_registry(path), who=who)


def new(path: Path | str, name: str, *, time_zone: str | None = None) -> OpenSite:
    """Make an empty registry of the site called `name` and open it; refuses to overwrite.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder, new(f"{folder}/barn.db", "Barn") as site:
    ...     site.facts.name, site.conductors
    ('Barn', [])

    Raises
    ------
    BadInputError
        If something is there already, or the name is empty.
    """
    from wiretrack.tasks.describe.sites import new_site

    new_site(Path(path), name, time_zone)
    return open(path)


class OpenSite(Site):
    """The site of an open registry; a context manager that closes it.

    Days are counted where the site opened last is.
    """

    def __init__(self, registry: Registry, *, who: str | None = None) -> None:
        super().__init__(StoredSource(registry), judge_of)
        self.registry, self.who = registry, who
        days.use(registry.time_zone())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.registry.__exit__(kind, error, trace)

    def close(self) -> None:
        """Close the registry."""
        self.registry.close()

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
        from wiretrack.tasks.trouble.isolation import find_device

        return self.one(Device, Point(*find_device(self.registry, place)))

    def _code(self, word: str, kind: str) -> str:
        return resolve(self.registry, word, (kind,)).code

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
        from wiretrack.tasks.report.checking import findings

        return findings(self.registry, what)

    def markings(self, what: str | None = None) -> list[Marking]:
        """Return every marking to be stuck on raceways and boxes, in order along each run."""
        from wiretrack.tasks.report.checking import markings_wanted

        return markings_wanted(self.registry, what)

    def isolate(self, device: str, *sources: str) -> OpenedDevice:
        """Return what goes dead and what stays live where a device is opened, and what is unknown.

        `sources` are terminals that are live besides those of the record, as ``BOX/TERMINAL``.
        It follows from the record: prove dead with a proven tester before you touch anything.
        """
        from wiretrack.tasks.trouble.isolation import isolation

        return isolation(self.registry, [device], sources)

    # Work

    def log(self, subject: str, kind: str, value: str, **more: str | None) -> Reading:
        """Store a reading and return it; its `verdict` is judged by the record as it is now.

        Parameters
        ----------
        subject : str
            A tag, ``BOX/DEVICE`` or a circuit's code, as the kind is read of.
        kind, value : str
            As `test log` takes them: ``"continuity"``, ``"0.42 ohm"``.
        **more : str
            What else is known of it: ``leads``, ``temp``, ``cell_temp``, ``instrument``, ``at``,
            ``against``, ``test_voltage``, ``after``, ``by``, ``note``, ``supersedes``, ``id``.

        Raises
        ------
        BadInputError
            If a value can't be understood, or no rule can judge it; nothing is stored.
        """
        from wiretrack.tasks.test.testing import ReadingText, log_reading

        text = ReadingText(subject=subject, kind=kind, value=value, **more)
        logged = log_reading(self.registry, text, who=self.who)
        self._renew()
        return self.one(Reading, logged.id)

    def land(
        self, tag: str, box: str, terminal: str | None = None, *, state: str | None = None,
        sure: bool = False,
    ) -> ConductorEnd:  # fmt: skip
        """Land a conductor's end in a box on a terminal, or say that it is capped or loose.

        Raises
        ------
        AskedError
            If the record has no such terminal, or what is on it can't lie together with this
            conductor, and it isn't said to be `sure`.
        BadInputError
            If the conductor has no end there, or terminal and state contradict.
        """
        from wiretrack.tasks.describe import landing

        certain = landing.Sure(new_terminal=sure, anyway=sure)
        end = End(enclosure=box, terminal=terminal, state=state)
        now = landing.land(self.registry, tag, end, who=self.who, sure=certain)
        self._renew()
        sides = self.conductor(tag).sides
        return next(end for end in sides if end.here.enclosure == now.enclosure)

    def print_labels(self, what: str, stock: str, out: Path | str) -> LabelsPrinted:
        """Draw the labels of a tag, a circuit or a pull into a file, and note them as printed.

        Every code is read back from the drawn pages before the file is put in place.
        """
        from wiretrack.tasks.label.ends import Wanted
        from wiretrack.tasks.label.printing import PrintOrder, print_wanted

        order = PrintOrder(stock=stock, out=Path(out))
        printed = print_wanted(self.registry, Wanted(what=what), order)
        self._renew()
        return printed

    def ring_out(self, pull: str, near: str, far: str, **gear: Any) -> Ringing:
        """Begin a ring-out, or go on with it: ``next_step()``, then ``answer(step, answer)``.

        `gear` is what `wiretrack.tasks.identify.request.Wanted` holds: ``references``,
        ``resistors``, ``diode``, ``crew``, ``far_colours`` and so on. Prove dead before you begin.
        """
        from wiretrack.tasks.identify.request import Wanted
        from wiretrack.tasks.identify.ringing import Ringing

        return Ringing.begin(
            self.registry, Wanted(pull=pull, near=near, far=far, **gear), who=self.who
        )

    # Files

    def load_file(self, file: Path | str) -> Loaded:
        """Add what a site file or a folder of CSV files holds, all or nothing."""
        from wiretrack.tasks.describe.sites import load_site

        loaded = load_site(self.registry, Path(file), who=self.who)
        self._renew()
        return loaded

    def dump(self, file: Path | str) -> None:
        """Write all of the registry as a site file; loading it gives an equal registry."""
        from wiretrack.tasks.describe.sites import dump_site

        dump_site(self.registry, Path(file))

    def backup(self, file: Path | str) -> None:
        """Copy the registry, while it is in use, to a new file."""
        from wiretrack.tasks.describe.sites import backup

        backup(self.registry, Path(file))

    def problems(self) -> list[str]:
        """Return what isn't whole in the registry; an empty list if it is sound."""
        from wiretrack.store.health import problems

        return problems(self.registry)

    def _renew(self) -> None:
        super().__init__(StoredSource(self.registry), judge_of)
        self.__dict__.pop("knowledge", None)
