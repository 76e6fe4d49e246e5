# SPDX-License-Identifier: MIT
"""What the headings of a sheet mean: its own ones, matched to fields of the site file.

The words of the trade that people write over their columns stand here, once.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from wiretrack.errors import BadInputError
from wiretrack.exchange.places import harmless, shown
from wiretrack.exchange.schema import columns, required_columns, table_facts
from wiretrack.late import dataclass
from wiretrack.model.source import TABLES
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

# What a cell of a panel schedule says of several fields at once (`schedules.py` reads it).
SCHEDULE = {
    "number": "a circuit's number in its panel: codes of circuit and breaker",
    "panel": "the panel that the breaker is in",
    "breaker": "rating and poles, like 20A 2P or 20/2",
    "wire": "size, metal and insulation, like #12 CU THHN",
}
_SYNONYMS = {
    "number": "ckt,ckt number,circuit,circuit number,cct,cct number,circ,cir,number,way,position,"
    "breaker number,breaker position,space,slot,module number,stromkreis",
    "panel": "panel,panelboard,panel name,board,distribution board,db,box,fed from,verteiler",
    "breaker": "breaker,brkr,bkr,cb,circuit breaker,breaker size,ocpd,protection,trip,mcb,fuse,"
    "amps poles,breaker amps poles,overcurrent device,sicherung",
    "wire": "wire,wire size,wiring,conductor,conductors,conductor size,cable,gauge,"
    "wire type,leitung",
    "circuits.title": "description,desc,circuit description,load,load served,load description,"
    "load name,serves,serving,served,designation,name,use,bezeichnung,verbraucher",
    "devices.rating": "amps,amp,rating,breaker rating,breaker amps,trip amps,ampere,amperes",
    "devices.poles": "poles,pole,number of poles,p,breaker poles",
    "circuits.max_voltage": "volts,voltage,v",
    "circuits.max_current": "load amps,load current,load a",
    "conductors.length": "length,run,run length,wire length,distance",
    "conductors.colour": "colour,color,wire colour,wire color",
    "conductors.to.enclosure": "to,to box,destination,feeds",
    "conductors.from.enclosure": "from,from box,source",
    "conductors.function": "function,phase conductor",
}
_WORDS = {word: field for field, words in _SYNONYMS.items() for word in words.split(",")}
_UNITS = {
    **{unit.lower(): unit for unit in ("m", "ft", "mm", "cm", "in", "yd", "km", "V", "kV", "A",
       "mA", "C", "°C", "F", "°F", "ohm", "Mohm", "mm2", "AWG", "kcmil", "s", "min", "%")},
    "mm²": "mm2", "feet": "ft", "metres": "m", "meters": "m", "inches": "in", "amps": "A",
    "volts": "V", "ω": "ohm", "mω": "Mohm",
}  # fmt: skip
_IN_BRACKETS = re.compile(r"(.+?)\s*[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*")
_LEFT_OUT = "left out, as no column says what a wire is and to which box it goes"
_CLOSE = 0.8  # how alike a heading and a word must be to be proposed
Field = tuple[str, str]  # table and key; of what a schedule says, "" and its word


@dataclass(frozen=True)
class Heading:
    """A heading as it was written, and the unit that it names."""

    text: str
    name: str
    unit: str = ""


@dataclass(frozen=True)
class Match:
    """What a heading may mean, with examples from its cells.

    `field` is empty where the column is left out, `None` where nobody knows; `sure` where it
    can't mean anything else, or somebody said so.
    """

    heading: str
    field: str | None
    sure: bool
    examples: tuple[str, ...] = ()


def heading(text: str) -> Heading:
    """Return a heading in plain words, without the unit that it ends in.

    >>> heading("Length (ft)").unit, heading("Ckt #").name, heading("From.Enclosure").name
    ('ft', 'ckt number', 'from enclosure')
    """
    bare, unit = text, ""
    found = _IN_BRACKETS.fullmatch(text)
    if found and found[2].lower() in _UNITS:
        bare, unit = found[1], _UNITS[found[2].lower()]
    else:
        before, _, last = text.replace("_", " ").strip().rpartition(" ")
        if before and last.lower() in _UNITS:
            bare, unit = before, _UNITS[last.lower()]
    return Heading(text, plain(bare), unit or _UNITS.get(plain(bare), ""))


def plain(text: str) -> str:
    """Return a heading as it is compared: in small letters, its signs as words or blanks."""
    words = re.sub(r"\b(no|nr|num)\b\.?", " number ", text.lower().replace("#", " number "))
    return " ".join(re.sub(r"[^\w+-]+|_", " ", words).split())


@cache
def _names(table: str) -> dict[str, str]:
    """Return the columns of a table by what they are surely called: their key, or its label."""
    labels = {plain(fact.label): key for key, fact in table_facts(table).items()
              if key in columns(table)}  # fmt: skip
    return labels | {plain(key): key for key in columns(table)}


def sure_key(table: str, text: str) -> str | None:
    """Return the column of a table that a heading surely is.

    >>> [sure_key("raceways", text) for text in ("Trade Size", "Length (m)", "length_ft")]
    ['trade_size', 'length', 'length']
    """
    if text in columns(table):
        return text
    found = heading(text)
    names = _names(table)
    return names.get(plain(text)) or (names.get(found.name) if found.unit else None)


def likely_table(names: Iterable[str]) -> list[str]:
    """Return the tables that surely have all of these headings, and need no more."""
    given = [name for name in names if name]
    found = []
    for table in TABLES.values():
        keys = {sure_key(table, name) for name in given}
        if given and None not in keys and required_columns(table) <= keys:
            found.append(table)
    return found


def parse_field(text: str, table: str = "") -> Field:
    """Return the field that somebody named: a schedule's word, ``circuits.title`` or ``title``.

    Raises `BadInputError` if there is none, or several tables have it and none is said.
    """
    word = text.strip()
    of, _, key = word.partition(".")
    if of in TABLES.values() and key in columns(of):
        return of, key
    if table and word in columns(table):
        return table, word
    if word in SCHEDULE:
        return "", word
    tables = [each for each in TABLES.values() if word in columns(each)]
    if len(tables) == 1:
        return tables[0], word
    if tables:
        raise BadInputError(
            f"'{harmless(word)}' is a field of {', '.join(tables)}.",
            f"Write which: {tables[0]}.{word}",
            value=word,
        )
    known = known_fields()
    close = near(word, known, 3, 0.6)
    close = close or [name for name in known if name.endswith(f".{word}")]
    hint = f"Close to it: {', '.join(close)}." if close else "The manual lists them."
    raise BadInputError(f"'{harmless(word)}' is no field of a site.", hint, value=word)


def known_fields() -> list[str]:
    """Return all that a heading may be: the words of a schedule, and each field of each table."""
    return [*SCHEDULE, *(f"{each}.{key}" for each in TABLES.values() for key in columns(each))]


def main_table(fields: Iterable[str]) -> str:
    """Return the table that undotted names of fields are of: the one that has the most of them."""
    names = [name for name in fields if name and name not in SCHEDULE]
    counts = Counter(
        {table: sum(name in columns(table) for name in names) for table in TABLES.values()}
    )
    ranked = counts.most_common(2)
    return ranked[0][0] if ranked[0][1] > ranked[1][1] else ""


def proposed(
    names: Sequence[str], said: Mapping[str, str], table: str, below: Sequence[Sequence[str]] = ()
) -> dict[str, Match]:
    """Return what each heading may mean: as it was `said`, as the trade has it, or like a field.

    Cells of the rows `below` are its examples.
    """
    found: dict[str, Match] = {}
    for name in filter(None, names):
        told = said.get(plain(name))
        found[name] = Match(name, told, True) if told is not None else _likely(name, table)
    fields = {match.field for match in found.values()}
    missing = {"conductors.function", "conductors.to.enclosure"} - fields
    for name, match in found.items():
        if match.field == "wire" and not match.sure and missing:
            found[name] = Match(name, "", False)
    return {
        name: replace(match, examples=_examples(names.index(name), below))
        for name, match in found.items()
    }


def _examples(at: int, below: Sequence[Sequence[str]]) -> tuple[str, ...]:
    cells = (cells[at].strip() for cells in below if at < len(cells))
    return tuple(dict.fromkeys(filter(None, cells)))[:3]


def _likely(name: str, table: str) -> Match:
    for of in filter(None, (table, "circuits", "devices", "conductors")):
        key = sure_key(of, name)
        if key is not None and (of == table or plain(name) not in _WORDS):
            return Match(name, f"{of}.{key}", of == table)
    found = heading(name)
    for word in (plain(name), found.name):
        if word in _WORDS:
            return Match(name, _WORDS[word], False)
    known = {**{word: f"{of}.{key}" for of in ("devices", "circuits")
                for word, key in _names(of).items()}, **_WORDS}  # fmt: skip
    close = near(found.name, known, 1, _CLOSE)
    close = close or [word for word in found.name.split() if word in _WORDS]
    return Match(name, known[close[0]] if close else None, False)


def said_by(maps: Mapping[str, str]) -> dict[str, str]:
    """Return what somebody said of headings, by their plain words."""
    return {plain(name): field for name, field in maps.items()}


def unsure(match: Match) -> str:
    """Return in words what a heading may mean.

    >>> unsure(Match("Ckt #", "number", False, ("1", "3")))
    "'Ckt #' (1, 3) may be number"
    """
    examples = ", ".join(harmless(each)[:20] for each in match.examples[:2])
    name = shown(match.heading) + (f" ({examples})" if examples else "")
    if match.field is None:
        return f"{name} is unknown"
    return f"{name} may be {match.field or _LEFT_OUT}"
