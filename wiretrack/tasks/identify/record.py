# SPDX-License-Identifier: MIT
"""The one-page record that a ring-out leaves: what was joined and read, and what follows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.files import write_file
from wiretrack.render.report.html import html_pieces
from wiretrack.render.report.ringout_blocks import ringout_page
from wiretrack.ringout.answers import OVER_RANGE
from wiretrack.ringout.parsing import parse_step
from wiretrack.ringout.results import Conclusion, RecordedStep, RingoutRecord
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.procedure import Answered
    from wiretrack.store.store import Registry


def ringout_record(registry: Registry, pull: str) -> RingoutRecord:
    """Return the record of the latest ring-out of a pull, ready to be shown or printed."""
    ringing = Ringing.latest(registry, pull)
    record, settings, found = ringing.record, ringing.settings, ringing.result()
    return RingoutRecord(
        pull=record.pull,
        near=record.near,
        far=settings.far_boxes,
        begun=record.at,
        ended=record.answers[-1].at if record.answers else None,
        instrument=settings.gear.instrument,
        references=settings.references,
        gear=tuple(settings.gear_used),
        steps=tuple(_step(ringing, stored) for stored in record.answers),
        conclusions=tuple(
            Conclusion(m.near, m.far, m.sure, tuple(ringing.why(m.near))) for m in found.matches
        ),
        finished=ringing.finished,
        walks=found.walks,
        joins=found.joins,
        probes=found.probes,
        unresolved=found.unresolved,
        faults=found.faults,
        questions=found.questions,
        notes=found.notes,
    )


def write_record(found: RingoutRecord, out: Path) -> None:
    """Write the record as one printable HTML page, whole or not at all."""
    write_file(out, html_pieces(ringout_page(found)))


def _step(ringing: Ringing, stored: Answered) -> RecordedStep:
    step = parse_step(stored.step)
    told, answer = step.told(ringing.names), step.parse(stored.answer)
    return RecordedStep(
        number=stored.number,
        step=stored.step,
        told=f"{told} {'; '.join(step.lines(str))}" if step.has_lines else told,
        answer="open (OL)" if OVER_RANGE in stored.answer.values() else answer.said,
        at=stored.at,
        superseded=stored.superseded,
        connects=step.connects,
    )
