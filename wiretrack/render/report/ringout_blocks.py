# SPDX-License-Identifier: MIT
"""A ring-out as blocks: the whole record with every step, or what a report needs of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.days import moment
from wiretrack.manner import words
from wiretrack.render.report.blocks import (
    Blank,
    Bullets,
    Cell,
    Facts,
    Heading,
    Printed,
    Table,
    counted,
)

if TYPE_CHECKING:
    from wiretrack.render.report.blocks import Block
    from wiretrack.ringout.results import RecordedStep, RingoutRecord

NOT_STATED = "not stated"


def ringout_page(found: RingoutRecord) -> Printed:
    """Return the record of a ring-out as a page of its own, every step on it."""
    title = f"Ring-out of {found.pull}, {found.near} to {found.far}"
    steps: list[tuple[Cell, ...]] = [
        (str(s.number), s.told, _answered(s), moment(s.at)) for s in found.steps
    ]
    return Printed(
        title=title,
        foot=title,
        blocks=(
            Facts(tuple(_facts(found))),
            *_conclusions(found, 1),
            Heading("Steps"),
            Table(("no.", "step", "answer", "at"), tuple(steps)),
            Facts((("Name, date, signature", Blank(2)),)),
        ),
        made_at=found.ended or found.begun,
    )


def brief_blocks(found: RingoutRecord) -> list[Block]:
    """Return who rang out, when and with what, the joins, and what followed from them."""
    joins: list[tuple[Cell, ...]] = [
        (str(s.number), s.told, moment(s.at)) for s in found.steps if s.connects
    ]
    facts = [("Rung out by", found.by or NOT_STATED), *_facts(found)]
    blocks: list[Block] = [Facts(tuple(facts))]
    if joins:
        blocks += [Heading("Joins", 3), Table(("step", "joined", "at"), tuple(joins))]
    return [*blocks, *_conclusions(found, 3)]


def effort_of(found: RingoutRecord) -> str:
    """Return in words how much work it was."""
    return (
        f"{counted(found.walks, 'walk')}, {counted(found.joins, 'join')}, "
        f"{counted(found.probes, 'touch', 'touches')}"
    )


def _facts(found: RingoutRecord) -> list[tuple[str, Cell]]:
    return [
        ("Begun", moment(found.begun)),
        ("Last step", moment(found.ended) if found.ended else NOT_STATED),
        ("Instrument", found.instrument or NOT_STATED),
        ("References", ", ".join(found.references) or "none"),
        ("Gear", "; ".join(found.gear)),
        ("Effort", effort_of(found)),
        ("State", "finished" if found.finished else "not finished"),
    ]


def _conclusions(found: RingoutRecord, level: int) -> list[Block]:
    matches: list[tuple[Cell, ...]] = [(m.near, m.far, " ".join(m.why)) for m in found.conclusions]
    blocks: list[Block] = [Heading("Conclusions", level)]
    blocks.append(Table(("tag", "end mark", "because"), tuple(matches)))
    lists = (
        ("Not identified", found.unresolved),
        ("Faults", [f"{words(fault.kind)}: {fault.evidence}" for fault in found.faults]),
        ("Readings to look at again", [question.reason for question in found.questions]),
        ("Notes", found.notes),
    )
    for title, lines in lists:
        if lines:
            blocks += [Heading(title, level), Bullets(tuple(map(str, lines)))]
    return blocks


def _answered(step: RecordedStep) -> str:
    times = step.superseded
    return f"{step.answer}, corrected {times}×" if times else str(step.answer)
