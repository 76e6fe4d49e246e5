# SPDX-License-Identifier: MIT
"""The shape of a document, or of one row, against the JSON Schema: a sentence for each fault."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.exchange.cells import take_words
from wiretrack.exchange.places import harmless, shown
from wiretrack.exchange.raw import drop
from wiretrack.exchange.schema import FAR_ENDS, flat_schema, row_schema
from wiretrack.model.words import also
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from jsonschema import ValidationError
    from jsonschema.protocols import Validator

    from wiretrack.exchange.places import Path
    from wiretrack.exchange.raw import RawSite

    Fits = Callable[[Any], bool]


def check_shape(raw: RawSite) -> None:
    """Add a fault for everything in the document that the schema refuses, and take it out."""
    if not raw.faults.places.strict:
        take_words(raw)
    if _fits()(raw.data):
        return  # most files: what says what is wrong needn't be loaded
    refused: dict[Path, None] = {}
    taken_out = raw.faults.paths()  # what was refused before isn't called missing as well
    try:
        for error in _validator().iter_errors(raw.data):
            for path, message in sentences(error, raw.faults.places.hints):
                known = path in refused or path in taken_out
                if not known and not _is_absent_column(raw, path, error):
                    raw.faults.add(path, message)
                if len(path) == 1:
                    raw.lost.add(str(path[0]))
                refused[path] = None
    finally:
        for path in refused:
            drop(raw.data, path)


def _is_absent_column(raw: RawSite, path: Path, error: ValidationError) -> bool:
    """Return whether a key is missing because its whole column is; that has been said already."""
    if error.validator != "required" or not raw.absent:
        return False
    table, _, *inside = path
    if inside[0] == FAR_ENDS and len(inside) > 1:
        table, _, *inside = inside
    return (str(table), ".".join(str(step) for step in inside)) in raw.absent


@cache
def _validator() -> Validator:
    """Return a validator that looks only at those items of a list that may be wrong."""
    from jsonschema import Draft202012Validator
    from jsonschema.validators import extend

    def items(
        validator: Any, inner: Mapping[str, Any], instance: Any, schema: Any
    ) -> Iterator[ValidationError]:
        fits = fitting(inner)
        for number, item in enumerate(instance if isinstance(instance, list) else ()):
            if not fits(item):
                yield from validator.descend(item, inner, path=number)

    kind: Any = extend(Draft202012Validator, {"items": items})  # type: ignore[no-untyped-call]
    validator: Validator = kind(flat_schema())
    return validator


@cache
def _fits() -> Fits:
    return fitting(flat_schema())


def fitting(schema: Mapping[str, Any]) -> Fits:
    """Return what tells, much faster than the library, whether a schema surely allows a value.

    >>> fits = fitting({"title": "a code", "type": "string", "maxLength": 2})
    >>> fits("Q4"), fits("Q44"), fits(4)
    (True, False, False)
    """
    words = schema.keys() - _SAY_NOTHING
    if words - {"required"} == _RECORD and schema["additionalProperties"] is False:
        return _record(schema["properties"], {*schema.get("required", ())})
    if not words <= _ALLOW.keys():
        return lambda value: False
    every = [_ALLOW[word](limit) for word, limit in schema.items() if word in words]
    if len(every) == 1:
        return every[0]
    if schema.get("type") != "string":
        return lambda value: all([allows(value) for allows in every])
    seen: set[str] = set()  # the same codes and words come again and again

    def fits(value: Any) -> bool:
        if type(value) is str and value in seen:
            return True
        if not all([allows(value) for allows in every]):
            return False
        if len(seen) < _REMEMBERED:
            seen.add(value)
        return True

    return fits


_REMEMBERED = 5000  # texts of one kind
_SAY_NOTHING = frozenset(
    ("title", "description", "examples", "$comment", "$id", "$schema", "format", "contentEncoding")
)
_TYPES: dict[str, tuple[type, ...]] = {
    "string": (str,), "integer": (int,), "number": (int, float), "boolean": (bool,),
    "object": (dict,), "array": (list,), "null": (type(None),),
}  # fmt: skip


def _record(properties: Mapping[str, Any], needed: set[str]) -> Fits:
    """Return what tells whether an object has these properties, and no others."""
    fits_of = {key: fitting(schema) for key, schema in properties.items()}

    def fits(value: Any) -> bool:
        if type(value) is not dict or not value.keys() >= needed:
            return False
        for key, each in value.items():
            fit = fits_of.get(key)
            if fit is None or not fit(each):
                return False
        return True

    return fits


def _of(*types: str) -> Callable[[Callable[[Any, Any], bool]], Callable[[Any], Fits]]:
    """Return what makes a keyword of a test of values of these types; it allows any other value."""
    of = tuple(each for name in types for each in _TYPES[name])
    return lambda test: lambda limit: lambda value: type(value) not in of or test(value, limit)


def _type(types: Any) -> Fits:
    names = [types] if isinstance(types, str) else types
    allowed = {each for name in names for each in _TYPES[name]}
    return lambda value: type(value) in allowed


def _items(inner: Any) -> Fits:
    fits = fitting(inner)
    return lambda value: type(value) is not list or all(map(fits, value))


_RECORD = {"type", "properties", "additionalProperties"}
# What the keywords of our schemas allow; of another type, or not told here, the library judges.
_ALLOW: dict[str, Callable[[Any], Fits]] = {
    "type": _type,
    "enum": lambda words: lambda value: type(value) is str and value in words,
    "const": lambda word: lambda value: type(value) is str and value == word,
    "pattern": _of("string")(lambda value, pattern: re.search(pattern, value) is not None),
    "minLength": _of("string")(lambda value, least: len(value) >= least),
    "maxLength": _of("string")(lambda value, most: len(value) <= most),
    "minimum": _of("number")(lambda value, least: value >= least),
    "maximum": _of("number")(lambda value, most: value <= most),
    "minItems": _of("array")(lambda value, least: len(value) >= least),
    "maxItems": _of("array")(lambda value, most: len(value) <= most),
    "uniqueItems": _of("array")(
        lambda value, _: all(type(each) is str for each in value) and len({*value}) == len(value)
    ),
    "items": _items,
}


def sentences(error: ValidationError, hints: Mapping[str, str]) -> Iterator[tuple[Path, str]]:
    """Return each place that a library error is about, and what to say there."""
    path: Path = tuple(error.absolute_path)
    schema: Any = error.schema
    instance: Any = error.instance
    title, text = schema.get("title", _title(path)), schema.get("description", "")
    if error.validator == "required":
        for key in schema["required"]:
            if key not in instance:
                yield (*path, key), f"It is missing. {_capital(title)} needs it."
    elif error.validator == "additionalProperties":
        for key in instance:
            if key not in schema["properties"]:
                yield (*path, key), unknown_key(key, title, tuple(schema["properties"]))
    else:
        yield path, _sentence(error, title, text, hints)


def _sentence(error: ValidationError, title: str, text: str, hints: Mapping[str, str]) -> str:
    value: Any = error.instance
    limit: Any = error.validator_value
    if value is None:
        return "It is null. Leave it out where unknown."
    if error.validator == "enum":
        meant = _meant(value, [*map(str, limit)])
        return f"{shown(value)} is not {title}.{meant} Allowed: {', '.join(str(w) for w in limit)}."
    if error.validator == "uniqueItems":
        return "It names one twice. Name each once."
    if error.validator == "minLength":
        return f"It is empty. {text}"
    if error.validator == "maxLength":
        return f"It has {len(str(value))} characters, more than {limit}. {text}"
    if error.validator == "maxItems" and limit > 2:
        return f"It has {len(value)} entries, more than {limit}."
    hint = hints.get(str(limit), "") if error.validator == "type" else ""
    if error.validator == "type" and "string" in limit and isinstance(value, int | float):
        hint = "Write it in quotes."
    return " ".join(part for part in (f"{shown(value)} is not {title}.", text, hint) if part)


def _meant(value: object, allowed: list[str]) -> str:
    """Return which of the allowed words a mistyped one, or what people say for it, is meant for."""
    names = {word: (word, *also().get(word, ())) for word in allowed}
    said = dict.fromkeys(name for spelt in names.values() for name in spelt)
    close = near(value, said, 1, 0.7) if isinstance(value, str) else ()
    meant = [word for word, spelt in names.items() if set(close) & set(spelt)]
    return f" Did you mean {' or '.join(meant)}?" if meant else ""


def unknown_key(key: str, title: str, allowed: tuple[str, ...], noun: str = "key") -> str:
    """Return the sentence on a key or column that isn't known, with the one that is close."""
    inside = [name for name in allowed if name.startswith(f"{key}.")]
    close = inside or near(key, allowed, 1, 0.7)
    hint = f"Did you mean {close[0]}?" if close else f"Allowed: {', '.join(allowed)}."
    return f"'{harmless(key)}' is not a {noun} of {title}. {hint}"


def _title(path: Path) -> str:
    """Return what a place without a title of its own is called: after its key."""
    names = [step for step in path if isinstance(step, str)]
    return f"a value for {harmless(names[-1])}" if names else "a site file"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def row_faults(table: str, row: object) -> dict[str, str]:
    """Return what is wrong with the shape of a row, a sentence for each field at fault.

    >>> row_faults("readings", {"kind": "loop", "value": "1 ohm"})
    {'subject': 'It is missing. A reading needs it.'}

    What is wrong with the row as a whole is under an empty name.
    """
    faults: dict[str, str] = {}
    for error in _row_validator(table).iter_errors(row):  # type: ignore[arg-type]
        for path, message in sentences(error, {}):
            faults.setdefault(str(path[0]) if path else "", message)
    return faults


@cache
def _row_validator(table: str) -> Validator:
    from jsonschema import Draft202012Validator

    validator: Any = Draft202012Validator(row_schema(table))
    return validator  # type: ignore[no-any-return]
