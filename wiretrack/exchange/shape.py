# SPDX-License-Identifier: MIT
"""The shape of a document, or of one row, against the JSON Schema: a sentence for each fault."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from wiretrack.exchange.raw import drop
from wiretrack.exchange.schema import FAR_ENDS, flat_schema, row_schema
from wiretrack.exchange.texts import harmless, shown
from wiretrack.exchange.typed import take_words
from wiretrack.model.words import ALSO
from wiretrack.plain import near

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from jsonschema import ValidationError
    from jsonschema.protocols import Validator

    from wiretrack.exchange.places import Path
    from wiretrack.exchange.raw import RawSite

_CACHED_LENGTH = 60
_CACHED_VALUES = 200_000
_SCALARS = (str, int, float, bool)


def check_shape(raw: RawSite) -> None:
    """Add a fault for everything in the document that the schema refuses, and take it out."""
    if not raw.faults.places.strict:
        take_words(raw)
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


def _validator() -> Validator:
    """Return a validator; scalars already found good are not looked at again."""
    from jsonschema import Draft202012Validator
    from jsonschema.validators import extend

    def properties(
        validator: Any, properties: Mapping[str, Any], instance: Any, schema: Any
    ) -> Iterator[ValidationError]:
        """Yield the errors of an object's values; a scalar found good is remembered as such."""
        if not isinstance(instance, dict):
            return
        for name, inner in properties.items():
            if name not in instance:
                continue
            value = instance[name]
            found = validator.descend(value, inner, path=name, schema_path=name)
            if not _is_short(value):
                yield from found
                continue
            key = (id(inner), value.__class__, value)
            if key not in good:
                errors = list(found)
                yield from errors
                if not errors and len(good) < _CACHED_VALUES:
                    good.add(key)

    good: set[tuple[int, type, object]] = set()
    kind: Any = extend(Draft202012Validator, {"properties": properties})  # type: ignore[no-untyped-call]
    validator: Validator = kind(flat_schema())
    return validator


def _is_short(value: object) -> bool:
    return isinstance(value, _SCALARS) and (
        not isinstance(value, str) or len(value) <= _CACHED_LENGTH
    )


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
    names = {word: (word, *ALSO.get(word, ())) for word in allowed}
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
