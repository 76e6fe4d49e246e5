# SPDX-License-Identifier: MIT
"""The kinds of values that fields hold; how each is read and written is in `exchange.codecs`."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from wiretrack.model import words
from wiretrack.model.fields import Kind

Schema = dict[str, Any]


def text(longest: int, pattern: str = "", *examples: str) -> Schema:
    """Return the schema of a text of 1 to `longest` characters."""
    found: Schema = {"type": "string", "minLength": 1, "maxLength": longest}
    if pattern:
        found["pattern"] = pattern
    return found | ({"examples": [*examples]} if examples else {})


def count(title: str, least: int, most: int, how: str) -> Kind:
    """Return a kind of whole numbers."""
    return Kind(title, {"type": "integer", "minimum": least, "maximum": most}, how)


def choice(title: str, allowed: tuple[Any, ...], name: str = "", how: str = "") -> Kind:
    """Return a kind that is one of some words."""
    return Kind(title, {"enum": [*allowed]}, how, name)


def listed(title: str, item: Any, most: int | None = None, how: str = "") -> Kind:
    """Return a kind that is a list."""
    schema = {"type": "array", **({"maxItems": most} if most else {}), "items": item}
    return Kind(title, schema, how)


def measured(noun: str, unit: str, like: str, *examples: str) -> Kind:
    """Return a kind that is a number and a unit; people see it in `unit`."""
    how = f"A {noun} is a number and a unit, like {like}."
    return Kind(f"a {noun}", text(40, "", *examples), how, noun, unit)


def visible(noun: str, longest: int) -> Kind:
    """Return a kind that is a text with something to see in it."""
    how = f"A {noun} has 1 to {longest} characters, at least one of them visible."
    return Kind(f"a {noun}", text(longest, r"\S"), how, noun)


_DAY, _CLOCK = "[0-9]{4}-[0-9]{2}-[0-9]{2}", r"[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,9})?"
_MOMENT = f"[Tt]{_CLOCK}([Zz]|[+-][0-9]{{2}}:[0-9]{{2}})"
_HEX = "[0-9A-Fa-f]"

ID = Kind(
    "an identifier",
    {"type": "string", "pattern": f"^{_HEX}{{8}}-({_HEX}{{4}}-){{3}}{_HEX}{{12}}$"},
    "A UUID, like 0a1b2c3d-4e5f-4a6b-8c7d-0123456789ab; it stays unique when two registries meet.",
    "id",
)
CODE = Kind(
    "a code",
    text(40, r"^\S(.*\S)?$"),
    "A code has 1 to 40 characters, the first and the last of them visible.",
    "code",
)
TAG = Kind(
    "a tag",
    text(32),
    "A tag is six characters and a check character, like ABC-DEFG; case, spaces and hyphens don't"
    " matter.",
    "tag",
)
NAME, NOTE = visible("name", 200), visible("note", 2000)
YES_OR_NO = Kind(
    "true or false",
    {"type": "boolean"},
    "Write true or false, and leave it out where unknown.",
    "yes_or_no",
)
LENGTH = measured("length", "m", "64 m or 210 ft", "64 m", "210 ft")
TEMPERATURE = measured("temperature", "°C", "40 C or 104 F", "40 C")
DURATION = measured("duration", "s", "30 s, 1 min or 10 min", "1 min")
VOLTAGE = measured("voltage", "V", "400 V or 1.5 kV", "400 V")
CURRENT = measured("current", "A", "9.5 A or 20 mA", "9.5 A")
RESISTANCE = measured("resistance", "Ω", "0.2 ohm or 1.2 Mohm", "0.2 ohm")
SIZE = Kind(
    "a size",
    text(40, "", "4 mm2", "10 AWG", "250 kcmil"),
    "A size is written like 10 AWG, 250 kcmil or 6 mm2.",
    "size",
)
COLOUR = Kind(
    "a colour",
    text(40, "", "BK", "GNYE"),
    "A colour is a code of IEC 60757, like RD, BK or GNYE.",
    "colour",
)
DATE = Kind(
    "a date",
    text(10, f"^{_DAY}$") | {"format": "date"},
    "A date is written YYYY-MM-DD, like 2026-05-02.",
    "date",
)
TIME = Kind(
    "a time",
    text(40, f"^{_DAY}{_MOMENT}$") | {"format": "date-time"},
    "A time is written with its offset, like 2026-05-02T10:15:00+02:00 (RFC 3339).",
    "time",
)
DAY_OR_TIME = Kind(
    "a day or a time",
    text(40, f"^{_DAY}({_MOMENT})?$"),
    "A day like 2026-05-02, or a time with its offset like 2026-05-02T10:15:00+02:00 (RFC 3339).",
    "day_or_time",
)
INSULATION = Kind(
    "an insulation type",
    text(40, "^[A-Za-z0-9][A-Za-z0-9 ./+()-]*$"),
    "An insulation type is 1 to 40 letters, digits and the characters . / + - ( ) or spaces,"
    " like XHHW-2 or H07V-K.",
    "insulation",
)
TRADE_SIZE = Kind(
    "a trade size",
    text(16, r"^[0-9][0-9 ./-]*( ?in\.?| ?mm)?$"),
    "A trade size is written like 3/4, 1, 1-1/4 or 1 1/4, or as a metric designator like 27.",
    "trade_size",
)
FUNCTION = choice(
    "a function", words.FUNCTIONS, "function", "What the conductor is in its circuit; IEC 60445."
)
EARTHING = choice(
    "a type of earthing",
    words.EARTHINGS,
    "earthing",
    "How the supply is earthed: IEC 60364-1, 312.2.",
)
POLE = Kind(
    "a pole",
    {"type": "array", "minItems": 2, "maxItems": 2, "items": CODE},
    'A pole is a pair of terminals, like ["1", "2"].',
    "pole",
)
MODULE = Kind(
    "a PV module", {}, "What the nameplate of a PV module says, and how many there are.", "module"
)
# Kinds that several fields share, in the order of the published schema; `MODULE` is a group.
SHARED = (
    ID, CODE, TAG, NAME, NOTE, YES_OR_NO, LENGTH, TEMPERATURE, DURATION, VOLTAGE, CURRENT,
    RESISTANCE, SIZE, COLOUR, DATE, TIME, DAY_OR_TIME, INSULATION, TRADE_SIZE, FUNCTION, EARTHING,
    POLE,
)  # fmt: skip

# Kinds of one field.
UNIT_OF_LENGTH = choice(
    "a unit of length",
    words.LENGTH_UNITS,
    how="The unit that lengths are shown in; in this file each length carries its own.",
)
RULE_SET = choice("a rule set", words.RULE_SETS)
EDITION = Kind("an edition of the NEC", {"type": "integer", "enum": [*words.NEC_EDITIONS]})
BASE_ADDRESS = Kind(
    "a base address",
    text(
        200,
        "^([Hh][Tt][Tt][Pp]://)?[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:[0-9]{1,5})?/?$",
    ),
    how=(
        "A base address is http:// and a host, with a port if need be, like"
        " http://192.168.1.20:8080."
    ),
)
TIME_ZONE = Kind(
    "a time zone",
    text(64),
    how=(
        "A name of the IANA time zone database, like Europe/Lisbon or America/Denver; days are"
        " counted there."
    ),
)
ENCLOSURE_KIND = choice("an enclosure kind", words.ENCLOSURE_KINDS)
DEVICE_KIND = choice("a device kind", words.DEVICE_KINDS)
POLES = listed(
    "a list of poles",
    POLE,
    200,
    how=(
        'Pairs of terminals: "1" of device Q4 is the terminal Q4:1; a name with a colon is taken'
        " as it is."
    ),
)
RACEWAY_TYPE = choice("a raceway type", words.RACEWAY_TYPES)
DEGREES = Kind(
    "a number of degrees",
    {"type": "number", "minimum": 0, "maximum": 3600},
    unit="°",
    how="The total of all bends, from 0 to 3600 degrees.",
)
WALLS = listed(
    "a list of walls",
    LENGTH,
    200,
    how="How far from the `from` end the raceway goes through walls or floors.",
)
SMALL_LENGTH = replace(LENGTH, unit="mm")
HEIGHT = replace(LENGTH)
DIAMETER = replace(LENGTH, unit="mm")
SYSTEM = choice("a system", words.SYSTEMS)
SUPPLY = choice(
    "a supply",
    words.SUPPLIES,
    how="The nominal voltages of the supply: between lines, and from a line to neutral.",
)
COEFFICIENT = Kind(
    "a temperature coefficient",
    {"type": "number", "minimum": -5, "maximum": 5},
    how=(
        "Change of the open-circuit voltage in percent per kelvin, from -5 to 5; below 0 as a rule."
    ),
)
MODULES = count(
    "a number of modules", 1, 1000, how="Modules in series in one string, from 1 to 1000."
)
STRINGS = count("a number of strings", 1, 10000, how="Strings in parallel, from 1 to 10000.")
PATH = listed(
    "a path",
    CODE,
    1000,
    how="Codes of raceways, in the order they are connected; leave it out where unknown.",
)
CIRCUITS = Kind(
    CODE.title,
    dict(CODE.schema)
    | {"type": ["string", "array"], "items": CODE, "minItems": 1, "maxItems": 100}
    | {"uniqueItems": True},
    how=CODE.how,
)
END_STATE = choice("a state of an end", words.END_STATES)
METAL = choice("a metal", ())  # those of `electrical.limits`
STRANDS = count(
    "a number of strands", 1, 10000, how="How many strands the conductor has, from 1 to 10000."
)
PARALLEL_SET = count(
    "a number of a parallel set",
    1,
    100,
    how="Which of the sets that share the circuit's current it belongs to, from 1 to 100.",
)
RETIREMENT = choice(
    "a reason to retire a conductor",
    words.RETIREMENTS,
    how=(
        "Cut in two; replaced and pulled out; pulled out; or abandoned, that is left in its"
        " raceway. Goes with retired_at."
    ),
)
INSTRUMENT_KIND = choice("an instrument kind", words.INSTRUMENT_KINDS)
ACCURACY = Kind(
    "an accuracy",
    text(80, r"\S"),
    how="An accuracy is written as the manual gives it, like 0.5% + 2 digits.",
)
RESOLUTION = Kind(
    "a resolution", text(40), how="A resolution is a number and a unit, like 0.01 ohm."
)
RANGE = Kind(
    "a range", text(40), how="The highest value that it shows: a number and a unit, like 2000 Mohm."
)
READING_KIND = choice("a kind of reading", ())  # the words are those of `readings`
VALUE = Kind(
    "a value",
    text(40, "", "0.31 ohm", ">2000 Mohm", "OL", "-412 V"),
    how="A value is a number and a unit, like 0.31 ohm, >2000 Mohm or -412 V, or OL.",
)
SUBJECT = Kind(
    "a subject",
    text(81),
    "What was measured: a conductor's tag, a device as BOX/DEVICE, or a circuit's code.",
)
RECORD = Kind("a record", text(81))
RECORD_KIND = choice("a kind of record", words.SUBJECTS)
FILE_TYPE = choice("a type of file", words.ATTACHED_TYPES)
DIGEST = Kind("a SHA-256", text(64, "^[0-9a-f]{64}$"))
CONTENT = Kind("a content", {"type": "string", "contentEncoding": "base64"})
COUNTERPART = Kind(
    "a counterpart", text(32), how="What it was measured against: a tag, raceway or PE."
)
NUMBER = Kind("a number", {"type": "number"})
UNIT = choice("a unit", ())  # those of the kinds of reading
