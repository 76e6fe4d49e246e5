# SPDX-License-Identifier: MIT
"""Which key of a site file is which attribute of a record, table by table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wiretrack.exchange import codecs as c
from wiretrack.model import entities

if TYPE_CHECKING:
    from wiretrack.exchange.codecs import Codec


class Field:
    """One key (dotted where it lies inside another) and the attribute that holds its value."""

    def __init__(self, key: str, attribute: str, codec: Codec = c.SAME) -> None:
        self.key, self.attribute, self.codec = key, attribute, codec
        outer, _, self.inner = key.rpartition(".")
        self.outer = outer or None


@dataclass(frozen=True)
class Table:
    """One table of a site file: the record its rows become, and its fields in file order."""

    name: str
    noun: str
    record: type
    fields: tuple[Field, ...]


def _plain(*keys: str) -> tuple[Field, ...]:
    return tuple(Field(key, key) for key in keys)


_ID = Field("id", "id", c.ID)
_PLACE = _plain("wet", "sunlight", "indoors")

SITE = Table(
    "site",
    "site",
    entities.SiteFacts,
    (
        *_plain("code", "name", "units", "rules"),
        Field("edition", "edition", c.INTEGER),
        Field("base_address", "base_address"),
        Field("ambient_max", "ambient_max_c", c.TEMP_C),
        Field("record_low", "record_low_c", c.TEMP_C),
        Field("time_zone", "time_zone", c.TIME_ZONE),
        Field("earthing", "earthing"),
        _ID,
    ),
)
ENCLOSURES = Table(
    "enclosures",
    "enclosure",
    entities.Enclosure,
    (*_plain("code", "kind", "name", "where"), *_PLACE, Field("marked", "marked"), _ID),
)
TERMINALS = Table("terminals", "terminal", entities.Terminal, (*_plain("enclosure", "code"), _ID))
DEVICES = Table(
    "devices",
    "device",
    entities.Device,
    (
        *_plain("enclosure", "code", "kind", "closed"),
        Field("rating", "rating_a", c.CURRENT_A),
        Field("termination_rating", "termination_rating_c", c.TEMP_C),
        Field("poles", "poles"),
        _ID,
    ),
)
RACEWAYS = Table(
    "raceways",
    "raceway",
    entities.Raceway,
    (
        Field("code", "code"),
        Field("from", "from_enclosure"),
        Field("to", "to_enclosure"),
        *_plain("type", "trade_size"),
        Field("length", "length_m", c.LENGTH_M),
        Field("bends_deg", "bends_deg", c.NUMBER),
        Field("metal", "metal"),
        *_PLACE,
        Field("ambient", "ambient_c", c.TEMP_C),
        Field("walls", "walls_m", c.LENGTHS_M),
        Field("width", "width_mm", c.WIDTH_MM),
        Field("height", "height_mm", c.WIDTH_MM),
        Field("above_roof", "above_roof_m", c.HEIGHT_M),
        Field("marked", "marked"),
        _ID,
    ),
)
CIRCUITS = Table(
    "circuits",
    "circuit",
    entities.Circuit,
    (
        *_plain("code", "title", "system", "supply", "earthing"),
        Field("max_voltage", "max_voltage_v", c.VOLTAGE_V),
        Field("max_current", "max_current_a", c.CURRENT_A),
        Field("overcurrent", "overcurrent_a", c.CURRENT_A),
        *_plain("solidly_earthed", "continuous", "motor"),
        Field("module.voc", "module_voc_v", c.VOLTAGE_V),
        Field("module.isc", "module_isc_a", c.CURRENT_A),
        Field("module.voc_pct_per_k", "module_voc_pct_per_k", c.NUMBER),
        Field("module.vmp", "module_vmp_v", c.VOLTAGE_V),
        Field("module.imp", "module_imp_a", c.CURRENT_A),
        Field("module.series", "modules_in_series", c.INTEGER),
        Field("module.parallel", "strings_in_parallel", c.INTEGER),
        Field("retired_at", "retired_at", c.TIME),
        _ID,
    ),
)
FAR_ENDS = Table(
    "far_ends",
    "far end",
    entities.FarEnd,
    (*_plain("enclosure", "mark"), Field("colour", "colour", c.COLOUR)),
)
PULLS = Table(
    "pulls",
    "pull",
    entities.Pull,
    (Field("code", "code"), Field("path", "path", c.CODES), Field("far_ends", "far_ends"), _ID),
)


def _end(key: str, attribute: str) -> tuple[Field, ...]:
    """Return the fields of one end of a conductor."""
    plain = ("enclosure", "terminal", "state", "mark")
    inner = (Field(f"{key}.{name}", f"{attribute}.{name}") for name in plain)
    crossed = Field(f"{key}.crossed_at", f"{attribute}.crossed_at", c.TIME)
    tape = Field(f"{key}.reidentified", f"{attribute}.reidentified", c.COLOUR)
    return (*inner, crossed, tape, Field(f"{key}.id", f"{attribute}.id", c.ID))


CONDUCTORS = Table(
    "conductors",
    "conductor",
    entities.Conductor,
    (
        Field("tag", "tag", c.TAG),
        *_plain("circuit", "function"),
        Field("size", "size", c.SIZE),
        *_plain("metal", "insulation"),
        Field("strands", "strands", c.INTEGER),
        Field("core", "core"),
        Field("colour", "colour", c.COLOUR),
        Field("pull", "pull"),
        *_end("from", "from_end"),
        *_end("to", "to_end"),
        Field("length", "length_m", c.LENGTH_M),
        Field("outer_diameter", "outer_diameter_mm", c.DIAMETER_MM),
        Field("set", "parallel_set", c.INTEGER),
        Field("note", "note"),
        Field("retired_at", "retired_at", c.TIME),
        Field("retired_because", "retired_because"),
        Field("follows", "follows", c.TAG),
        _ID,
    ),
)
INSTRUMENTS = Table(
    "instruments",
    "instrument",
    entities.Instrument,
    (
        *_plain("code", "kind", "name", "accuracy"),
        Field("resolution", "resolution", c.RESOLUTION),
        Field("serial", "serial"),
        Field("calibrated_on", "calibrated_on", c.DATE),
        Field("range", "range", c.RANGE),
        _ID,
    ),
)
READINGS = Table(
    "readings",
    "reading",
    entities.Reading,
    (
        Field("kind", "kind"),
        Field("subject", "subject", c.TAG),
        Field("value", "value"),
        Field("at", "at", c.TIME),
        Field("instrument", "instrument"),
        Field("leads", "leads_ohm", c.RESISTANCE_OHM),
        Field("temp", "temp_c", c.TEMP_C),
        Field("against", "against"),
        Field("test_voltage", "test_voltage_v", c.VOLTAGE_V),
        Field("after", "after_s", c.DURATION_S),
        Field("cell_temp", "cell_temp_c", c.TEMP_C),
        *_plain("by", "note"),
        Field("supersedes", "supersedes", c.ID),
        _ID,
    ),
)
TABLES = (
    ENCLOSURES,
    TERMINALS,
    DEVICES,
    RACEWAYS,
    CIRCUITS,
    PULLS,
    CONDUCTORS,
    INSTRUMENTS,
    READINGS,
)
