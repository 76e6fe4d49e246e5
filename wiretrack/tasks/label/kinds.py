# SPDX-License-Identifier: MIT
"""What is printed for each kind of label: ends, pull numbers, cards, strips, plates, markings."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from wiretrack.electrical.box_hazards import box_hazards
from wiretrack.electrical.rules.marking import BACKGROUND, LETTERS, letters_mm
from wiretrack.errors import BadInputError, Hint, NotFoundError, OutOfRangeError
from wiretrack.labels.fit import parts_of
from wiretrack.labels.payload import make_box_payload
from wiretrack.labels.subject import (
    BoxCard,
    CardRow,
    Marking,
    Plate,
    PullNumber,
    Subject,
    TerminalStrip,
)
from wiretrack.store import records
from wiretrack.store.searching import resolve
from wiretrack.tasks.find.showing import abandoned_in
from wiretrack.tasks.label.dimensions import outer_diameter_mm
from wiretrack.tasks.label.ends import named_conductors, subjects
from wiretrack.tasks.label.truth import due_subjects
from wiretrack.tasks.report.checking import markings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.labels.stock import Stock
    from wiretrack.model.entities import ConductorEnd, Enclosure
    from wiretrack.store.store import Registry

KINDS = ("conductor", "pull-numbers", "box-card", "terminal-strip", "plate", "marking")
MOST_BLANK = 20
LEAST_PITCH_MM, LARGEST_PITCH_MM = 2.0, 100.0
_FIGURES = re.compile(r"(\d+)")


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """Which labels: of what, of which kind; `due` are conductors' ends that need one only."""

    what: str | None
    kind: str = "conductor"
    due: bool = False
    pitch_mm: float | None = None
    terminals: tuple[str, ...] = ()


def wanted_subjects(registry: Registry, wanted: Wanted, stock: Stock) -> Sequence[Subject]:
    """Return the labels that are wanted, cut to what the stock has room for.

    Raises
    ------
    NotFoundError, TagError
        If nothing is called so.
    BadInputError
        If something else needed isn't known: a pitch, the wording of a marking.
    """
    if wanted.kind == "conductor":
        if wanted.due:
            return due_subjects(registry, wanted.what)
        return subjects(registry, _named(wanted))
    if wanted.due:
        raise BadInputError(
            "Only conductors' labels can be due.", Hint("Leave out {due}, or {kind}.")
        )
    found: Sequence[Subject]
    match wanted.kind:
        case "pull-numbers":
            found = pull_numbers(registry, _named(wanted))
        case "box-card":
            found = [box_card(registry, _named(wanted))]
        case "terminal-strip":
            found = terminal_strips(registry, wanted)
        case "plate":
            found = plates(registry, _named(wanted))
        case _:
            found = marking_labels(registry, wanted.what)
    return [part for subject in found for part in parts_of(subject, stock)]


def pull_numbers(registry: Registry, what: str) -> list[PullNumber]:
    """Return a number for each conductor that `what` names, the same at both its ends."""
    found, _ = named_conductors(registry, what)
    return [
        PullNumber(
            number=str(number),
            pull=conductor.pull,
            this_place=here.enclosure,
            other_place=there.enclosure,
            outer_diameter_mm=outer_diameter_mm(conductor),
            end="from" if here is conductor.from_end else "to",
        )
        for number, conductor in enumerate(found, start=1)
        for here, there in (
            (conductor.from_end, conductor.to_end),
            (conductor.to_end, conductor.from_end),
        )
    ]


def box_card(registry: Registry, code: str) -> BoxCard:
    """Return what is inside an enclosure: its hazards, then each conductor and where it goes."""
    box = _enclosure(registry, code)
    ends = sorted(box.ends, key=_by_terminal)
    used = {code for end in ends for code in end.conductor.circuits}
    entering = records.circuits(registry, used)
    return BoxCard(
        code=box.code,
        title=box.name,
        where=box.where,
        hazards=(*box_hazards(entering), *_abandoned(registry, box.code)),
        rows=tuple(
            CardRow(
                terminal=end.here.terminal or end.here.state or "not known",
                tag=end.conductor.tag,
                circuit=f"{end.conductor.circuit} {end.conductor.function}",
                other_place=end.there.place,
            )
            for end in ends
        ),
        payload=make_box_payload(box.code, records.site(registry).base_address),
    )


def _abandoned(registry: Registry, box: str) -> list[str]:
    count = len(abandoned_in(registry, box))
    return [f"{count} abandoned: may be live"] if count else []


def terminal_strips(registry: Registry, wanted: Wanted) -> list[TerminalStrip]:
    """Return a strip for each block of an enclosure's terminals, or one of the texts given.

    A block is what stands before the last colon of a terminal's code. Numbers that a terminal block
    lacks are left blank, so that the rest stays at its place; a device's poles are counted their
    own way and follow each other.
    """
    box = _enclosure(registry, _named(wanted))
    pitch = _pitch(wanted.pitch_mm)
    if wanted.terminals:
        return [TerminalStrip(enclosure=box.code, terminals=wanted.terminals, pitch_mm=pitch)]
    codes = sorted((t.code for t in records.terminals(registry, box.code)), key=_natural)
    if not codes:
        raise BadInputError(
            f"No terminal of {box.code} is recorded.",
            Hint("Name them in their order with {terminals}."),
        )
    devices = {device.code for device in records.devices(registry, box.code)}
    return [
        TerminalStrip(enclosure=box.code, terminals=tuple(texts), pitch_mm=pitch)
        for name, block in groupby(codes, key=lambda text: text.rpartition(":")[0])
        for texts in ([list(block)] if name in devices else _with_gaps(list(block)))
    ]


def _with_gaps(codes: list[str]) -> list[list[str]]:
    """Return the codes of a block, an empty text for each number left out; cut where many are."""
    rows, last = [[codes[0]]], codes[0]
    for code in codes[1:]:
        here, before = (text.rpartition(":")[2] for text in (code, last))
        numbered = here.isdecimal() and before.isdecimal()
        lacking = int(here) - int(before) - 1 if numbered else 0
        if lacking > MOST_BLANK:
            rows.append([code])
        else:
            rows[-1] += ["" for _ in range(lacking)] + [code]
        last = code
    return rows


def plates(registry: Registry, what: str) -> list[Plate]:
    """Return the plate of an enclosure, of its device ``ENCLOSURE/DEVICE``, or all with ``/*``."""
    code, slash, device = what.partition("/")
    box = _enclosure(registry, code)
    if not slash:
        payload = make_box_payload(box.code, records.site(registry).base_address)
        return [Plate(code=box.code, title=box.name, where=box.where, payload=payload)]
    made = _device_plates(registry, box)
    if device != "*":
        made = [plate for plate in made if plate.code.upper() == device.upper()]
    if not made:
        raise NotFoundError(f"device in {box.code}", device)
    return made


def marking_labels(registry: Registry, what: str | None) -> list[Marking]:
    """Return every marking that the code demands on `what`, in its wording, height and colours."""
    rows = markings(registry, what)
    if not rows:
        raise BadInputError("No marking is demanded here by the rules of this site.")
    if any(row["wording"] is None for row in rows):
        raise BadInputError(
            "The markings' wording isn't known, because the edition of the site's code isn't."
            " Give the site its edition."
        )
    return [
        Marking(
            wording=row["wording"],
            letter_mm=letters_mm(),
            letters=LETTERS,
            background=BACKGROUND,
            source=f"{row['source']}: {row['note']}",
        )
        for row in rows
    ]


def _device_plates(registry: Registry, box: Enclosure) -> list[Plate]:
    """Return a plate for each device: its kind and rating, and the circuits on its poles."""
    landed: defaultdict[str | None, list[str]] = defaultdict(list)
    for end in box.ends:
        landed[end.here.terminal].append(end.conductor.circuit)
    plates = []
    for device in records.devices(registry, box.code):
        rating = f"{device.rating_a:g} A" if device.rating_a else None
        circuits = (c for pole in device.poles for terminal in pole for c in landed[terminal])
        plates.append(
            Plate(
                code=device.code,
                title=" ".join(filter(None, (device.kind, rating))) or None,
                where=f"in {box.code}",
                lines=tuple(dict.fromkeys(circuits)),
            )
        )
    return plates


def _enclosure(registry: Registry, code: str) -> Enclosure:
    named = resolve(registry, code, ("enclosure",))
    return records.enclosure(registry, named.code)


def _named(wanted: Wanted) -> str:
    if wanted.what is None:
        raise BadInputError("What is to be labelled isn't said.", Hint("Name it, or take {due}."))
    return wanted.what


def _pitch(pitch_mm: float | None) -> float:
    if pitch_mm is None:
        raise BadInputError(
            "The terminals' pitch isn't known.",
            Hint("Measure over ten terminals and give {pitch}."),
        )
    if not LEAST_PITCH_MM <= pitch_mm <= LARGEST_PITCH_MM:
        allowed = f"{LEAST_PITCH_MM:g} to {LARGEST_PITCH_MM:g} mm"
        raise OutOfRangeError("Terminals' pitch", pitch_mm, "mm", allowed)
    return pitch_mm


def _natural(text: str) -> list[tuple[bool, int, str]]:
    """Return a key by which Q10 comes after Q9."""
    return [
        (part.isdigit(), int(part) if part.isdigit() else 0, part) for part in _FIGURES.split(text)
    ]


def _by_terminal(end: ConductorEnd) -> tuple[bool, list[tuple[bool, int, str]]]:
    return end.here.terminal is None, _natural(end.here.terminal or end.conductor.tag)
