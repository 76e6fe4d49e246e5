# SPDX-License-Identifier: MIT
"""The description of the HTTP API (OpenAPI 3.1), made from the fields of the records."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from typing import Any

from wiretrack.exchange.schema import flat_schema
from wiretrack.model import kinds as k
from wiretrack.model import words
from wiretrack.model.entities import Conductor, Reading
from wiretrack.model.parts import End

_Schema = dict[str, Any]
_TYPES = {"str": "string", "Tag": "string", "float": "number", "int": "integer", "bool": "boolean"}
_TEXT, _TRUTH, _NUMBER = {"type": "string"}, {"type": "boolean"}, {"type": "integer"}
_ERRORS = {
    "400": "It can't be understood.",
    "401": "No access code, or a wrong one.",
    "429": "Too many wrong codes; Retry-After says how long to wait.",
    "413": "It is too long.",
    "414": "The address is too long.",
}
_WRITING = {
    "403": "This code may not log readings, or the form token is missing.",
    "415": "It isn't JSON.",
}


@cache
def openapi() -> _Schema:
    """Return the description of the API."""
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "wiretrack",
            "version": "1",
            "summary": "Conductors, look-up, readings and ring-outs of one site.",
            "description": "Every answer is JSON in UTF-8. A number is in the unit that its key or"
            " its unit names; what is unknown is null.",
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        "servers": [{"url": "/"}],
        "security": [{"code": []}, {"session": []}],
        "paths": _paths(),
        "components": {
            "securitySchemes": {
                "code": {"type": "http", "scheme": "bearer", "description": "The access code."},
                "session": {
                    "type": "apiKey",
                    "in": "cookie",
                    "name": "wiretrack",
                    "description": "Opened by the sign-in page; writing requests carry its"
                    " form_token as X-Form-Token.",
                },
            },
            "schemas": _reading() | _records() | _ringout() | _errors(),
        },
    }


# What is asked -----------------------------------------------------------------------------------


def _paths() -> _Schema:
    pull = _in_path("pull", "The pull's code.")
    gone = {"404": "There is no such pull."}
    words_asked = {"type": "string", "maxLength": 200}
    return {
        "/api/conductors/{tag}": _show_conductor(),
        "/api/find": _get(
            "find", "Full-text look-up, best first", _answers("What carries them all.", ["Hit"]),
            _parameter("q", "query", "Words, or beginnings of words.", words_asked),
        ),
        "/api/punchlist": _get(
            "punchList", "What is still open on the site", _answers("Done.", ["OpenPoint"])
        ),
        "/api/circuits/{code}/tests": _get(
            "owedTests", "The readings that a circuit owes, in working order",
            _answers("Done.", ["OwedTest"], {"404": "There is no such circuit."}),
            _in_path("code", "The circuit's code."),
        ),
        "/api/readings": _add_reading(),
        "/api/ringouts/{pull}": _get(
            "ringout", "The state of a pull's latest ring-out, and the step to do now",
            _answers("Done.", "Ringout", gone), pull,
        ),
        "/api/ringouts/{pull}/answers": _step(
            "answerStep", "Answer the step that is next", "is answered",
            {"typed": _TEXT | {"description": "c closed, o open, or the ohms; skip, or live or"
             " volts where a voltage is on it; done for a step that is only done; dead once a"
             " voltage is proven dead."}}, pull,
        ),
        "/api/ringouts/{pull}/gear": _step(
            "changeGear", "Go on with other gear or crew; what is known is kept", "was looked at",
            {"gear": _named("Gear")}, pull,
        ),
        "/api/session": _get(
            "session", "Who the server takes you for, and the token for writing from a session",
            _answers("Done.", "Session"),
        ),
        "/api/openapi.json": {
            "get": {
                "operationId": "openapi", "summary": "This description", "security": [],
                "responses": _answers("Done.", {"type": "object"}),
            }
        },
    }  # fmt: skip


def _get(name: str, summary: str, responses: _Schema, *parameters: _Schema) -> _Schema:
    asked = {"parameters": list(parameters)} if parameters else {}
    return {"get": {"operationId": name, "summary": summary, **asked, "responses": responses}}


def _post(
    name: str, summary: str, body: _Schema, responses: _Schema, parameter: _Schema
) -> _Schema:
    content = {"application/json": {"schema": body}}
    return {
        "post": {
            "operationId": name,
            "summary": summary,
            "parameters": [parameter],
            "requestBody": {"required": True, "content": content},
            "responses": responses,
        }
    }


def _show_conductor() -> _Schema:
    record = _answers("The record.", "Conductor", {"404": "No conductor carries this tag."})
    changes = "Changes when the record does; send it as If-Match with a reading."
    record["200"]["headers"] = {"ETag": {"description": changes, "schema": _TEXT}}
    tag = _in_path("tag", "The tag, in any writing.")
    return _get("showConductor", "A conductor's record", record, tag)


def _add_reading() -> _Schema:
    seen = _parameter(
        "If-Match", "header",
        "The ETag of the conductor's record that was relied on; 412 if it changed since.",
        {"type": "string", "pattern": '^"[0-9a-f]{16}"$'},
    ) | {"required": False}  # fmt: skip
    responses = {
        "201": _answer("Stored.", _named("Posted")),
        **_answers("It was stored before; the same answer.", "Posted", _WRITING),
        "409": _answer("The id is taken by another reading.", _named("Error")),
        "412": _answer("The record isn't what If-Match says; it is in now.", _named("Changed")),
        "422": _answer("A field is wrong; nothing was stored.", _named("FieldError")),
    }
    summary = "Store a reading once, however often it is sent"
    return _post("addReading", summary, _named("Reading"), responses, seen)


def _step(name: str, summary: str, seen: str, given: _Schema, pull: _Schema) -> _Schema:
    asked = {"seen": _TEXT | {"description": f"The version of the state that {seen}."}, **given}
    responses = {
        **_answers("The new state.", "Ringout", _WRITING | {"404": "There is no such pull."}),
        "412": _answer("Somebody else answered before.", _named("Changed")),
        "422": _answer("A field is wrong.", _named("FieldError")),
    }
    return _post(name, summary, _whole(asked), responses, pull)


def _parameter(name: str, place: str, meaning: str, schema: _Schema) -> _Schema:
    where = {"name": name, "in": place, "required": True}
    return {**where, "description": meaning, "schema": schema}


def _in_path(name: str, meaning: str) -> _Schema:
    schema = {"type": "string", "maxLength": 200, "minLength": 1}
    return _parameter(name, "path", meaning, schema)


def _answers(
    meaning: str, schema: str | list[str] | _Schema, errors: dict[str, str] | None = None
) -> _Schema:
    """Return the answers to a request: what it asks for (a list of names: several), or errors."""
    if isinstance(schema, str):
        schema = _named(schema)
    elif isinstance(schema, list):
        schema = _list(_named(schema[0]))
    refused = _ERRORS | (errors or {})
    return {"200": _answer(meaning, schema)} | {
        status: _answer(why, _named("Error")) for status, why in refused.items()
    }


def _answer(meaning: str, schema: _Schema) -> _Schema:
    return {"description": meaning, "content": {"application/json": {"schema": schema}}}


# What is sent and answered ------------------------------------------------------------------------


def _reading() -> _Schema:
    """Return a reading as a site file has it, with an id that the sender makes."""
    row = flat_schema()["properties"]["readings"]["items"]
    made = "One value taken with an instrument, as in a site file; the sender makes the id, a UUID,"
    described = {
        fact: _described(fact, schema)
        for fact, schema in row["properties"].items()
        if not fact.startswith("entered_")
    }
    return {
        "Reading": row
        | {"description": f"{made} and may send again.", "properties": described}
        | {"required": ["id", *row["required"]]}
    }


def _described(key: str, schema: _Schema) -> _Schema:
    """Return the schema of a field of a reading, with what that field means."""
    declared = {f.metadata["fact"].key: f.metadata["fact"] for f in fields(Reading)}
    kind = declared[key].kind
    return schema if not kind.name else schema | {"description": declared[key].meaning}


def _records() -> _Schema:
    verdict = {
        "outcome": {"enum": ["pass", "fail", "doubt"]},
        "limit": {"type": ["number", "null"]},
        "unit": {"type": ["string", "null"]},
        "source": _TEXT,
        "reason": _TEXT,
    }
    end = _of(End, "enclosure", "terminal") | {
        "state": {"enum": [*words.END_STATES, None]},
        "labelled": _TRUTH,
    }
    read = _of(Reading, "id", "kind", "unit", "over_range", "at", "instrument")
    read |= {"value": {"type": ["number", "null"]}, "verdict": _named("Verdict")}
    read |= {"kind": {"enum": [*k.READING_KIND.words]}, "unit": {"enum": [*k.UNIT.words]}}
    read |= {"id": _TEXT}
    served = "The circuit that it serves; a list where several share it, null for a spare."
    circuit = {"type": ["string", "array", "null"], "items": _TEXT, "description": served}
    conductor = _of(Conductor, "tag", "function", "size", "colour", "length_m") | {
        "circuit": circuit,
        "ends": _list(_object(end)) | {"minItems": 2, "maxItems": 2},
        "route": _list(_TEXT),
        "readings": _list(_object(read)),
        "expected_ohms": {"type": ["number", "null"]},
    }
    more = _of(Conductor, "metal", "insulation", "strands", "cable", "core", "pull", "note")
    unknown = {"type": ["string", "null"]}
    kinds = ["conductor", "circuit", "enclosure", "raceway", "reading", "pull"]
    point = {"what": _TEXT, "subject": _TEXT, "since": unknown}
    owed = {"kind": _TEXT, "subject": _TEXT, "against": unknown}
    owed |= {"test_voltage": {"type": ["number", "null"]}, "source": _TEXT}
    posted = {"id": _TEXT | {"format": "uuid"}, "verdict": _named("Verdict")}
    return {
        "Verdict": _object(verdict),
        "Posted": _object(posted | {"cautions": _list(_TEXT), "shown": _TEXT}),
        "Conductor": _object(conductor, more),
        "Hit": _object({"what": {"enum": kinds}, "code": _TEXT, "text": _TEXT}),
        "OpenPoint": _object(point, {"detail": _TEXT, "box": unknown}),
        "OwedTest": _object(owed),
        "Session": _object(
            {"role": {"enum": ["read", "log", "change"]}, "name": unknown, "form_token": _TEXT}
        ),
    }


def _ringout() -> _Schema:
    unknown = {"type": ["string", "null"]}
    kit = "The resistor kit in ohms, like 100,220,470; null for none."
    touching = "When to look for conductors that touch each other."
    held = "How many ends can be held together."
    gear = {
        "joins": {"enum": ["any", "pairs"], "description": held},
        "screen": {"enum": ["auto", "first", "none"], "description": touching},
        "resistors": unknown | {"description": kit},
        "crew": {"enum": [1, 2], "description": "2: a helper with a radio."},
        "diode": _TRUTH,
        "tone": _TRUTH,
        "instrument": unknown | {"description": "The code of the meter."},
    }
    steps = ["join", "unjoin", "fit", "tone", "walk", "probe", "listen", "prove-dead", "result"]
    state = {
        **dict.fromkeys(("version", "pull", "near", "far"), _TEXT),
        "finished": _TRUTH,
        "over": _TRUTH,
        "number": _NUMBER,
        "kind": {"enum": steps},
        "told": unknown,
        "place": unknown,
        "lines": _list(_TEXT),
        "phase": _TEXT,
        "why": _TEXT,
        "known": _NUMBER,
        "of": _NUMBER,
        "matches": _list({"type": "object"}),
        "walks": _NUMBER,
        "probes": _NUMBER,
        "ends": {"type": "object", "description": "What is known of each end, in words."},
        "held": {"type": "object", "description": "Which ends are held together at each box."},
        "gear": _named("Gear"),
    }
    return {"Gear": _whole(gear), "Ringout": _object(state)}


def _errors() -> _Schema:
    at_fault = "The field at fault; empty where it is the body as a whole."
    now = "What the field names as it is now, where that is why: a conductor that was retired."
    field = {"error": _TEXT, "field": _TEXT | {"description": at_fault}}
    return {
        "Error": _object({"error": _TEXT | {"minLength": 1}}),
        "FieldError": _object(field, {"now": {"description": now}}),
        "Changed": _object({"error": _TEXT, "now": {}}),
    }


def _of(record: type, *names: str) -> _Schema:
    """Return the fields of a record as an answer has them: numbers in their unit, null unknown."""
    found = {}
    declared = {field.name: str(field.type) for field in fields(record)}
    for name in names:
        kind, _, unknown = declared[name].partition(" | ")
        plain = _TYPES[kind]
        found[name] = {"type": [plain, "null"] if unknown else plain}
    return found


def _named(name: str) -> _Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _list(items: _Schema) -> _Schema:
    return {"type": "array", "items": items}


def _object(needed: _Schema, more: _Schema | None = None) -> _Schema:
    """Return an object that has all of the `needed` properties, and may have `more`."""
    properties = {**needed, **(more or {})}
    return {"type": "object", "required": list(needed), "properties": properties}


def _whole(needed: _Schema) -> _Schema:
    """Return an object with these properties and no others."""
    return _object(needed) | {"additionalProperties": False}
