# SPDX-License-Identifier: MIT
"""Making a registry, site files in and out, proving a registry and copying it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import field, replace
from functools import partial
from typing import TYPE_CHECKING, Any, TextIO

from wiretrack.electrical.rules.landing import unmatched_poles
from wiretrack.errors import BadInputError, DamagedRegistryError, Hint, SiteDiffersError
from wiretrack.exchange.codecs import TIME_ZONE, codec_of
from wiretrack.exchange.places import check_text
from wiretrack.late import dataclass
from wiretrack.model.fields import facts
from wiretrack.model.parts import SiteFacts
from wiretrack.model.source import TABLES
from wiretrack.readings import parse_reading
from wiretrack.readings.judging import Judge
from wiretrack.store import health
from wiretrack.store.changing import Change, apply
from wiretrack.store.dumping import Dump, RegistryKnown
from wiretrack.store.history import SourceFile
from wiretrack.store.lists import landed_in
from wiretrack.store.loading import create_registry, much_is_made
from wiretrack.store.proof import Anchor, Problem, anchor, head
from wiretrack.store.searching import last_tag, tags_after
from wiretrack.store.source import site_of
from wiretrack.store.store import open_registry
from wiretrack.tasks.describe.sheets import remember, with_remembered
from wiretrack.tasks.test.testing import refuse_future, refuse_unlikely

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

    from wiretrack.electrical.rules.landing import Unmatched
    from wiretrack.exchange.layout import SheetRules
    from wiretrack.exchange.places import Faults
    from wiretrack.exchange.raw import RawSite
    from wiretrack.model.entities import Reading
    from wiretrack.model.parts import Device
    from wiretrack.model.source import SiteDocument
    from wiretrack.store.store import Registry


def new_site(path: Path, name: str, time_zone: str | None = None) -> None:
    """Make an empty registry at `path` for the site called `name`; refuses to overwrite.

    Its days are counted in `time_zone`, a name of the IANA time zone database.
    """
    checked = check_text("The site's name", name)
    if checked is None:
        raise BadInputError("The site's name is empty.", Hint("Give it with {name}."))
    zone = TIME_ZONE.read(time_zone) if time_zone else None
    create_registry(path, SiteFacts(name=checked, time_zone=zone))


@dataclass(frozen=True)
class ChangedRecord:
    """A record that is changed: what and which, old and new of its fields as a site file has them.

    `follows` says that the file doesn't name it: it goes with what the file changes.
    """

    what: str
    code: str
    fields: dict[str, tuple[Any, Any]]
    follows: bool = False


@dataclass(frozen=True)
class Loaded:
    """What a load added: records by table, what is new of the site, and poles to look at.

    What it changed and what was there already, by table; the tags made; the change that it is.
    `notes` say how the file was read, where that had to be found out; `rows` what each row of a
    sheet with headings of its own became.
    """

    added: dict[str, int]
    site: dict[str, object]
    bare_poles: tuple[Unmatched, ...]
    changed: tuple[ChangedRecord, ...] = ()
    unchanged: dict[str, int] = field(default_factory=dict)
    tags: tuple[str, ...] = ()
    change: str | None = None
    notes: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()


@dataclass(frozen=True)
class Load:
    """How rows are written: with `update` records that are there are changed, `look` only looks.

    `clear` lets a row say that a field is unknown; all rows are `fresh` where none can be of a
    record that is there. `more` is what is kept with the change; `then` is asked before it is
    kept. `sheets` say
    what headings of their own mean.
    """

    update: bool = False
    look: bool = False
    sheets: SheetRules | None = None
    clear: bool = False
    fresh: bool = False
    more: Mapping[str, str] = field(default_factory=dict)
    then: Callable[[], None] | None = None


def load_site(
    registry: Registry, file: Path, *, who: str | None = None, how: Load = Load()
) -> Loaded:
    """Add what a site file (JSON), a workbook or CSV files hold, all or nothing.

    What headings of their own mean is remembered beside the file, once it is loaded. A record that
    is there with the same content stays as it is. `SiteFileError` if anything in it is wrong; every
    fault is listed and nothing is written; `SiteDiffersError` if it says of the site what the
    registry knows otherwise.
    """
    from wiretrack.exchange.layout import SheetRules
    from wiretrack.exchange.read import read_raw

    said = how.sheets or SheetRules()
    rules = with_remembered(file, said)
    rules.has_box = partial(RegistryKnown(registry).has, "enclosure")
    with much_is_made():
        raw = read_raw(file, rules)
        rules.refuse_unused(said.maps)
        parts = sorted(file.iterdir()) if file.is_dir() else [file]
        held = tuple((part.name, part.read_bytes()) for part in parts if part.is_file())
        source = Source(str(file), SourceFile(file.name, held))
        loaded = write_rows(registry, raw, source, who=who, how=how)
    return loaded if how.look else replace(loaded, notes=(*loaded.notes, *remember(file, rules)))


@dataclass(frozen=True)
class Source:
    """Where rows come from: a name for messages, and the file that the history names, if any."""

    name: str
    file: SourceFile | None = None


def write_rows(
    registry: Registry, raw: RawSite, source: Source, *, who: str | None, how: Load
) -> Loaded:
    """Add what rows of a site file say, and change what is there where they may; all or nothing."""
    from wiretrack.exchange.amending import Amending
    from wiretrack.exchange.read import read_over

    known = RegistryKnown(registry)
    amending = None if how.fresh else Amending(known, raw, how.update, how.clear)
    read = read_over(source.name, raw, known, amending)
    own_history = "changes" in read.added.rest  # a dump brings what was stored once, as it is

    def look() -> None:
        judge = Judge(site_of(registry))
        for number, reading in enumerate(read.added.readings):
            _look_at(judge, reading, number, read.faults)
        read.faults.refuse(source.name)
        if how.then is not None:
            how.then()

    before = last_tag(registry)
    change = Change(
        added=read.added,
        changed=[(each.table, each.record) for each in read.changed],
        file=source.file,
        look=None if own_history else look,
        trial=how.look,
        more=how.more,
    )
    try:
        new = apply(registry, change, who=who)
    except SiteDiffersError as error:
        raise SiteDiffersError(_as_written(error.given), _as_written(error.known)) from None
    changed = [ChangedRecord(c.what, c.name, c.fields, c.carried) for c in read.changed]
    return Loaded(
        counts(read.added),
        _as_written(new),
        tuple(_bare_poles(registry, read.added)),
        tuple(changed),
        read.unchanged,
        tags_after(registry, before),
        registry.commit.change or None,
        tuple(read.faults.notes),
        tuple(read.faults.became),
    )


def _as_written(values: Mapping[str, Any]) -> dict[str, object]:
    return {
        fact.key: codec_of(fact.kind).write(values[fact.name])
        for fact in facts(SiteFacts)
        if fact.key != "id" and values.get(fact.name) is not None
    }


def _bare_poles(registry: Registry, found: SiteDocument) -> Iterator[Unmatched]:
    """Yield the poles of each box of the file's devices that nothing is landed on."""
    of: defaultdict[str, list[Device]] = defaultdict(list)
    for device in found.devices:
        of[device.enclosure].append(device)
    for box, devices in of.items():
        bare = unmatched_poles(devices, landed_in(registry, box))
        if bare is not None:
            yield bare


def _look_at(judge: Judge, reading: Reading, number: int, faults: Faults) -> None:
    """Add a fault for each reason why a reading of a file can't be stored."""
    measured = parse_reading(reading.kind, reading.value)
    looks: dict[tuple[str, ...], Callable[[], object]] = {
        ("at",): partial(refuse_future, reading.at),
        ("value",): partial(refuse_unlikely, reading.kind, measured),
        (): partial(judge.check, reading),
    }
    for inside, look in looks.items():
        try:
            look()
        except BadInputError as error:
            faults.add(("readings", number, *inside), str(error))


def dump_site(registry: Registry, target: Path | TextIO) -> None:
    """Write the whole registry as a site file; loading it gives an equal registry."""
    from wiretrack.exchange.write import write_site

    with registry.unchanging():
        write_site(Dump(registry), target)


def counts(found: SiteDocument) -> dict[str, int]:
    """Return how many records of each table a document holds."""
    return {table: len(getattr(found, table)) for table in TABLES.values()}


@dataclass(frozen=True)
class Verified:
    """Whether a registry is whole, why it is not, how many readings it has; its log's last hash."""

    ok: bool
    readings: int | None
    problems: tuple[Problem, ...]
    head: str | None
    anchor: Anchor | None = None


def verify(registry: Registry, printed: str | None = None) -> Verified:
    """Prove a registry: its file, its records, its log, and the records by the log.

    With the hash that was `printed` once, prove too that what was so then is still its past.
    """
    found = None if printed is None else anchor(registry, printed)
    problems = health.problems(registry)
    if printed is not None and found is None:
        problems.append(
            Problem(
                "no entry of this log has that hash: what was printed is not its past",
                f"anchor {printed}",
            )
        )
    readings = health.count_readings(registry)
    return Verified(not problems, readings, tuple(problems), head(registry), found)


def verify_file(path: Path, printed: str | None = None) -> Verified:
    """Return `verify` of the registry at `path`; one that is too damaged to open is a problem too.

    `RegistryError` if there is nothing at `path`, or what is there is no registry.
    """
    try:
        with open_registry(path, as_found=True) as registry:
            return verify(registry, printed)
    except DamagedRegistryError as error:
        return Verified(False, None, (Problem(str(error), "database"),), None)
