# SPDX-License-Identifier: MIT
"""Storing a reading: checked field by field, judged, and never stored twice."""

from __future__ import annotations

import hashlib
from contextlib import contextmanager, suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from wiretrack import days
from wiretrack.electrical.quantity_text import format_measured
from wiretrack.errors import (
    BadInputError,
    ChangedMeanwhileError,
    FieldError,
    Hint,
    NotFoundError,
    ReplayError,
    TagError,
    UnlikelyValueError,
    WiretrackError,
)
from wiretrack.exchange.codecs import codec_of
from wiretrack.exchange.places import check_text, harmless, why_refused
from wiretrack.exchange.shape import row_faults
from wiretrack.late import dataclass
from wiretrack.model.entities import (
    Circuit,
    Conductor,
    Pull,
    Reading,
    readings_of,
)
from wiretrack.model.entity import Point, devices_in, subject_text
from wiretrack.model.fields import facts
from wiretrack.model.parts import Device, Instrument
from wiretrack.model.tags import format_tag, looks_like_tag, parse_tag, read_payload
from wiretrack.readings import kind_of
from wiretrack.readings.base import SUBJECTS, refuse_impossible
from wiretrack.readings.judging import Judge
from wiretrack.store import reading_log
from wiretrack.store.places import place_called
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import read_together, site_of
from wiretrack.tasks.change.retired import (
    ABANDONED,
    refuse_retired,
    refuse_retired_circuit,
)
from wiretrack.tasks.test.cautions import cautions_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from wiretrack.electrical.quantities import Measured
    from wiretrack.model.entity import Verdict
    from wiretrack.model.site import Site
    from wiretrack.readings.base import ReadingKind
    from wiretrack.store.store import Registry

    Thing = Conductor | Device | Circuit

_NEEDED = ("kind", "subject", "value", "id")
_NOTED = ("entered_at", "entered_by")  # by the store; nobody says them
# What may be said of a reading beside what was measured of what.
OPTIONAL = {
    fact.key: fact for fact in facts(Reading) if fact.key and fact.key not in _NEEDED + _NOTED
}


class ReadingText(dict[str, str]):
    """A reading as somebody typed it, by the keys of a site file; what isn't stated is left out."""

    def __init__(self, **given: str | None) -> None:
        super().__init__({key: text for key, text in given.items() if text is not None})


@dataclass(frozen=True)
class Logged:
    """A stored reading: its id, what it proves, and the cautions for the next of its kind.

    `shown` is the tag or code of the record that shows it.
    """

    id: str
    verdict: Verdict
    cautions: tuple[str, ...]
    shown: str


@dataclass(frozen=True)
class Posted:
    """What became of a reading that was sent: the answer, and whether it was stored just now."""

    answer: Logged
    new: bool


def log_reading(registry: Registry, text: ReadingText, *, who: str | None = None) -> Logged:
    """Store a reading; return its id, its verdict and the cautions for the next of its kind."""
    judge = Judge(site_of(registry))
    try:
        reading = check_reading(registry, text, judge)
    except FieldError as error:
        raise error.__cause__ or error from None
    record = reading_log.add_reading(registry, reading, who=who)
    return _logged(replace(reading, id=record), judge)


def post_reading(
    registry: Registry,
    document: object,
    *,
    who: str | None = None,
    seen: str | None = None,
    add: Callable[..., str] = reading_log.add_reading,
) -> Posted:
    """Store the reading that `document` describes, once, however often it is sent.

    The sender makes the identifier, so that it may send again when it can't know what became of it.
    `seen` is the `revision` of what was measured on which the reader relied, where that matters.
    `add` stores one reading durably, entered by `who`, and returns its id; it may gather those of
    several threads. `FieldError` if a field is missing or can't be understood; it names the field;
    `ReplayError` if another reading has the same identifier; `ChangedMeanwhileError` if the record
    of what was measured isn't what was `seen`.
    """
    text, judge = _text(document), Judge(site_of(registry))
    try:
        named = ReadingText(**text | {"by": text.get("by") or who})
        reading = check_reading(registry, named, judge)
        if seen is not None and seen != revision(judge.subject(reading)):
            raise ChangedMeanwhileError(f"The record of {subject_text(reading.subject)}")
        record = add(registry, reading, who=who)
    except (WiretrackError, registry.errors):
        stored = next(iter(site_of(registry).at(Reading, "id", text["id"])), None)
        if stored is None:
            raise
        return _again(registry, text, stored, judge)
    return Posted(_logged(replace(reading, id=record), judge), True)


def revision(thing: Thing) -> str:
    """Return a short text that changes when what the record says of a thing changes.

    Its readings and labels don't count: they are added to it, and change nothing of it.
    """
    pulls = thing.site.at(Pull, "code", thing.pull or "") if isinstance(thing, Conductor) else ()
    told = repr((thing, [pull.path for pull in pulls]))
    return hashlib.sha256(told.encode()).hexdigest()[:16]


def _text(document: object) -> ReadingText:
    faults = row_faults("readings", document)
    if not isinstance(document, dict):
        raise FieldError("", "The body is not a reading. Send one JSON object.")
    if "id" not in document:
        faults.setdefault("id", "It is missing. Make a UUID for each reading and keep it.")
    for key in _NOTED:
        if key in document:
            faults.setdefault(key, "Nobody says it: who sends the reading is who entered it.")
    for key, value in document.items():
        why = why_refused(value) if isinstance(value, str) else None
        if why:
            faults.setdefault(key, f"It is refused: {why}.")
    for key, message in faults.items():
        raise FieldError(key, f"{harmless(key)}: {message}" if key else message)
    return ReadingText(**{**document, "id": document["id"].lower()})


def _again(registry: Registry, text: ReadingText, stored: Reading, judge: Judge) -> Posted:
    """Return the answer to a reading sent once more, if it is the one that is stored."""
    if text.get("supersedes", "").lower() != (stored.supersedes or ""):
        raise ReplayError(stored.id or "")
    left_out = {"at": text.get("at") or stored.at, "by": text.get("by") or stored.by}
    sent = ReadingText(**text | left_out | {"supersedes": None})
    reading = replace(check_reading(registry, sent, judge), supersedes=stored.supersedes)
    if reading != stored:
        raise ReplayError(stored.id or "")
    return Posted(_logged(stored, judge), False)


def _logged(reading: Reading, judge: Judge) -> Logged:
    thing = judge.subject(reading)
    cautions = cautions_of(judge.site, reading.kind, thing)
    return Logged(reading.id or "", judge.verdict(reading), cautions, _shown_with(thing))


def check_reading(registry: Registry, text: ReadingText, judge: Judge) -> Reading:
    """Return the reading that `text` says; a `FieldError` names the first field refused."""
    with _field("kind"):
        kind = kind_of(text["kind"])
    with suppress(TagError):
        tag = parse_tag(text["subject"])
        read_together(registry, judge.site, tag, text.get("instrument"))
    with _field("subject"):
        thing = _thing(registry, kind, text["subject"], judge)
    with _field("value"):
        measured = kind.parse(text["value"])
    with _field("at"):
        at = days.typed_time(text["at"]) if text.get("at") else days.now()
        refuse_future(at)
    with _field("subject"):
        _refuse_gone(registry, thing, at)
    stated: dict[str, Any] = {}
    reads: dict[str, Callable[[str], Any]] = {
        "instrument": partial(_instrument, registry, judge),
        "against": partial(_against, registry, kind, thing.subject),
        "supersedes": partial(_superseded, site_of(registry), kind, thing),
        "by": partial(check_text, "The name"),
        "note": partial(check_text, "The note"),
    }
    for key, fact in OPTIONAL.items():
        if text.get(key) and key != "at":
            with _field(key):
                read = reads.get(key) or codec_of(fact.kind).read
                stated[fact.name] = read(text[key])
                refuse_impossible(fact.name, stated[fact.name])
    reading = Reading(
        kind=kind.name, subject=thing.subject, value=text["value"].strip(), number=measured.number,
        unit=measured.unit, over_range=measured.over_range, at=at,
        id=text.get("id"), **stated,
    )  # fmt: skip
    with _field("value"):
        refuse_unlikely(kind.name, measured)
    with _field(""):
        judge.check(reading)
    return reading


@contextmanager
def _field(key: str) -> Iterator[None]:
    """Name the field that is at fault, unless that is known already."""
    try:
        yield
    except FieldError:
        raise
    except BadInputError as error:
        raise FieldError(key, error) from error


def refuse_future(at: str | None) -> None:
    """Refuse a moment that lies ahead of this machine's clock, by more than clocks differ."""
    if days.in_future(at):
        raise BadInputError(
            f"{at} lies in the future: it is {days.moment(days.now())} here."
            " Give the time when it was read."
        )


def refuse_unlikely(kind: str, measured: Measured) -> None:
    """Refuse a value whose unit was likely left out or slipped."""
    choices = kind_of(kind).meant_otherwise(measured)
    if choices:
        raise UnlikelyValueError(measured.text, format_measured(measured), choices)


def subject_named(registry: Registry, kind: str, name: str) -> Thing:
    """Return what a reading of `kind` is of: a conductor by its tag, or what else it is read of."""
    return _thing(registry, kind_of(kind), name, Judge(site_of(registry)))


def _thing(registry: Registry, kind: ReadingKind, name: str, judge: Judge) -> Thing:
    """Return what a name means to a kind of reading; a code wins over a tag."""
    others: dict[str, Sequence[Thing]] = {}
    if kind.subjects != ("conductor",) or not looks_like_tag(name):
        others["device"] = _devices(registry, name, judge) if "device" in kind.subjects else ()
        others["circuit"] = judge.site.at(Circuit, "code", name)
    for what in kind.subjects:
        for thing in others.get(what, ()):
            return thing
    is_place = "/" in name and read_payload(name) is None
    if "conductor" not in kind.subjects or any(others.values()) or is_place:
        how = " or ".join(SUBJECTS[what] for what in kind.subjects)
        raise BadInputError(
            f"'{name}' is no {kind.read_of}: {kind.name} is read of one. Write {how}."
        )
    try:
        return judge.conductor(parse_tag(name))
    except (NotFoundError, TagError):
        return judge.conductor(tag_of(registry, name))


def _devices(registry: Registry, name: str, judge: Judge) -> Sequence[Device]:
    places = [Point(*place) for place in devices_in(name)]
    found = [device for place in places for device in judge.site.at(Device, "place", place)]
    with suppress(NotFoundError):
        return found or judge.site.at(
            Device, "place", place_called(registry, name, ("device",)).point
        )
    return ()


def _refuse_gone(registry: Registry, thing: Thing, at: str) -> None:
    """Refuse a reading of a conductor or circuit that was gone by then.

    One taken before may come late, from a phone that had no signal. An abandoned conductor is
    still there and may be tested.
    """
    retired_at = None if isinstance(thing, Device) else thing.retired_at
    if retired_at is None or days.not_after(at, retired_at):
        return
    if isinstance(thing, Circuit):
        refuse_retired_circuit(thing)
    elif isinstance(thing, Conductor) and thing.retired_because != ABANDONED:
        refuse_retired(registry, thing)


def _instrument(registry: Registry, judge: Judge, code: str) -> str:
    if judge.site.at(Instrument, "code", code):
        return code
    return resolve(registry, code, ("instrument",)).code


def _against(registry: Registry, kind: ReadingKind, subject: str, text: str) -> str:
    for word in kind.against:
        if text.strip().casefold() == word.casefold():
            return word
    if "conductor" not in kind.subjects or not looks_like_tag(text):
        raise BadInputError(f"'{text}' is nothing to read against. Give {kind.counterparts}.")
    tag = tag_of(registry, text)
    if tag == subject:
        raise BadInputError(
            f"{format_tag(tag)} can't be read against itself. Name the other conductor."
        )
    return tag


def check_stated(registry: Registry, name: str, text: str) -> None:
    """Refuse what can't be said of a fact of a reading that stands by itself, like its leads."""
    if name == "instrument":
        _instrument(registry, Judge(site_of(registry)), text)
        return
    refuse_impossible(OPTIONAL[name].name, codec_of(OPTIONAL[name].kind).read(text))


def to_supersede(registry: Registry, kind: str, name: str, text: str) -> Reading:
    """Return the reading of what is called `name` that a new one of this kind is to supersede."""
    site, thing = site_of(registry), subject_named(registry, kind, name)
    (found,) = site.at(Reading, "id", _superseded(site, kind_of(kind), thing, text))
    return found


def _superseded(site: Site, kind: ReadingKind, thing: Thing, text: str) -> str:
    """Return the id of the reading meant: ``last``, its number as `show` has it, or how it begins.

    The last one is the last of this kind that nothing supersedes.
    """
    of_it, word = readings_of([thing]), text.strip().lower()
    numbered = dict(enumerate(of_it, 1))
    if word == "last":
        like = [r for r in of_it if r.kind == kind.name and not r.superseded_by][-1:]
    elif word.isdecimal() and int(word) in numbered:
        like = [numbered[int(word)]]
    else:
        like = [r for r in of_it if len(word) >= _SHORT and (r.id or "").startswith(word)]
    found = like or site.at(Reading, "id", word)
    if len(found) != 1:
        raise BadInputError(
            f"{subject_text(thing.subject)} has no {kind.name} reading '{text}' to supersede.",
            Hint("Write last, or its number or id from this list.", "show", _shown_with(thing)),
        )
    if found[0].superseded_by:
        raise BadInputError(f"Reading {text} is superseded already. Supersede the later one.")
    return str(found[0].id)


def _shown_with(thing: Thing) -> str:
    return thing.enclosure if isinstance(thing, Device) else subject_text(thing.subject)


_SHORT = 4  # characters of an id that may stand for it
