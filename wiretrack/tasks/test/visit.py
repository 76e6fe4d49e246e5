# SPDX-License-Identifier: MIT
"""A visit to the site: the readings due one after another, and what is said once for all of them.

What a visit knows (instrument, leads, temperature, which cautions were read) is kept for the day in
the user's state folder: the record has it with each reading.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack import state
from wiretrack.days import today
from wiretrack.electrical.colours import colour_name
from wiretrack.late import dataclass
from wiretrack.model.entities import Circuit, Conductor
from wiretrack.model.parts import Device
from wiretrack.model.tags import looks_like_tag, parse_tag
from wiretrack.readings import kind_of
from wiretrack.readings.base import with_unit
from wiretrack.store.searching import resolve
from wiretrack.store.source import site_of
from wiretrack.tasks.test.cautions import cautions_of
from wiretrack.tasks.test.plan import instrument_codes, owed_tests
from wiretrack.tasks.test.testing import (
    ReadingText,
    check_stated,
    log_reading,
    subject_named,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from wiretrack.model.site import Site
    from wiretrack.store.store import Registry
    from wiretrack.tasks.test.plan import OwedTest
    from wiretrack.tasks.test.testing import Logged

# What is asked once a visit, in this order, where a kind has it.
STATED = ("by", "instrument", "leads", "temp", "cell_temp")
Key = tuple[str, str, "str | None"]


@dataclass(frozen=True)
class Measuring:
    """A reading to take: which of how many, what to connect where, and what the meter should show.

    `unit` is what a bare number is in; `stated` are what is asked once a visit for such a reading.
    """

    step: OwedTest
    left: int
    connect: str
    expect: str
    unit: str
    stated: tuple[str, ...]

    @property
    def key(self) -> Key:
        """What tells it from the others."""
        return self.step.kind, self.step.subject, self.step.against


@dataclass
class Visit:
    """What was `said` today for the registry, and `before`; which cautions were `read` today."""

    registry: Registry
    said: dict[str, str]
    before: dict[str, str]
    read: list[str]

    @classmethod
    def today(cls, registry: Registry) -> Visit:
        """Return what is known of today's visit."""
        found = state.kept("visits", registry.path)
        said, before = found.get("said", {}), found.get("before", {})
        if found.get("day") == today().isoformat():
            return cls(registry, said, before, found.get("read", []))
        return cls(registry, {}, before | said, [])

    def default(self, name: str, kind: str) -> str:
        """Return what was said last of a fact, ``""`` if nothing was."""
        key = _said_as(name, kind)
        return self.said.get(key, self.before.get(key, ""))

    def knows(self, name: str, kind: str) -> bool:
        """Return whether a fact was said today."""
        return _said_as(name, kind) in self.said

    def say(self, name: str, kind: str, text: str) -> str:
        """Keep what is said of a fact, ``-`` or nothing where it is unknown."""
        text = "" if text == "-" else text
        if text:
            check_stated(self.registry, name, text)
        self.said[_said_as(name, kind)] = text
        self._keep()
        return text

    def reads(self, cautions: Iterable[str]) -> bool:
        """Note that cautions are read; return whether one of them wasn't yet today."""
        new = [line for line in cautions if line not in self.read]
        if new:
            self.read += new
            self._keep()
        return bool(new)

    def _keep(self) -> None:
        kept = {"said": self.said, "before": self.before, "read": self.read}
        state.keep("visits", self.registry.path, {"day": today().isoformat(), **kept})


def _said_as(name: str, kind: str) -> str:
    return f"{name} {kind}" if name == "instrument" else name


def next_reading(registry: Registry, circuit: str, aside: Collection[Key]) -> Measuring | None:
    """Return the next reading that a circuit owes, of those that weren't put `aside`."""
    owed = [s for s in owed_tests(registry, circuit)
            if (s.kind, s.subject, s.against) not in aside]  # fmt: skip
    if not owed:
        return None
    step, kind, site = owed[0], kind_of(owed[0].kind), site_of(registry)
    thing = subject_named(registry, kind.name, step.subject)
    near, far = _places(thing)
    connect = kind.leads_on.format(
        subject=_named(thing), against=_counterpart(site, step.against), near=near, far=far
    )
    if step.test_voltage:
        connect += f" Test with {step.test_voltage:g} V."
    expect = step.expected.text if step.expected else ""
    unit = f"{kind.prefix}{kind.symbol}"
    return Measuring(step, len(owed), connect, expect, unit, stated_of(registry, kind.name, thing))


def stated_of(
    registry: Registry, kind: str, thing: Conductor | Device | Circuit
) -> tuple[str, ...]:
    """Return what is asked once a visit for a reading of this kind of a thing."""
    facts = {"by", *kind_of(kind).fields}
    if instrument_codes(registry):
        facts.add("instrument")
    circuits = site_of(registry).find(Circuit, "code", getattr(thing, "circuits", ()))
    if all(each.system != "dc-pv" for each in circuits):
        facts.discard("cell_temp")
    return tuple(name for name in STATED if name in facts)


def take(
    visit: Visit, measuring: Measuring, value: str, *, who: str | None, supersedes: str = ""
) -> Logged:
    """Store the value of a reading with what was said for the visit; a number is in its unit."""
    step, kind = measuring.step, kind_of(measuring.step.kind)
    volts = f"{step.test_voltage:g} V" if step.test_voltage else None
    said = {name: visit.default(name, kind.name) or None for name in measuring.stated}
    text = ReadingText(
        kind=kind.name, subject=step.subject, against=step.against, test_voltage=volts,
        value=with_unit(value, kind.prefix, kind.unit), supersedes=supersedes or None, **said,
    )  # fmt: skip
    return log_reading(visit.registry, text, who=who)


def cautions_before(registry: Registry, circuit: str) -> dict[str, tuple[str, ...]]:
    """Return the cautions of each kind of reading that a circuit owes, by kind."""
    record = site_of(registry).one(Circuit, resolve(registry, circuit, ("circuit",)).code)
    kinds = dict.fromkeys(step.kind for step in owed_tests(registry, record.code))
    return {kind: cautions_of(site_of(registry), kind, record) for kind in kinds}


def _places(thing: Conductor | Device | Circuit) -> tuple[str, str]:
    if isinstance(thing, Conductor):
        return thing.from_end.place, thing.to_end.place
    box = thing.enclosure if isinstance(thing, Device) else ""
    return box or "the supply", box or "the load"


def _named(thing: Conductor | Device | Circuit) -> str:
    """Return a thing as one finds it: tag, colour and what it is.

    >>> from wiretrack.model.parts import End
    >>> from wiretrack.model.tags import Tag
    >>> _named(Conductor(tag=Tag("0AZEMTB"), function="L1", size="12 AWG", colour="BK",
    ...                  from_end=End(enclosure="A"), to_end=End(enclosure="B")))
    '0AZ-EMTB (black, L1)'
    """
    if not isinstance(thing, Conductor):
        return str(thing.subject)
    colour = f"{colour_name(thing.colour)}, " if thing.colour else ""
    return f"{thing.tag} ({colour}{thing.function})"


def _counterpart(site: Site, against: str | None) -> str:
    if against and looks_like_tag(against):
        return _named(site.one(Conductor, parse_tag(against)))
    return {"raceway": "the raceway", "PE": "PE"}.get(against or "", against or "the other lead")
