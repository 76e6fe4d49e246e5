# SPDX-License-Identifier: MIT
"""The facts of a record as pairs of a name and words for people; what is unknown is left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wiretrack.electrical.quantity_text import format_current, format_temperature, format_voltage
from wiretrack.render.binder.render import length_text, yes_no

if TYPE_CHECKING:
    from wiretrack.model.entities import Circuit, Instrument, Raceway, SiteFacts

Facts = list[tuple[str, str | None]]


def circuit_facts(circuit: Circuit) -> Facts:
    """Return what is known of a circuit."""
    return [
        ("System", circuit.system),
        ("Supply", circuit.supply),
        ("Type of earthing", circuit.earthing),
        ("Highest voltage", _volts(circuit.max_voltage_v)),
        ("Highest current", _amperes(circuit.max_current_a)),
        ("Overcurrent device", _amperes(circuit.overcurrent_a)),
        ("Solidly earthed", _truth(circuit.solidly_earthed)),
        ("Continuous load", _truth(circuit.continuous)),
        ("Motor circuit", _truth(circuit.motor)),
        ("Module Voc at STC", _volts(circuit.module_voc_v)),
        ("Module Isc at STC", _amperes(circuit.module_isc_a)),
        ("Voc falls by", _per_kelvin(circuit.module_voc_pct_per_k)),
        ("Modules in series", _number(circuit.modules_in_series)),
        ("Strings in parallel", _number(circuit.strings_in_parallel)),
        ("Identifier", circuit.id),
    ]


def _inside(raceway: Raceway) -> str | None:
    sides = (raceway.width_mm, raceway.height_mm)
    known = [f"{side:g}" if side is not None else "unknown" for side in sides]
    return None if sides == (None, None) else f"{' x '.join(known)} mm"


def raceway_facts(raceway: Raceway) -> Facts:
    """Return what is known of a raceway."""
    walls = ", ".join(length_text(wall_m) for wall_m in raceway.walls_m)
    return [
        ("Type", raceway.type),
        ("Trade size", raceway.trade_size),
        ("Length", length_text(raceway.length_m)),
        ("Bends", None if raceway.bends_deg is None else f"{raceway.bends_deg:g}°"),
        ("Inside", _inside(raceway)),
        ("Above the roof", length_text(raceway.above_roof_m)),
        ("Metal", yes_no(raceway.metal)),
        ("Place", places_words(raceway.wet, raceway.sunlight, raceway.indoors) or None),
        ("Ambient", _celsius(raceway.ambient_c)),
        ("Walls from its first box", walls or None),
        ("Markings put up", _truth(raceway.marked)),
        ("Identifier", raceway.id),
    ]


def site_facts(site: SiteFacts) -> Facts:
    """Return what is known of the site itself."""
    code = " ".join(str(part) for part in (site.rules, site.edition) if part)
    return [
        ("Code", site.code),
        ("Built to", code or None),
        ("Type of earthing", site.earthing),
        ("Units on the site", site.units),
        ("Highest ambient", _celsius(site.ambient_max_c)),
        ("Record low", _celsius(site.record_low_c)),
        ("Labels lead to", site.base_address),
        ("Identifier", site.id),
    ]


def instrument_cells(instrument: Instrument, readings: int) -> list[str | int | None]:
    """Return an instrument as the cells of a row."""
    return [
        instrument.code,
        instrument.kind,
        instrument.name,
        instrument.serial,
        instrument.accuracy,
        instrument.resolution,
        instrument.range,
        instrument.calibrated_on or "not recorded",
        readings,
    ]


def places_words(wet: bool | None, sunlight: bool | None, indoors: bool | None) -> str:
    """Return what kind of place something is in.

    >>> places_words(True, None, False)
    'Wet place. Outdoors.'
    """
    words = [
        {True: "Wet place.", False: "Dry place."}.get(wet) if wet is not None else None,
        "In the sun." if sunlight else None,
        {True: "Indoors.", False: "Outdoors."}[indoors] if indoors is not None else None,
    ]
    return " ".join(filter(None, words))


def _volts(value: float | None) -> str | None:
    return None if value is None else format_voltage(value)


def _amperes(value: float | None) -> str | None:
    return None if value is None else format_current(value)


def _celsius(value: float | None) -> str | None:
    return None if value is None else format_temperature(value)


def _per_kelvin(value: float | None) -> str | None:
    return None if value is None else f"{value:g} % per K"


def _number(value: int | None) -> str | None:
    return None if value is None else str(value)


def _truth(value: bool | None) -> str | None:
    return None if value is None else yes_no(value)
