# SPDX-License-Identifier: MIT
"""The one-page record that a ring-out leaves: what was joined and read, and what follows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.files import write_file
from wiretrack.render.report.html import html_pieces
from wiretrack.render.report.ringout_blocks import ringout_page
from wiretrack.ringout.answers import OVER_RANGE
from wiretrack.ringout.steps import parse_step
from wiretrack.tasks.identify.gear import gear_lines
from wiretrack.tasks.identify.ringing import Ringing

if TYPE_CHECKING:
    from pathlib import Path

    from wiretrack.procedure import Answered
    from wiretrack.store.store import Registry


def ringout_record(registry: Registry, pull: str) -> dict[str, Any]:
    """Return the record of the latest ring-out of a pull, ready to be shown or printed."""
    ringing = Ringing.latest(registry, pull)
    status, record = ringing.status(), ringing.record
    return {
        "pull": record.pull,
        "near": record.near,
        "far": record.far,
        "begun": record.at,
        "ended": record.answers[-1].at if record.answers else None,
        "instrument": record.settings.get("instrument"),
        "references": record.settings["references"],
        "gear": gear_lines(record.settings),
        "steps": [_step(ringing, stored) for stored in record.answers],
        "conclusions": [
            {**match, "why": ringing.why(match["near"])} for match in status["matches"]
        ],
        **{key: status[key] for key in _KEPT},
    }


_KEPT = ("finished", "walks", "joins", "probes", "unresolved", "faults", "questions", "notes")


def write_record(found: dict[str, Any], out: Path) -> None:
    """Write the record as one printable HTML page, whole or not at all."""
    write_file(out, html_pieces(ringout_page(found)))


def _step(ringing: Ringing, stored: Answered) -> dict[str, Any]:
    step = parse_step(stored.step)
    told, answer = step.told(ringing.names), step.parse(stored.answer)
    details = "; ".join(step.lines(str)) if told.endswith(":") else ""
    return {
        "number": stored.number,
        "step": stored.step,
        "told": f"{told} {details}".strip(),
        "answer": "open (OL)" if OVER_RANGE in stored.answer.values() else answer.said,
        "at": stored.at,
        "superseded": stored.superseded,
    }
