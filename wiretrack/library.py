# SPDX-License-Identifier: MIT
"""wiretrack from Python: a registry opened as a site that is asked and written to.

Records are the entities of `wiretrack.model`: they know their route, readings, verdicts and what
they owe. What is written is durable when a method returns, or nothing is; after that the site
shows the record as it is then, while entities taken from it before stay as they were.

>>> import wiretrack
>>> from tempfile import TemporaryDirectory
>>> folder = TemporaryDirectory()
>>> site = wiretrack.new(f"{folder.name}/mill.db", "Mill")
>>> site.load_file(wiretrack.shipped("demo_db") / "site.json").added["conductors"]
67

What is recorded, by its code or all of a kind:

>>> wire = site.conductor(wiretrack.parse_tag("0az emtb"))
>>> wire.circuit, wire.size, wire.route.raceways, wire.route.boxes[-1]
('SLUICE', '12 AWG', ('W8', 'W9', 'W10'), 'SLC')
>>> site.circuit("sluice").title, site.enclosure("SLC").kind, site.raceway("W8").length_m
('sluice gate drive', 'equipment', 6.7056)
>>> site.pull("P-SLIP").far_ends[0].enclosure, site.instrument("M1").kind, site.facts.units
('JT1', 'ohmmeter', 'ft')
>>> site.device("CB1/F1").rating_a
20.0
>>> [len(them) for them in (site.circuits, site.conductors, site.devices, site.enclosures)]
[15, 67, 18, 24]
>>> [len(them) for them in (site.instruments, site.pulls, site.raceways)]
[5, 15, 23]
>>> [hit.code for hit in site.search("sluice gate")][:1], site.path("0AZ-EMTB").stops[0]
(['SLUICE'], 'Q4 in MDP is open')

What each of them is:

>>> many = (wiretrack.Circuit, wiretrack.Device, wiretrack.Enclosure, wiretrack.Instrument,
...         wiretrack.Pull, wiretrack.Raceway, wiretrack.Reading, wiretrack.Terminal)
>>> things = {kind: site.every(kind)[0] for kind in many} | {
...     wiretrack.Conductor: wire, wiretrack.Tag: wire.tag, wiretrack.End: wire.to_end,
...     wiretrack.ConductorEnd: wire.sides[0], wiretrack.FarEnd: site.pull("P-SLIP").far_ends[0],
...     wiretrack.Route: wire.route, wiretrack.Leg: wire.route.legs[0],
...     wiretrack.Path: site.path("0AZ-EMTB"), wiretrack.Verdict: wire.readings[-1].verdict,
...     wiretrack.PlannedTest: wire.owed[0], wiretrack.Finding: site.check("SLUICE")[0],
...     wiretrack.Marking: site.markings("W1")[0], wiretrack.SiteFacts: site.facts,
...     wiretrack.OpenSite: site, wiretrack.Site: site}
>>> [kind for kind, thing in things.items() if not isinstance(thing, kind)]
[]

What follows from it:

>>> wire.readings[-1].verdict.outcome, site.circuit("SLUICE").owed[0].kind
('pass', 'insulation')
>>> {finding.outcome for finding in site.check("SLUICE")} <= {"pass", "fail", "doubt"}
True
>>> site.markings("W1")[0].wording
'PHOTOVOLTAIC POWER SOURCE'
>>> [dead.conductor for dead in site.isolate("CB1/F1").goes_dead]
['11V-83VT', 'G2M-9KPY']

Work, as one change each:

>>> from PIL import Image
>>> picture = f"{folder.name}/slc.png"
>>> Image.new("RGB", (40, 30), "red").save(picture)

>>> site.log("0AZ-EMTB", "continuity", "900 ohm").verdict.outcome
'fail'
>>> site.land("0AZ-EMTB", "SLC", state="capped").here.state
'capped'
>>> site.undo().undone.what, site.conductor("0AZ-EMTB").to_end.state
('0AZ-EMTB: to terminal Q1:1 → unknown, to state landed → capped', 'landed')
>>> kept = site.note("SLC", "lid cracked"), site.attach("SLC", picture)
>>> [note.text for note in site.enclosure("SLC").notes], site.enclosure("SLC").attachments[0].name
(['lid cracked'], 'slc.png')
>>> site.content_of(kept[1].id[:8])[1:4], site.take_back(kept[0].id) and site.enclosure("SLC").notes
(b'PNG', ())
>>> site.add("enclosure", "SHED", {"kind": "panel"}).code, site.enclosure("SHED").kind
('SHED', 'panelboard')
>>> site.set("0AZ-EMTB", {"length": "31.5 m", "note": ""}).changed["length"][1]
'31.5 m'
>>> site.print_labels("0AZ-EMTB", "flag-90x25-300", f"{folder.name}/labels.pdf").labels
2
>>> wiretrack.document(site.ring_out("P-SLIP", "BYP", "JT1").next_step())["step"]
'probe'

Errors, in one tree, each with what happened and to which value:

>>> def what_is_wrong(work):
...     try:
...         work()
...     except wiretrack.WiretrackError as error:
...         return type(error), error.value
>>> what_is_wrong(lambda: site.conductor("0AZ-EMTC")) == (wiretrack.TagError, "0AZ-EMTC")
True
>>> what_is_wrong(lambda: site.circuit("SLUISE")) == (wiretrack.NotFoundError, "SLUISE")
True
>>> what_is_wrong(lambda: site.land("0AZ-EMTB", "SLC", "TB9:9"))[0] is wiretrack.AskedError
True
>>> what_is_wrong(lambda: wiretrack.open("none.db"))[0] is wiretrack.RegistryError
True
>>> what_is_wrong(lambda: site.load_file("none.json"))[0] is wiretrack.SiteFileError
True
>>> issubclass(wiretrack.TagError, wiretrack.BadInputError)
True

Figures without a site, and the whole of it in files:

>>> wiretrack.parse_length_m("104 ft"), wiretrack.parse_resistance_ohm("420m")
(31.6992, 0.42)
>>> wiretrack.expected_resistance("4 mm2", 20.0, 20.0, "Cu").ohms
0.0922
>>> wiretrack.check_character("0AZEMT")
'B'
>>> site.dump(f"{folder.name}/all.json"), site.problems()
(None, [])
>>> site.backup(f"{folder.name}/copy.db").problems
()
>>> site.close(); folder.cleanup()
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Self, TypeVar

from wiretrack import manner
from wiretrack.lookup import KnownSite
from wiretrack.model.entities import ConductorEnd, Reading
from wiretrack.model.parts import End
from wiretrack.store.source import StoredSource, judge_of
from wiretrack.store.store import Registry, open_registry

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.exchange.layout import SheetRules
    from wiretrack.store.health import Backup
    from wiretrack.store.proof import Problem
    from wiretrack.tasks.change.undoing import Undone
    from wiretrack.tasks.describe.adding import Added
    from wiretrack.tasks.describe.entering import Corrected, Reason
    from wiretrack.tasks.describe.remarks import Kept
    from wiretrack.tasks.describe.sites import Loaded
    from wiretrack.tasks.identify.ringing import Ringing
    from wiretrack.tasks.label.printing import LabelsPrinted

T = TypeVar("T")


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


class OpenSite(KnownSite):
    """The site of an open registry, whose manner is gone by from now on; a context manager."""

    def __init__(self, registry: Registry, *, who: str | None = None) -> None:
        super().__init__(StoredSource(registry), judge_of)
        self.registry, self.who = registry, who
        manner.use_once_asked(registry.manner)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: Any) -> None:
        self.registry.__exit__(*error)

    def close(self) -> None:
        """Close the registry."""
        self.registry.close()

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

    def note(self, what: str, text: str, *, instead: str | None = None) -> Kept:
        """Keep a remark with any record: a tag, a code, ``BOX/CODE``, or ``site``.

        `instead` is the start of the id of one that it takes the place of.
        """
        from wiretrack.tasks.describe.remarks import add_note

        return self._after(add_note(self.registry, what, text, instead=instead, who=self.who))

    def attach(self, what: str, file: Path | str) -> Kept:
        """Keep a picture, turned upright and scaled, or a PDF with any record."""
        from wiretrack.tasks.describe.remarks import attach_file

        return self._after(attach_file(self.registry, what, Path(file), who=self.who))

    def take_back(self, noted: str) -> Kept:
        """Take back a note or an attachment, by the start of its id; it stays in the log."""
        from wiretrack.tasks.describe.remarks import take_back

        return self._after(take_back(self.registry, noted, who=self.who))

    def content_of(self, attachment: str) -> bytes:
        """Return the content of an attachment, by the start of its id, byte for byte as kept."""
        from wiretrack.tasks.describe.remarks import attached

        return attached(self.registry, attachment)[1]

    def add(
        self, kind: str, code: str | None = None, fields: Mapping[str, str] | None = None, *,
        like: str | None = None, count: int | None = None, reason: Reason | None = None,
    ) -> Added:  # fmt: skip
        """Add one record, or `count` conductors that are alike, of fields as a site file has."""
        from wiretrack.tasks.describe import adding
        from wiretrack.tasks.describe.entering import NO_REASON

        wanted = adding.Addition(kind=kind, code=code, fields=fields or {}, like=like, count=count)
        return self._after(
            adding.add(self.registry, wanted, who=self.who, reason=reason or NO_REASON)
        )

    def set(
        self, what: str, fields: Mapping[str, str], *, reason: Reason | None = None,
        look: bool = False,
    ) -> Corrected:  # fmt: skip
        """Correct or complete one record: what a site file would say of these fields.

        `what` is a tag, a code, ``BOX/DEVICE``, ``BOX/TERMINAL`` or ``site``; an empty text makes a
        field unknown. `reason` is which day it is of, and why. With `look` nothing is written.

        Raises
        ------
        FieldError
            If a field or its value can't be; it names both and what is allowed.
        """
        from wiretrack.tasks.describe.entering import NO_REASON, correct

        return self._after(
            correct(
                self.registry, what, fields, who=self.who, reason=reason or NO_REASON, look=look
            )
        )

    def print_labels(self, what: str, stock: str, out: Path | str) -> LabelsPrinted:
        """Draw the labels of a tag, a circuit or a pull into a file, and note them as printed.

        Every code is read back from the drawn pages before the file is put in place.
        """
        from wiretrack.tasks.label.ends import Wanted
        from wiretrack.tasks.label.printing import PrintOrder, print_wanted

        order = PrintOrder(stock=stock, out=Path(out))
        return self._after(print_wanted(self.registry, Wanted(what=what), order, who=self.who))

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

    def undo(self, change: str | None = None, *, together: bool = False) -> Undone:
        """Take the last change back, or the one with this id, by a new change.

        With `together`, later changes that rest on it are taken back with it.

        Raises
        ------
        RestsOnError
            If later work rests on it; nothing is written then.
        BadInputError
            If no change has that id, or it can't be taken back: a reading is superseded.
        """
        from wiretrack.tasks.change.undoing import undo

        return self._after(undo(self.registry, change, together=together, who=self.who))

    # Files

    def load_file(
        self, file: Path | str, rules: SheetRules | None = None, *,
        update: bool = False, look: bool = False,
    ) -> Loaded:  # fmt: skip
        """Add what a site file, a workbook or CSV files hold, all or nothing.

        With `update` records that are there become what it says; with `look` nothing is written.
        """
        from wiretrack.tasks.describe.sites import Load, load_site

        how = Load(update=update, look=look, sheets=rules)
        return self._after(load_site(self.registry, Path(file), who=self.who, how=how))

    def dump(self, file: Path | str) -> None:
        """Write all of the registry as a site file; loading it gives an equal registry."""
        from wiretrack.tasks.describe.sites import dump_site

        dump_site(self.registry, Path(file))

    def backup(self, file: Path | str, *, keep: int | None = None) -> Backup:
        """Copy the registry, while it is in use, to a new file, once the copy is proved.

        With `keep` the name gets the day, and only so many copies of that name stay.
        """
        from wiretrack.store.health import backup

        return backup(self.registry, Path(file), keep=keep)

    def problems(self) -> list[Problem]:
        """Return what isn't whole in the registry; an empty list if it is sound."""
        from wiretrack.store.health import problems

        return problems(self.registry)

    def _after(self, done: T) -> T:
        """Return what came of a change, once the site shows the record as it is then."""
        self._renew()
        return done

    def _renew(self) -> None:
        super().__init__(StoredSource(self.registry), judge_of)
        self.__dict__.pop("knowledge", None)
