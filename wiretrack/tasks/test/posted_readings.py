# SPDX-License-Identifier: MIT
"""Readings that another program sends: checked field by field, and never stored twice.

The sender makes the identifier, so that it may send again when it can't know what became of it.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.errors import (
    BadInputError,
    ChangedMeanwhileError,
    FieldError,
    ReplayError,
    WiretrackError,
)
from wiretrack.exchange.rows import row_faults
from wiretrack.exchange.texts import harmless, why_refused
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.entity import subject_text
from wiretrack.readings import parse_reading
from wiretrack.readings.judging import Judge
from wiretrack.store import reading_log
from wiretrack.store.source import site_of
from wiretrack.tasks.test.moments import time_of
from wiretrack.tasks.test.testing import (
    ReadingText,
    check_reading,
    check_subject,
    refuse_future,
    refuse_unlikely,
    subject_of,
    what_it_proves,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from wiretrack.model.entities import Circuit
    from wiretrack.model.parts import Device
    from wiretrack.store.store import Registry

OPTIONAL = tuple(
    field.name
    for field in fields(ReadingText)
    if field.name not in ("kind", "subject", "value", "id")
)


@dataclass(frozen=True)
class Posted:
    """What became of a reading that was sent: the answer, and whether it was stored just now."""

    answer: dict[str, Any]
    new: bool


def post_reading(
    registry: Registry,
    document: object,
    *,
    who: str | None = None,
    seen: str | None = None,
    add: Callable[[Registry, Reading], str] = reading_log.add_reading,
) -> Posted:
    """Store the reading that `document` describes, once, however often it is sent.

    `seen` is the `revision` of the conductor on which the reader relied, where that matters.
    `add` stores one reading durably and returns its id; it may gather those of several threads.

    Raises
    ------
    FieldError
        If a field is missing or can't be understood; it names the field.
    ReplayError
        If another reading has the same identifier.
    ChangedMeanwhileError
        If the conductor's record isn't what was `seen`.
    """
    text, judge = _text(document), Judge(site_of(registry))
    try:
        reading = checked_reading(registry, replace(text, by=text.by or who), judge)
        if seen is not None and seen != revision_of(judge.subject(reading)):
            raise ChangedMeanwhileError(f"The record of {subject_text(reading.subject)}")
        record = add(registry, reading)
    except (WiretrackError, registry.errors):
        stored = next(iter(site_of(registry).at(Reading, "id", text.id or "")), None)
        if stored is None:
            raise
        return _again(registry, text, stored, judge)
    return Posted(what_it_proves(replace(reading, id=record), judge), True)


def revision(registry: Registry, tag: str) -> str:
    """Return a short text that changes when what a conductor's record says of it changes.

    Its readings and labels don't count: they are added to it, and change nothing of it.
    """
    return revision_of(site_of(registry).one(Conductor, tag))


def revision_of(measured_at: Conductor | Device | Circuit) -> str:
    """Return the `revision` of the record of what a reading is of."""
    route = measured_at.route.raceways if isinstance(measured_at, Conductor) else ()
    facts = repr((measured_at, list(route)))
    return hashlib.sha256(facts.encode()).hexdigest()[:16]


def _text(document: object) -> ReadingText:
    faults = row_faults("readings", document)
    if not isinstance(document, dict):
        raise FieldError("", "The body is not a reading. Send one JSON object.")
    if "id" not in document:
        faults.setdefault("id", "It is missing. Make a UUID for each reading and keep it.")
    for field, value in document.items():
        why = why_refused(value) if isinstance(value, str) else None
        if why:
            faults.setdefault(field, f"It can't be taken: {why}.")
    for field, message in faults.items():
        raise FieldError(field, f"{harmless(field)}: {message}" if field else message)
    return ReadingText(**{**document, "id": document["id"].lower()})


def _again(registry: Registry, text: ReadingText, stored: Reading, judge: Judge) -> Posted:
    """Return the answer to a reading sent once more, if it is the one that is stored."""
    if (text.supersedes or "").lower() != (stored.supersedes or ""):
        raise ReplayError(stored.id or "")
    plain = replace(text, supersedes=None, at=text.at or stored.at, by=text.by or stored.by)
    sent = checked_reading(registry, plain, judge)
    if replace(sent, supersedes=stored.supersedes) != stored:
        raise ReplayError(stored.id or "")
    return Posted(what_it_proves(stored, judge), False)


def checked_reading(registry: Registry, text: ReadingText, judge: Judge) -> Reading:
    """Return the reading that `text` says.

    Raises
    ------
    FieldError
        If a field can't be understood; it names the first such field.
    """
    try:
        return check_reading(registry, text, judge)
    except BadInputError as error:
        raise FieldError(_field_at_fault(registry, text, judge), error) from error


def _field_at_fault(registry: Registry, text: ReadingText, judge: Judge) -> str:
    """Return the field of `text` that can't be understood, each looked at by itself."""
    at = text.at if _is_time(text.at) else None
    bare = ReadingText(subject=text.subject, kind=text.kind, value=text.value, at=at)
    looks: dict[str, Callable[[], object]] = {
        "subject": partial(_look_at_subject, registry, text, at, judge),
        "value": partial(_look_at_value, text),
    }
    for name in OPTIONAL:
        alone = replace(bare, **{name: getattr(text, name)})
        looks[name] = partial(check_reading, registry, alone, judge)
    for name, look in looks.items():
        try:
            look()
        except BadInputError:
            return name
    return ""


def _is_time(text: str | None) -> bool:
    try:
        if text is not None:
            refuse_future(time_of(text))
    except BadInputError:
        return False
    return text is not None


def _look_at_value(text: ReadingText) -> None:
    refuse_unlikely(text.kind, parse_reading(text.kind, text.value))


def _look_at_subject(registry: Registry, text: ReadingText, at: str | None, judge: Judge) -> None:
    measured_at = subject_of(registry, text, judge)
    check_subject(registry, measured_at, time_of(at) if at else days.now())
