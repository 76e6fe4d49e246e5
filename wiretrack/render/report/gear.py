# SPDX-License-Identifier: MIT
"""What was measured with, and where the circuits run."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wiretrack.render.report.blocks import Blank, Cell, Facts, Heading, Paragraph, Table, Text
from wiretrack.render.report.words import counted, known, metres

if TYPE_CHECKING:
    from wiretrack.render.report.blocks import Block

Row = dict[str, Any]
_TONES = {"in date": Text("in date", "pass"), "overdue": Text("OVERDUE", "fail")}


def instruments(found: Row) -> list[Block]:
    """Return the instruments with serial number, accuracy and what their calibration is worth."""
    rows: list[tuple[Cell, ...]] = [
        (
            f"{one['code']}, {one['name'] or one['kind'] or 'kind unknown'}",
            known(one["serial"]),
            known(one["accuracy"]),
            known(one["resolution"]),
            known(one["range"]),
            known(one["calibrated_on"]),
            _TONES.get(one["calibration"], Text("unknown", "doubt")),
            one["calibration_reason"],
            str(one["readings"]),
        )
        for one in found["instruments"]
    ]
    head = (
        "instrument", "serial number", "accuracy", "resolution", "range", "calibrated on",
        "calibration", "why", "readings",
    )  # fmt: skip
    blocks: list[Block] = [Table(head, tuple(rows))] if rows else []
    if rows:
        rule = f"Calibration is taken to hold for a year ({found['instruments'][0]['source']}); "
        blocks.append(Paragraph(f"{rule}the maker or the quality rules may say otherwise.", "dim"))
    else:
        blocks.append(Paragraph("No instrument is recorded with any reading."))
    unnamed = sum(r["instrument"] is None for c in found["circuits"] for r in c["readings"])
    if unnamed:
        words = f"{counted(unnamed, 'reading')} taken with an instrument that isn't recorded."
        blocks.append(Paragraph(words, "doubt"))
    blocks.append(Facts((("Further instruments, with serial numbers", Blank(2)),)))
    return blocks


def places(found: Row) -> list[Block]:
    """Return the raceways and the enclosures that these circuits meet."""
    pipes: list[tuple[Cell, ...]] = [
        (
            one["code"],
            f"{one['from_enclosure']} → {one['to_enclosure']}",
            known(" ".join(filter(None, (one["type"], one["trade_size"])))),
            metres(one["length_m"]),
            known(None if one["bends_deg"] is None else f"{one['bends_deg']:g}°"),
            known(one["metal"]),
            known(one["marked"]),
        )
        for one in found["raceways"]
    ]
    boxes: list[tuple[Cell, ...]] = [
        (
            one["code"],
            known(one["name"]),
            known(one["kind"]),
            known(one["where"]),
            known(one["marked"]),
        )
        for one in found["enclosures"]
    ]
    head = ("raceway", "between", "type, trade size", "length", "bends", "metal", "marked")
    return [
        Table(head, tuple(pipes)) if pipes else Paragraph("No raceway is recorded."),
        Heading("Enclosures", 2),
        Table(("enclosure", "name", "kind", "where", "marked"), tuple(boxes))
        if boxes
        else Paragraph("No enclosure is recorded."),
    ]
