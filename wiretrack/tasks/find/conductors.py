# SPDX-License-Identifier: MIT
"""One conductor's whole record: where it runs, what it should read, what was read, its verdicts."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.resistance import REFERENCE_C, Expected, expected_resistance
from wiretrack.encoding import document
from wiretrack.errors import BadInputError
from wiretrack.model.circuits import as_json
from wiretrack.model.entities import Conductor
from wiretrack.model.entities import readings_of as taken_of
from wiretrack.readings import kind_of
from wiretrack.readings.base import written
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import retirement
from wiretrack.tasks.label.ends import is_identified
from wiretrack.tasks.label.truth import labels_of
from wiretrack.tasks.test.absorption import absorption

if TYPE_CHECKING:
    from collections.abc import Mapping

    from wiretrack.model.entities import Circuit, Reading
    from wiretrack.model.parts import Device
    from wiretrack.store.store import Registry
    from wiretrack.tasks.label.truth import EndLabel


def line_of(conductor: Conductor) -> dict[str, Any]:
    """Return a conductor as a row of a list."""
    return {
        "tag": str(conductor.tag),
        "circuit": conductor.circuit,
        "function": conductor.function,
        "size": conductor.size,
        "colour": conductor.colour,
        "core": conductor.core,
        "from": conductor.from_end.place,
        "to": conductor.to_end.place,
        "mark": conductor.to_end.mark or conductor.from_end.mark,
        "states": [conductor.from_end.state, conductor.to_end.state],
        "retired_at": conductor.retired_at,
        "retired_because": conductor.retired_because,
    }


def show_conductor(registry: Registry, text: str) -> dict[str, Any]:
    """Return the record of the conductor that `text` (a tag in any writing) names."""
    conductor = site_of(registry).one(Conductor, tag_of(registry, text))
    return conductor_record(registry, conductor, labels_of(registry, [conductor]))


def conductor_record(
    registry: Registry, conductor: Conductor, labels: Mapping[tuple[str, str], EndLabel]
) -> dict[str, Any]:
    """Return the whole record of a conductor; `labels` has those of its ends."""
    expected = expected_of(conductor)
    counted = (r for r in conductor.readings if r.superseded_by is None)
    return {
        "tag": str(conductor.tag),
        "circuit": as_json(conductor.circuits),
        "function": conductor.function,
        "size": conductor.size,
        "colour": conductor.colour,
        "length_m": conductor.length_m,
        "metal": conductor.metal,
        "insulation": conductor.insulation,
        "strands": conductor.strands,
        "cable": conductor.cable,
        "core": conductor.core,
        "pull": conductor.pull,
        "note": conductor.note,
        "retired": retirement(registry, conductor),
        "follows": conductor.follows and str(conductor.follows),
        "earlier": [_earlier(registry, old) for old in conductor.earlier],
        "ends": _ends(conductor, labels),
        "route": list(conductor.route.raceways),
        "readings": [
            _reading(reading) | {"owed_again": reading.is_stale} for reading in conductor.readings
        ],
        "absorption": document(absorption(counted)),
        "expected_ohms": expected and expected.ohms,
        "expected_at_c": expected and expected.at_c,
        "expected_source": expected and expected.source,
    }


def _earlier(registry: Registry, old: Conductor) -> dict[str, Any]:
    """Return one that a conductor came from, with what was read of it.

    Its readings are judged by what its own record says, never as the conductor's.
    """
    return {
        "tag": str(old.tag),
        "retired": retirement(registry, old),
        "size": old.size,
        "length_m": old.length_m,
        "from": old.from_end.place,
        "to": old.to_end.place,
        "readings": [_reading(reading) | {"owed_again": False} for reading in old.readings],
    }


def expected_of(conductor: Conductor) -> Expected | None:
    """Return what the conductor should read at 20 °C; `None` where a fact or a table row lacks."""
    if conductor.length_m is None or conductor.metal is None:
        return None
    try:
        return expected_resistance(
            conductor.size, conductor.length_m, REFERENCE_C, conductor.metal, conductor.strands
        )
    except BadInputError:
        return None


def _ends(conductor: Conductor, labels: Mapping[tuple[str, str], EndLabel]) -> list[dict[str, Any]]:
    rows = []
    for side, end in (("from", conductor.from_end), ("to", conductor.to_end)):
        label = labels[conductor.tag, side]
        rows.append(
            {
                "enclosure": end.enclosure,
                "terminal": end.terminal,
                "state": end.state,
                "labelled": label.holds,
                "end": side,
                "mark": end.mark,
                "reidentified": end.reidentified,
                "label_printed_at": label.printed_at,
                "label_placed_at": label.placed_at,
                "label_waits": label.waits,
                "identified": is_identified(conductor, side),
                "label_untrue": label.untrue,
            }
        )
    return rows


def readings_of(subject: Device | Circuit) -> list[dict[str, Any]]:
    """Return what was read of a device or a circuit, in order of time."""
    return [_reading(reading) for reading in taken_of([subject])]


def _reading(reading: Reading) -> dict[str, Any]:
    corrected = kind_of(reading.kind).at_reference(reading)
    return {
        "id": reading.id,
        "kind": reading.kind,
        "value": reading.number,
        "unit": reading.unit,
        "over_range": reading.over_range,
        "at": reading.at,
        "instrument": reading.instrument,
        "as_read": reading.value,
        "leads_ohm": reading.leads_ohm,
        "temp_c": reading.temp_c,
        "cell_temp_c": reading.cell_temp_c,
        "against": written(reading.against),
        "test_voltage_v": reading.test_voltage_v,
        "after_s": reading.after_s,
        "at_reference": corrected and asdict(corrected),
        "by": reading.by,
        "note": reading.note,
        "superseded": reading.superseded_by is not None,
        "verdict": reading.verdict.as_json(),
    }
