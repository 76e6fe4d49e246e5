# SPDX-License-Identifier: MIT
"""One value taken with an instrument."""

from __future__ import annotations

from dataclasses import field
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.late import cached_property, dataclass
from wiretrack.model import kinds as k
from wiretrack.model.entity import Entity, Subject
from wiretrack.model.fields import Fact, fact, need

if TYPE_CHECKING:
    from collections.abc import Iterable

    from wiretrack.model.entity import Corrected, Key, Verdict


_LATE_DAYS = 7
_ENTERED_AT = {"fact": Fact("entered_at", k.TIME, "When it was entered.")}
_ENTERED_BY = {"fact": Fact("entered_by", k.NAME, "Who entered it.")}


@dataclass(frozen=True, kw_only=True)
class Reading(Entity):
    """One value taken with an instrument, never changed; a later one can supersede it.

    `value` is as typed, `number` the same in `unit`; where `over_range` is true it is the bound
    that the instrument showed, or `None` for a bare ``OL``.
    """

    kind: str = need("kind", k.READING_KIND, "What was measured.")
    subject: str = need("subject", k.SUBJECT, "The conductor, device or circuit that was measured.")
    value: str = need("value", k.VALUE, "What the instrument showed, as typed.")
    at: str | None = fact("at", k.TIME, "When it was taken.")
    instrument: str | None = fact(
        "instrument", k.CODE, "What it was taken with.", refers="instruments"
    )
    leads_ohm: float | None = fact("leads", k.RESISTANCE, "The leads' resistance, taken off.")
    temp_c: float | None = fact("temp", k.TEMPERATURE, "The conductor's temperature.")
    against: str | None = fact("against", k.COUNTERPART, "What it was measured against.")
    test_voltage_v: float | None = fact("test_voltage", k.VOLTAGE, "The test voltage.")
    after_s: float | None = fact("after", k.DURATION, "How long the test voltage was on.")
    cell_temp_c: float | None = fact("cell_temp", k.TEMPERATURE, "How warm the PV cells were.")
    by: str | None = fact("by", k.NAME, "Who took it.")
    note: str | None = fact("note", k.NOTE, "What else is worth knowing.")
    supersedes: str | None = fact("supersedes", k.ID, "The reading that this one replaces.")
    id: str | None = fact("id", k.ID, "Stays unique when two registries meet.")
    # The store notes these; the same reading entered twice is one reading.
    entered_at: str | None = field(default=None, compare=False, metadata=_ENTERED_AT)
    entered_by: str | None = field(default=None, compare=False, metadata=_ENTERED_BY)
    # What the value says: no file holds these.
    number: float | None = need("", k.NUMBER, "The number; a bound where it is over range.")
    unit: str = need("", k.UNIT, "The unit of the number.")
    over_range: bool = fact(
        "", k.YES_OR_NO, "Whether the instrument showed no more than a bound.", default=False
    )

    @property
    def key(self) -> tuple[str, str, str | None]:
        """What makes a later reading take the place of an earlier one."""
        return self.kind, self.subject, self.against

    @property
    def superseded_by(self) -> Reading | None:
        """The reading that takes it back, which may be of another conductor."""
        return next(iter(self.site.at(Reading, "supersedes", self.id) if self.id else ()), None)

    @property
    def is_entered_apart(self) -> bool:
        """Whether it was entered by somebody else than took it, or more than a week later."""
        if self.entered_at is None:
            return False
        other = self.by is not None and self.entered_by != self.by
        if other or self.at is None:
            return other
        return (days.date_of(self.entered_at) - days.date_of(self.at)).days > _LATE_DAYS

    @cached_property
    def verdict(self) -> Verdict:
        """What it proves about its conductor, by the record as it is now."""
        return self.site.knowledge.verdict(self)

    @cached_property
    def at_reference(self) -> Corrected | None:
        """What it would be at 20 °C, where its kind and what is known allow that."""
        return self.site.knowledge.at_reference(self)

    @cached_property
    def is_stale(self) -> bool:
        """Whether it rests on a landing that was found crossed later: it proves nothing."""
        return self.site.knowledge.is_stale(self)


def readings_of(things: Iterable[Any]) -> list[Reading]:
    """Return what was read of entities of one site, in order of time, superseded readings too.

    Of a circuit, what was read of it as a whole. The order doesn't depend on what offset from UTC
    each was written with. Those of the future come first: they are dated wrongly, and the last one
    is the one that counts.
    """
    keys: dict[str, list[Key]] = {"subject": [], "device": [], "circuit": []}
    site = None
    for thing in things:
        subject = thing.subject
        if not isinstance(subject, Subject):
            keys["subject"] += [subject] if subject else []
        elif subject.device is not None:
            keys["device"].append(subject.device)
        else:
            keys["circuit"].append(str(subject))
        site = thing.site if subject else site
    if site is None:
        return []
    found = [r for by, wanted in keys.items() if wanted for r in site.find(Reading, by, wanted)]
    site.find(Reading, "supersedes", [reading.id for reading in found if reading.id])  # at once
    return sorted(found, key=lambda reading: days.in_time(reading.at))
