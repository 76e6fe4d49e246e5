# SPDX-License-Identifier: MIT
"""Where a measured fault lies: readings as typed, the record's route, the place between boxes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from math import hypot
from typing import TYPE_CHECKING, Any

from wiretrack.electrical.accuracy import UNKNOWN_METER, meter_of, standard_uncertainty
from wiretrack.electrical.faults.line import joined, total_ohms, with_return
from wiretrack.electrical.faults.locate import locate
from wiretrack.electrical.faults.methods import METHODS
from wiretrack.electrical.faults.uncertainty import Input
from wiretrack.electrical.quantities import (
    parse_capacitance,
    parse_resistance,
    parse_resistance_ohm,
)
from wiretrack.errors import BadInputError, FaultLocationError, Hint
from wiretrack.model.circuits import together
from wiretrack.model.entities import Conductor
from wiretrack.readings.continuity import CONTINUITY
from wiretrack.render.route import Stretch, route_svg
from wiretrack.store import records
from wiretrack.store.searching import resolve, tag_of
from wiretrack.store.source import site_of
from wiretrack.tasks.test.testing import cautions_for
from wiretrack.tasks.trouble.fault_excess import high_resistance
from wiretrack.tasks.trouble.fault_lines import (
    NO_TEMPERATURE,
    backwards,
    beside,
    line_of,
    temperatures,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiretrack.electrical.accuracy import Meter
    from wiretrack.electrical.faults.line import Line
    from wiretrack.electrical.faults.locate import Located
    from wiretrack.store.store import Registry
    from wiretrack.tasks.trouble.fault_lines import Temperatures, Traced

EARTHS = ("PE", "FE", "PEN")
ARM_ACCURACY = 0.001  # common practice: ratio arms and decades are within 0.1 %
UNKNOWN_ACCURACY = (0.02, 3)  # common practice: a meter nobody named is within 2 % and 3 digits
_RECTANGLE = 3**-0.5  # JCGM 100:2008, 4.3.7


@dataclass(frozen=True, kw_only=True)
class FaultReadings:
    """What was measured on a faulty conductor, as typed; `None` is not measured."""

    tags: tuple[str, ...]
    against: tuple[str, ...] = ()
    at: str | None = None
    near: str | None = None
    far: str | None = None
    near_joined: str | None = None
    murray: str | None = None
    varley: str | None = None
    set_ohms: str | None = None
    good: tuple[str, ...] = ()
    loop: str | None = None
    fault_ohms: str | None = None
    raceway_ohms: str | None = None
    along: str | None = None
    like: tuple[str, ...] = ()
    leads: str | None = None
    temps: tuple[str, ...] = ()
    instrument: str | None = None


def find_fault(registry: Registry, asked: FaultReadings) -> dict[str, Any]:
    """Return where the fault lies: kind, distance, uncertainty, raceway, boxes, what to open.

    Raises
    ------
    BadInputError
        If a reading can't be understood, or nothing was measured.
    FaultLocationError
        If the record lacks what the method needs, or no place agrees with the readings.
    """
    temps = temperatures(registry, asked.temps)
    traced = line_of(registry, asked.tags, temps)
    reader = Reader(registry, asked)
    method = _method(asked)
    if method in ("excess", "parallel"):
        found = high_resistance(registry, traced, asked.along or "", asked.like, temps, reader.ohms)
    else:
        found = _place(registry, asked, traced, temps, reader, method)
    remarks = [*traced.remarks, *found.pop("remarks"), *reader.remarks]
    if method == "capacitance":
        remarks = [remark for remark in remarks if remark != NO_TEMPERATURE]
    system = together(records.circuits(registry, traced.circuits)).system
    boxes = {box for s in traced.line for box in (s.from_box, s.to_box)}
    kinds = {e.code: e.kind or "" for e in records.enclosures(registry, boxes)}
    warned = CONTINUITY.cautions(system, tuple(sorted(filter(None, kinds.values()))))
    return {**found, "remarks": list(dict.fromkeys(remarks)), "cautions": list(warned)}


def cautions_of(registry: Registry, what: str) -> tuple[str, ...]:
    """Return what to read before a fault of the conductor or circuit `what` is measured."""
    return cautions_for(registry, CONTINUITY.name, what)


def fault_picture(found: dict[str, Any]) -> str:
    """Return the route of a located fault as an SVG document, its place marked."""
    if found["distance_m"] is None:
        raise BadInputError(
            "A bad joint has no distance to draw. Look at the joints that are listed, in order."
        )
    route = [
        Stretch(s["raceway"], s["between"][0], s["between"][1], s["length_m"])
        for s in found["route"]
    ]
    return route_svg(
        route,
        f"{found['kind']}: {found['from']} to {found['to']}",
        found["distance_m"],
        (found["low_m"], found["high_m"]),
        found["open_first"],
    )


def _method(asked: FaultReadings) -> str:
    """Return the method that these readings allow."""
    if asked.along:
        return "parallel" if asked.like else "excess"
    if asked.murray:
        return "murray"
    if asked.varley:
        return "varley"
    if asked.near and asked.near.rstrip().endswith(("F", "f")):
        return "capacitance"
    if asked.near and asked.near_joined:
        return "blavier"
    if asked.near:
        return "both-ends" if asked.far else "one-end"
    raise BadInputError(
        "Nothing was measured.",
        Hint(
            "For a short or an earth fault give {near} and {far} (ohms from either end), or {near} "
            "and {near_joined}, or {murray}, or {varley}; for a bad joint {along} (ohms end to "
            "end); for a break {near} and {far} in nF."
        ),
    )


class Reader:
    """Reads typed quantities: leads off, uncertainty on, by the instrument that was named."""

    def __init__(self, registry: Registry, asked: FaultReadings) -> None:
        self.remarks: list[str] = []
        self.meter: Meter = UNKNOWN_METER
        leads = parse_resistance(asked.leads) if asked.leads else None
        self.leads_ohm = parse_resistance_ohm(asked.leads) if asked.leads else 0.0
        self._leads_step_ohm = (leads.step if leads else None) or 0.0
        if asked.instrument:
            code = resolve(registry, asked.instrument, ("instrument",)).code
            record = records.instrument(registry, code)
            self.meter = meter_of(record.accuracy, record.resolution, record.code)
        if asked.leads is None and (asked.near or asked.along) and _method(asked) != "capacitance":
            self.remarks.append("leads' resistance not stated: taken as nulled on the meter")

    def ohms(self, name: str, text: str) -> Input:
        """Return a resistance reading less the leads, with its standard uncertainty in ohm."""
        measured = parse_resistance(text)
        if measured.over_range or measured.number is None:
            raise BadInputError(
                f"'{text.strip()}' is over-range: the path is open there, and no distance follows. "
                "For a break, measure capacitance from both ends."
            )
        u = standard_uncertainty(measured, self.meter)
        u_leads = u or 0.0
        if u is None:
            percent, digits = UNKNOWN_ACCURACY
            self.remarks.append(
                "accuracy of the instrument unknown: 2 % and 3 digits taken (common practice)"
            )
            step = self.meter.step_at(measured) or 0.0
            u = (measured.number * percent + digits * step) * _RECTANGLE
            u_leads = max(u, self._leads_step_ohm * _RECTANGLE)
        value = measured.number - self.leads_ohm
        if value < -2 * u:
            raise FaultLocationError(
                f"{text.strip()} is less than the {self.leads_ohm:g} ohm of the leads alone",
                "Short the leads, read them again, then the conductor",
            )
        return Input(name, max(value, 0.0), hypot(u, u_leads if self.leads_ohm else 0.0))

    def farads(self, name: str, text: str) -> Input:
        """Return a capacitance with its standard uncertainty in F."""
        measured = parse_capacitance(text)
        value = measured.number
        if value is None or measured.over_range:
            raise BadInputError(
                f"'{text.strip()}' is over-range. Use a higher range and read again."
            )
        self.remarks.append(
            "each capacitance taken as within 2 % and what its last digit allows (common practice)"
        )
        return _rounded(name, value, UNKNOWN_ACCURACY[0], measured.step or 0.0)


def _rounded(name: str, value: float, percent: float, step: float) -> Input:
    """Return what was set or shown within a fraction of itself, and rounded to `step`."""
    half = step / 2
    return Input(name, value, hypot(abs(value) * percent, half) * _RECTANGLE, half)


def _arms(text: str, *, read: bool) -> dict[str, Input]:
    """Return the two ratio arms of ``3:1``: on the good conductor, on the faulty one.

    Arms that were `read` at balance are as good as their digits; those of a Varley loop are fixed.
    """
    good, _, bad = text.partition(":")
    try:
        arms = {"good_arm": (float(good), Decimal(good)), "bad_arm": (float(bad), Decimal(bad))}
    except (ValueError, InvalidOperation):
        raise BadInputError(
            f"'{text}' is no pair of ratio arms. Write good:faulty, like 668:332."
        ) from None
    return {
        name: _rounded(name, arm, ARM_ACCURACY, _step(typed) if read else 0.0)
        for name, (arm, typed) in arms.items()
    }


def _step(number: Decimal) -> float:
    """Return one unit of a number's last digit; 0 of what is no number."""
    exponent = number.as_tuple().exponent
    return float(Decimal(1).scaleb(exponent)) if isinstance(exponent, int) else 0.0


def _readings(asked: FaultReadings, reader: Reader, method: str) -> dict[str, Input]:
    if method in ("murray", "varley"):
        found = _arms(asked.murray or asked.varley or "", read=method == "murray")
        if method == "varley":
            if not asked.set_ohms:
                raise BadInputError(
                    "A Varley loop needs what was set at balance.", Hint("Give {set}.")
                )
            ohms = parse_resistance_ohm(asked.set_ohms)
            step = parse_resistance(asked.set_ohms).step or 0.0
            found["set"] = _rounded("set", ohms, ARM_ACCURACY, step)
        if asked.loop:
            found["loop"] = reader.ohms("loop", asked.loop)
        return found
    if method == "capacitance":
        if not asked.far:
            raise BadInputError(
                "A break needs the capacitance from both ends.", Hint("Give {far} as well.")
            )
        return {n: reader.farads(n, t) for n, t in (("near", asked.near), ("far", asked.far)) if t}
    texts = {"near": asked.near, "far": asked.far, "joined": asked.near_joined}
    found = {name: reader.ohms(name, text) for name, text in texts.items() if text}
    if method == "one-end" and asked.fault_ohms:
        found["fault"] = reader.ohms("fault", asked.fault_ohms)
    return found


def _place(
    registry: Registry, asked: FaultReadings, traced: Traced, temps: Temperatures,
    reader: Reader, method: str,
) -> dict[str, Any]:  # fmt: skip
    """Return the document of a fault that has a distance."""
    readings = _readings(asked, reader, method)
    line, sources, remarks = traced.line, list(traced.sources), list[str]()
    good: Line = ()
    if method in ("murray", "varley"):
        if asked.good:
            other = beside(traced, line_of(registry, asked.good, temps))
            good, sources = other.line, _once(sources, other.sources)
            remarks += other.remarks
    elif method != "capacitance":
        line = _with_way_back(registry, asked, traced, temps, sources)
    if asked.at:
        line = _seen_from(registry, asked.at, line)
    if method == "one-end" and "fault" not in readings:
        remarks.append(
            "the fault's own resistance is taken as 0 to 0.1 ohm, a dead short (common practice): "
            "if it has more, the place is nearer; read from the other end too"
        )
    found = locate(method, line, readings, good)
    if method == "capacitance":
        sources = []
    return _document(registry, asked, found, line, method, sources, remarks)


def _once(sources: Sequence[str], more: Sequence[str]) -> list[str]:
    return list(dict.fromkeys([*sources, *more]))


def _with_way_back(
    registry: Registry, asked: FaultReadings, traced: Traced, temps: Temperatures,
    sources: list[str],
) -> Line:  # fmt: skip
    """Return the line that the meter's current goes out and back on."""
    if not asked.against:
        raise BadInputError(
            "What the conductor is in contact with isn't stated.",
            Hint("Give {against}: a tag, or raceway together with {raceway_ohms}."),
        )
    if [word.casefold() for word in asked.against] in (["raceway"], ["pe"]):
        if not asked.raceway_ohms:
            raise FaultLocationError(
                "The raceway is part of the measured path and its resistance is unknown",
                Hint(
                    "Join a sound conductor to it at the far end, read the two, subtract the "
                    "conductor and give the rest with {raceway_ohms}; or make a Murray or Varley "
                    "loop, which doesn't need it."
                ),
            )
        ohms = parse_resistance_ohm(asked.raceway_ohms)
        half_digit = (parse_resistance(asked.raceway_ohms).step or 0.0) / 2
        return with_return(traced.line, ohms, half_digit=half_digit)
    other = line_of(registry, asked.against, temps)
    line = other.line
    if line[0].from_box != traced.line[0].from_box:
        line = backwards(line)
    sources[:] = _once(sources, other.sources)
    return joined(traced.line, line)


def _is_earth(registry: Registry, against: Sequence[str]) -> bool:
    """Return whether the conductor is in contact with earth: raceway, PE, or nothing stated."""
    if not against or [word.casefold() for word in against] in (["raceway"], ["pe"]):
        return True
    tags = [tag_of(registry, word) for word in against]
    return all(c.function in EARTHS for c in site_of(registry).find(Conductor, "tag", tags))


def _seen_from(registry: Registry, word: str, line: Line) -> Line:
    """Return the line from the box where it was measured."""
    box = resolve(registry, word, ("enclosure",)).code
    if box == line[0].from_box:
        return line
    if box == line[-1].to_box:
        return backwards(line)
    raise BadInputError(
        f"{box} is not an end of this line. Measure at {line[0].from_box} or {line[-1].to_box}."
    )


def _document(
    registry: Registry, asked: FaultReadings, found: Located, line: Line, method: str,
    sources: list[str], remarks: list[str],
) -> dict[str, Any]:  # fmt: skip
    place, section = found.place, found.place.section
    earthed = _is_earth(registry, asked.against)
    kind = "open" if method == "capacitance" else "earthed" if earthed else "short"
    where = {e.code: e.where for e in records.enclosures(registry, [place.nearest_box])}
    return {
        "kind": kind,
        "method": method,
        "distance_m": found.distance_m,
        "uncertainty_m": found.distance.expanded,
        "low_m": found.low_m,
        "high_m": found.high_m,
        "from": line[0].from_box,
        "to": line[-1].to_box,
        "raceway": section.raceway,
        "between": [section.from_box, section.to_box],
        "in_raceway_m": place.in_section_m,
        "open_first": place.nearest_box,
        "open_first_where": where.get(place.nearest_box),
        "reach": [s.raceway or s.name for s in found.reach],
        "route": [
            {"raceway": s.raceway, "between": [s.from_box, s.to_box], "length_m": s.length_m}
            for s in line
        ],
        "fault_ohms": found.fault_ohm,
        "line_ohms": total_ohms(line),
        "shares_m": {name: share for name, share in found.distance.budget[:4]},
        "source": f"{'; '.join([METHODS[method], *sources])}; k = 2, JCGM 100:2008, 5.1.2",
        "remarks": remarks,
    }
