# SPDX-License-Identifier: MIT
"""Records entered and corrected field by field: what is named, written, and due because of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.errors import FieldError, SiteFileError
from wiretrack.exchange.assigned import FieldPlaces
from wiretrack.exchange.places import Faults
from wiretrack.exchange.raw import RawSite
from wiretrack.exchange.schema import FORMAT
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor, Enclosure, Pull, Raceway
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device, Instrument, SiteFacts, Terminal
from wiretrack.store.searching import ANY, resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.describe.sites import Source, write_rows
from wiretrack.tasks.label.ends import due_of
from wiretrack.tasks.report.checking import contradictions
from wiretrack.tasks.test.plan import owed_tests

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry
    from wiretrack.tasks.describe.sites import Load, Loaded
    from wiretrack.tasks.label.ends import DueLabel
    from wiretrack.tasks.test.plan import OwedTest

SITE = "site"
BY_NOUN: dict[str, type] = {
    "conductor": Conductor, "circuit": Circuit, "enclosure": Enclosure, "raceway": Raceway,
    "pull": Pull, "instrument": Instrument, "device": Device, "terminal": Terminal,
}  # fmt: skip

INSIDE = (Device, Terminal)


@dataclass(frozen=True)
class Reason:
    """Why a change was made, and which day it is of: kept with it."""

    on: str | None = None
    why: str | None = None

    @property
    def more(self) -> dict[str, str]:
        """What of it is known."""
        known = {"on": self.on, "why": self.why}
        return {key: value for key, value in known.items() if value}


NO_REASON = Reason()


def record_called(registry: Registry, what: str, kinds: tuple[str, ...] = ANY) -> Any:
    """Return the record that `what` names: tag, code, ``BOX/DEVICE``, ``BOX/TERMINAL``, site."""
    site, named = site_of(registry), resolve(registry, what, kinds)
    return (
        site.facts
        if named.what == SITE
        else site.one(BY_NOUN[named.what], named.point or named.code)
    )


def write_typed(registry: Registry, rows: dict[str, Any], how: Load, *, who: str | None) -> Loaded:
    """Write rows that were typed, as one change."""
    raw = RawSite({"format": FORMAT, **rows}, Faults(FieldPlaces()))
    try:
        return write_rows(registry, raw, Source(""), who=who, how=how)
    except SiteFileError as error:
        told = dict.fromkeys(
            str(fault).replace("in the file or the registry", "in the record")
            for fault in error.faults
        )
        raise FieldError(error.faults[0].place, " ".join(told)) from error


@dataclass(frozen=True)
class Due:
    """What is due of some records: labels that are untrue or lacking, tests, what is odd."""

    labels: tuple[DueLabel, ...] = ()
    tests: tuple[OwedTest, ...] = ()
    doubts: tuple[str, ...] = ()

    @classmethod
    def of(
        cls, registry: Registry, ids: Iterable[str | None], circuits: Iterable[str], name: str = ""
    ) -> Due:
        """Return what is due of conductors (by id), of their circuits and of others.

        Of what is called `name`, what contradicts the record is told too.
        """
        site = site_of(registry)
        found = [c for c in site.find(Conductor, "id", [*filter(None, ids)]) if not c.retired_at]
        codes = dict.fromkeys((*circuits, *(code for c in found for code in c.circuits)))
        served = [k.code for k in site.find(Circuit, "code", [*codes]) if not k.retired_at]
        return cls(
            tuple(due_of(registry, found)),
            tuple(step for code in served for step in owed_tests(registry, code)),
            tuple(contradictions(registry, name)) if name else (),
        )

    def since(self, before: Due) -> Due:
        """Return what of it was not so before."""
        seen = {(step.kind, step.subject, step.against) for step in before.tests}
        return Due(
            tuple(row for row in self.labels if row.detail and row not in before.labels),
            tuple(s for s in self.tests if (s.kind, s.subject, s.against) not in seen),
            tuple(doubt for doubt in self.doubts if doubt not in before.doubts),
        )


def touched(site: Site, record: Any) -> tuple[list[Conductor], list[str]]:
    """Return the conductors and circuits of which something may become due with a record."""
    if isinstance(record, SiteFacts):
        return site.every(Conductor), [circuit.code for circuit in site.every(Circuit)]
    if isinstance(record, Conductor):
        return [record], []
    if isinstance(record, Circuit):
        return [*record.conductors], [record.code]
    if isinstance(record, Device):
        places = [Point(record.enclosure, code) for pole in record.poles for code in pole]
        return site.find(Conductor, "terminal", places), []
    if isinstance(record, Terminal):
        return [*site.at(Conductor, "terminal", Point(record.enclosure, record.code))], []
    if isinstance(record, Instrument):
        return [], [circuit.code for circuit in site.every(Circuit)]
    return [*record.conductors], []
