# SPDX-License-Identifier: MIT
"""One conductor's whole record: where it runs, what it should read, what was read, its verdicts."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from wiretrack.days import in_time
from wiretrack.electrical.resistance import REFERENCE_C, Expected, expected_resistance
from wiretrack.errors import BadInputError
from wiretrack.model.circuits import as_json
from wiretrack.model.entities import Reading
from wiretrack.model.entity import Point
from wiretrack.model.parts import Device
from wiretrack.model.tags import format_tag
from wiretrack.readings import kind_of
from wiretrack.readings.base import written
from wiretrack.readings.judging import Judge
from wiretrack.store import records
from wiretrack.store.searching import tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.change.retired import retirement
from wiretrack.tasks.label.ends import is_identified
from wiretrack.tasks.label.truth import labels_of
from wiretrack.tasks.test.absorption import absorption
from wiretrack.tasks.test.crossings import is_stale

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence, Set

    from wiretrack.model.entities import Circuit, Conductor
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
    tag = tag_of(registry, text)
    conductor = records.conductor(registry, tag)
    judge = Judge(site_of(registry))
    taken = records.readings(registry, tags=[tag])
    return conductor_record(conductor, beside_of(registry, conductor, taken, judge), judge)


def beside_of(
    registry: Registry, conductor: Conductor, taken: Sequence[Reading], judge: Judge
) -> Beside:
    """Return what one conductor's record holds beside it; `taken` are its readings."""
    tag = conductor.tag
    return Beside(
        retired=retirement(registry, conductor),
        earlier=earlier_of(registry, conductor, judge),
        crossed=records.crossings(registry),
        readings=taken,
        superseded=_superseded(registry, tag) if taken else frozenset(),
        labels=labels_of(registry, [conductor]),
        route=conductor.route.raceways,
    )


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What a conductor's record holds beside the conductor itself, its readings in order of time.

    `superseded` has at least those of its readings that a later one takes back. `earlier` is the
    record of those that it came from; `crossed` when ends of conductors were found crossed.
    """

    readings: Sequence[Reading]
    superseded: Set[str]
    labels: Mapping[tuple[str, str], EndLabel]
    route: Sequence[str]
    retired: Mapping[str, Any] | None = None
    earlier: Sequence[Mapping[str, Any]] = ()
    crossed: Mapping[str, str] = field(default_factory=dict)


def conductor_record(conductor: Conductor, beside: Beside, judge: Judge) -> dict[str, Any]:
    """Return the whole record of a conductor."""
    expected = expected_of(conductor)
    counted = (r for r in beside.readings if r.id not in beside.superseded)
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
        "retired": beside.retired,
        "follows": conductor.follows and str(conductor.follows),
        "earlier": list(beside.earlier),
        "ends": _ends(conductor, beside.labels),
        "route": list(beside.route),
        "readings": [
            {
                **_reading(reading, judge, conductor, reading.id in beside.superseded),
                "owed_again": is_stale(reading, beside.crossed),
            }
            for reading in beside.readings
        ],
        "absorption": absorption(counted),
        "expected_ohms": expected and expected.ohms,
        "expected_at_c": expected and expected.at_c,
        "expected_source": expected and expected.source,
    }


def earlier_of(registry: Registry, conductor: Conductor, judge: Judge) -> list[dict[str, Any]]:
    """Return those that a conductor came from, the latest first, with what was read of them.

    Their readings are judged by what their own records say, never as the conductor's.
    """
    found = []
    for old in conductor.earlier:
        tag = old.tag
        superseded = _superseded(registry, tag)
        found.append(
            {
                "tag": format_tag(tag),
                "retired": retirement(registry, old),
                "size": old.size,
                "length_m": old.length_m,
                "from": old.from_end.place,
                "to": old.to_end.place,
                "readings": [
                    _reading(reading, judge, old, reading.id in superseded) | {"owed_again": False}
                    for reading in records.readings(registry, tags=[tag])
                ],
            }
        )
    return found


def _superseded(registry: Registry, tag: str) -> set[str]:
    """Return the readings of a conductor that a later one, perhaps of another, takes back."""
    taken_back = records.readings(registry, tags=[tag], taken_back=True)
    return {reading.id or "" for reading in taken_back}


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


def readings_of(judge: Judge, subject: Device | Circuit) -> list[dict[str, Any]]:
    """Return what was read of a device or a circuit, in order of time."""
    if isinstance(subject, Device):
        found = judge.site.at(Reading, "device", Point(subject.enclosure, subject.code))
    else:
        found = judge.site.at(Reading, "circuit", subject.code)
    later = judge.site.find(Reading, "supersedes", [r.id for r in found if r.id])
    gone = {reading.supersedes for reading in later}
    ordered = sorted(found, key=lambda r: in_time(r.at))
    return [_reading(reading, judge, subject, reading.id in gone) for reading in ordered]


def _reading(
    reading: Reading, judge: Judge, subject: Conductor | Device | Circuit, superseded: bool
) -> dict[str, Any]:
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
        "superseded": superseded,
        "verdict": judge.verdict(reading).as_json(),
    }
